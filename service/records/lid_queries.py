"""The acts of containers by which `core.lid_lifts` tells when the lid was off, a few hundred tins at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sqlalchemy import bindparam
from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.core.containers import EventKind
from service.core.ledger import MovementLine
from service.core.lid_lifts import LIFTING, LidAct
from service.records.kept_statements import run
from service.records.stock import ContainerEvent, Movement

_AT_ONCE: Final = 500
"""Numbers in one query; databases take a limited number of parameters."""
_TELLING: Final = sorted({EventKind.CHECKED, *(act for act in LIFTING if isinstance(act, EventKind))})
_LINES: Final = (
    columns_of(
        col(Movement.container_id),
        col(Movement.posting_id),
        col(Movement.id),
        col(Movement.kind),
        col(Movement.change),
        col(Movement.known),
        col(Movement.counted),
        col(Movement.reverses_id),
        col(Movement.happened_at),
    )
    .where(col(Movement.container_id).in_(bindparam("boxes", expanding=True)))
    .order_by(col(Movement.id))
)
_EVENTS: Final = (
    columns_of(
        col(ContainerEvent.container_id),
        col(ContainerEvent.posting_id),
        col(ContainerEvent.kind),
        col(ContainerEvent.happened_at),
    )
    .where(
        col(ContainerEvent.container_id).in_(bindparam("boxes", expanding=True)),
        col(ContainerEvent.kind).in_(_TELLING),
    )
    .order_by(col(ContainerEvent.id))
)


def lid_acts_of(session: Session, container_ids: Sequence[int]) -> dict[int, list[LidAct]]:
    """Movements, openings and checks of these containers, by the number of the container."""
    found: dict[int, list[LidAct]] = {}
    for begin in range(0, len(container_ids), _AT_ONCE):
        some = list(container_ids[begin : begin + _AT_ONCE])
        for box, posting, *line in run(session, _LINES, boxes=some):
            told = MovementLine(*line)
            assert told.happened_at is not None
            found.setdefault(box, []).append(LidAct(posting, told.kind, told.happened_at, told))
        for box, posting, kind, at in run(session, _EVENTS, boxes=some):
            found.setdefault(box, []).append(LidAct(posting, kind, at))
    return found
