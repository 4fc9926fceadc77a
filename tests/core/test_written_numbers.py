"""Colour Index names and CAS numbers, however people write them."""

from __future__ import annotations

import pytest

from service.core.findings import Invalid
from service.core.material_entry import Description, judge_description
from service.core.materials import Form, MaterialKind
from service.core.written_numbers import cas_numbers, ci_names, ci_numbers
from service.records.knowledge import load_known_materials

WRITTEN = [
    "PB27", "PB 27", "pb-27", "Pb\u201127", "PB27:1", "PB 27 : 1", "P.B. 27", "PB 027", "Pigment Blue 27",
    "C.I. Pigment Blue 27", "CI Pigment Blue 27:1", "C. I. pigment-blue 27", "PB 27 (dry)", "Pigment PB27",
    "pigment_blue_27",
]  # fmt: skip


@pytest.mark.parametrize("text", WRITTEN)
def test_a_colour_index_name_is_read_however_it_is_written(text: str) -> None:
    assert ci_names(text) == ("pb27",)


@pytest.mark.parametrize(
    "text",
    ["", "PB", "27", "lead drier, Pb 27 %", "pb 27.5", "PB 27a", "spb27", "pH 7", "lamp black",
     "Prussian blue", "PB2700", "PQ 27", "1 pb", "pigment of blue 27"],
)  # fmt: skip
def test_what_only_looks_like_one_is_none(text: str) -> None:
    assert ci_names(text) == ()


def test_every_name_of_the_tables_is_read_as_one() -> None:
    for row in load_known_materials():
        assert all(len(ci_names(one)) == 1 for one in row.ci_generic), row.key
        assert all(len(ci_numbers(one)) == 1 for one in row.ci_number), row.key


@pytest.mark.parametrize(
    "text", ["77510", "CI 77510", "C.I. 77510", "C.I. No. 77510", "77510:1", "ci-77510", "C.I.77510"]
)
def test_a_constitution_number_is_read(text: str) -> None:
    assert ci_numbers(text) == ("77510",)
    assert ci_numbers(f"blue, {text}", bare=False) == (("77510",) if "c" in text.casefold() else ())


@pytest.mark.parametrize(
    "text", ["14038-43-8", "14038 43 8", " 14038\u201143\u20118 ", "CAS 14038 - 43 - 8", "014038-43-8"]
)
def test_a_cas_number_is_read_however_it_is_written(text: str) -> None:
    assert cas_numbers(text) == ("14038-43-8",)


@pytest.mark.parametrize("text", ["14038-43-7", "14038438", "1-43-8", "114038-43-81", "", "told by nobody"])
def test_what_is_no_cas_number_is_none(text: str) -> None:
    assert cas_numbers(text) == ()


@pytest.mark.parametrize("cas", ["14038-43-7", "about 7", "7647-01-0; 7647-01-1"])
def test_a_description_refuses_a_cas_number_that_cannot_be_right(cas: str) -> None:
    with pytest.raises(Invalid) as caught:
        judge_description(Description("Blue", MaterialKind.DRY_PIGMENT, Form.POWDER, cas=cas))
    assert set(caught.value.errors) == {"cas"} and "CAS number" in caught.value.errors["cas"]


@pytest.mark.parametrize("cas", ["", "14038-43-8", "14038 43 8", "7647-01-0; 14038-43-8", "7647-01-0,"])
def test_a_description_takes_cas_numbers_that_can(cas: str) -> None:
    judge_description(Description("Blue", MaterialKind.DRY_PIGMENT, Form.POWDER, cas=cas))
