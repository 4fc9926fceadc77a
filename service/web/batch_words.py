"""Batches as people may see them: a student only those of the jobs they are in."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session

from service.core.access import Actor, Permission, may
from service.core.batch import BatchBalance
from service.core.findings import NotFound
from service.core.quantities import show_amount
from service.records.job_queries import is_in_job
from service.records.jobs import Job
from service.records.mixing import Batch, BatchState, Recipe
from service.records.mixing_queries import batches_in, the_batch


def unexplained_words(told: BatchBalance) -> str:
    """What of a balance nobody explained, in words."""
    if told.unexplained is None or told.basis is None:
        return "not known"
    if told.unexplained == 0:
        return "nothing"
    shown = show_amount(abs(told.unexplained), told.basis)
    return shown if told.unexplained > 0 else f"{shown} more came out or was lost than went in"


def sees_all(actor: Actor) -> bool:
    """Whether this person sees every batch."""
    return may(actor.role, Permission.SEE_STORE)


def in_its_job(session: Session, actor: Actor, batch: Batch) -> bool:
    """Whether somebody is in the job a batch belongs to."""
    job = session.get(Job, batch.job_id) if batch.job_id is not None else None
    return job is not None and is_in_job(session, job, actor.person_id)


def seen_batch(session: Session, actor: Actor, batch_id: int) -> Batch:
    """One batch, for somebody who may see it.

    Raises:
        NotFound: there is none, or it belongs to a job this student is not in; which of it is not told.
    """
    if sees_all(actor):
        return the_batch(session, batch_id)
    batch = session.get(Batch, batch_id)
    if batch is None or not in_its_job(session, actor, batch):
        raise NotFound(f"No batch {batch_id} is in a job of yours. Ask the leader of its job to add you.")
    return batch


def seen_batches(
    session: Session, actor: Actor, states: Sequence[BatchState], limit: int = 50, offset: int = 0
) -> list[tuple[Batch, Recipe]]:
    """Batches in these states that this person may see, the newest first."""
    if sees_all(actor):
        return list(batches_in(session, states, limit, offset))
    rows = [row for row in batches_in(session, states, 1000) if in_its_job(session, actor, row[0])]
    return rows[offset : offset + limit]
