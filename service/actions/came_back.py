"""Whether what a draw took came back into its container already: then the draw is taken back no more."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session, col, select

from service.core.findings import Verdict, stop
from service.core.ledger import MovementKind
from service.core.quantities import show_amount
from service.records.stock import Container, Movement
from service.records.stock_queries import Held, material_of

_WAYS = ("batch_id", "job_id", None)


def came_back(session: Session, group: Sequence[Movement]) -> Verdict:
    """A stop for each draw of which more came back than would be out without it.

    The amount would stand in the container twice: by the return and by the draw that never was.
    """
    return Verdict.of(
        stop("came-back", _words(session, row))
        for row in group
        if row.kind is MovementKind.DRAW and row.change is not None and _twice(session, row)
    )


def _twice(session: Session, row: Movement) -> bool:
    undone = select(Movement.reverses_id).where(
        col(Movement.container_id) == row.container_id, col(Movement.reverses_id).is_not(None)
    )
    moved = session.exec(
        select(Movement).where(
            col(Movement.container_id) == row.container_id,
            col(Movement.kind).in_([MovementKind.DRAW, MovementKind.RETURN]),
            col(Movement.id).not_in(undone),
            col(Movement.id) != row.id,
        )
    ).all()
    for way in _WAYS:
        mine = None if way is None else getattr(row, way)
        if way is not None and mine is None:
            continue
        those = [one for one in moved if way is None or getattr(one, way) == mine]
        drawn = [one.change for one in those if one.kind is MovementKind.DRAW]
        back = sum(one.change or 0 for one in those if one.kind is MovementKind.RETURN)
        if back and None not in drawn and back > -sum(change or 0 for change in drawn):
            return True
    return False


def _words(session: Session, row: Movement) -> str:
    box = session.get_one(Container, row.container_id)
    held = Held(box, material_of(session, box))
    return (
        f"Of the {show_amount(-(row.change or 0), held.basis)} of this draw some came back into the "
        "container already. Take that return back first, or count what is there."
    )
