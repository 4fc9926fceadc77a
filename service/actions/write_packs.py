"""Writing down how a material is sold: pack sizes, prices, lead times; the least on the shelf."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlmodel import Session, col, select

from service.actions.note_change import note_change
from service.actions.read_amount import read_amount
from service.actions.rename_supplier import tidy_name
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.containers import AmountKnown
from service.core.costs import coins, judge_price
from service.core.findings import Invalid, Stale
from service.core.order_dates import judge_lead
from service.core.quantities import show_amount
from service.records.material_queries import the_material
from service.records.materials import Material
from service.records.order_queries import MOST_PACKS, packs_of, the_pack
from service.records.orders import MaterialMinimum, PackSizeRow, Supplier
from service.records.shop import ShopProfile


@dataclass(frozen=True, kw_only=True)
class PackAsked:
    """A pack as typed.

    Args:
        amount: what is in one, exactly: "500 ml", "2.5 kg". A range or "about" is refused.
        price: of one pack in the shop's currency; None = not known, 0 is a price.
        supplier: a name; a new one is written down. Empty = not known.
        lead_days: working days from ordering to delivery; None = not known.
    """

    once: str
    material_id: int
    amount: str
    price: Decimal | None = None
    supplier: str = ""
    lead_days: int | None = None

    def body(self) -> dict[str, Any]:
        return {
            "material": self.material_id,
            "amount": self.amount,
            "price": None if self.price is None else f"{self.price:f}",
            "supplier": self.supplier,
            "lead_days": self.lead_days,
        }


def write_pack(session: Session, actor: Actor, now: datetime, asked: PackAsked) -> Settled:
    """Write down one more pack size of a material; one of the same amount and supplier is replaced.

    Raises:
        NotAllowed, NotFound. Ambiguous, Invalid: `errors` names the field; also beyond 8 sizes.
    """
    require(actor, Permission.PLAN)
    sent = Sent(asked.once, "write-pack", asked.body())
    return settle(session, actor, sent, now, lambda act: _pack(act, asked))


def _pack(act: Act, asked: PackAsked) -> dict[str, Any]:
    material = _locked(act, asked.material_id)
    read = read_amount(act.session, act.actor, material, asked.amount)
    if read.known is not AmountKnown.MEASURED or read.low <= 0:
        words = "Write exactly what is in one pack, as printed on it, such as 500 ml or 2.5 kg."
        raise Invalid(words, {"amount": words})
    price, currency = _price(act, asked.price)
    lead = judge_lead(asked.lead_days)
    supplier = supplier_named(act, asked.supplier)
    there = packs_of(act.session, [asked.material_id])
    same = [
        row for row in there
        if (row.amount, row.basis, row.supplier_id) == (read.high, read.basis, supplier)
    ]  # fmt: skip
    if len(there) - len(same) >= MOST_PACKS:
        words = f"At most {MOST_PACKS} pack sizes of a material are kept. Put one away first."
        raise Invalid(words, {"amount": words})
    for old in same:
        old.active, old.version = False, old.version + 1
        act.session.add(old)
    row = PackSizeRow(
        material_id=asked.material_id,
        written=read.written[:200],
        amount=read.high,
        basis=read.basis,
        price_minor=price,
        currency=currency,
        supplier_id=supplier,
        lead_days=lead,
        created_by=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(row)
    act.session.flush()
    note_change(
        act.session, act.actor, act.recorded_at, ("pack-size", row.id), material.name[:60],
        f"{len(same)} of that size" if same else None, show_amount(read.high, read.basis),
    )  # fmt: skip
    return {"pack": row.id, "material": asked.material_id, "amount": row.amount, "basis": row.basis.value}


def _locked(act: Act, material_id: int) -> Material:
    material = the_material(act.session, material_id)
    act.session.refresh(material, with_for_update=True)
    return material


def _price(act: Act, price: Decimal | None) -> tuple[int | None, str | None]:
    """The price in whole smallest coins, with its currency."""
    judged = judge_price(price)
    if judged is None:
        return None, None
    shop = act.session.get(ShopProfile, 1)
    currency = shop.currency if shop else None
    minor = judged.scaleb(coins(currency))
    if minor != minor.to_integral_value():
        words = f"Enter the price of one pack with at most {coins(currency)} decimals."
        raise Invalid(words, {"price": words})
    return int(minor), currency


def supplier_named(act: Act, name: str) -> int | None:
    """The number of the supplier of this name, written down if it is new; None where none is named."""
    tidy = tidy_name(name)
    if not tidy:
        return None
    rows = act.session.exec(select(Supplier).order_by(col(Supplier.id))).all()
    row = next((one for one in rows if one.name.casefold() == tidy.casefold()), None)
    if row is None:
        row = Supplier(name=tidy, created_by=act.actor.person_id, created_at=act.recorded_at)
        act.session.add(row)
        act.session.flush()
    return row.id


def put_away_pack(
    session: Session, actor: Actor, now: datetime, once: str, pack_id: int, version: int
) -> Settled:
    """A pack that is not sold any more. Orders of it stay as they are.

    Raises:
        NotAllowed, NotFound. Stale: somebody changed it meanwhile.
    """
    require(actor, Permission.PLAN)
    sent = Sent(once, "put-away-pack", {"pack": pack_id, "version": version})
    return settle(session, actor, sent, now, lambda act: _put_away(act, pack_id, version))


def _put_away(act: Act, pack_id: int, version: int) -> dict[str, Any]:
    row = the_pack(act.session, pack_id)
    act.session.refresh(row, with_for_update=True)
    if row.version != version or not row.active:
        raise Stale("Somebody else changed this pack meanwhile. Look at it again.")
    note_change(act.session, act.actor, act.recorded_at, ("pack-size", row.id), "sold", True, False)
    row.active, row.version = False, row.version + 1
    act.session.add(row)
    act.session.flush()
    return {"pack": row.id, "material": row.material_id, "active": False}


@dataclass(frozen=True)
class MinimumAsked:
    """What of a material is to be on the shelf at the end of a term; empty = nothing is asked."""

    once: str
    material_id: int
    amount: str
    version: int = 0


def set_minimum(session: Session, actor: Actor, now: datetime, asked: MinimumAsked) -> Settled:
    """Set the least of a material on the shelf. A range counts by its upper end.

    Raises:
        NotAllowed, NotFound. Ambiguous, Invalid (field ``least``). Stale: somebody else set it meanwhile.
    """
    require(actor, Permission.PLAN)
    body = {"material": asked.material_id, "amount": asked.amount, "version": asked.version}
    return settle(session, actor, Sent(asked.once, "set-minimum", body), now, lambda a: _minimum(a, asked))


def _minimum(act: Act, asked: MinimumAsked) -> dict[str, Any]:
    material = _locked(act, asked.material_id)
    row = act.session.get(MaterialMinimum, asked.material_id)
    if (row.version if row else 0) != asked.version:
        raise Stale("Somebody else set the least on the shelf meanwhile. Look at it again.")
    before = row.written if row else ""
    row = row or MaterialMinimum(
        material_id=asked.material_id, set_by=act.actor.person_id, set_at=act.recorded_at, version=0
    )
    row.written, row.amount, row.basis = "", None, None
    if asked.amount.strip():
        read = read_amount(act.session, act.actor, material, asked.amount, "least")
        if read.high <= 0:
            words = "Write more than nothing, or leave it empty."
            raise Invalid(words, {"least": words})
        row.written, row.amount, row.basis = read.written[:200], read.high, read.basis
    row.set_by, row.set_at, row.version = act.actor.person_id, act.recorded_at, row.version + 1
    act.session.add(row)
    act.session.flush()
    about = ("material-minimum", asked.material_id)
    note_change(act.session, act.actor, act.recorded_at, about, material.name[:60], before, row.written)
    return {"material": asked.material_id, "amount": row.amount, "version": row.version}
