"""Another name for somebody the shop buys from; two names of one are joined, with their packs and orders."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Stale
from service.records.order_queries import suppliers, the_supplier
from service.records.orders import PackSizeRow, PurchaseOrder, Supplier

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
    session: Session, actor: Actor, now: datetime, once: str, supplier_id: int, before: str, name: str,
    *, join: bool = False,
) -> Settled:
    """Write another name; ``before`` is the one that was read.

    ``join``: if another supplier has that name they are one and the same. Packs and orders of this one are
    that one's then, and this one is gone; of two packs alike the one that was written later is sold on.

    Raises:
        NotAllowed, NotFound. Stale: it has another name by now.
        Invalid (field ``supplier``): empty, longer than 120 signs, or another supplier's (``join``).
    """
    require(actor, Permission.PLAN)
    body = {"supplier": supplier_id, "before": before, "name": name, **({"join": True} if join else {})}
    sent = Sent(once, "rename-supplier", body)
    return settle(session, actor, sent, now, lambda act: _rename(act, supplier_id, before, name, join))


def _rename(act: Act, supplier_id: int, before: str, name: str, join: bool) -> dict[str, Any]:
    row = the_supplier(act.session, supplier_id)
    act.session.refresh(row, with_for_update=True)
    if row.name != before:
        raise Stale(f"Somebody else renamed this supplier meanwhile: it is {row.name} now. Look again.")
    tidy, words = tidy_name(name), ""
    if not tidy:
        words = "Write the supplier's name."
    for other in suppliers(act.session):
        if other.id != row.id and other.name.casefold() == tidy.casefold():
            if join:
                return _join(act, row, other)
            words = f"Another supplier is called {other.name} already. If they are one, say so to join them."
            raise Invalid(words, {"supplier": words, "join": "Are they one and the same?"})
    if words:
        raise Invalid(words, {"supplier": words})
    note_change(act.session, act.actor, act.recorded_at, ("supplier", row.id), "name", row.name, tidy)
    row.name = tidy
    act.session.add(row)
    act.session.flush()
    return {"supplier": row.id, "name": row.name}


def _join(act: Act, row: Supplier, other: Supplier) -> dict[str, Any]:
    """All of ``row`` becomes ``other``'s. The book of orders reads the name by the number, so both move."""
    session = act.session
    session.refresh(other, with_for_update=True)
    packs = session.exec(select(PackSizeRow).where(col(PackSizeRow.supplier_id) == row.id)).all()
    orders = session.exec(select(PurchaseOrder).where(col(PurchaseOrder.supplier_id) == row.id)).all()
    for moved in (*packs, *orders):
        moved.supplier_id = other.id
        session.add(moved)
    session.flush()
    away = _put_away_doubles(act, other)
    sold = sum(1 for one in packs if one.active)
    told = f"{_many(sold, 'pack size')} and {_many(len(orders), 'order')} came with it"
    told += f"; {_many(away, 'pack size')} stood there twice" if away else ""
    about = ("supplier", other.id)
    note_change(session, act.actor, act.recorded_at, about, "joined", row.name, other.name, f"{told}.")
    session.delete(row)
    session.flush()
    return {"supplier": other.id, "name": other.name, "joined": row.name}


def _put_away_doubles(act: Act, supplier: Supplier) -> int:
    """Of packs alike the one that was written last stays: its price is the newer one."""
    query = select(PackSizeRow).where(
        col(PackSizeRow.supplier_id) == supplier.id, col(PackSizeRow.active).is_(True)
    )
    seen: set[tuple[Any, ...]] = set()
    away = 0
    for row in act.session.exec(query.order_by(col(PackSizeRow.id).desc())).all():
        same = (row.material_id, row.amount, row.basis)
        if same in seen:
            note_change(act.session, act.actor, act.recorded_at, ("pack-size", row.id), "sold", True, False)
            row.active, row.version, away = False, row.version + 1, away + 1
            act.session.add(row)
        seen.add(same)
    return away


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
