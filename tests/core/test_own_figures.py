"""Limits, factors and estimates as sheets write them; what cannot be or stands elsewhere is said."""

from __future__ import annotations

from decimal import Decimal

import pytest

from service.core.component_lines import Component, check_components, read_share
from service.core.findings import Invalid
from service.core.hazards.classes import Route
from service.core.hazards.read_class import read_class
from service.core.own_figures import (
    check_limits,
    estimates_text,
    limits_of,
    read_estimates,
    read_limits,
    wrong_field,
)
from service.core.written_classes import read_classes

D = Decimal


@pytest.mark.parametrize(
    ("line", "hazard", "at_least", "below"),
    [
        ("Skin Sens. 1A H317: C ≥ 0.0015 %", "Skin Sens. 1A H317", "0.0015", None),
        ("Skin Corr. 1C; H314: C ≥ 0,6 %", "Skin Corr. 1C H314", "0.6", None),
        ("Skin Irrit. 2; H315: 0,06 % <= C < 0,6 %", "Skin Irrit. 2 H315", "0.06", "0.6"),
        ("Eye Irrit. 2 from 0.06 to below 0.6", "Eye Irrit. 2 H319", "0.06", "0.6"),
        ("Carc. 1B >= 0.01", "Carc. 1B H350", "0.01", None),
        # Where the upper end itself is meant too, it is left open: the more severe limit counts beside it.
        ("Skin Irrit. 2: 5 ≤ C ≤ 10 %", "Skin Irrit. 2 H315", "5", None),
        ("Skin Irrit. 2 from 5 to 10 %", "Skin Irrit. 2 H315", "5", None),
    ],
)
def test_limits_as_sheets_write_them(line: str, hazard: str, at_least: str, below: str | None) -> None:
    (one,) = limits_of(line)
    assert (one.hazard.text, one.at_least) == (hazard, D(at_least))
    assert one.below == (None if below is None else D(below))


@pytest.mark.parametrize(
    "line",
    ["Skin Sens. 1", "≥ 5", "Skin Corr. 1B: C 5 %", "Skin Sens. 1: C ≥ 0 %", "Skin Sens. 1: C ≥ 101 %",
     "Skin Sens. 1: C ≥ 1,000 %", "Skin Irrit. 2: 5 % ≤ C < 2 %", "Skin Sens. 9: C ≥ 1 %", "from", "C ≥ C",
     "Skin Sens. 1: C ≥ 1 % and more words", "Skin Sens. 1: C ≥ \u0661 %", "x" * 300 + " ≥ 1"],
)  # fmt: skip
def test_what_is_no_limit_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(Invalid, match=r"[.]$"):
        read_limits(line)


def test_a_limit_must_not_end_in_nothing() -> None:
    with pytest.raises(Invalid, match="ends at 1 %, and no limit of a more severe category begins there"):
        read_limits("Skin Sens. 1: 0.1 % ≤ C < 1 %")
    lye = "Skin Irrit. 2: 0.5 ≤ C < 2 %\nSkin Corr. 1B: 2 ≤ C < 5 %\nSkin Corr. 1A: C ≥ 5 %"
    assert len(read_limits(f"{lye}\nEye Irrit. 2: 0.5 ≤ C < 2 %")) == 4
    with pytest.raises(Invalid, match="ends at 2 %"):
        check_limits(["Skin Irrit. 2: 0.5 ≤ C < 2 %", "Skin Corr. 1A: C ≥ 5 %"])


@pytest.mark.parametrize(
    ("line", "route", "value"),
    [
        ("oral 150", Route.ORAL, "150"),
        ("ATE (oral) = 150 mg/kg bw", Route.ORAL, "150"),
        ("dermal: 300 mg/kg", Route.DERMAL, "300"),
        ("inhalation (vapours): 11 mg/L 4 h", Route.VAPOUR, "11"),
        ("ATE inhalation, dusts/mists 0,5 mg/l/4h", Route.DUST_MIST, "0.5"),
        ("gas 700 ppmV", Route.GAS, "700"),
    ],
)
def test_estimates_as_sheets_write_them(line: str, route: Route, value: str) -> None:
    found = read_estimates(line)
    assert found == {route: D(value)} == read_estimates(estimates_text(found))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("inhalation 3 mg/l", "in which form"),
        ("LD50 oral > 2000 mg/kg", "a bound and no estimate"),
        ("oral 150 g/kg", "write it in mg/kg"),
        ("dust or mist 5 mg/m3", "write it in mg/l"),
        ("oral 1,500", "two ways"),
        ("oral 0", "more than 0"),
        ("oral 150 to 300", "no estimate"),
        ("oral 150 dermal 200", "no estimate"),
        ("oral 150\noral 200", "two estimates"),
        ("150", "no estimate"),
    ],
)
def test_what_is_no_estimate_is_refused_in_a_sentence(line: str, said: str) -> None:
    with pytest.raises(Invalid, match=said):
        read_estimates(line)


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ("Aquatic Acute 1 (M=10)", "“M-factor”"),
        ("M=10", "“M-factor”"),
        ("M-factor (acute): 100", "“M-factor”"),
        ("Acute Tox. 3 (oral) ATE 150", "“Estimates of acute toxicity”"),
        ("ATE oral 150 mg/kg", "“Estimates of acute toxicity”"),
        ("Skin Sens. 1A H317: C ≥ 0.0015 %", "“Limits of its own”"),
    ],
)
def test_a_figure_among_the_classes_is_led_to_its_field(line: str, field: str) -> None:
    assert field in wrong_field(line)
    with pytest.raises(Invalid, match=field):
        read_classes(line)
    with pytest.raises(Invalid) as wrong:
        check_components([Component("a", high=D(5), hazards=(line,))])
    assert field in wrong.value.errors["classes_0"]


@pytest.mark.parametrize(
    "line", ["Muta. 1B H340", "Met. Corr. 1", "STOT RE 2 H373 (hearing organs)", "Aquatic Acute 1 H400"]
)
def test_plain_classes_are_no_figures(line: str) -> None:
    assert wrong_field(line) == "" and read_classes(line) == (line,)


def test_a_factor_needs_the_class_that_it_multiplies() -> None:
    acute = Component("a", high=D(5), hazards=("Aquatic Acute 1 H400",), m_acute=D(10))
    check_components([acute])
    for wrong_line, field in (
        (Component("a", high=D(5), hazards=("Aquatic Acute 1",), m_chronic=D(10)), "m_chronic_0"),
        (Component("a", high=D(5), m_acute=D(10)), "m_acute_0"),
        (Component("a", high=D(5), hazards=("Aquatic Acute 1",), m_acute=D("0.1")), "m_acute_0"),
        (Component("a", high=D(5), limits=("perhaps",)), "limits_0"),
    ):
        with pytest.raises(Invalid) as wrong:
            check_components([wrong_line])
        assert field in wrong.value.errors


def test_what_stands_in_the_book_of_changes_names_every_figure() -> None:
    line = Component(
        "a", high=D(5), limits=("Skin Sens. 1A: C ≥ 0.0015 %",), m_acute=D(10), ate={Route.ORAL: D(53)}
    )
    for part in ("limit Skin Sens. 1A: C ≥ 0.0015 %", "M acute 10", "ATE oral 53 mg/kg"):
        assert part in line.words
    assert "no limits of its own" in Component("a", limits=()).words


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        (("", "<1"), ("0", "1")),
        (("<1", ""), ("0", "1")),
        (("", "< 0.1 %"), ("0", "0.1")),
        (("≥ 95 %", ""), ("95", "100")),
        (("5 - 10 %", ""), ("5", "10")),
        (("≥1", "<5"), ("1", "5")),
        (("5", "10"), ("5", "10")),
        (("", "7"), ("", "7")),
        (("7", ""), ("7", "")),
        (("five", ""), ("five", "")),
        (("<1", "<5"), ("<1", "<5")),
    ],
)
def test_shares_as_sheets_write_them(typed: tuple[str, str], read: tuple[str, str]) -> None:
    assert read_share(*typed) == read


@pytest.mark.parametrize("line", ["Acute Tox. 2 dust_mist", "Acute Tox. 2 dust or mist H330"])
def test_dust_or_mist_is_read_as_the_pages_write_it(line: str) -> None:
    assert read_classes(line) == (line,)
    assert [hazard.route for hazard in read_class(line).hazards] == [Route.DUST_MIST]
