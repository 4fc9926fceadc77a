"""Taking in what comes: a delivery of several alike, or what already stands in the room, one by one.

Each container gets a movement and a code of its own. Something missing never keeps it out; it is said.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any, Final

from sqlmodel import Session

from service.actions.give_codes import Chance, fresh_code, wanted_code
from service.actions.post_movement import EventFacts, Line, post, record_event
from service.actions.read_amount import ReadAmount, fix_basis, read_amount, read_for
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.containers import AmountKnown, Condition, ContainerState, EventKind
from service.core.fill_level import read_level
from service.core.findings import Invalid, Refused, Verdict, note, stop
from service.core.ledger import MovementKind, OtherSide
from service.core.material_facts import review
from service.core.materials import Basis, Unknown
from service.core.quantities import CannotMeet, show_amount
from service.core.shelf_codes import show_code
from service.core.take_in import MOST_AT_ONCE, Arrival, ArrivalDates, judge_dates, what_is_missing
from service.records.duties import Duty
from service.records.material_queries import facts_of, sheets_of, the_material
from service.records.materials import Material
from service.records.places import Place
from service.records.stock import Container
from service.records.stock_queries import Held

LEAK_WITHIN: Final = timedelta(hours=1)
"""A leak is dealt with at once; an hour is this shop's own figure, no rule gives one."""


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
        code: of a label that was printed ahead (one container only); empty = a new code.
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
    code: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""

    def sent(self) -> Sent:
        left_out = {"once", "late_reason"}
        body = {f.name: _plain(getattr(self, f.name)) for f in fields(self) if f.name not in left_out}
        return Sent(self.once, "receive", body, self.happened_at, late_reason=self.late_reason)


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    return value.value if isinstance(value, StrEnum) else value


@dataclass(frozen=True)
class EachHolds:
    """How much goes into the book for each container. ``change`` None = not known."""

    change: int | None
    known: AmountKnown
    read: ReadAmount | None = None
    how: str = ""


def receive(session: Session, actor: Actor, now: datetime, asked: ReceiveAsked, chance: Chance) -> Settled:
    """Take in one or several containers alike.

    Answers ``containers`` (id, code, shown), ``material``, ``name``, ``place``, ``amount`` (smallest units or
    None), ``basis``, ``missing`` (codes) and findings.

    Raises:
        NotAllowed, NotFound (no such material).
        Invalid: an amount, capacity, date, count, code or place cannot be used; Ambiguous with readings.
        Refused: the material is not stocked, or was retired.
    """
    require(actor, Permission.RECEIVE)
    return settle(session, actor, asked.sent(), now, lambda act: _receive(act, asked, chance))


def _receive(act: Act, asked: ReceiveAsked, chance: Chance) -> dict[str, Any]:
    material = the_material(act.session, asked.material_id)
    _judge(act, asked, material)
    each = how_much(act.session, act.actor, material, asked)
    if each.read is not None:
        fix_basis(act.session, material, each.read.basis)
        act.note(*each.read.findings)
    came = []
    for _ in range(asked.count):
        held = Held(_container(act, asked, material, chance), material)
        _book(act, held, asked, each)
        came.append(held.container)
    missing = _note_missing(act, asked, material, each)
    return {
        "containers": [{"id": c.id, "code": c.code, "shown": show_code(c.code)} for c in came],
        "material": material.id,
        "name": material.name,
        "place": asked.place_id,
        "amount": each.change,
        "basis": material.basis.value if material.basis else None,
        "missing": missing,
    }


def _judge(act: Act, asked: ReceiveAsked, material: Material) -> None:
    about = material.name
    if not material.active:
        raise Refused(
            Verdict.of([stop("material-retired", f"{about} was retired. A keeper brings it back.")])
        )
    if material.not_stocked:
        raise Refused(Verdict.of([stop("not-stocked", f"{about} is not stocked here.", about=about)]))
    if not 1 <= asked.count <= MOST_AT_ONCE:
        words = f"Enter a count from 1 to {MOST_AT_ONCE}."
        raise Invalid(words, {"count": words})
    if asked.code and asked.count != 1:
        words = "A label printed ahead goes on one container. Take in one at a time."
        raise Invalid(words, {"code": words})
    if asked.place_id is not None:
        place = act.session.get(Place, asked.place_id)
        if place is None or not place.active:
            words = "Choose one of the places in the list."
            raise Invalid(words, {"place_id": words})
    if asked.opened_on is not None and not asked.opened:
        words = "A sealed container has no opening day. Say that it came open, or leave this empty."
        raise Invalid(words, {"opened_on": words})
    for name, most in (("supplier", 120), ("lot", 120), ("capacity", 60), ("note", 2000)):
        if len(getattr(asked, name)) > most:
            raise Invalid("Shorten the text.", {name: f"Shorten this to {most} signs."})
    received = _received(act, asked)
    judge_dates(ArrivalDates(act.day, asked.packed_on, received, asked.printed_date, asked.opened_on))


def _received(act: Act, asked: ReceiveAsked) -> date | None:
    if asked.received_on is None and asked.origin is Origin.SUPPLIER:
        day: date = act.day
        return day
    return asked.received_on


def how_much(session: Session, actor: Actor, material: Material, asked: ReceiveAsked) -> EachHolds:
    """What each container holds, from what was written. Reads only; a page may ask before it is booked.

    Of a range the lower end is booked, so that it never counts for more than is there. A share of a capacity
    that cannot be turned into the material's basis stays not known.

    Raises:
        Invalid: it cannot be read; Ambiguous with readings. `errors` names ``amount`` or ``capacity``.
    """
    text = asked.amount.strip()
    if asked.capacity.strip():
        _readable(session, actor, material, asked.capacity)
    if not text:
        return EachHolds(None, AmountKnown.NOT_KNOWN)
    level = read_level(text)
    if level is None:
        read = read_amount(session, actor, material, text)
        if read.low <= 0:
            words = "Enter more than nothing. An empty container is not taken in."
            raise Invalid(words, {"amount": words})
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


def _span(read: ReadAmount) -> str:
    if read.low == read.high:
        return ""
    low, high = show_amount(read.low, read.basis), show_amount(read.high, read.basis)
    return f" Between {low} and {high}; the lower is booked."


def _readable(session: Session, actor: Actor, material: Material, capacity: str) -> int | None:
    """Microlitres of a capacity written in a measure of volume; None for one by weight or in pieces."""
    try:
        written = read_for(session, actor, material, capacity)
        if written.high is None or written.low is None or written.high.smallest <= 0:
            raise Invalid("Write what it holds with its unit, such as 250 ml or 1 kg.")
    except Invalid as wrong:
        wrong.errors.setdefault("capacity", wrong.sentence)
        raise
    return round(written.high.smallest) if written.high.basis is Basis.VOLUME else None


def _container(act: Act, asked: ReceiveAsked, material: Material, chance: Chance) -> Container:
    assert material.id is not None
    received = _received(act, asked)
    capacity = asked.capacity.strip()
    unknown_start = asked.packed_on is None and received is None
    row = Container(
        code=wanted_code(act.session, asked.code) if asked.code else fresh_code(act.session, chance),
        material_id=material.id,
        place_id=asked.place_id,
        state=ContainerState.OPEN if asked.opened else ContainerState.SEALED,
        condition=asked.condition,
        sheet_came=asked.sheet_came,
        capacity_written=capacity,
        capacity_ul=_readable(act.session, act.actor, material, capacity) if capacity else None,
        supplier=" ".join(asked.supplier.split()),
        lot=" ".join(asked.lot.split()),
        packed_on=asked.packed_on,
        received_on=received,
        printed_date=asked.printed_date,
        # It surely existed on the day somebody saw it.
        started_by=act.day if unknown_start else None,
        ever_opened=asked.opened,
        opened_on=asked.opened_on,
        opened_by=act.day if asked.opened and asked.opened_on is None else None,
        note=asked.note.strip(),
        created_at=act.recorded_at,
    )
    act.session.add(row)
    act.session.flush()
    return row


def _book(act: Act, held: Held, asked: ReceiveAsked, each: EachHolds) -> None:
    other = OtherSide.SUPPLIER if asked.origin is Origin.SUPPLIER else OtherSide.STOCK_TAKE
    line = Line(
        MovementKind.RECEIVE,
        each.change,
        other,
        each.known,
        written=asked.amount.strip() or "not known",
        written_unit=each.read.unit_key if each.read else "",
        density_used=each.read.density_used if each.read else None,
        how=each.how,
        other_text=held.container.supplier,
    )
    post(act, held, line)
    if asked.opened:
        record_event(act, held, EventKind.OPENED, EventFacts(asked.opened_on, note="it came open"))
    if asked.condition is Condition.LEAKING:
        _owe_leak(act, held)


def _owe_leak(act: Act, held: Held) -> None:
    code = show_code(held.container.code)
    act.session.add(
        Duty(
            kind="leaking-container",
            sentence=f"{held.material.name}, {code}, leaks. Decant it into a sound container or discard it.",
            owed_by=act.actor.person_id,
            due_at=act.recorded_at + LEAK_WITHIN,
            about_kind="container",
            about_id=held.container_id,
            created_at=act.recorded_at,
        )
    )


def _note_missing(act: Act, asked: ReceiveAsked, material: Material, each: EachHolds) -> list[str]:
    assert material.id is not None
    arrival = Arrival(
        name=material.name,
        packed_known=asked.packed_on is not None,
        received_known=_received(act, asked) is not None,
        amount_known=each.change is not None,
        place_known=asked.place_id is not None,
        sheet_came=asked.sheet_came,
        has_sheet=bool(sheets_of(act.session, material.id)),
        opened=asked.opened,
        opened_known=asked.opened_on is not None,
        condition=asked.condition,
    )
    missing = what_is_missing(arrival)
    act.note(*missing)
    lacks = [f for f in review(facts_of(act.session, material)) if f.severity.value == "unknown"]
    if lacks:
        words = (
            f"{len(lacks)} facts of {material.name} are not known; its page names each and how to mend it."
        )
        act.note(note("facts-not-known", words, about=material.name))
    return sorted(f.code for f in missing)
