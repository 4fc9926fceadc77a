"""A drum that is full, over, moved or gone holds something, though nobody wrote down what was put in."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.core.materials import Unknown
from service.core.waste_drums import Area, DrumStep, Held
from service.core.waste_rules import Category, Kind
from service.records.engine import Database
from tests.builders import NOW, TODAY, cast
from tests.waste_yard import Yard

BEGUN = NOW - timedelta(days=45)


@pytest.fixture
def yard(database: Database) -> Yard:
    with database.writing() as session:
        found = Yard(database, cast(session))
    found.site(Category.SQG, now=BEGUN - timedelta(days=1))
    return found


def test_a_full_drum_with_nothing_written_is_not_empty(yard: Yard) -> None:
    drum = yard.begin(now=BEGUN)["drum"]
    done = yard.step(drum, DrumStep.CLOSED)
    assert "waste-drum-unwritten" in {one["code"] for one in done["findings"]}
    record = yard.record()
    [shown] = record.drums
    assert yard.held(drum) == (Held(0, True), Held(0, True))
    assert shown.judged.deadline == BEGUN.date() + timedelta(days=180)
    assert "waste-drum-unwritten" in {f.code for f in shown.judged.findings}
    assert record.site is not None and record.site.more
    assert {m.month.name: m.month.of(Kind.WASTE).more for m, _ in record.months} == {
        f"{BEGUN:%Y-%m}": True, f"{TODAY:%Y-%m}": True,
    }  # fmt: skip


@pytest.mark.parametrize("step", [DrumStep.CLOSED, DrumStep.OVER])
def test_a_satellite_drum_that_is_full_or_over_may_be_over_since_it_was_begun(
    yard: Yard, step: DrumStep
) -> None:
    drum = yard.begin(area=Area.SATELLITE, now=BEGUN)["drum"]
    assert yard.record().drums[0].judged.deadline is None, "nothing says that anything is in it"
    yard.step(drum, step)
    [shown] = yard.record().drums
    assert shown.judged.excess_on == BEGUN.date()
    assert shown.judged.overdue
    yard.step(drum, DrumStep.MOVED)
    assert yard.record().drums[0].judged.started == BEGUN.date() + timedelta(days=3)
    assert yard.held(drum)[0] == Held(0, True)


def test_a_drum_that_was_moved_or_left_with_nothing_written_counts(yard: Yard) -> None:
    drum = yard.begin(area=Area.SATELLITE, capacity="20 l", now=BEGUN)["drum"]
    yard.step(drum, DrumStep.MOVED)
    [shown] = yard.record().drums
    assert shown.judged.state.most_ul == 20_000_000
    assert shown.judged.started == TODAY and shown.judged.deadline == TODAY + timedelta(days=180)
    yard.leave(drum, amount="1500 kg", now=NOW + timedelta(hours=1))
    shown_months = {m.month.name: m.month.of(Kind.WASTE).kg for m, _ in yard.record().months}
    assert shown_months == {f"{BEGUN:%Y-%m}": 1500, f"{TODAY:%Y-%m}": 1500}, "whole where it may have arisen"


def test_what_is_in_it_may_be_acute(yard: Yard) -> None:
    drum = yard.begin(acute=Unknown.NOT_KNOWN, now=BEGUN)["drum"]
    yard.step(drum, DrumStep.CLOSED)
    assert yard.record().drums[0].judged.deadline == BEGUN.date() + timedelta(days=90)


def test_a_put_in_that_was_taken_back_gives_no_more_time(yard: Yard) -> None:
    drum = yard.begin(first_waste_on=date(2026, 1, 2), holds="5 kg")["drum"]
    [first] = yard.record().drums[0].seen.entries
    yard.back(first.row.id or 0)
    assert yard.record().drums[0].judged.deadline is None, "nothing is in it"
    yard.step(drum, DrumStep.PUT_IN, what="The same", amount="5 kg")
    [shown] = yard.record().drums
    assert shown.judged.deadline == date(2026, 1, 2) + timedelta(days=180)
    assert yard.held(drum)[0] == Held(5_000_000)
