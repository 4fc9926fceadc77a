"""What a load owes now: phases, lateness, violations that stay, the block and the notice."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from service.core.rag_judgement import Phase, block, judge, notice_due, words
from service.core.rags import (
    RagEntry,
    RagStep,
)
from tests.core.rag_story import CAN, DRUM, LOAD, at, canned, judged, removed, step, told


@pytest.mark.parametrize(
    ("now", "entries_", "phase", "late", "left"),
    [
        (10, (), Phase.IN_USE, 0, 410),
        (60, (), Phase.IN_USE, 0, 360),
        (61, (), Phase.OVERDUE, 1, 359),
        (90, (canned(60),), Phase.CONTAINED, 0, 330),
        (420, (canned(60),), Phase.CONTAINED, 0, 0),
        (430, (canned(60),), Phase.OVERDUE, 10, 0),
        (430, (), Phase.OVERDUE, 10, 0),
        (900, (canned(60), removed(420)), Phase.ENDED, 0, None),
        (900, (canned(60), removed(450)), Phase.ENDED, 30, None),
        (900, (step(60, RagStep.OUTSIDE_DRUM, DRUM),), Phase.WAITING, 0, None),
    ],
)
def test_phases(
    now: float, entries_: tuple[RagEntry, ...], phase: Phase, late: int, left: int | None
) -> None:
    found = judged(now, *entries_)
    assert (found.phase, found.minutes_late, found.minutes_left) == (phase, late, left)


def test_minutes_late_round_up_and_minutes_left_down() -> None:
    assert judged(60 + 1 / 60).contain_minutes_late == 1
    assert judged(60.5, canned(59)).minutes_left == 359
    assert judge(LOAD, told(), at(60) + timedelta(microseconds=1)).past_contain


def test_contained_late_and_removed_late_stay_on_record() -> None:
    found = judged(900, canned(75), removed(430))
    assert [f.code for f in found.violations] == ["rags-contained-late", "rags-removed-late"]
    assert not found.blocks and found.contain_minutes_late == 15 and found.remove_minutes_late == 10
    assert judged(900, canned(60), removed(420)).violations == ()
    assert [f.code for f in judged(500).violations] == ["rags-not-contained", "rags-not-removed"]


def test_loose_for_a_while_after_containment_is_on_record_too() -> None:
    found = judged(200, canned(30), step(100, RagStep.LOOSE), canned(110))
    assert [f.code for f in found.violations] == ["rags-contained-late"] and found.contain_minutes_late == 50
    assert judged(200, canned(30), step(40, RagStep.LOOSE), canned(50)).violations == ()


def test_none_made_said_late_is_on_record_in_its_own_words() -> None:
    found = judged(200, step(90, RagStep.NONE_MADE, covers=("draw 1",)))
    assert "said 30 min late" in found.violations[0].sentence and found.phase is Phase.ENDED


def test_a_can_too_near_is_a_violation_on_record_but_no_block() -> None:
    found = judged(30, step(10, RagStep.IN_CAN, replace(CAN, distance_mm=100)))
    assert [f.code for f in found.violations] == ["rags-too-near"] and not found.blocks


def test_the_block_names_load_person_time_and_what_to_do() -> None:
    verdict = block([judged(30), judged(150), judged(500, canned(30))])
    assert verdict.codes == {"rags-overdue"} and verdict.blocking and len(verdict.findings) == 2
    loose, still_in = (f.sentence for f in verdict)
    for words_ in ("Load 7", "Ines Vale", "1 h 30 min overdue", "under water", "nothing self-heating"):
        assert words_ in loose
    assert "1 h 20 min overdue" in still_in and "out of the building" in still_in
    assert not block([judged(30), judged(900, canned(10), removed(500))]).findings


@pytest.mark.parametrize(("now", "due"), [(359, False), (360, True), (419, True), (500, True)])
def test_the_notice_stands_from_one_hour_before(now: float, due: bool) -> None:
    assert notice_due(judged(now, canned(10)), at(now)) is due
    assert not notice_due(judged(now, removed(10)), at(now))
    assert not notice_due(judged(now, step(10, RagStep.OUTSIDE_DRUM, DRUM)), at(now))


def test_a_load_past_its_contain_clock_stands_in_the_header_at_once() -> None:
    assert notice_due(judged(61), at(61)) and not notice_due(judged(60), at(60))


def test_lengths_of_time_in_words() -> None:
    assert [words(m) for m in (0, 59, 60, 61, 2879, 2880, 4400)] == [
        "0 min",
        "59 min",
        "1 h",
        "1 h 1 min",
        "47 h 59 min",
        "2 days",
        "3 days 1 h",
    ]
