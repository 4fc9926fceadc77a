"""What somebody owes about a container ends when that is gone, and stands again when it comes back."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from sqlmodel import col, select

from service.actions.settle import Act
from service.core.containers import ContainerState
from service.core.shelf_codes import show_code
from service.records.duties import MOVE_DUTY, TOLD_BY_SOMEBODY, Duty
from service.records.stock_queries import Held

GONE: Final = "It is gone: it was thrown away."
_ENDS: Final = (MOVE_DUTY, TOLD_BY_SOMEBODY)
"""A leak is not among them: what ran out may still lie there, and somebody says how it was dealt with."""


def end_with_it(act: Act, held: Held) -> None:
    """End what is owed about this container, where it is gone. A move that names others too stays owed."""
    if held.container.state is not ContainerState.GONE:
        return
    asked = select(Duty).where(
        col(Duty.kind).in_(_ENDS),
        col(Duty.about_kind) == "container",
        col(Duty.about_id) == held.container_id,
        col(Duty.done_at).is_(None),
    )
    alone = f"({show_code(held.container.code)})"
    for duty in act.session.exec(asked.order_by(col(Duty.id)).with_for_update()).all():
        if duty.kind != MOVE_DUTY or alone in duty.sentence:
            duty.done_at, duty.done_by, duty.answer = act.recorded_at, act.actor.person_id, GONE
            act.session.add(duty)


def owe_again(act: Act, held: Held, gone_at: datetime) -> None:
    """Let what ended with a discard recorded at ``gone_at`` be owed again: the discard was taken back."""
    asked = select(Duty).where(
        col(Duty.about_kind) == "container",
        col(Duty.about_id) == held.container_id,
        col(Duty.done_at) == gone_at,
        col(Duty.answer) == GONE,
    )
    for duty in act.session.exec(asked.order_by(col(Duty.id)).with_for_update()).all():
        duty.done_at, duty.done_by, duty.answer = None, None, ""
        act.session.add(duty)
