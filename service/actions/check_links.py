"""What belongs together in the books and must agree: both sides of a decant, batches, postings, rag loads."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Final

from sqlalchemy import func
from sqlmodel import Session, col, or_, select

from service.core.ledger import MovementKind
from service.records.mixing import Addition, Allocation, Batch, BatchState
from service.records.rag_queries import load_state, log_rows
from service.records.rags import RagLoad, RagLogRow
from service.records.shop import BookClock
from service.records.stock import ContainerEvent, Movement, Posting, PostingResult

_AT_ONCE: Final = 5_000
"""Postings read together: memory does not grow with the book."""


def decant_faults(session: Session) -> Iterator[str]:
    """Each pouring out has exactly one pouring in, of the same size, and both are taken back or neither."""
    kinds = (MovementKind.DECANT_OUT, MovementKind.DECANT_IN)
    rows = session.exec(select(Movement).where(col(Movement.kind).in_(kinds))).all()
    undone = set(
        session.exec(select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))).all()
    )
    sides = {(m.posting_id, m.container_id, m.other_container_id, m.kind): m for m in rows}
    for m in rows:
        other_kind = kinds[1] if m.kind is kinds[0] else kinds[0]
        other = sides.get((m.posting_id, m.other_container_id or 0, m.container_id, other_kind))
        if other is None:
            yield f"Entry {m.id} pours over, but its other side is missing."
        elif (m.change is None) != (other.change is None) or (m.change or 0) != -(other.change or 0):
            yield f"Entries {m.id} and {other.id} pour over different amounts."
        elif (m.id in undone) != (other.id in undone):
            yield f"Of the entries {m.id} and {other.id} only one was taken back."


def allocation_faults(session: Session) -> Iterator[str]:
    """What a batch set aside is promised only while it waits; what it drew is in the ledger."""
    of_batch = col(Batch.id) == col(Allocation.batch_id)
    rows = session.exec(select(Allocation, Batch).join(Batch, of_batch)).all()
    of_batches = col(Movement.batch_id).is_not(None), col(Movement.kind) == MovementKind.DRAW
    drawn = set(session.exec(select(Movement.batch_id, Movement.container_id).where(*of_batches)).all())
    for allocation, batch in rows:
        if allocation.state == "promised" and batch.state is not BatchState.SET_ASIDE:
            yield f"Batch {batch.id} is {batch.state.value}, but still has something set aside."
        if allocation.state == "reserved" and batch.state is not BatchState.RUNNING:
            yield f"Batch {batch.id} is {batch.state.value}, but still holds something back."
        if allocation.state == "drawn" and (batch.id, allocation.container_id) not in drawn:
            yield f"Batch {batch.id} says it drew what it set aside, but no draw of that container names it."
    additions = session.exec(
        select(Addition, Movement).join(Movement, col(Movement.id) == col(Addition.movement_id))
    ).all()
    for addition, movement in additions:
        if movement.batch_id != addition.batch_id:
            yield f"Batch {addition.batch_id} names entry {movement.id}, which belongs elsewhere."


def posting_faults(session: Session) -> Iterator[str]:
    """Every act has its answer, its lines agree with it, and recorded time never goes back."""
    unanswered = session.exec(
        select(Posting.id)
        .outerjoin(PostingResult, col(PostingResult.posting_id) == col(Posting.id))
        .where(col(PostingResult.posting_id).is_(None))
    ).all()
    yield from (f"Posting {number} has no answer kept with it." for number in unanswered)
    last = None
    times = select(Posting.id, Posting.recorded_at, Posting.happened_at).order_by(col(Posting.id))
    for number, recorded, happened in session.exec(times.execution_options(yield_per=_AT_ONCE)):
        if last is not None and recorded < last:
            yield f"Posting {number} was recorded before the one in front of it."
        if happened > recorded:
            yield f"Posting {number} happened after it was recorded."
        last = recorded
    clock = session.get(BookClock, 1)
    if last is not None and (clock is None or clock.last_recorded_at < last):
        yield "The book's clock stands before the last posting."
    for name, table in (("Entry", Movement), ("Event", ContainerEvent)):
        yield from _unlike_posting(session, name, table)
    doubles = session.exec(
        select(Movement.reverses_id)
        .where(col(Movement.reverses_id).is_not(None))
        .group_by(col(Movement.reverses_id))
        .having(func.count() > 1)
    ).all()
    yield from (f"Entry {number} was taken back twice." for number in doubles)


def _unlike_posting(
    session: Session, name: str, table: type[Movement] | type[ContainerEvent]
) -> Iterator[str]:
    rows = session.exec(
        select(table.id)
        .join(Posting, col(Posting.id) == col(table.posting_id))
        .where(
            or_(
                col(table.person_id) != col(Posting.person_id),
                col(table.happened_at) != col(Posting.happened_at),
                col(table.recorded_at) != col(Posting.recorded_at),
                col(table.late) != col(Posting.late),
            )
        )
    ).all()
    yield from (f"{name} {number} does not agree with its posting." for number in rows)


def rag_load_faults(session: Session) -> Iterator[str]:
    """What is kept of each load is what its log says; every draw that says it joined one is in its log."""
    newest = session.exec(select(func.max(col(RagLogRow.recorded_at)))).one()
    for load in session.exec(select(RagLoad).order_by(col(RagLoad.id))).all():
        if newest is None:
            yield f"Rag load {load.id} is not in the rag log."
            continue
        state = load_state(session, load, newest)
        step = state.last_step.value if state.last_step else ""
        kept = (load.last_step, load.contained, load.ended_at)
        if kept != (step, state.contained, state.ended_at):
            yield f"Rag load {load.id} is kept as “{kept[0] or 'in use'}”, its log says “{step or 'in use'}”."
        yield from _clock_faults(session, load)
    yield from _joined_faults(session)


def _clock_faults(session: Session, load: RagLoad) -> Iterator[str]:
    """Both clocks, and who owes it, are what the log says; a clock moved by hand would lift the block."""
    contain: list[datetime] = []
    remove = made = owner = None
    for row in log_rows(session, load.id):
        body = json.loads(row.body)
        if row.kind == "load-made":
            remove, made, owner = _instant(body["remove_by"]), row.happened_at, body["owed_by"]
        if row.kind in ("load-made", "job-closed"):
            contain.append(_instant(body["contain_by"]))
        if row.kind == "given-to":
            owner = body["to"]
    if (load.contain_by, load.remove_by) != (min(contain, default=None), remove):
        yield f"Rag load {load.id}: its clocks are not those of its log."
    if load.made_at != made:
        yield f"Rag load {load.id} was made at another time than its log says."
    if load.owed_by != owner:
        yield f"Rag load {load.id}: its log says somebody else owes it."


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _joined_faults(session: Session) -> Iterator[str]:
    rows = session.exec(select(RagLogRow).where(col(RagLogRow.kind) == "draw-joined")).all()
    logged = {(json.loads(row.body)["movement"], row.load_id) for row in rows}
    named = select(Movement.id, Movement.rag_load_id).where(col(Movement.rag_load_id).is_not(None))
    booked = {(number, load) for number, load in session.exec(named).all()}
    for movement, load in sorted(booked - logged):
        yield f"Entry {movement} names rag load {load}, but the rag log does not."
    for movement, load in sorted(logged - booked):
        yield f"Entry {movement} names no rag load {load}, but the rag log says it joined."
    made = set(session.exec(select(RagLogRow.load_id).where(col(RagLogRow.kind) == "load-made")).all())
    kept = set(session.exec(select(RagLoad.id)).all())
    for number in sorted(n for n in made - kept if n is not None):
        yield f"Rag load {number} was made by the rag log, but is not in the book."

