"""A whole can or drum leaves: every load in it ends together, and nothing that lies elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.empty_can import HOLDERS, whole_loads
from service.actions.handle_rags import StepAsked, step_one
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Refused, Verdict, stop
from service.core.rags import RagEntry, RagStep, Removal
from service.records.places import Place


@dataclass(frozen=True)
class LeftAsked:
    """The can or drum that left, who took it, and the loads that stood on the page when that was said."""

    once: str
    can_id: int
    loads: tuple[int, ...]
    removal: Removal | None
    witness: str = ""
    note: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""

    def body(self) -> dict[str, Any]:
        removal = self.removal
        return {
            "can": self.can_id, "loads": sorted(set(self.loads)),
            "removal": [removal.how.value, removal.named, removal.permit] if removal else None,
            "witness": self.witness, "note": self.note,
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
        }  # fmt: skip


def can_left(session: Session, actor: Actor, now: datetime, asked: LeftAsked) -> Settled:
    """Write the removal into every load in the can: all of them or none. Answers ``loads``.

    Raises:
        NotAllowed: a student or reader; of an outside drum, anybody but a keeper.
        Invalid: no such can or drum.
        Refused: nothing is in it, newer rags of a load in it are loose, something else lies in it than was
            seen, or this is no way for rags to end.
    """
    require(actor, Permission.REMOVE_RAGS)
    sent = Sent(asked.once, "can-left", asked.body(), asked.happened_at, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _left(act, asked))


def _left(act: Act, asked: LeftAsked) -> dict[str, Any]:
    query = select(Place).where(col(Place.id) == asked.can_id).with_for_update()
    can = act.session.exec(query.execution_options(populate_existing=True)).one_or_none()
    if can is None or not can.active or can.kind not in HOLDERS:
        words = "Choose the can or drum that left."
        raise Invalid(words, {"can": words})
    inside = sorted(whole_loads(act, can))
    if inside != sorted(set(asked.loads)):
        words = f"Something else lies in {can.name} by now than when you looked. Look at it once more."
        raise Refused(Verdict.of([stop("can-changed", words, about=can.name)]))
    entry = RagEntry(
        act.happened_at, RagStep.REMOVED, removal=asked.removal, witness=" ".join(asked.witness.split()),
        note=asked.note.strip(),
    )  # fmt: skip
    said = StepAsked(asked.once, tuple(inside), RagStep.REMOVED, removal=asked.removal)
    return {"can": can.id, "loads": [step_one(act, load, entry, said, can) for load in inside]}
