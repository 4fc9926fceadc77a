"""Names and numbers of what keeps short once it is wetted or dissolved; every row says on whose word."""

from __future__ import annotations

import pytest

from service.core.dissolved_life import GLUE, SHELLAC
from service.core.sources import Grade
from service.records.dissolving_names import dissolving_rows, solutions_named
from service.records.knowledge import load_known_materials


def test_every_row_is_of_a_solution_and_has_a_source() -> None:
    for row in dissolving_rows():
        assert row.solution in (SHELLAC, GLUE) and row.source and row.grade in [one.value for one in Grade]


@pytest.mark.parametrize(
    ("name", "cas", "solution"),
    [
        ("x", "9000-59-3", SHELLAC), ("Lac flakes", "", SHELLAC), ("Gommelaque", "", SHELLAC),
        ("x", "9000-71-9", GLUE), ("x", "9004-67-5", GLUE), ("Hydroxypropyl methyl cellulose", "", GLUE),
        ("Rabbit-skin glue", "", GLUE), ("Colle de peau", "", GLUE), ("Gomme adragante", "", GLUE),
        ("Mehlkleister", "", GLUE), ("Hasenhautleim", "", GLUE), ("Amidon", "", GLUE),
    ],
)  # fmt: skip
def test_a_name_or_a_number_means_its_solution(name: str, cas: str, solution: str) -> None:
    assert solutions_named(name, cas) == {solution}


@pytest.mark.parametrize("kind", ["dry-pigment", "colour-in-oil", "drier", "dye"])
def test_no_published_colour_is_taken_for_it(kind: str) -> None:
    for material in load_known_materials():
        if material.kind.value == kind:
            assert not solutions_named(material.name, "; ".join(material.cas)), material.key
