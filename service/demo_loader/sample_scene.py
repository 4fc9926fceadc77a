"""The scenes of a colour sample: begun on a board, filled by eye, judged when it was dry."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from service.actions.add_to_batch import AddAsked, add
from service.actions.judge_sample import VerdictAsked, judge_sample
from service.actions.keep_as_made import AsMadeAsked, keep_as_made
from service.actions.start_sample import SampleAsked, start_sample
from service.core.access import Actor
from service.core.colour_samples import Board, SampleVerdict
from service.core.materials import Unknown

if TYPE_CHECKING:
    from service.demo_loader.scenes import Stage


def begin(stage: Stage, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    """A board and a target."""
    board = Board(
        scene["wood"], scene["grit"], Unknown(scene["sealed"]), scene["sealed_with"], scene["coats"]
    )
    asked = SampleAsked(
        once=stage.once(), target=scene["target"], board=board, job_id=stage.jobs[scene["job"]],
        purpose=scene["purpose"],
    )  # fmt: skip
    done = start_sample(stage.session, actor, at, asked).result
    stage.batches[scene["key"]], stage.samples[scene["key"]] = done["batch"], done["sample"]


def put_in(stage: Stage, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    """One addition to a running batch."""
    asked = AddAsked(
        once=stage.once(), batch_id=stage.batches[scene["batch"]], amount=scene["amount"],
        code=stage.boxes[scene["box"]], looked=True,
    )  # fmt: skip
    add(stage.session, actor, at, asked)


def judge(stage: Stage, actor: Actor, at: datetime, scene: Mapping[str, Any]) -> None:
    """The dry board is judged, and what went in is kept as a version."""
    asked = VerdictAsked(
        once=stage.once(), sample_id=stage.samples[scene["key"]], verdict=SampleVerdict(scene["verdict"]),
        note=scene["note"],
    )  # fmt: skip
    judge_sample(stage.session, actor, at, asked)
    made = AsMadeAsked(once=stage.once(), batch_id=stage.batches[scene["key"]], note=scene["note"])
    keep_as_made(stage.session, actor, at, made)
