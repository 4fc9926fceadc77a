"""What each step does to the two clocks, what ends a load, and how far a can must stand (strict)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.core.findings import Severity
from service.core.rag_judgement import Phase
from service.core.rag_loads import check_step, fold
from service.core.rag_profile import STRICT
from service.core.rag_steps import effect_of, place_findings, required_distance_mm
from service.core.rags import (
    Floor,
    RagEntry,
    RagStep,
    Receptacle,
    Removal,
    RemovalHow,
    Vessel,
    Water,
)
from tests.core.rag_story import BUCKET, CAN, DRUM, ENDS, START, at, canned, judged, removed, step, told


@pytest.mark.parametrize(
    ("entry", "contains", "removes", "ends"),
    [
        (step(1, RagStep.LOOSE), False, False, False),
        (step(1, RagStep.LOOSE, CAN), False, False, False),
        (canned(1), True, False, False),
        (step(1, RagStep.UNDER_WATER, BUCKET), True, False, False),
        (step(1, RagStep.LAID_FLAT), False, False, False),
        (step(1, RagStep.OUTSIDE_DRUM, DRUM), True, True, False),
        (removed(1), True, True, True),
        (step(1, RagStep.NONE_MADE, covers=("draw 1",)), True, True, True),
    ],
)
def test_the_table_of_steps(entry: RagEntry, contains: bool, removes: bool, ends: bool) -> None:
    effect = effect_of(entry)
    assert (effect.contains, effect.removes, effect.ends) == (contains, removes, ends)
    state = told(entry)
    assert (state.contained, state.remove_met, state.ended) == (contains, removes, ends)


def test_laid_flat_counts_only_where_a_profile_says_so() -> None:
    other = replace(STRICT, laid_flat_contains=True)
    assert effect_of(step(1, RagStep.LAID_FLAT), other).contains
    assert not effect_of(step(1, RagStep.LAID_FLAT), other).removes
    assert not effect_of(step(1, RagStep.LAID_FLAT), STRICT).contains


@pytest.mark.parametrize(
    "box",
    [
        None,
        Receptacle(),
        replace(CAN, material=Vessel.PLASTIC),
        replace(CAN, material=Vessel.CARDBOARD),
        replace(CAN, material=Vessel.BAG),
        replace(CAN, material=Vessel.NONE),
        replace(CAN, lid=False),
        replace(CAN, listed=False),
        replace(CAN, self_closing=False),
    ],
)
def test_what_is_no_rag_can_leaves_the_rags_loose(box: Receptacle | None) -> None:
    state = told(step(1, RagStep.IN_CAN, box))
    assert not state.contained and state.step is RagStep.LOOSE and state.last_step is RagStep.IN_CAN
    verdict = check_step(told(), step(1, RagStep.IN_CAN, box), at(2))
    assert verdict.blocking and "rags-record-instead" in verdict.codes


def test_a_listed_can_closes_by_itself_unless_somebody_says_it_does_not() -> None:
    """From memory: the test standards for oily waste cans ask for it."""
    assert told(step(1, RagStep.IN_CAN, replace(CAN, self_closing=None))).contained
    assert not told(step(1, RagStep.IN_CAN, replace(CAN, listed=None))).contained


NEEDED = {
    RagStep.IN_CAN: (CAN, ("material", "lid", "listed")),
    RagStep.UNDER_WATER: (BUCKET, ("material", "lid", "water")),
    RagStep.OUTSIDE_DRUM: (DRUM, ("material", "lid", "water", "place_detached")),
}


@pytest.mark.parametrize(("kind", "fact"), [(k, f) for k, (_, facts) in NEEDED.items() for f in facts])
def test_a_fact_that_nobody_recorded_never_meets_a_clock(kind: RagStep, fact: str) -> None:
    box = replace(NEEDED[kind][0], **{fact: None})
    state = told(step(1, kind, box))
    assert not state.remove_met and (fact == "place_detached" or not state.contained)
    assert any(f.severity is Severity.UNKNOWN for f in state.findings)
    assert check_step(told(), step(1, kind, box), at(2)).blocking


@pytest.mark.parametrize("water", [Water.NONE, Water.PARTLY, None])
def test_under_water_is_wholly_under(water: Water | None) -> None:
    assert not told(step(1, RagStep.UNDER_WATER, replace(BUCKET, water=water))).contained


@pytest.mark.parametrize("detached", [False, None])
def test_a_drum_at_the_building_is_under_water_only(detached: bool | None) -> None:
    state = told(step(1, RagStep.OUTSIDE_DRUM, replace(DRUM, place_detached=detached)))
    assert state.contained and not state.remove_met and state.step is RagStep.UNDER_WATER


def test_the_drum_opens_a_waste_duty_and_waits() -> None:
    entry = step(30, RagStep.OUTSIDE_DRUM, DRUM)
    assert "rags-drum-waste" in check_step(told(), entry, at(31)).codes
    assert judged(600, entry).phase is Phase.WAITING
    assert not judged(600, entry).blocks


@pytest.mark.parametrize("how", list(RemovalHow))
def test_only_a_named_receiver_or_a_permit_ends(how: RemovalHow) -> None:
    named = Removal(how, named="North Quay Waste")
    permit = Removal(how, permit="B-114")
    assert told(step(1, RagStep.REMOVED, removal=named)).ended == (how in ENDS)
    assert told(step(1, RagStep.REMOVED, removal=permit)).ended == (how is RemovalHow.BURNED_UNDER_PERMIT)
    assert not told(step(1, RagStep.REMOVED, removal=Removal(how, "  ", " "))).ended
    assert check_step(told(), step(1, RagStep.REMOVED, removal=Removal(how)), at(2)).blocking


@pytest.mark.parametrize(
    "how", [RemovalHow.WASHED_HERE, RemovalHow.TUMBLE_DRIED_HERE, RemovalHow.DRIED, RemovalHow.TAKEN_OUT]
)
def test_washing_drying_and_taking_out_leave_them_loose(how: RemovalHow) -> None:
    entry = step(20, RagStep.REMOVED, removal=Removal(how, "A. Name", "1"))
    state = told(step(10, RagStep.UNDER_WATER, BUCKET), entry)
    assert state.step is RagStep.LOOSE and not state.ended and not state.contained
    verdict = check_step(told(), entry, at(21))
    assert verdict.codes == {"rags-no-end"} and "hand them to a named hauler" in next(iter(verdict)).sentence


def test_a_removal_without_a_receiver_ends_only_for_the_calculator() -> None:
    entry = step(1, RagStep.REMOVED)
    assert not told(entry).ended
    loosely = fold(START, [], [entry], unnamed_ends=True)
    assert loosely.ended and any(f.severity is Severity.UNKNOWN for f in loosely.findings)


@pytest.mark.parametrize(
    ("box", "code"),
    [
        (CAN, None),
        (replace(CAN, distance_mm=610), None),
        (replace(CAN, distance_mm=609), "rags-too-near"),
        (replace(CAN, floor=Floor.COMBUSTIBLE), "rags-too-near"),
        (replace(CAN, lid=None), "rags-too-near"),
        (replace(CAN, floor=None), "rag-can-floor-not-known"),
        (replace(CAN, floor=None, distance_mm=3048), None),
        (replace(CAN, distance_mm=None), "rag-can-distance-not-known"),
    ],
)
def test_distance_from_what_burns(box: Receptacle, code: str | None) -> None:
    assert [f.code for f in place_findings(box)] == ([code] if code else [])
    assert required_distance_mm(replace(CAN, lid=False)) == 3048
