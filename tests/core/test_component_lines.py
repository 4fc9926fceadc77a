"""Lines of section 3: what cannot be names its field; a CAS number is checked by its last digit."""

from __future__ import annotations

from decimal import Decimal

import pytest

from service.core.component_lines import Component, check_components, read_cas
from service.core.findings import Invalid

D = Decimal


@pytest.mark.parametrize("number", ["108-88-3", "7732-18-5", "64742-47-8", "50-00-0", "1344-37-2"])
def test_real_numbers_pass(number: str) -> None:
    assert read_cas(f" {number}\n") == number


@pytest.mark.parametrize(
    "number",
    ["108-88-4", "180-88-3", "108883", "108-88-", "0108-88-3", "108–88–3", "１08-88-3", "toluene", ""],
)
def test_a_wrong_digit_or_shape_is_refused(number: str) -> None:
    with pytest.raises(Invalid):
        read_cas(number)


def test_every_wrong_last_digit_and_every_swap_of_neighbours_is_found() -> None:
    for other in "012345679":
        with pytest.raises(Invalid):
            read_cas(f"64742-47-{other}")
    digits = "6474247"
    for place in range(len(digits) - 1):
        swapped = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
        with pytest.raises(Invalid):
            read_cas(f"{swapped[:5]}-{swapped[5:]}-8")


@pytest.mark.parametrize(
    ("line", "field"),
    [
        (Component("a", low=D(5)), "high_0"),
        (Component("a", low=D(6), high=D(5)), "low_0"),
        (Component("a", low=D(-1), high=D(5)), "low_0"),
        (Component("a", high=D(101)), "high_0"),
        (Component("a", high=D(0)), "high_0"),
        (Component("a", high=D(5), hazards=("Flam. Liq. 9",)), "classes_0"),
    ],
)
def test_an_impossible_line_names_its_field(line: Component, field: str) -> None:
    with pytest.raises(Invalid) as wrong:
        check_components([line])
    assert field in wrong.value.errors


def test_the_same_substance_twice_and_more_than_all_are_refused() -> None:
    twice = [Component("a", "108-88-3", D(1), D(2)), Component("b", "108-88-3", D(1), D(2))]
    with pytest.raises(Invalid) as wrong:
        check_components(twice)
    assert "cas_1" in wrong.value.errors
    with pytest.raises(Invalid, match="more than 100"):
        check_components([Component("a", low=D(60), high=D(70)), Component("b", low=D(41), high=D(50))])
    check_components([Component("a", low=D(60), high=D(70)), Component("b", low=D(40), high=D(50))])


def test_what_is_not_known_is_allowed_and_said() -> None:
    line = Component("resin, not named")
    check_components([line])
    assert line.words == "share not known; classes not known"
