"""Which act may happen in which state, and where it leads."""

from __future__ import annotations

from itertools import product

import pytest

from service.core.container_steps import STEPS, Act, allowed, next_state, state_after_reversal
from service.core.containers import ContainerState, EventKind
from service.core.ledger import MovementKind

S = ContainerState
ACTS: list[Act] = [*EventKind, *MovementKind]


def test_every_act_has_a_row() -> None:
    assert set(STEPS) == set(ACTS)


@pytest.mark.parametrize(("act", "state"), list(product(ACTS, [None, *ContainerState])))
def test_every_refusal_says_why_and_every_step_leads_somewhere(act: Act, state: S | None) -> None:
    verdict = allowed(state, act)
    if verdict.blocking:
        assert next(iter(verdict)).sentence.endswith(".")
        with pytest.raises(ValueError, match="does not lead on"):
            next_state(state, act)
    elif act is not MovementKind.REVERSAL:
        assert next_state(state, act) in ContainerState


def test_gone_refuses_everything_but_a_reversal() -> None:
    assert [act for act in ACTS if not allowed(S.GONE, act).blocking] == [MovementKind.REVERSAL]


def test_empty_gives_nothing_and_takes_no_new_life() -> None:
    for act in (MovementKind.DRAW, MovementKind.DECANT_OUT, MovementKind.DECANT_IN, MovementKind.LOSS):
        assert allowed(S.EMPTY, act).blocking
    assert not allowed(S.EMPTY, EventKind.VAPOUR_FREE).blocking
    assert allowed(S.OPEN, EventKind.VAPOUR_FREE).blocking


@pytest.mark.parametrize("act", [MovementKind.DRAW, MovementKind.DECANT_OUT, EventKind.OPENED])
def test_breaking_the_seal_is_said_and_opens(act: Act) -> None:
    assert allowed(S.SEALED, act).codes == {"opens-it"}
    assert next_state(S.SEALED, act) is S.OPEN


def test_no_act_seals_an_open_container() -> None:
    for act in ACTS:
        if act is not MovementKind.REVERSAL and not allowed(S.OPEN, act).blocking:
            for emptied in (False, True):
                assert next_state(S.OPEN, act, emptied=emptied) is not S.SEALED


def test_where_the_common_acts_lead() -> None:
    assert next_state(None, MovementKind.RECEIVE) is S.SEALED
    assert next_state(None, MovementKind.RECEIVE, brought_open=True) is S.OPEN
    assert next_state(None, MovementKind.MADE) is next_state(None, MovementKind.DECANT_IN) is S.OPEN
    assert next_state(S.OPEN, MovementKind.DRAW, emptied=True) is S.EMPTY
    assert next_state(S.EMPTY, MovementKind.RETURN) is S.OPEN
    assert next_state(S.EMPTY, MovementKind.DISCARD) is S.GONE
    assert next_state(S.OPEN, MovementKind.DISCARD, emptied=True) is S.GONE
    assert next_state(S.OPEN, MovementKind.DISCARD) is S.OPEN
    assert next_state(S.SEALED, MovementKind.COUNT_DIFFERENCE) is S.SEALED
    assert next_state(S.SEALED, EventKind.MOVED) is S.SEALED


def test_a_reversal_never_makes_a_seal_whole() -> None:
    assert state_after_reversal(5, ever_opened=True, reversed_entry=False) is S.OPEN
    assert state_after_reversal(None, ever_opened=True, reversed_entry=False) is S.OPEN
    assert state_after_reversal(5, ever_opened=False, reversed_entry=False) is S.SEALED
    assert state_after_reversal(0, ever_opened=True, reversed_entry=False) is S.EMPTY
    assert state_after_reversal(0, ever_opened=False, reversed_entry=True) is S.GONE
