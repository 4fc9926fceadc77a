"""Placing an order, what becomes of its lines, and taking in what comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.arrivals import ReceiveAsked
from service.actions.give_codes import Chance
from service.actions.note_change import note_change
from service.actions.order_arrivals import tick_off
from service.actions.receive_stock import receive
from service.actions.settle import Act, Sent, Settled, settle, the_shop
from service.actions.what_came import all_came
from service.actions.what_is_coming import about_beside
from service.core.access import Actor, Permission, require
from service.core.findings import Finding, Invalid, Stale, unknown, warn
from service.core.months import say_date
from service.core.shelf_codes import show_code
from service.core.whole_need import show_pack
from service.records.arrival_queries import came_beside, placed_of
from service.records.material_queries import the_material
from service.records.order_queries import lines_like, the_line, the_order, the_pack
from service.records.orders import LINE_WORDS, LineState, OrderLineRow, PackSizeRow, PurchaseOrder
from service.records.plan_queries import the_term

MOST_LINES = 200
MOST_COUNT = 1000
CAME_LATELY = timedelta(days=14)
"""What came without an order so shortly before one is written down may be of it (house measure)."""
TWICE_WITHIN = timedelta(days=3)
"""Orders of the same packs with one supplier so near to each other may be one order, written down twice."""


@dataclass(frozen=True)
class LineAsked:
    """So many of one pack size. ``expected_on`` None = nobody knows when it comes."""

    pack_id: int
    count: int
    expected_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class OrderAsked:
    """An order as it was placed with one supplier (that of its packs). ``placed_on`` None = today.

    ``again``: it was said that it was ordered once more, beside one that already holds the same packs.
    """

    once: str
    lines: tuple[LineAsked, ...]
    term_id: int | None = None
    placed_on: date | None = None
    note: str = ""
    again: bool = False

    def body(self) -> dict[str, Any]:
        return {
            "lines": [
                [one.pack_id, one.count, one.expected_on.isoformat() if one.expected_on else None]
                for one in self.lines
            ],
            "term": self.term_id,
            "placed_on": self.placed_on.isoformat() if self.placed_on else None,
            "note": self.note,
            **({"again": True} if self.again else {}),
        }


def place_order(session: Session, actor: Actor, now: datetime, asked: OrderAsked) -> Settled:
    """Write down an order that was placed. Fields of a line carry its number: ``count_0``, ``expected_0``.

    Raises:
        NotAllowed, NotFound (no such pack or term).
        Invalid: no line, a count beyond 1 to 1000, packs of several suppliers, days out of order; (``again``)
            an order of these days holds such packs already.
    """
    require(actor, Permission.PLAN)
    sent = Sent(asked.once, "place-order", asked.body())
    return settle(session, actor, sent, now, lambda act: _place(act, asked))


def _place(act: Act, asked: OrderAsked) -> dict[str, Any]:
    if not 1 <= len(asked.lines) <= MOST_LINES:
        words = f"Order from 1 to {MOST_LINES} lines: enter how many packs of at least one."
        raise Invalid(words, {"count_0": words})
    term = the_term(act.session, asked.term_id) if asked.term_id is not None else None
    placed = asked.placed_on or act.day
    if placed > act.day:
        words = "Enter the day it was ordered: today or earlier."
        raise Invalid(words, {"placed_on": words})
    packs = [the_pack(act.session, one.pack_id) for one in asked.lines]
    if len({pack.supplier_id for pack in packs}) > 1:
        words = "These packs are sold by several suppliers. Write an order for each."
        raise Invalid(words, {"count_0": words})
    for at, one in enumerate(asked.lines):
        if not 1 <= one.count <= MOST_COUNT:
            words = f"Enter how many packs: from 1 to {MOST_COUNT}."
            raise Invalid(words, {f"count_{at}": words})
        if one.expected_on is not None and one.expected_on < placed:
            words = f"It cannot come before it was ordered, {say_date(placed)}."
            raise Invalid(words, {f"expected_{at}": words})
    if not asked.again:
        _refuse_twice(act, packs, placed)
    order = PurchaseOrder(
        term_id=term.id if term else None,
        supplier_id=packs[0].supplier_id,
        placed_on=placed,
        note=asked.note.strip(),
        placed_by=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(order)
    act.session.flush()
    rows = [
        OrderLineRow(
            order_id=order.id or 0, material_id=pack.material_id, pack_size_id=pack.id,
            pack_written=pack.written, pack_amount=pack.amount, basis=pack.basis, count=one.count,
            expected_on=one.expected_on, price_minor=pack.price_minor, currency=pack.currency,
        )
        for one, pack in zip(asked.lines, packs, strict=True)
    ]  # fmt: skip
    act.session.add_all(rows)
    act.session.flush()
    act.note(*_remarks(act, rows))
    return {"order": order.id, "lines": [row.id for row in rows], "placed_on": placed.isoformat()}


def _refuse_twice(act: Act, packs: list[PackSizeRow], placed: date) -> None:
    """Two people, or two tabs, may write the same order down: it would be counted on twice."""
    numbers = {pack.material_id for pack in packs}
    since, until = placed - TWICE_WITHIN, placed + TWICE_WITHIN
    for line, order in lines_like(act.session, packs[0].supplier_id, numbers, since, until):
        # A pack that was written anew has another number and is the same pack.
        like = (line.material_id, line.pack_amount, line.basis)
        if any((pack.material_id, pack.amount, pack.basis) == like for pack in packs):
            what = f"{line.count} × {show_pack(line.pack_amount, line.basis, line.pack_written)}"
            name = the_material(act.session, line.material_id).name
            words = (
                f"Order {order.id} of {say_date(order.placed_on)} holds {what} of {name} already. Say that "
                "it was ordered once more, or leave it."
            )
            raise Invalid(words, {"again": words})


def _remarks(act: Act, rows: list[OrderLineRow]) -> list[Finding]:
    found: list[Finding] = []
    for row in rows:
        name = the_material(act.session, row.material_id).name
        if row.expected_on is None:
            words = f"Nobody wrote when {name} comes: no job is planned with it."
            found.append(unknown("order-day-not-known", words, about=name))
    return found + _came_lately(act, rows)


def _came_lately(act: Act, rows: list[OrderLineRow]) -> list[Finding]:
    """What came without an order not long before this one was placed: it may be what was ordered."""
    placed = placed_of(act.session, rows)
    found: dict[str, Finding] = {}
    for row in rows:
        for one in came_beside(act.session, [row.material_id], act.recorded_at - CAME_LATELY):
            if one.found or placed[row.id or 0].may_be(one):
                continue  # Found standing there; or the plan counts one of both, and asks.
            name = the_material(act.session, row.material_id).name
            words = (
                f"{show_code(one.code)} of {name} came without an order not long ago. Is it what was "
                "ordered, say on the order that nothing more comes: else the plan counts both."
            )
            found.setdefault(one.code, warn("came-lately", words, about=name))
    return list(found.values())


@dataclass(frozen=True, kw_only=True)
class LineChange:
    """What becomes of a line: another day, nothing more comes, cancelled, or open again."""

    once: str
    line_id: int
    version: int
    state: LineState
    expected_on: date | None = None


def change_line(session: Session, actor: Actor, now: datetime, asked: LineChange) -> Settled:
    """Change the day or the state of an ordered line.

    Raises:
        NotAllowed, NotFound. Stale: it is another by now.
        Invalid: it cannot be called received (taking it in does that), cancelled after some of it came; it
            cannot be expected before it was ordered.
    """
    require(actor, Permission.PLAN)
    body = {
        "line": asked.line_id,
        "version": asked.version,
        "state": asked.state.value,
        "expected_on": asked.expected_on.isoformat() if asked.expected_on else None,
    }
    return settle(session, actor, Sent(asked.once, "change-line", body), now, lambda a: _change(a, asked))


def _change(act: Act, asked: LineChange) -> dict[str, Any]:
    row = the_line(act.session, asked.line_id, lock=True)
    beside = about_beside(act.session, row) if asked.state is LineState.OPEN else []
    if row.version != asked.version:
        raise Stale("Somebody else changed this line meanwhile. Open the order again and look.")
    words = ""
    if asked.state is LineState.RECEIVED and row.received_count < row.count:
        words = "Take in what came; the line is ticked off by that."
    elif asked.state is LineState.CANCELLED and row.received_count:
        words = "Some of it came already. Say that nothing more comes."
    elif asked.state is LineState.OPEN and all_came(row):
        words = "All of it came: it is not on its way any more."
    if words:
        raise Invalid(words, {"state": words})
    placed = the_order(act.session, row.order_id).placed_on
    if asked.expected_on and asked.expected_on != row.expected_on and asked.expected_on < placed:
        words = f"It cannot come before it was ordered, {say_date(placed)}."
        raise Invalid(words, {"expected_on": words})
    at, about = act.recorded_at, ("order-line", row.id)
    note_change(act.session, act.actor, at, about, "state", row.state, asked.state)
    note_change(act.session, act.actor, at, about, "expected on", row.expected_on, asked.expected_on)
    if (row.state, row.expected_on) == (asked.state, asked.expected_on) and asked.state is LineState.OPEN:
        # Somebody looked and says so: what came beside it meanwhile is not of it.
        note_change(act.session, act.actor, at, about, "still on its way", None, say_day_or_none(asked))
    for one in beside:
        words = (
            f"So {one.about} is not of this line: the plan counts both. If it is of it, say that nothing "
            "more comes."
        )
        act.note(warn("counted-beside", words, about=one.about))
    row.state, row.expected_on, row.version = asked.state, asked.expected_on, row.version + 1
    act.session.add(row)
    act.session.flush()
    return {"line": row.id, "order": row.order_id, "state": row.state.value, "version": row.version}


def say_day_or_none(asked: LineChange) -> str:
    """The day a line is expected on, in words."""
    return say_date(asked.expected_on) if asked.expected_on else "nobody knows when"


def receive_ordered(
    session: Session, actor: Actor, now: datetime, asked: ReceiveAsked, line_id: int, chance: Chance
) -> Settled:
    """Take in what came of an ordered line, and tick off so many of it. A repeat ticks nothing off again.

    Raises:
        As for any delivery (`receive`). NotFound: no such line.
        Invalid (field ``count``): the line is of another material, or not on its way.
    """
    if the_line(session, line_id).material_id != asked.material_id:
        words = "This line of the order is of another material."
        raise Invalid(words, {"count": words})
    settled = receive(session, actor, now, asked, chance, of_order=True)
    if settled.repeated:
        return settled
    # Locked only now: every act takes the book's clock first, so that no two wait for each other.
    line = the_line(session, line_id, lock=True)
    if line.state is not LineState.OPEN:
        words = f"This line of the order is not on its way: {LINE_WORDS[line.state]}. Take it in without it."
        raise Invalid(words, {"count": words})
    came = [one["id"] for one in settled.result["containers"]]
    on_day = asked.received_on or now.astimezone(ZoneInfo(the_shop(session).time_zone)).date()
    tick_off(session, actor, now, line, came, settled.result["amount"], on_day)
    return settled
