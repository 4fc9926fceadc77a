"""What is not known of a waste drum gives it no more time: weighings, acute waste, no drum named, years."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from service.core.findings import Invalid
from service.core.materials import Unknown
from service.core.waste_drums import Area, DrumStep, Held
from service.core.waste_rules import Category, Kind
from service.records.engine import Database
from tests.builders import NOW, TODAY, cast
from tests.waste_yard import Yard

BERLIN = ZoneInfo("Europe/Berlin")
YEARS_AGO = datetime(2024, 3, 1, 9, tzinfo=BERLIN)


@pytest.fixture
def yard(database: Database) -> Yard:
    with database.writing() as session:
        return Yard(database, cast(session))


def test_what_a_drum_of_acute_waste_took_makes_its_month_that_of_an_lqg(yard: Yard) -> None:
    yard.site(Category.SQG, 300)
    drum = yard.begin(acute=Unknown.YES)["drum"]
    yard.throw(yard.stuff(600_000), amount="600 g", drum_id=drum)
    yard.step(drum, DrumStep.PUT_IN, what="Rinsings", amount="400 g")
    [(month, _)] = yard.record().months
    assert (month.month.of(Kind.ACUTE).kg, month.at_least) == (1, Category.VSQG), "exactly 1 kg is within"
    yard.step(drum, DrumStep.PUT_IN, what="Rinsings", amount="1 g")
    found = yard.record()
    assert found.months[0][0].at_least is Category.LQG
    assert found.drums[0].judged.deadline == TODAY + timedelta(days=90)


def test_what_a_weighing_shows_reaches_the_month_and_the_clock(yard: Yard) -> None:
    yard.site(Category.SQG, 300)
    drum = yard.begin()["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Sludge")
    assert yard.record().drums[0].judged.deadline == TODAY + timedelta(days=270)
    yard.step(drum, DrumStep.WEIGHED, amount="1500 kg")
    found = yard.record()
    [(month, _)] = found.months
    assert month.month.of(Kind.WASTE).kg == 1500 and month.category is Category.LQG
    assert found.drums[0].judged.deadline == TODAY + timedelta(days=90)
    yard.leave(drum, amount="1600 kg")
    assert yard.record().months[0][0].month.of(Kind.WASTE).kg == 1600


def test_a_hand_over_shows_the_mass_of_the_months_nobody_weighed(yard: Yard) -> None:
    drum = yard.begin(first_waste_on=date(2026, 1, 5))["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Known", amount="20 kg")
    yard.step(drum, DrumStep.PUT_IN, what="Sludge")
    yard.leave(drum, amount="1100 kg")
    weighed = {m.month.name: m.month.of(Kind.WASTE).kg for m, _ in yard.record().months}
    assert weighed == {"2026-01": 1080, f"{TODAY:%Y-%m}": 1100}, "whole in each month it may be of"
    litres = yard.begin(name="Litres")["drum"]
    yard.step(litres, DrumStep.WEIGHED, amount="900 l")
    assert yard.record().months[0][0].month.of(Kind.WASTE).more


def test_a_put_in_taken_back_gives_a_weighed_drum_no_more_time(yard: Yard) -> None:
    yard.site(Category.LQG)
    drum = yard.begin(first_waste_on=date(2026, 1, 5), holds="50 kg")["drum"]
    [first] = yard.record().drums[0].seen.entries
    yard.step(drum, DrumStep.WEIGHED, amount="60 kg")
    yard.back(first.row.id or 0)
    assert yard.record().drums[0].judged.deadline == date(2026, 4, 5)


def test_a_drum_that_is_late_by_years_still_rings(yard: Yard) -> None:
    gone = yard.begin(name="A", first_waste_on=date(2024, 2, 29), holds="150 kg", now=YEARS_AGO)["drum"]
    yard.leave(gone, now=YEARS_AGO + timedelta(hours=1))
    yard.site(Category.VSQG)
    yard.begin(name="B", first_waste_on=date(2024, 2, 2), holds="20 kg")
    assert yard.record().drums[0].judged.deadline == date(2024, 7, 31)
    told = yard.due()
    assert [(one.about, one.due, one.overdue) for one in told] == [("B", date(2024, 7, 31), True)]


def test_what_is_in_a_drum_nobody_named_rings_and_has_the_shortest_time(yard: Yard) -> None:
    assert yard.due() == []
    yard.site(Category.VSQG)
    for _ in range(2):
        yard.throw(yard.stuff(), amount="1 g")
    [told] = yard.due()
    assert told.sentence.startswith("2 discards went into a waste drum that nobody named")
    assert (told.due, told.overdue) == (TODAY, False)
    assert "waste-in-no-drum" in {f.code for f in yard.record().findings}
    last = TODAY + timedelta(days=180)
    late = [yard.due(NOW + timedelta(days=days))[0] for days in (180, 181)]
    assert [(one.due, one.overdue) for one in late] == [(last, False), (last, True)]
    drum = yard.begin(acute=Unknown.NOT_KNOWN)["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Sludge")
    late = [one for one in yard.due(NOW + timedelta(days=91)) if one.about == "Waste in no drum"]
    assert [one.overdue for one in late] == [True], "an LQG has 90 days"


def test_less_than_is_known_to_be_in_it_is_asked_about(yard: Yard) -> None:
    drum = yard.begin(area=Area.SATELLITE)["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Rinsings", amount="300 l")
    yard.step(drum, DrumStep.WEIGHED, amount="250 kg")
    for amount in ("3 l", "40 g"):
        for words in ("", "ok"):
            with pytest.raises(Invalid) as told:
                yard.step(drum, DrumStep.WEIGHED, amount=amount, note=words)
            assert list(told.value.errors) == ["note"]
    assert yard.record().drums[0].judged.excess_on == TODAY
    yard.step(drum, DrumStep.WEIGHED, amount="301 l")
    yard.step(drum, DrumStep.WEIGHED, amount="3 l", note="The first figure was for another drum")
    assert yard.held(drum)[1] == Held(3_000_000)


def test_more_than_its_size_is_warned_of(yard: Yard) -> None:
    def codes(done: dict[str, Any]) -> set[str]:
        return {one["code"] for one in done["findings"]}

    drum = yard.begin(capacity="20 l", first_waste_on=TODAY, holds="20 l")
    assert "waste-drum-over-size" not in codes(drum)
    over = yard.step(drum["drum"], DrumStep.PUT_IN, what="Rinsings", amount="1 ml")
    assert "waste-drum-over-size" in codes(over)
    assert "waste-drum-over-size" in codes(
        yard.begin(name="B", capacity="20 l", first_waste_on=TODAY, holds="100 l")
    )


def test_a_category_told_later_gives_what_stood_already_no_more_time(yard: Yard) -> None:
    month_ago, first = NOW - timedelta(days=30), NOW.date() - timedelta(days=30)
    yard.site(Category.LQG, now=month_ago - timedelta(days=2))
    yard.begin(first_waste_on=first, holds="5 kg", now=month_ago)
    for category, miles in ((Category.SQG, 300), (None, None), (Category.VSQG, None)):
        yard.site(category, miles)
        [shown] = yard.record().drums
        assert shown.judged.deadline == first + timedelta(days=90), category
    assert "waste-category-before" in {f.code for f in shown.judged.findings}
    new = yard.begin(name="New", first_waste_on=TODAY + timedelta(days=1), now=NOW + timedelta(days=1))
    shown = next(one for one in yard.record(NOW + timedelta(days=1)).drums if one.number == new["drum"])
    assert shown.judged.deadline is None or shown.judged.deadline > TODAY + timedelta(days=91)
    yard.throw(yard.stuff(), amount="1 g")
    assert yard.due()[0].due <= TODAY


def test_a_lower_weighing_before_a_move_does_not_forget_the_days_over(yard: Yard) -> None:
    begun = NOW - timedelta(days=20)
    drum = yard.begin(area=Area.SATELLITE, capacity="400 l", now=begun)["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Rinsings", amount="300 l", now=begun)
    yard.step(drum, DrumStep.WEIGHED, amount="3 l", note="The most of it went into another drum")
    yard.step(drum, DrumStep.MOVED, now=NOW + timedelta(hours=1))
    assert yard.record(NOW + timedelta(hours=1)).drums[0].judged.started == begun.date() + timedelta(days=3)


def test_what_was_taken_out_within_three_days_gives_no_start(yard: Yard) -> None:
    begun = NOW - timedelta(days=20)
    drum = yard.begin(area=Area.SATELLITE, capacity="400 l", now=begun)["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Rinsings", amount="300 l", now=begun)
    yard.step(
        drum, DrumStep.WEIGHED, amount="3 l", note="The most of it went into another drum",
        now=begun + timedelta(days=3),
    )  # fmt: skip
    yard.step(drum, DrumStep.MOVED)
    assert yard.record().drums[0].judged.started == TODAY


def test_less_than_is_known_as_it_leaves_is_asked_about(yard: Yard) -> None:
    drum = yard.begin(first_waste_on=TODAY, holds="20 kg")["drum"]
    for words in ("", "ok"):
        with pytest.raises(Invalid) as told:
            yard.leave(drum, amount="15 kg", note=words)
        assert list(told.value.errors) == ["note"]
    yard.leave(drum, amount="15 kg", note="The first figure was with the drum itself")
    assert yard.record().handed_over[0].entry.mg == 15_000_000
