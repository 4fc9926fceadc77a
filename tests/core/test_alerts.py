"""What wants attention, worst first."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from service.core.alert_pages import page_of
from service.core.alerts import AlertKind, ContainerFact, DutyFact, MissingFact, alerts
from service.core.containers import Standing
from service.core.findings import Severity
from service.core.months import add_days
from service.core.shelf_codes import make_code

TODAY = date(2026, 3, 2)
CODE = make_code(5)


def tub(standing: Standing, until: date | None = None, warn: date | None = None) -> ContainerFact:
    return ContainerFact(CODE, "raw umber in oil", standing, until, warn, "", "cabinet 2", "Ada")


def kinds(*facts: ContainerFact, days: int = 14) -> list[AlertKind]:
    return [a.kind for a in alerts(facts, [], [], today=TODAY, days=days)]


def test_each_standing() -> None:
    soon, far = TODAY + timedelta(days=14), TODAY + timedelta(days=15)
    assert kinds(tub(Standing.PAST, date(2026, 3, 1))) == [AlertKind.PAST]
    assert kinds(tub(Standing.NOT_KNOWN)) == [AlertKind.NOT_KNOWN]
    assert kinds(tub(Standing.LOOK_FIRST, far)) == [AlertKind.LOOK_FIRST]
    assert kinds(tub(Standing.IN_DATE, date(2027, 1, 1), soon)) == [AlertKind.SOON]
    assert kinds(tub(Standing.IN_DATE, date(2027, 1, 1), far)) == []
    assert kinds(tub(Standing.IN_DATE)) == []
    assert kinds(tub(Standing.IN_DATE, date(2027, 1, 1), far), days=15) == [AlertKind.SOON]


def test_a_stored_standing_that_is_out_of_date_does_not_hide_a_past_one() -> None:
    assert kinds(tub(Standing.IN_DATE, TODAY - timedelta(days=1))) == [AlertKind.PAST]


def test_what_was_found_in_a_tin_comes_before_papers_and_is_tried_not_used() -> None:
    missing = [MissingFact("white thinner", "the flash point", date(2026, 1, 1), "Read it off the sheet.")]
    thick = replace(tub(Standing.LOOK_FIRST, date(2027, 1, 1)), reason="Thickened.", doubted=True)
    odd = replace(tub(Standing.NOT_KNOWN), code=make_code(6), reason="It smelt odd.", doubted=True)
    worn = replace(tub(Standing.LOOK_FIRST, date(2026, 4, 1)), code=make_code(7))
    found = alerts([worn, thick, odd], missing, [], today=TODAY)
    assert [a.about for a in found] == [odd.code, thick.code, "white thinner", worn.code]
    assert found[1].what_to_do.startswith("Nobody uses it before it was tried")
    assert found[3].what_to_do.startswith("Use it next")


def test_worst_first_then_the_earliest() -> None:
    missing = [MissingFact("white thinner", "the flash point", date(2026, 1, 1), "Read it off the sheet.")]
    duties = [
        DutyFact("Move the can.", TODAY + timedelta(days=1), "can", "Ben"),
        DutyFact("Hand the rags over.", TODAY, "load 4", "Ben", overdue=True),
        DutyFact("Call the hauler.", TODAY - timedelta(days=3), "drum", "Cleo"),
        DutyFact("Next month.", TODAY + timedelta(days=40), "x", "Ben"),
    ]
    facts = [tub(Standing.LOOK_FIRST, TODAY), tub(Standing.PAST, date(2026, 2, 1)), tub(Standing.NOT_KNOWN)]
    found = alerts(facts, missing, duties, today=TODAY)
    assert [a.sentence for a in found[:2]] == ["Call the hauler.", "Hand the rags over."]
    assert [a.kind for a in found] == [
        AlertKind.DUTY_OVERDUE, AlertKind.DUTY_OVERDUE, AlertKind.PAST, AlertKind.NOT_KNOWN,
        AlertKind.MISSING_FACT, AlertKind.DUTY, AlertKind.LOOK_FIRST,
    ]  # fmt: skip
    ranks = [[Severity.STOP, Severity.UNKNOWN, Severity.WARN, Severity.NOTE].index(a.severity) for a in found]
    assert ranks == sorted(ranks)
    assert found == alerts(facts[::-1], missing, duties[::-1], today=TODAY)
    assert all(a.about and a.what_to_do and a.sentence.endswith(".") for a in found)


def test_a_duty_of_today_comes_before_papers_that_are_missing() -> None:
    paper = MissingFact("boiled oil", "the flash point", TODAY, "Read the sheet.")
    leak = DutyFact("The can leaks. Decant it.", TODAY, "can", "Ada")
    later = DutyFact("Order labels.", add_days(TODAY, 3), "labels", "Ada")
    found = alerts([], [paper], [later, leak], today=TODAY)
    assert [one.sentence[:8] for one in found] == ["The can ", "boiled o", "Order la"]


@pytest.mark.parametrize("standing", list(Standing))
def test_no_sentence_calls_anything_good_or_safe(standing: Standing) -> None:
    for alert in alerts([tub(standing, TODAY, TODAY)], [], [], today=TODAY):
        words = f"{alert.sentence} {alert.what_to_do}".lower()
        assert not any(bad in words for bad in ("good", "safe", "please", "invalid", "oops"))


def test_the_end_of_the_calendar_does_not_crash() -> None:
    assert alerts([tub(Standing.IN_DATE, date.max)], [], [], today=TODAY, days=10**9)


def test_one_policy_that_is_missing_is_one_thing_to_do() -> None:
    def tin(code: str, of: int | None = 7, owner: str = "Ada", **more: bool) -> ContainerFact:
        return ContainerFact(
            code, "gun cleaner", Standing.NOT_KNOWN, reason="Nobody knows how long it keeps.",
            place="cabinet 2", owner=owner, lacks_policy=of, **more,
        )

    codes = ("2DPNWF", "3DN5VW", "3F4FJK", "63X3R4", "7C2282")
    (told,) = alerts([tin(code) for code in codes], [], [], today=TODAY)
    assert told.sentence == "gun cleaner, 5 containers: Nobody knows how long it keeps."
    assert "2DP NWF, 3DN 5VW, 3F4 FJK, 63X 3R4 and 1 more. Place: cabinet 2." in told.what_to_do
    assert (told.kind, told.ref, page_of(told)) == (AlertKind.NOT_KNOWN, "material 7", "/materials/7")
    # One alone, another owner, another reason, a doubt: each is a line of its own, and none is lost.
    apart = [tin("2DPNWF"), tin("3DN5VW", owner="Ben"), tin("3F4FJK", of=None), tin("63X3R4", doubted=True)]
    assert sorted(one.ref for one in alerts(apart, [], [], today=TODAY)) == sorted(
        f"container {one.code}" for one in apart
    )
    over = ContainerFact(
        "7C2282", "gun cleaner", Standing.NOT_KNOWN, add_days(TODAY, -1), lacks_policy=7, owner="Ada"
    )
    assert AlertKind.PAST in [one.kind for one in alerts([tin("2DPNWF"), over], [], [], today=TODAY)]
