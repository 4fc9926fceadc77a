"""Starting a colour sample: its recipe without a line, and a running batch that is filled by eye.

Nothing is drawn: every addition is put in at the bench and judged there like any other.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.actions.gate import check_job
from service.actions.note_change import note_change
from service.actions.run_job import job_for_draw
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.colour_samples import Board, board_words, judge_board, name_of
from service.core.findings import Invalid, Stale
from service.records.mixing import Batch, BatchState, Recipe, RecipeVersion
from service.records.sample_queries import the_sample
from service.records.samples import ColourSample

BY_EYE = "By eye: what goes in is written down at the bench."


@dataclass(frozen=True, kw_only=True)
class SampleAsked:
    """A board to be coloured by eye.

    Args:
        target: the colour to be met, in words; the recipe is named after it.
        job_id: the running job; without one nothing self-heating can be put in later.
        open_job: open a shop-work job for it.
        purpose: what the mix is for, at most 60 letters.
    """

    once: str
    target: str
    board: Board
    job_id: int | None = None
    open_job: bool = False
    purpose: str = ""

    def body(self) -> dict[str, Any]:
        return {
            "target": self.target,
            "board": [
                self.board.wood, self.board.grit, self.board.sealed.value, self.board.sealed_with,
                self.board.coats,
            ],
            "job": self.job_id,
            "open_job": self.open_job,
            "purpose": self.purpose,
        }  # fmt: skip


def start_sample(session: Session, actor: Actor, now: datetime, asked: SampleAsked) -> Settled:
    """Start a colour sample; answers ``sample``, ``batch``, ``recipe``, ``name``, ``job``.

    Raises:
        NotAllowed: a student or reader asked.
        NotFound, Refused: no such job, or it is not running.
        Invalid: `errors` names ``target``, ``wood``, ``grit``, ``sealed_with``, ``coats`` or ``purpose``.
    """
    require(actor, Permission.BATCHES)
    require(actor, Permission.RECIPES)
    sent = Sent(asked.once, "start-sample", asked.body())
    return settle(session, actor, sent, now, lambda act: _start(act, asked))


def _start(act: Act, asked: SampleAsked) -> dict[str, Any]:
    board, name = judge_board(asked.board), name_of(asked.target)
    purpose = " ".join(asked.purpose.split())
    if len(purpose) > 60:
        words = "Say what it is for in at most 60 letters."
        raise Invalid(words, {"purpose": words})
    job = job_for_draw(act, asked.job_id, needed=asked.open_job)
    check_job(act, job)
    recipe = Recipe(name=name, purpose=purpose, created_by=act.actor.person_id, created_at=act.recorded_at)
    act.session.add(recipe)
    act.session.flush()
    assert recipe.id is not None
    version = RecipeVersion(
        recipe_id=recipe.id, number=1, note=BY_EYE, person_id=act.actor.person_id, created_at=act.recorded_at
    )
    act.session.add(version)
    act.session.flush()
    assert version.id is not None
    batch = Batch(
        recipe_id=recipe.id,
        recipe_version_id=version.id,
        job_id=job.id if job else None,
        state=BatchState.RUNNING,
        wanted_written="a colour sample",
        started_at=act.happened_at,
        person_id=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(batch)
    act.session.flush()
    assert batch.id is not None
    sample = ColourSample(
        batch_id=batch.id,
        **_columns(board),
        target=asked.target.strip(),
        person_id=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(sample)
    act.session.flush()
    return {
        "sample": sample.id, "batch": batch.id, "recipe": recipe.id, "name": name, "job": batch.job_id,
    }  # fmt: skip


def describe_sample(
    session: Session, actor: Actor, now: datetime, sample_id: int, version: int, target: str, board: Board
) -> ColourSample:
    """Put the words about board and target right. The recipe keeps its name.

    Raises:
        Stale: somebody changed it meanwhile.
        NotAllowed, NotFound, Invalid.
    """
    require(actor, Permission.BATCHES)
    sample = the_sample(session, sample_id, lock=True)
    if sample.version != version:
        raise Stale("Somebody else changed this colour sample. Open it again and compare.")
    board, about = judge_board(board), ("colour sample", sample.id)
    name_of(target)
    note_change(session, actor, now, about, "board", board_words(board_of(sample)), board_words(board))
    note_change(session, actor, now, about, "target", sample.target, target.strip())
    for name, value in _columns(board).items():
        setattr(sample, name, value)
    sample.target = target.strip()
    sample.version += 1
    session.add(sample)
    session.flush()
    return sample


def board_of(sample: ColourSample) -> Board:
    """The board of a sample."""
    return Board(sample.wood, sample.grit, sample.sealed, sample.sealed_with, sample.coats)


def _columns(board: Board) -> dict[str, Any]:
    return {
        "wood": board.wood, "grit": board.grit, "sealed": board.sealed, "sealed_with": board.sealed_with,
        "coats": board.coats,
    }  # fmt: skip
