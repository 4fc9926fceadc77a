"""Whether something came into a container that a look made there cannot speak for.

A count that found more than the book says is such a thing too: something went in that nobody wrote down, and
nobody knows whether before the look or after it.
"""

from typing import Final

from sqlalchemy import and_, case, func, true
from sqlalchemy import select as columns_of
from sqlalchemy.orm import aliased
from sqlmodel import col, or_

from service.core.containers import AmountKnown
from service.core.counting import CONFIRMS, LATE_AGAIN, MORE
from service.core.ledger import MovementKind
from service.records.stock import ContainerEvent, Movement

_Out = aliased(Movement)
_TAKEN_BEFORE: Final = and_(
    col(_Out.container_id) == col(ContainerEvent.container_id),
    col(_Out.happened_at) <= col(ContainerEvent.happened_at),
)
_WAS_OUT: Final = (
    columns_of(col(_Out.id))
    .where(
        _TAKEN_BEFORE,
        col(_Out.kind) == MovementKind.DRAW,
        case(
            (col(Movement.batch_id).is_not(None), col(_Out.batch_id) == col(Movement.batch_id)),
            (col(Movement.job_id).is_not(None), col(_Out.job_id) == col(Movement.job_id)),
            else_=true(),
        ),
    )
    .correlate(Movement, ContainerEvent)
    .exists()
)
"""Something of what this return brought back may have been out already when the look was made."""
_OUT_AND_TAKEN_BACK: Final = (
    columns_of(col(_Out.id))
    .where(
        _TAKEN_BEFORE,
        col(_Out.id) == col(Movement.reverses_id),
        col(_Out.kind).in_(
            [MovementKind.DRAW, MovementKind.DECANT_OUT, MovementKind.DISCARD, MovementKind.LOSS]
        ),
    )
    .correlate(Movement, ContainerEvent)
    .exists()
)
_BACK_AFTER_IT: Final = or_(
    col(Movement.happened_at) > col(ContainerEvent.happened_at),
    and_(
        col(Movement.happened_at) == col(ContainerEvent.happened_at),
        col(Movement.posting_id) > col(ContainerEvent.posting_id),
    ),
)
"""What was back before the look was in the tin when it was made, whenever it was written down."""
_Undo, _Fell, _FellUndo = aliased(Movement), aliased(Movement), aliased(Movement)
_FELL_BY_THEN: Final = (
    columns_of(func.coalesce(func.sum(col(_Fell.change)), 0))
    .where(
        col(_Fell.container_id) == col(Movement.container_id),
        col(_Fell.kind) == MovementKind.COUNT_DIFFERENCE,
        col(_Fell.posting_id) <= col(Movement.posting_id),
        or_(
            and_(col(_Fell.change) < 0, col(_Fell.happened_at) > col(ContainerEvent.happened_at)),
            and_(
                col(_Fell.reason) == LATE_AGAIN,
                or_(
                    col(_Fell.happened_at) > col(ContainerEvent.happened_at),
                    col(_Fell.posting_id) > col(ContainerEvent.posting_id),
                ),
            ),
        ),
        ~columns_of(col(_FellUndo.id))
        .where(col(_FellUndo.reverses_id) == col(_Fell.id))
        .correlate(_Fell)
        .exists(),
    )
    .correlate(Movement, ContainerEvent)
    .scalar_subquery()
)
"""What counts since the look found less, together with what late entries gave back to them: above nothing
where a count had found more than the book had said, had the late entry stood in it."""
_Count = aliased(Movement)
_COUNTED_AFTER_IT: Final = (
    columns_of(col(_Count.id))
    .where(
        col(_Count.container_id) == col(Movement.container_id),
        col(_Count.kind) == MovementKind.COUNT_DIFFERENCE,
        col(_Count.reason) != LATE_AGAIN,
        col(_Count.posting_id) < col(Movement.posting_id),
        col(_Count.happened_at) > col(ContainerEvent.happened_at),
    )
    .correlate(Movement, ContainerEvent)
    .exists()
)
_FOUND_MORE: Final = and_(
    col(Movement.kind) == MovementKind.COUNT_DIFFERENCE,
    or_(
        and_(
            col(Movement.change) > 0,
            ~col(Movement.reason).startswith(CONFIRMS, autoescape=True),
            col(Movement.reason) != LATE_AGAIN,
            _BACK_AFTER_IT,
        ),
        and_(
            col(Movement.change).is_(None),
            col(Movement.reason).startswith(MORE, autoescape=True),
            _BACK_AFTER_IT,
        ),
        # What a late entry gives back to a count: the time of the count decides, not that of the entry.
        and_(
            col(Movement.change) > 0,
            col(Movement.reason) == LATE_AGAIN,
            _COUNTED_AFTER_IT,
            _FELL_BY_THEN > 0,
        ),
    ),
    ~columns_of(col(_Undo.id))
    .where(col(_Undo.reverses_id) == col(Movement.id))
    .correlate(Movement)
    .exists(),
)
"""A count taken back was a slip of the count; what came back by a return was there all the same."""
CAME_IN_SINCE: Final = (
    columns_of(col(Movement.id))
    .where(
        col(Movement.container_id) == col(ContainerEvent.container_id),
        # A look written down late may have been made before what came in.
        or_(
            col(Movement.posting_id) > col(ContainerEvent.posting_id),
            col(Movement.happened_at) > col(ContainerEvent.happened_at),
        ),
        or_(
            col(Movement.kind) == MovementKind.DECANT_IN,
            and_(
                col(Movement.kind) == MovementKind.RETURN,
                or_(
                    col(Movement.known) == AmountKnown.NOT_KNOWN,  # more than was drawn
                    and_(_BACK_AFTER_IT, _WAS_OUT),
                ),
            ),
            and_(col(Movement.kind) == MovementKind.REVERSAL, _OUT_AND_TAKEN_BACK),
            _FOUND_MORE,
        ),
    )
    .correlate(ContainerEvent)
    .exists()
)
