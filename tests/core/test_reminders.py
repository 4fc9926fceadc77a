"""Which warnings are due: a table of instants, midnight, changes of the clocks, nights with nobody there."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.core.rag_deadlines import NO_CLOCK, day_end
from service.core.rag_judgement import RagLoad, judge
from service.core.rag_loads import fold
from service.core.rags import RagEntry, RagStep, Receptacle, Vessel, Water
from service.core.reminders import CallList, DueWarning, WarningRule, due_warnings

MADE = datetime(2026, 3, 10, 9, tzinfo=UTC)
BY = MADE + timedelta(hours=7)
PEOPLE = CallList.of(owner=3, keepers=[1, 2], others=[4])
ALL = {1, 2, 3, 4}
CAN = Receptacle(Vessel.METAL, lid=True, self_closing=True, listed=True)
DRUM = Receptacle(Vessel.METAL, lid=True, water=Water.FULL, place_detached=True)
CANNED = RagEntry(MADE + timedelta(hours=1), RagStep.IN_CAN, CAN)
Told = set[tuple[str, str]]


def warned(
    at: datetime, told: Told | None = None, entries: list[RagEntry] | None = None, *,
    contain_by: datetime = BY, remove_by: datetime = BY, reachable: set[int] | None = None,
    made: datetime = MADE,
) -> list[DueWarning]:  # fmt: skip
    state = fold(made, [], [e for e in (entries or []) if e.at <= at])
    judgement = judge(RagLoad("Load 1", "P. Maas", contain_by, remove_by, 3), state, at)
    return due_warnings(judgement, state, at, told or set(), PEOPLE, ALL if reachable is None else reachable)


def played(
    minutes: range, entries: list[RagEntry] | None = None, **said: datetime
) -> list[tuple[int, str, tuple[int, ...]]]:
    """What is sent when somebody looks every minute from BY: minute, stage, people."""
    told: Told = set()
    found = []
    for minute in minutes:
        for one in warned(BY + timedelta(minutes=minute), told, entries, **said):  # type: ignore[arg-type]
            told.add((one.rule.value, one.stage))
            found.append((minute, one.stage, one.people))
            assert not one.missed
    return found


def test_an_evening_minute_by_minute() -> None:
    assert played(range(-180, 160)) == [
        (-60, "before-60", (3, 1, 2)),
        (-15, "before-15", (3, 1, 2)),
        (1, "late-0", (3, 1, 2)),  # on the dot is in time
        (30, "late-1", (1,)),
        (60, "late-2", (2,)),
        (90, "late-3", (4,)),
        (120, "late-4", (3,)),
        (150, "late-5", (1,)),
    ]


def test_an_answer_ends_it_and_a_can_ends_only_the_contain_clock() -> None:
    drum = RagEntry(BY + timedelta(minutes=40), RagStep.OUTSIDE_DRUM, DRUM)
    assert [m for m, *_ in played(range(-180, 300), [drum])] == [-60, -15, 1, 30]
    canned = RagEntry(BY + timedelta(minutes=40), RagStep.IN_CAN, CAN)
    late = played(range(-400, 60), [canned], contain_by=BY - timedelta(hours=3))
    assert [m for m, *_ in late][:7] == [-179, -150, -120, -90, -60, -60, -30]
    assert played(range(-400, 0), [CANNED], contain_by=BY - timedelta(hours=3)) == [
        (-60, "before-60", (3, 1, 2)), (-15, "before-15", (3, 1, 2)),
    ]  # fmt: skip


def test_both_clocks_late_is_one_warning_of_the_later_one() -> None:
    rules = {one.rule for one in warned(BY + timedelta(hours=1), contain_by=BY - timedelta(hours=2))}
    assert rules == {WarningRule.REMOVE}
    rules = {one.rule for one in warned(BY - timedelta(minutes=10), contain_by=BY - timedelta(hours=2))}
    assert rules == {WarningRule.CONTAIN, WarningRule.REMOVE}


@pytest.mark.parametrize(
    ("down_until", "stage", "people", "missed"),
    [
        (-50, "before-60", (3, 1, 2), 0),
        (-10, "before-15", (3, 1, 2), 1),
        (45, "late-1", (3, 1, 2), 3),
        (100, "late-3", (3, 1, 2, 4), 5),
        (3 * 24 * 60, "late-144", (3, 1, 2, 4), 146),
    ],
)
def test_what_was_missed_is_said_once_to_everybody_who_would_have_heard(
    down_until: int, stage: str, people: tuple[int, ...], missed: int
) -> None:
    (one,) = warned(BY + timedelta(minutes=down_until))
    assert (one.stage, one.people, one.missed) == (stage, people, missed)
    assert one.due_at == BY - timedelta(minutes=60)
    again = warned(BY + timedelta(minutes=down_until + 1), {(one.rule.value, one.stage)})
    assert again == []


def test_only_what_came_after_the_last_one_told_was_missed() -> None:
    told = {("rag-remove", stage) for stage in ("before-60", "before-15", "late-0", "late-1")}
    (one,) = warned(BY + timedelta(minutes=95), told)
    assert (one.stage, one.people, one.missed) == ("late-3", (2, 4), 1)
    assert one.due_at == BY + timedelta(minutes=60)


def test_a_load_made_in_the_last_hour_is_named_at_once_and_not_as_late() -> None:
    made = BY - timedelta(minutes=40)
    (one,) = warned(made + timedelta(minutes=1), made=made)
    assert (one.stage, one.people, one.missed, one.due_at) == ("before-60", (3, 1, 2), 0, made)


def test_taken_out_of_the_drum_again_it_is_late_at_once_and_everybody_hears() -> None:
    into = RagEntry(BY - timedelta(hours=2), RagStep.OUTSIDE_DRUM, DRUM)
    out = RagEntry(BY + timedelta(hours=10, minutes=5), RagStep.IN_CAN, CAN)
    assert warned(BY + timedelta(hours=10), entries=[into]) == []
    (one,) = warned(out.at + timedelta(minutes=1), entries=[into, out])
    assert (one.stage, one.people, one.missed, one.due_at) == ("late-20", (3, 1, 2), 0, out.at)


def test_nobody_in_reach_is_passed_over_and_never_silences_a_warning() -> None:
    at = BY + timedelta(minutes=5)
    told = {("rag-remove", "before-60"), ("rag-remove", "before-15")}
    (one,) = warned(at, told, reachable={4})
    assert one.people == (3, 1, 2, 4), "who should hear first has no channel: the next one hears at once"
    told.add(("rag-remove", "late-0"))
    (one,) = warned(BY + timedelta(minutes=30), told, reachable={4})
    assert one.people == (4,)
    (one,) = warned(BY + timedelta(minutes=30), told, reachable=set())
    assert one.people == (), "the shop's own channel still hears it"


def test_a_load_without_a_remove_clock_is_warned_of_by_its_contain_clock_alone() -> None:
    found = warned(BY + timedelta(hours=1), remove_by=NO_CLOCK)
    assert [(one.rule, one.stage) for one in found] == [(WarningRule.CONTAIN, "late-2")]
    assert warned(BY + timedelta(hours=1), entries=[CANNED], remove_by=NO_CLOCK) == []


@pytest.mark.parametrize(
    ("zone", "start"),
    [
        ("Europe/Berlin", datetime(2026, 3, 28, 20, tzinfo=UTC)),  # the night of 23 hours follows
        ("Europe/Berlin", datetime(2026, 10, 24, 20, tzinfo=UTC)),  # and of 25
        ("America/Santiago", datetime(2026, 9, 5, 20, tzinfo=UTC)),  # midnight itself is skipped
        ("America/Havana", datetime(2026, 11, 1, 3, tzinfo=UTC)),  # midnight comes twice
        ("Pacific/Auckland", datetime(2026, 9, 26, 6, tzinfo=UTC)),
    ],
)
def test_the_rhythm_is_one_of_real_time_across_midnight_and_changes_of_the_clocks(
    zone: str, start: datetime
) -> None:
    by = day_end(start, ZoneInfo(zone))
    told: Told = set()
    sent: list[timedelta] = []
    for minute in range(-120, 360):
        at, made = by + timedelta(minutes=minute), by - timedelta(hours=9)
        for one in warned(at, told, contain_by=by, remove_by=by, made=made):
            told.add((one.rule.value, one.stage))
            sent.append(timedelta(minutes=minute))
    assert [s // timedelta(minutes=1) for s in sent] == [-60, -15, 1, *range(30, 360, 30)]
