"""What a batch has of each container: promised, drawn at its start, or held back for lines put in by hand.

Of "to suit, at most 100 ml" a start draws nothing: the 100 ml are reserved while the batch runs, less what
was put in of it at the bench, and let go when it ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sqlmodel import Session

from service.actions.addition_amounts import amount_of
from service.core.check_again import from_summary
from service.core.recipe import ByHand
from service.core.stock_check import Allocation as Taken
from service.records.mixing import Allocation, Batch
from service.records.mixing_queries import additions_of, allocations_of

DRAWN: Final = "drawn"
RESERVED: Final = "reserved"
USED: Final = "used"
RELEASED: Final = "released"


def lines_by_hand(batch: Batch) -> tuple[ByHand, ...]:
    """The lines of a batch that its start left to the bench; none where it was begun by eye."""
    return from_summary(batch.check_result).by_hand if batch.check_result is not None else ()


def line_to_fill(session: Session, batch: Batch, material_id: int) -> int | None:
    """Which line by hand an addition of a material is for: the first that has nothing yet, else the last."""
    mine = [one.position for one in lines_by_hand(batch) if one.material_id == material_id]
    filled = {one.row.position for one in additions_of(session, batch.id or 0) if not one.reversed}
    return next((at for at in mine if at not in filled), mine[-1] if mine else None)


def allocate(session: Session, batch: Batch, one: Taken, amount: int, state: str) -> None:
    """So much of a container for a batch."""
    assert batch.id is not None
    session.add(
        Allocation(
            batch_id=batch.id, container_id=one.container_id, material_id=one.material_id, amount=amount,
            state=state,
        )
    )  # fmt: skip


def allocate_at_start(session: Session, batch: Batch, taken: Sequence[Taken]) -> None:
    """What a start draws, and what it only holds back; what was promised before becomes that."""
    assert batch.id is not None
    before = {(row.container_id, row.material_id): row for row in allocations_of(session, batch.id)}
    for one in taken:
        row = before.pop((one.container_id, one.material_id), None)
        for amount, state in ((one.at_start, DRAWN), (one.amount - one.at_start, RESERVED)):
            if amount > 0 and row is not None:
                row.amount, row.state = amount, state
                session.add(row)
                row = None
            elif amount > 0:
                allocate(session, batch, one, amount, state)
    for left in before.values():
        left.state = RELEASED
        session.add(left)
    session.flush()


def settle_held_back(session: Session, batch: Batch, material_id: int) -> None:
    """Hold back of a material what its lines by hand may still take, after an addition or the undo of one.

    What nobody measured leaves it as it is: it is not known how much of it is used up.
    """
    assert batch.id is not None
    rows = [
        row
        for row in allocations_of(session, batch.id)
        if row.material_id == material_id and row.state in (RESERVED, USED)
    ]
    if not rows or batch.check_result is None:
        return
    at_first = {
        one.container_id: one.amount - one.at_start
        for one in from_summary(batch.check_result).allocations
        if one.material_id == material_id
    }
    put_in = [
        amount_of(session, one)
        for one in additions_of(session, batch.id)
        if one.row.material_id == material_id and one.row.how is not None and not one.reversed
    ]
    left = max(0, sum(at_first.values()) - sum(amount or 0 for amount in put_in))
    # It is taken in the order of the containers, so the last of them is held back longest.
    for row in reversed(rows):
        keep = min(left, at_first.get(row.container_id, 0))
        left -= keep
        row.amount, row.state = keep or row.amount, RESERVED if keep else USED
        session.add(row)
    session.flush()


def let_go(session: Session, batch_id: int) -> None:
    """A batch that ended holds nothing back."""
    for row in allocations_of(session, batch_id):
        if row.state == RESERVED:
            row.state = RELEASED
            session.add(row)
