"""Dates that fit each other, shares of a capacity, spoons weighed, files told by their bytes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.containers import Condition
from service.core.fill_level import read_level
from service.core.findings import Invalid
from service.core.materials import Unknown
from service.core.quantities import UnitSystem
from service.core.sheet_files import MOST_BYTES, media_type, plain_name
from service.core.spoon_weighing import HEAVIEST, LOOSEST, read_weighing
from service.core.take_in import Arrival, ArrivalDates, judge_dates, what_is_missing

ON = date(2026, 3, 12)
SOUND = Arrival("Oil", True, True, True, True, Unknown.YES, True, False, False, Condition.SOUND)


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"packed": date(2026, 3, 13)}, "packed_on"),
        ({"received": date(2026, 3, 13)}, "received_on"),
        ({"opened": date(2026, 3, 13)}, "opened_on"),
        ({"packed": date(2026, 3, 10), "received": date(2026, 3, 9)}, "received_on"),
        ({"packed": date(2026, 3, 10), "opened": date(2026, 3, 9)}, "opened_on"),
        ({"packed": date(1026, 3, 10)}, "packed_on"),
    ],
)
def test_dates_that_cannot_all_be_true(more: dict[str, date], field: str) -> None:
    with pytest.raises(Invalid) as caught:
        judge_dates(replace(ArrivalDates(ON), **more))
    assert list(caught.value.errors) == [field]


@pytest.mark.parametrize("day", [date(1899, 12, 31), date(1, 1, 1)])
def test_a_year_before_the_first_one_is_told_which_the_first_is(day: date) -> None:
    with pytest.raises(Invalid, match=r"^Enter a year from 1900 on, in four digits\.$"):
        judge_dates(replace(ArrivalDates(ON), packed=day))


def test_dates_that_can() -> None:
    judge_dates(ArrivalDates(ON))
    judge_dates(ArrivalDates(ON, packed=ON, received=ON, printed=date(2020, 1, 1), opened=ON))
    judge_dates(ArrivalDates(ON, received=date(2026, 3, 1), opened=date(2026, 2, 1)))  # given to us open


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"packed_known": False}, "packed-not-known"),
        ({"packed_known": False, "received_known": False}, "start-not-known"),
        ({"opened": True}, "opened-not-known"),
        ({"amount_known": False}, "amount-not-known"),
        ({"place_known": False}, "place-not-known"),
        ({"has_sheet": False, "sheet_came": Unknown.NO}, "sheet-not-come"),
        ({"has_sheet": False, "sheet_came": Unknown.NOT_KNOWN}, "sheet-not-come"),
        ({"condition": Condition.LEAKING}, "leaking"),
        ({"condition": Condition.DAMAGED}, "damaged"),
    ],
)
def test_each_thing_missing_is_one_finding_and_none_stops(more: dict[str, object], code: str) -> None:
    assert not what_is_missing(SOUND).findings
    found = what_is_missing(replace(SOUND, **more))  # type: ignore[arg-type]
    assert found.codes == {code} and not found.blocking


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("half", Fraction(1, 2)),
        ("about half", Fraction(1, 2)),
        ("About a half full", Fraction(1, 2)),
        ("half of the can", Fraction(1, 2)),
        ("two-thirds", Fraction(2, 3)),
        ("a quarter left", Fraction(1, 4)),
        ("¾", Fraction(3, 4)),
        ("full", Fraction(1)),
        ("~ 40 %", Fraction(2, 5)),
        ("10 per cent", Fraction(1, 10)),
        ("0 %", None),
        ("101 %", None),
        ("empty", None),
        ("half a kilo", None),
        ("1/2 l", None),
        ("", None),
        ("about", None),
        ("200 g", None),
        ("٣ %", None),
    ],
)
def test_how_full_it_looks(text: str, share: Fraction | None) -> None:
    assert read_level(text) == share


@given(st.text(max_size=80))
def test_any_text_is_a_share_or_none(text: str) -> None:
    share = read_level(text)
    assert share is None or 0 < share <= 1


def test_spoons_by_the_measure_of_the_shop() -> None:
    """US teaspoon 4.928 921 593 75 ml (NIST Handbook 44, from memory); metric 5 ml by definition."""
    us = read_weighing("10 level tsp weighed 23 g", system=UnitSystem.US)
    assert (us.volume_ul, us.mass_mg) == (49_289, 23_000)
    metric = read_weighing("ten teaspoonfuls = 23 g", system=UnitSystem.IMPERIAL)
    assert metric.volume_ul == 50_000 and metric.g_ml == Decimal("0.46")
    assert read_weighing("250 ml weighs 0.2 kg").g_ml == Decimal("0.8")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "ten spoons weighed 23 g",
        "10 tsp weighed",
        "weighed 23 g",
        "23 g weighed 10 tsp",
        "10 g weighed 23 g",
        "about 10 tsp weighed 23 g",
        "10 tsp weighed 20 to 23 g",
        "10 tsp weighed 0 g",
        "10 tsp weighed 900 g",
        "10 tsp weighed 0.1 g",
        "10 tsp weighed 23 g weighed 24 g",
    ],
)
def test_a_weighing_without_sense_is_refused(text: str) -> None:
    with pytest.raises(Invalid):
        read_weighing(text, system=UnitSystem.US)


@given(st.text(max_size=120))
def test_any_weighing_is_read_within_bounds_or_refused(text: str) -> None:
    try:
        found = read_weighing(text)
    except Invalid:
        return
    assert LOOSEST <= found.g_ml <= HEAVIEST


def test_a_file_is_told_by_head_and_end() -> None:
    """Signatures of PDF 32000 7.5.2, PNG (W3C) 5.2 and JPEG (ITU T.81 B.1.1.3), from memory."""
    assert media_type(b"%PDF-1.4 x %%EOF\r\n") == "application/pdf"
    for bad in (b" %PDF-1.4 %%EOF", b"%PDF-1.4", b"\xff\xd8\xff", b"GIF89a", b"PK\x03\x04", b"\0" * 2000):
        with pytest.raises(Invalid):
            media_type(bad)
    with pytest.raises(Invalid):
        media_type(b"%PDF-" + b"x" * MOST_BYTES + b"%%EOF")
    with pytest.raises(Invalid):
        media_type(b"%PDF-1.4 %%EOF" + b"\0" * 2000)


@given(st.text(max_size=300))
def test_a_name_is_harmless_text(name: str) -> None:
    plain = plain_name(name)
    assert plain and len(plain) <= 120 and plain.isprintable()
    assert not set('/\\"<>|:*?') & set(plain) and not plain.startswith(".")
