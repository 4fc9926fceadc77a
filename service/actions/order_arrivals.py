"""What came of an ordered line: ticked off when it is taken in, and back when the entry is taken back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from sqlmodel import Session, col, select

from service.actions.note_change import note_change
from service.actions.what_came import all_came
from service.core.access import Actor
from service.core.containers import AmountKnown
from service.core.ledger import MovementKind
from service.records.material_queries import the_material
from service.records.order_queries import the_line
from service.records.orders import LineState, OrderLineRow
from service.records.stock import Container, Movement


def tick_off(
    session: Session, actor: Actor, now: datetime, line: OrderLineRow, container_ids: Iterable[int],
    amount: int | None, on_day: date,
) -> None:  # fmt: skip
    """These containers came of a line (locked by the caller), each with ``amount`` (None = not known)."""
    came = session.exec(
        select(Container).where(col(Container.id).in_(list(container_ids))).order_by(col(Container.id))
    ).all()
    for box in came:
        box.order_line_id = line.id
        session.add(box)
    # What came in another measure than it was ordered in is so much of nothing that was ordered.
    otherwise = the_material(session, line.material_id).basis is not line.basis
    if amount is None or line.received_amount is None or otherwise:
        line.received_amount = None
    else:
        line.received_amount += amount * len(came)
    line.received_on = on_day
    _count(session, actor, now, line, line.received_count + len(came))


def tick_back(session: Session, actor: Actor, now: datetime, arrival: Movement) -> None:
    """The entry by which a container came is being taken back: its line waits for one more again.

    A line that was closed by hand ("nothing more comes") stays closed. Does nothing for what came without an
    order.
    """
    box = session.get(Container, arrival.container_id)
    if arrival.kind is not MovementKind.RECEIVE or box is None or box.order_line_id is None:
        return
    line = the_line(session, box.order_line_id, lock=True)
    box.order_line_id = None
    session.add(box)
    session.flush()
    left = max(0, line.received_count - 1)
    line.received_amount = _still_here(session, line, left)
    if not left:
        line.received_on = None
    if line.state is LineState.RECEIVED and left < line.count:
        line.state = LineState.OPEN
    _count(session, actor, now, line, left)


def _count(session: Session, actor: Actor, now: datetime, line: OrderLineRow, count: int) -> None:
    note_change(session, actor, now, ("order-line", line.id), "received", line.received_count, count)
    line.received_count = count
    if line.state is LineState.OPEN and all_came(line):
        line.state = LineState.RECEIVED
    line.version += 1
    session.add(line)
    session.flush()


def _still_here(session: Session, line: OrderLineRow, count: int) -> int | None:
    """What came of a line by the entries that stand; None where one does not know, or is not linked."""
    entries = session.exec(
        select(Movement)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .where(
            col(Container.material_id) == line.material_id,
            col(Container.order_line_id) == line.id,
            col(Movement.kind) == MovementKind.RECEIVE,
        )
    ).all()
    if len(entries) != count:
        return None
    otherwise = bool(entries) and the_material(session, line.material_id).basis is not line.basis
    if otherwise or any(one.known is AmountKnown.NOT_KNOWN for one in entries):
        return None
    return sum(one.change or 0 for one in entries)
