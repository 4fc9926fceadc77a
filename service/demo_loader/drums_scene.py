"""The waste drums of the demo. Their keys are their own, so its codes stay as they are."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from service.actions.begin_drum import BeginDrumAsked, SiteAsked, begin_drum, tell_site
from service.actions.fill_drum import DrumBackAsked, StepAsked, note_drum_step, take_back_entry
from service.core.access import Actor
from service.core.materials import Unknown
from service.core.waste_drums import Area, DrumStep
from service.core.waste_rules import Category

if TYPE_CHECKING:
    from service.demo_loader.scenes import Stage


class Drums:
    """What the scenes need to know of each other: the numbers of drums, the newest entry."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.drums: dict[str, int] = {}
        self.entry = self.counted = 0

    def once(self) -> str:
        self.counted += 1
        return f"demo-drums-{self.counted:03}"

    def play(self, scene: Mapping[str, Any]) -> None:
        """One scene at its time, by its person."""
        actor, at = self.stage.actors[scene["who"]], self.stage.times.of(scene)
        _ACTS[scene["act"]](self, actor, at, scene)


def _site(drums: Drums, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    asked = SiteAsked(drums.once(), Category(scene["category"]), scene["haul_miles"], scene["reason"])
    tell_site(drums.stage.session, actor, at, asked)


def _begin(drums: Drums, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    asked = BeginDrumAsked(
        once=drums.once(), name=scene["name"], stream=scene["stream"], hazards=scene["hazards"],
        area=Area(scene["area"]), acute=Unknown.NO, place_id=drums.stage.places[scene["place"]],
        capacity=scene["capacity"], liquid=Unknown(scene["liquid"]), spent=Unknown(scene["spent"]),
        codes=scene["codes"], codes_reason=scene["codes_reason"],
    )  # fmt: skip
    drums.drums[scene["drum"]] = begin_drum(drums.stage.session, actor, at, asked).result["drum"]


def _step(drums: Drums, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    step = DrumStep.HANDED_OVER if scene["act"] == "hand-over" else DrumStep(scene["act"])
    said = ("what", "amount", "receiver", "transporter", "paper")
    told = {name: scene[name] for name in said if name in scene}
    asked = StepAsked(once=drums.once(), drum_id=drums.drums[scene["drum"]], step=step, **told)
    drums.entry = note_drum_step(drums.stage.session, actor, at, asked).result["entry"]


def _take_back(drums: Drums, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    asked = DrumBackAsked(drums.once(), drums.entry, scene["reason"])
    take_back_entry(drums.stage.session, actor, at, asked)


_ACTS: Final[Mapping[str, Callable[[Drums, Actor, datetime, Mapping[str, Any]], None]]] = {
    "site": _site, "begin": _begin, "put-in": _step, "hand-over": _step, "take-back": _take_back,
}  # fmt: skip
