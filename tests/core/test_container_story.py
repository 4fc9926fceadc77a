"""Replaying a container's acts gives its state, and says what could not have happened."""

from __future__ import annotations

import pytest

from service.core.container_story import StoryStep, tell_again
from service.core.containers import ContainerState, EventKind
from service.core.ledger import MovementKind, MovementLine


def moved(number: int, kind: MovementKind, change: int, **more: int) -> StoryStep:
    return StoryStep(kind, MovementLine(number, kind, change, **more))  # type: ignore[arg-type]


TOOK = moved(1, MovementKind.RECEIVE, 9)
DREW = moved(2, MovementKind.DRAW, -4)


@pytest.mark.parametrize(
    ("steps", "state"),
    [
        ([TOOK], ContainerState.SEALED),
        ([TOOK, StoryStep(EventKind.OPENED)], ContainerState.OPEN),
        ([TOOK, StoryStep(EventKind.MOVED), StoryStep(EventKind.CHECKED)], ContainerState.SEALED),
        ([TOOK, DREW], ContainerState.OPEN),
        ([TOOK, DREW, moved(3, MovementKind.LOSS, -5)], ContainerState.EMPTY),
        ([TOOK, moved(2, MovementKind.DISCARD, -9)], ContainerState.GONE),
        ([TOOK, DREW, moved(3, MovementKind.REVERSAL, 4, reverses=2)], ContainerState.OPEN),
        ([TOOK, moved(2, MovementKind.REVERSAL, -9, reverses=1)], ContainerState.GONE),
        ([moved(1, MovementKind.DECANT_IN, 9)], ContainerState.OPEN),
        ([], None),
    ],
)
def test_where_acts_lead(steps: list[StoryStep], state: ContainerState | None) -> None:
    story = tell_again(steps)
    assert story.state is state
    assert story.faults == ()


def test_it_came_open() -> None:
    story = tell_again([TOOK], brought_open=True)
    assert (story.state, story.ever_opened) == (ContainerState.OPEN, True)


def test_what_could_not_have_happened_is_said() -> None:
    story = tell_again([TOOK, moved(2, MovementKind.DISCARD, -9), StoryStep(EventKind.OPENED)])
    assert story.state is ContainerState.GONE
    assert story.faults == ("“opened” was written while it was gone",)
    assert tell_again([DREW]).faults == ("“draw” was written while it was not in the book",)
