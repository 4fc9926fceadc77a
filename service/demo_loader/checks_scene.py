"""The checks and the training of the demo. Their keys are their own, so its codes stay as they are."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

from service.actions.do_check import DoneAsked, TakeBackAsked, do_check, take_back_check
from service.actions.set_checks import CheckAsked, begin_check
from service.actions.train import TrainedAsked, take_back_training, train
from service.core.access import Actor
from service.core.recurring_checks import Result
from service.core.training import Group

if TYPE_CHECKING:
    from service.demo_loader.scenes import Stage


class Round:
    """What the scenes need to know of each other: the numbers of checks, the newest entries."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.checks: dict[str, int] = {}
        self.entry = self.taught = 0
        self.counted = 0

    def once(self) -> str:
        self.counted += 1
        return f"demo-checks-{self.counted:03}"

    def play(self, scene: Mapping[str, Any]) -> None:
        """One scene at its time, by its person."""
        actor, at = self.stage.actors[scene["who"]], self.stage.times.of(scene)
        _ACTS[scene["act"]](self, actor, at, scene)


def _begin(round_: Round, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    stage = round_.stage
    for key, known, place, owner in scene["checks"]:
        asked = CheckAsked(
            once=round_.once(), known=known, place_id=stage.places[place],
            owner=stage.actors[owner].person_id,
        )  # fmt: skip
        round_.checks[key] = begin_check(stage.session, actor, at, asked).result["check"]


def _done(round_: Round, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    earlier = scene.get("days_earlier")
    asked = DoneAsked(
        once=round_.once(), check_id=round_.checks[scene["check"]],
        result=Result(scene.get("result", "fine")), sentence=scene.get("sentence", ""),
        done_about=scene.get("done_about", ""), late_reason=scene.get("late_reason", ""),
        happened_at=at - timedelta(days=earlier) if earlier else None,
    )  # fmt: skip
    round_.entry = do_check(round_.stage.session, actor, at, asked).result["entry"]


def _take_back(round_: Round, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    asked = TakeBackAsked(round_.once(), round_.entry, scene["reason"])
    take_back_check(round_.stage.session, actor, at, asked)


def _train(round_: Round, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    asked = TrainedAsked(
        once=round_.once(), people=tuple(round_.stage.actors[key].person_id for key in scene["people"]),
        groups=tuple(Group(one) for one in scene["groups"]), topic=scene["topic"],
        taught_by=scene["taught_by"],
    )  # fmt: skip
    round_.taught = train(round_.stage.session, actor, at, asked).result["entries"][-1]


def _untrain(round_: Round, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    asked = TakeBackAsked(round_.once(), round_.taught, scene["reason"])
    take_back_training(round_.stage.session, actor, at, asked)


_ACTS: Final[Mapping[str, Callable[[Round, Actor, datetime, Mapping[str, Any]], None]]] = {
    "begin": _begin, "done": _done, "take-back": _take_back, "train": _train, "untrain": _untrain,
}  # fmt: skip
