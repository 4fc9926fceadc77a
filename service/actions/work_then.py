"""Which jobs were open, which batches ran and what recipes were called at an instant, told from the acts.

All of it is written down with its instant whatever program made the act, so no former row is asked.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

from sqlalchemy import select as columns_of
from sqlalchemy import update
from sqlmodel import Session, col

from service.records.jobs import Job
from service.records.mixing import Batch, BatchState, Recipe
from service.records.pot_waste import TOLD_LATER
from service.records.shop import Change
from service.records.stock import Posting, PostingResult

_STOOD_BEFORE: Final = {
    "start-batch": BatchState.SET_ASIDE,
    "release-batch": BatchState.SET_ASIDE,
    "finish-batch": BatchState.RUNNING,
    "give-up-batch": BatchState.RUNNING,
}
"""How a batch stood until the act; one that an act began is not in a book of before."""
_NOT_OVER: Final[dict[str, Any]] = {
    "finished_at": None, "yield_written": "", "yield_amount": None, "yield_basis": None, "yield_how": None,
    "loss_note": "", "loss_written": None, "loss_amount": None, "loss_basis": None, "strained": None,
    "stir_note": None,
}  # fmt: skip


def tell_work(session: Session, copy: Session, before: datetime) -> None:
    """Put jobs, batches and the names of recipes in a copy of the book back to how they stood at an instant.

    A batch that was finished late was running until that was written down, whatever hour was given for it.
    """
    _open_jobs(copy, before)
    _batches(session, copy, before)
    _recipe_names(session, copy, before)
    copy.flush()


def _open_jobs(copy: Session, before: datetime) -> None:
    closed_since = update(Job).where(col(Job.closed_at) >= before)
    copy.connection().execute(closed_since.values(closed_at=None, closed_by=None, close_note=""))


def _batches(session: Session, copy: Session, before: datetime) -> None:
    query = (
        columns_of(col(Posting.act), col(PostingResult.result))
        .join(PostingResult, col(PostingResult.posting_id) == col(Posting.id))
        .where(col(Posting.recorded_at) >= before, col(Posting.act).in_([*_STOOD_BEFORE, TOLD_LATER]))
        .order_by(col(Posting.id).desc())
    )
    stood: dict[int, BatchState] = {}
    for act, result in session.connection().execute(query):
        if act == TOLD_LATER:
            _note_of(copy, int(result["batch"]), str(result["before"]))
            continue
        stood[int(result["batch"])] = _STOOD_BEFORE[act]  # the first act since is told last
    for number, state in stood.items():
        row = copy.get(Batch, number)
        if row is None:
            continue
        row.state = state
        for name, value in _NOT_OVER.items():
            setattr(row, name, value)
        if state is BatchState.SET_ASIDE:
            row.started_at = None
        copy.add(row)


def _note_of(copy: Session, number: int, note: str) -> None:
    row = copy.get(Batch, number)
    if row is not None:
        row.loss_note = note
        copy.add(row)


def _recipe_names(session: Session, copy: Session, before: datetime) -> None:
    query = columns_of(col(Change.about_id), col(Change.before)).where(
        col(Change.about_kind) == "recipe", col(Change.field) == "name", col(Change.changed_at) >= before,
        col(Change.before).is_not(None),
    )  # fmt: skip
    found = session.connection().execute(query.order_by(col(Change.id).desc())).all()
    for number, name in {row[0]: row[1] for row in found}.items():  # the first change since is told last
        row = copy.get(Recipe, number)
        if row is not None and name is not None:
            row.name = name
            copy.add(row)
