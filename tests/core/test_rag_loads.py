"""The story of a load: entries and draws added up, and which new entry is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.findings import Verdict
from service.core.rag_judgement import judge
from service.core.rag_loads import check_step, fold
from service.core.rag_steps import effect_of
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
from tests.core.rag_story import BUCKET, DRUM, LOAD, START, at, canned, draws, judged, removed, step, told


def test_none_made_names_all_draws_and_comes_before_anything_else() -> None:
    drawn = draws(0, 10)
    whole = step(30, RagStep.NONE_MADE, covers=("draw 1", "draw 2"))
    assert told(whole, drawn=drawn).ended
    assert not check_step(told(drawn=drawn), whole, at(31)).blocking
    for covers, code in (((), "rags-name-the-draws"), (("draw 1",), "rags-draws-left-out")):
        entry = step(30, RagStep.NONE_MADE, covers=covers)
        assert not told(entry, drawn=drawn).ended
        assert check_step(told(drawn=drawn), entry, at(31)).codes == {code}


@pytest.mark.parametrize(
    "seen",
    [
        step(5, RagStep.LOOSE, count=4),
        step(5, RagStep.LOOSE),
        canned(5),
        step(5, RagStep.UNDER_WATER, BUCKET),
        step(5, RagStep.LAID_FLAT),
    ],
)
def test_none_made_is_refused_once_rags_were_seen(seen: RagEntry) -> None:
    none = step(30, RagStep.NONE_MADE, covers=("draw 1",))
    assert not told(seen, none).ended
    assert told(seen, none).contained == told(seen).contained
    assert check_step(told(seen), none, at(31)).codes == {"rags-were-seen"}


def test_none_made_with_a_count_contradicts_itself() -> None:
    assert not told(step(30, RagStep.NONE_MADE, covers=("draw 1",), count=2)).ended


def test_a_draw_after_none_made_opens_the_load_again() -> None:
    none = step(30, RagStep.NONE_MADE, covers=("draw 1", "draw 2"))
    state = told(none, drawn=draws(0, 40))
    assert not state.ended and not state.contained and state.open_draws == ("draw 2",)
    assert told(none, step(50, RagStep.NONE_MADE, covers=("draw 2",)), drawn=draws(0, 40)).ended


@pytest.mark.parametrize(
    "put_away",
    [canned(20), step(20, RagStep.UNDER_WATER, BUCKET), step(20, RagStep.OUTSIDE_DRUM, DRUM), removed(20)],
)
@pytest.mark.parametrize("joined", [20, 21, 300])
def test_a_draw_that_joins_after_containment_makes_it_loose_again(put_away: RagEntry, joined: float) -> None:
    state = told(put_away, drawn=draws(0, joined))
    assert not state.contained and not state.remove_met and not state.ended
    assert told(put_away, canned(301), drawn=draws(0, joined)).contained


def test_taken_out_is_loose_again() -> None:
    state = told(step(10, RagStep.UNDER_WATER, BUCKET), step(20, RagStep.LOOSE))
    assert not state.contained and state.water is None
    assert not told(step(10, RagStep.OUTSIDE_DRUM, DRUM), step(20, RagStep.LOOSE)).remove_met


def test_entries_are_read_in_the_order_they_happened() -> None:
    assert told(step(30, RagStep.LOOSE), canned(20)).contained is False
    assert told(canned(30), step(20, RagStep.LOOSE)).contained is True


def test_what_was_seen_after_an_end_counts() -> None:
    """Such an entry is refused; if one stands in the log all the same, the rags are there."""
    state = told(removed(20), step(30, RagStep.LOOSE))
    assert not state.ended and not state.contained and "rags-after-end" in Verdict(state.findings).codes
    assert told(removed(20), removed(30)).ended_at == at(20)


def test_the_place_of_the_load() -> None:
    assert told(removed(20)).where == "taken by the hauler: North Quay Waste"
    assert told(canned(20)).where == "in the rag can"
    burned = Removal(RemovalHow.BURNED_UNDER_PERMIT, permit="B-114")
    assert told(step(9, RagStep.REMOVED, removal=burned)).where == "burned under permit B-114"


boxes = st.builds(
    Receptacle,
    material=st.none() | st.sampled_from(Vessel),
    lid=st.none() | st.booleans(),
    self_closing=st.none() | st.booleans(),
    listed=st.none() | st.booleans(),
    water=st.none() | st.sampled_from(Water),
    place_detached=st.none() | st.booleans(),
    floor=st.none() | st.sampled_from(Floor),
    distance_mm=st.none() | st.integers(0, 5000),
)
removals = st.builds(
    Removal,
    st.sampled_from(RemovalHow),
    st.sampled_from(["", "North Quay Waste"]),
    st.sampled_from(["", "B-114"]),
)
entries = st.builds(
    RagEntry,
    at=st.integers(0, 600).map(at),
    step=st.sampled_from(RagStep),
    receptacle=st.none() | boxes,
    removal=st.none() | removals,
    covers=st.sampled_from([(), ("draw 1",), ("draw 1", "draw 2")]),
)
stories = st.lists(entries, max_size=6)


@settings(max_examples=300, deadline=None)
@given(story=stories, entry=entries, joined=st.integers(0, 600), now=st.integers(0, 900))
def test_no_other_step_ends_the_clocks(story: list[RagEntry], entry: RagEntry, joined: int, now: int) -> None:
    drawn = draws(0, joined)
    before = fold(START, drawn, story)
    after = fold(START, drawn, [*story, entry])
    if entry.step in (RagStep.LOOSE, RagStep.IN_CAN, RagStep.UNDER_WATER, RagStep.LAID_FLAT):
        assert not after.ended or before.ended
        assert not after.remove_met or before.remove_met
    assert after.remove_met or not after.ended
    assert after.contained or not after.remove_met
    assert judge(LOAD, after, at(now)).blocks == (
        (not after.contained and now > 60) or (not after.remove_met and now > 420)
    )


@settings(max_examples=300, deadline=None)
@given(
    story=stories,
    box=boxes,
    blanked=st.sampled_from(
        ["material", "lid", "self_closing", "listed", "water", "place_detached", "floor", "distance_mm"]
    ),
    kind=st.sampled_from(RagStep),
)
def test_forgetting_a_fact_never_meets_a_clock(
    story: list[RagEntry], box: Receptacle, blanked: str, kind: RagStep
) -> None:
    known = fold(START, draws(0), [*story, RagEntry(at(700), kind, box)])
    less = fold(START, draws(0), [*story, RagEntry(at(700), kind, replace(box, **{blanked: None}))])
    # A lid that stays open disproves a can; forgetting that is the one case where the listing speaks again.
    if not (blanked == "self_closing" and box.self_closing is False):
        assert known.contained or not less.contained
        assert known.remove_met or not less.remove_met


def test_every_receptacle_with_the_needed_facts_unknown_is_loose() -> None:
    for lid, listed, water, detached in product(
        (None, True, False), (None, True, False), (None, *Water), (None, True, False)
    ):
        box = Receptacle(None, lid, True, listed, water, detached, Floor.NONCOMBUSTIBLE, 5000)
        for kind in (RagStep.IN_CAN, RagStep.UNDER_WATER, RagStep.OUTSIDE_DRUM):
            effect = effect_of(step(1, kind, box))
            assert not effect.contains and not effect.removes


def test_times_that_cannot_be() -> None:
    assert check_step(told(), canned(30), at(29)).codes == {"rags-future"}
    assert "rags-before-load" in check_step(told(), canned(-1), at(29)).codes
    assert "rags-ended" in check_step(told(removed(20)), canned(30), at(40)).codes
    assert "rags-ended" in check_step(told(removed(20)), removed(10), at(40)).codes
    assert "rags-seen-later" in check_step(told(canned(20)), removed(10), at(40)).codes
    assert (
        "rags-seen-later" in check_step(told(canned(20)), step(10, RagStep.OUTSIDE_DRUM, DRUM), at(40)).codes
    )
    assert not check_step(told(canned(20)), removed(20), at(40)).blocking


def test_a_late_entry_may_fill_a_gap_before_the_end() -> None:
    state = told(removed(200))
    assert not check_step(state, canned(30), at(300)).blocking
    assert judged(300, removed(200)).violations and not judged(300, canned(30), removed(200)).violations


def test_an_ordinary_entry_goes_through() -> None:
    assert not check_step(told(), canned(30), at(30)).findings
    assert not check_step(told(), step(30, RagStep.LOOSE), at(30)).blocking
    assert not check_step(told(), step(30, RagStep.LAID_FLAT), at(30)).blocking
    assert check_step(told(), replace(canned(30), count=-1), at(30)).blocking


def test_naive_times_are_a_fault_of_the_caller() -> None:
    with pytest.raises(ValueError):
        check_step(told(), canned(30), datetime(2026, 3, 10))  # noqa: DTZ001
    with pytest.raises(ValueError):
        fold(START, [], [RagEntry(datetime(2026, 3, 10), RagStep.LOOSE)])  # noqa: DTZ001
