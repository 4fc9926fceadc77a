"""Another name for somebody the shop buys from; what was ordered of them stays theirs."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Stale
from service.records.order_queries import suppliers, the_supplier

LONGEST_NAME = 120


def tidy_name(name: str) -> str:
    """A supplier's name without doubled blanks.

    Raises:
        Invalid (field ``supplier``): longer than 120 signs.
    """
    tidy = " ".join(name.split())
    if len(tidy) > LONGEST_NAME:
        words = f"Shorten the supplier's name to {LONGEST_NAME} signs."
        raise Invalid(words, {"supplier": words})
    return tidy


def rename_supplier(
    session: Session, actor: Actor, now: datetime, once: str, supplier_id: int, before: str, name: str
) -> Settled:
    """Write another name; ``before`` is the one that was read.

    Raises:
        NotAllowed, NotFound. Stale: it has another name by now.
        Invalid (field ``supplier``): empty, longer than 120 signs, or the name of another supplier.
    """
    require(actor, Permission.PLAN)
    sent = Sent(once, "rename-supplier", {"supplier": supplier_id, "before": before, "name": name})
    return settle(session, actor, sent, now, lambda act: _rename(act, supplier_id, before, name))


def _rename(act: Act, supplier_id: int, before: str, name: str) -> dict[str, Any]:
    row = the_supplier(act.session, supplier_id)
    act.session.refresh(row, with_for_update=True)
    if row.name != before:
        raise Stale(f"Somebody else renamed this supplier meanwhile: it is {row.name} now. Look again.")
    tidy, words = tidy_name(name), ""
    if not tidy:
        words = "Write the supplier's name."
    for other in suppliers(act.session):
        if other.id != row.id and other.name.casefold() == tidy.casefold():
            words = f"Another supplier is called {other.name} already. Write the packs anew with that name."
    if words:
        raise Invalid(words, {"supplier": words})
    note_change(act.session, act.actor, act.recorded_at, ("supplier", row.id), "name", row.name, tidy)
    row.name = tidy
    act.session.add(row)
    act.session.flush()
    return {"supplier": row.id, "name": row.name}
