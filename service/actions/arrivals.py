"""What is asked when something comes in, and how much each container of it holds. Reads only."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlmodel import Session

from service.actions.read_amount import ReadAmount, read_amount, read_for
from service.actions.settle import Act, Sent
from service.core.access import Actor
from service.core.containers import AmountKnown, Condition
from service.core.fill_level import read_level
from service.core.findings import Invalid
from service.core.materials import Basis, Unknown
from service.core.quantities import CannotMeet, plain, show_amount
from service.core.storage_rules import Vessel
from service.core.take_in import is_overfull
from service.records.materials import Material


class Origin(StrEnum):
    """Whether it came from a supplier, or was found standing in the room when the book was begun."""

    SUPPLIER = "supplier"
    STOCK_TAKE = "stock-take"


@dataclass(frozen=True)
class ReceiveAsked:
    """What came in, ``count`` containers alike.

    Args:
        amount: how much is in each, as written ("250 g", "about half"); empty = not known.
        estimated: the amount is a guess even where it is written as a figure.
        capacity: what each holds when full, as written; needed to read "about half".
        received_on: None on a delivery = the day of the act; on a stock-take = not known.
        opened_on: the day it was first opened, of what comes ``opened``; None = not known.
        price: what each cost, in the shop's currency; None = nobody said.
        code: of a label that was printed ahead (one container only); empty = a new code.
        vessel: what each is made of; None = nobody said.
        over_reason: why a keeper takes it in over a storage limit, in a sentence.
    """

    once: str
    material_id: int
    count: int = 1
    amount: str = ""
    estimated: bool = False
    capacity: str = ""
    place_id: int | None = None
    origin: Origin = Origin.SUPPLIER
    supplier: str = ""
    lot: str = ""
    packed_on: date | None = None
    received_on: date | None = None
    printed_date: date | None = None
    opened: bool = False
    opened_on: date | None = None
    condition: Condition = Condition.NOT_KNOWN
    sheet_came: Unknown = Unknown.NOT_KNOWN
    note: str = ""
    price: Decimal | None = None
    code: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""
    vessel: Vessel | None = None
    over_reason: str = ""

    def sent(self) -> Sent:
        left_out = {"once", "late_reason"}
        body = {f.name: _plain(getattr(self, f.name)) for f in fields(self) if f.name not in left_out}
        if self.price is None:  # so that the same delivery sent by an older program is still the same
            del body["price"]
        for field in ("vessel", "over_reason"):
            if not body[field]:
                del body[field]
        return Sent(self.once, "receive", body, self.happened_at, late_reason=self.late_reason)


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return plain(value)
    return value.value if isinstance(value, StrEnum) else value


@dataclass(frozen=True)
class EachHolds:
    """How much goes into the book for each container. ``change`` None = not known."""

    change: int | None
    known: AmountKnown
    read: ReadAmount | None = None
    how: str = ""


def received_day(on: date, asked: ReceiveAsked) -> date | None:
    """The day it counts as received; None = not known, which only a stock-take allows."""
    if asked.received_on is None and asked.origin is Origin.SUPPLIER:
        return on
    return asked.received_on


def how_much(session: Session, actor: Actor, material: Material, asked: ReceiveAsked) -> EachHolds:
    """What each container holds, from what was written. Reads only; a page may ask before it is booked.

    Of a range the lower end is booked, so that it never counts for more than is there. A share of a capacity
    that cannot be turned into the material's basis stays not known.

    Raises:
        Invalid: more than it holds when full, some overfill aside; it cannot be read; Ambiguous with
            readings. `errors` names ``amount`` or ``capacity``.
    """
    text = asked.amount.strip()
    if asked.capacity.strip():
        _capacity(session, actor, material, asked.capacity)
    if not text:
        return EachHolds(None, AmountKnown.NOT_KNOWN)
    level = read_level(text)
    if level is None:
        read = read_amount(session, actor, material, text)
        if read.low <= 0:
            words = "Enter more than nothing. An empty container is not taken in."
            raise Invalid(words, {"amount": words})
        _judge_fill(session, actor, material, asked, read)
        known = AmountKnown.ESTIMATED if asked.estimated else read.known
        return EachHolds(read.low, known, read, read.how + _span(read))
    if not asked.capacity.strip():
        words = f"Enter what it holds when full, so that “{text}” can be worked out."
        raise Invalid(words, {"capacity": words})
    try:
        full = read_amount(session, actor, material, asked.capacity, "capacity")
    except CannotMeet:
        return EachHolds(None, AmountKnown.NOT_KNOWN, how=f"{text} of {asked.capacity.strip()}")
    part = int(full.low * level)
    if part <= 0:
        words = "That is less than the book can hold. Enter the amount itself."
        raise Invalid(words, {"amount": words})
    return EachHolds(part, AmountKnown.ESTIMATED, full, f"{text} of {asked.capacity.strip()}: {full.how}")


def _judge_fill(
    session: Session, actor: Actor, material: Material, asked: ReceiveAsked, read: ReadAmount
) -> None:
    """Refuse more than the container holds. Powder by volume is left alone: how it is packed is not known."""
    if not asked.capacity.strip():
        return
    try:
        full = read_amount(session, actor, material, asked.capacity, "capacity")
    except CannotMeet:
        return
    if full.basis is read.basis and not (full.loose or read.loose) and is_overfull(read.low, full.high):
        amount, capacity = asked.amount.strip(), asked.capacity.strip()
        words = (
            f"{amount} is more than the {capacity} it holds when full. "
            "Correct one of the two; what stands in several containers is taken in as several."
        )
        raise Invalid(words, {"amount": words})


def _span(read: ReadAmount) -> str:
    if read.low == read.high:
        return ""
    low, high = show_amount(read.low, read.basis), show_amount(read.high, read.basis)
    return f" Between {low} and {high}; the lower is booked."


def capacity_in_ul(act: Act, material: Material, asked: ReceiveAsked) -> int | None:
    """Microlitres of what it holds when full; None when nothing is written, or it is written by weight."""
    text = asked.capacity.strip()
    return _capacity(act.session, act.actor, material, text) if text else None


def _capacity(session: Session, actor: Actor, material: Material, capacity: str) -> int | None:
    """Microlitres of a capacity written in a measure of volume; None for one by weight or in pieces."""
    try:
        written = read_for(session, actor, material, capacity)
        if written.high is None or written.low is None or written.high.smallest <= 0:
            raise Invalid("Write what it holds with its unit, such as 250 ml or 1 kg.")
    except Invalid as wrong:
        wrong.errors.setdefault("capacity", wrong.sentence)
        raise
    return round(written.high.smallest) if written.high.basis is Basis.VOLUME else None
