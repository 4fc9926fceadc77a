"""Batches that are set aside or running, or done before their day is gone: what they hold, what went in."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date

from sqlmodel import Session, col, func, or_, select

from service.core.additions import HowAdded, not_measured
from service.core.ledger import MovementKind
from service.records.mixing import Addition, Allocation, Batch, BatchState
from service.records.plans import DateState, PlannedDate, PlannedJobRow
from service.records.stock import Container, Movement
from service.records.stock_queries import lines_of

OPEN = (BatchState.SET_ASIDE, BatchState.RUNNING)
_HELD = ("promised", "reserved")


@dataclass
class OpenBatch:
    """``held``: promised or reserved and not drawn, each with the code of its container; ``put_in``: what
    went in of each material by number, in smallest units, where somebody measured it or counted since,
    less what was put back; ``unmeasured``: the containers from which something went in that nobody
    measured or counted since."""

    row: Batch
    date: PlannedDate | None
    held: list[tuple[Allocation, str]] = field(default_factory=list)
    put_in: dict[int, int] = field(default_factory=dict)
    unmeasured: set[int] = field(default_factory=set)


def open_batches(session: Session) -> list[OpenBatch]:
    """Every batch that may still take something, the oldest first; one question where there is none."""
    rows = session.exec(
        select(Batch, PlannedDate)
        .join(
            PlannedDate,
            (col(PlannedDate.batch_id) == col(Batch.id)) & (col(PlannedDate.state) == DateState.STARTED),
            isouter=True,
        )
        .where(col(Batch.state).in_(OPEN))
        .order_by(col(Batch.id), col(PlannedDate.id))
    ).all()
    # A batch stands for one day.
    found = {row.id: OpenBatch(row, date) for row, date in reversed(rows) if row.id is not None}
    if not found:
        return []
    _add_held(session, found)
    running = [n for n, one in found.items() if one.row.state is BatchState.RUNNING]
    _add_all_put_in(session, found, running)
    return [found[number] for number in sorted(found)]


def finished_for_days(session: Session, today: date) -> list[OpenBatch]:
    """The finished batches of days from ``today`` on, with what went in; one question where there is none."""
    rows = session.exec(
        select(Batch, PlannedDate)
        .join(PlannedDate, col(PlannedDate.batch_id) == col(Batch.id))
        .where(
            col(PlannedDate.state) == DateState.STARTED,
            col(PlannedDate.on_day) >= today,
            col(Batch.state) == BatchState.FINISHED,
        )
        .order_by(col(Batch.id), col(PlannedDate.id))
    ).all()
    found = {row.id: OpenBatch(row, day) for row, day in reversed(rows) if row.id is not None}
    _add_all_put_in(session, found, list(found))
    return [found[number] for number in sorted(found)]


def _add_all_put_in(session: Session, found: dict[int, OpenBatch], numbers: Collection[int]) -> None:
    if not numbers:
        return
    _add_put_in(session, found, numbers)
    _add_not_measured(session, found, numbers)
    _take_off_put_back(session, found, numbers)


def _add_held(session: Session, found: dict[int, OpenBatch]) -> None:
    rows = session.exec(
        select(Allocation, Container.code)
        .join(Container, col(Container.id) == col(Allocation.container_id))
        .where(
            col(Allocation.batch_id).in_(found), col(Allocation.state).in_(_HELD)
        )
        .order_by(col(Allocation.id))
    ).all()
    for held, code in rows:
        found[held.batch_id].held.append((held, code))


def _add_put_in(session: Session, found: dict[int, OpenBatch], numbers: Collection[int]) -> None:
    back = select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))
    rows = session.exec(
        select(Addition.batch_id, Addition.material_id, func.sum(col(Addition.amount)))
        .where(
            col(Addition.batch_id).in_(numbers),
            col(Addition.amount).is_not(None),
            or_(col(Addition.how).is_(None), col(Addition.how) != HowAdded.TAKEN_BACK.value),
            col(Addition.movement_id).not_in(back),
        )
        .group_by(col(Addition.batch_id), col(Addition.material_id))
    ).all()
    for batch_id, material_id, amount in rows:
        found[batch_id].put_in[material_id] = int(amount or 0)


def _add_not_measured(session: Session, found: dict[int, OpenBatch], numbers: Collection[int]) -> None:
    """What nobody measured counts by a count made since; without one, as nothing at the least."""
    back = select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))
    rows = session.exec(
        select(Addition, Movement)
        .join(Movement, col(Movement.id) == col(Addition.movement_id))
        .where(
            col(Addition.batch_id).in_(numbers),
            col(Addition.how) == HowAdded.NOT_MEASURED.value,
            col(Movement.id).not_in(back),
        )
    ).all()
    for row, entry in rows:
        one = found[row.batch_id]
        span = not_measured(entry.id or 0, lines_of(session, entry.container_id), row.at_most)
        if span.known:
            one.put_in[row.material_id] = one.put_in.get(row.material_id, 0) + span.low
        else:
            one.unmeasured.add(entry.container_id)


def _take_off_put_back(session: Session, found: dict[int, OpenBatch], numbers: Collection[int]) -> None:
    """What was drawn for a batch and put back into its container did not go in; of an amount nobody knows, as
    much as was drawn."""
    back = select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))
    rows = session.exec(
        select(Movement, Container.material_id)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .where(
            col(Movement.batch_id).in_(numbers),
            col(Movement.kind) == MovementKind.RETURN,
            col(Movement.id).not_in(back),
        )
    ).all()
    for entry, material_id in rows:
        put_in = found[entry.batch_id or 0].put_in
        before = put_in.get(material_id, 0)
        put_in[material_id] = 0 if entry.change is None else max(0, before - entry.change)


def batches_that_hold(
    session: Session, container_id: int
) -> list[tuple[Allocation, PlannedDate | None, str | None]]:
    """What open batches hold of a container, each with the planned day and the name of its job."""
    rows = session.exec(
        select(Allocation, PlannedDate, PlannedJobRow.name)
        .join(Batch, col(Batch.id) == col(Allocation.batch_id))
        .join(
            PlannedDate,
            (col(PlannedDate.batch_id) == col(Batch.id)) & (col(PlannedDate.state) == DateState.STARTED),
            isouter=True,
        )
        .join(PlannedJobRow, col(PlannedJobRow.id) == col(PlannedDate.planned_job_id), isouter=True)
        .where(
            col(Allocation.container_id) == container_id,
            col(Allocation.state).in_(_HELD),
            col(Batch.state).in_(OPEN),
        )
        .order_by(col(Allocation.id))
    ).all()
    return [(held, date, name) for held, date, name in rows]
