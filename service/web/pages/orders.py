"""`/orders`: orders that were placed, what is on its way, and what becomes of each line."""

import uuid
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.place_order import LineChange, change_line
from service.actions.what_came import Came, about_delivery, left_of, what_came
from service.actions.what_is_coming import about_beside
from service.core.access import Actor, Permission, may
from service.core.costs import say_minor
from service.core.findings import Finding, Invalid, Verdict
from service.records.materials import Material
from service.records.order_queries import (
    count_orders,
    lines_by_order,
    lines_of_order,
    orders,
    supplier_names,
    the_line,
    the_order,
)
from service.records.orders import LINE_WORDS, LineState, OrderLineRow
from service.records.plan_queries import the_term
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_today
from service.web.fields import DayText, Id, Once, PageNumber, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.plan_amounts import exact, pack, packs
from service.web.render import day, page

router = APIRouter(prefix="/orders", include_in_schema=False)

PER_PAGE = 50
COLUMNS = [
    {"key": "order", "label": "Order"},
    {"key": "on", "label": "Placed"},
    {"key": "supplier", "label": "With whom"},
    {"key": "lines", "label": "Lines"},
]


class LineForm(FormModel):
    """What becomes of a line."""

    state: LineState = Field(default=LineState.OPEN, title="What becomes of it")
    expected_on: DayText | None = Field(default=None, title="Expected on")
    version: Version = 0
    once: Once


@router.get("")
def listing(
    request: Request, data: Data, now: Now, actor: Signed,
    number: Annotated[PageNumber, Query(alias="page")] = 1,
) -> Response:  # fmt: skip
    """Every order, the newest first."""
    with data.reading() as session:
        today = shop_today(session, now)
        shown = orders(session, PER_PAGE, (number - 1) * PER_PAGE)
        lines = lines_by_order(session, [row.id for row in shown if row.id is not None])
        names = supplier_names(session)
        total = count_orders(session)
    rows = [
        {
            "order": {"href": f"/orders/{row.id}", "words": f"Order {row.id}"},
            "on": day(row.placed_on),
            "supplier": names.get(row.supplier_id or 0),
            "lines": _lines_words(lines.get(row.id or 0, []), today),
        }
        for row in shown
    ]
    context = {
        "columns": COLUMNS, "rows": rows, "number": number, "pages": max(1, -(-total // PER_PAGE)),
    }  # fmt: skip
    return page(request, "orders/list.html", context, section="term")


def _lines_words(lines: list[OrderLineRow], today: date) -> str:
    parts = []
    for state, words in LINE_WORDS.items():
        many = sum(1 for line in lines if line.state is state)
        if many:
            parts.append(f"{many} {words}")
    late = sum(1 for line in lines if is_late(line, today))
    return ", ".join([*parts, *([f"{late} late"] if late else [])])


def is_late(line: OrderLineRow, today: date) -> bool:
    """Whether it was to come on a day that is gone."""
    return line.state is LineState.OPEN and line.expected_on is not None and line.expected_on < today


@router.get("/{order_id}")
def show(order_id: Id, request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """One order with its lines."""
    with data.reading() as session:
        return _page(request, session, now, actor, order_id, filled())


def _page(
    request: Request, session: Session, now: Now, actor: Actor, order_id: int, p: Posted[Any],
    status: int = 200, about: int = 0,
) -> Response:  # fmt: skip
    order = the_order(session, order_id)
    today = shop_today(session, now)
    term = the_term(session, order.term_id) if order.term_id is not None else None
    facts: list[Any] = [
        ("Placed on", day(order.placed_on)),
        ("With", supplier_names(session).get(order.supplier_id or 0, "not known")),
    ]
    if term is not None:
        facts.append(("For", {"href": f"/term/{term.id}", "words": term.name}))
    if order.note:
        facts.append(("Remark", order.note))
    lines = lines_of_order(session, order_id)
    came = what_came(session, [line for line, _ in lines])
    context = {
        "p": p,
        "about": about,
        "order": order,
        "facts": facts,
        "cards": [
            _card(line, material, today, came.get(line.id or 0), about_beside(session, line))
            for line, material in lines
        ],
        "states": [
            (LineState.OPEN.value, "It is on its way"),
            (LineState.NO_MORE.value, "Nothing more of it comes"),
            (LineState.CANCELLED.value, "It was cancelled"),
        ],
        "may_plan": may(actor.role, Permission.PLAN),
        "may_receive": may(actor.role, Permission.RECEIVE),
        "key": lambda: uuid.uuid4().hex,
    }
    return page(request, "orders/one.html", context, status, section="term")


def _came_words(line: OrderLineRow, came: Came | None) -> str:
    if not line.received_count:
        return "nothing yet"
    much = exact(came.amount, came.basis) if came else "not known how much"
    if came and came.packs < line.received_count:
        much += f" in {came.packs} of them, the others not known"
    last = f", last on {day(line.received_on)}" if line.received_on else ""
    return f"{line.received_count} of {line.count}, {much}{last}"


def _card(
    line: OrderLineRow, material: Material, today: date, came: Came | None, beside: list[Finding]
) -> dict[str, Any]:
    left = len(left_of(line, came))
    return {
        "id": line.id,
        "version": line.version,
        "name": material.name,
        "material_id": line.material_id,
        "what": packs(line.count, pack(line.pack_amount, line.basis, line.pack_written)),
        "tag": "late" if is_late(line, today) else LINE_WORDS[line.state],
        "open": line.state is LineState.OPEN,
        "state": line.state.value,
        "left": left,
        "expected": day(line.expected_on) if line.expected_on else "",
        "facts": [
            ("Expected on", day(line.expected_on) if line.expected_on else "nobody knows"),
            ("Came", _came_words(line, came)),
            ("Price of one", say_minor(line.price_minor, line.currency)),
        ],
        "odd": Verdict.of([*about_delivery(line, came), *beside]),
    }


@router.post("/lines/{line_id}")
def change(
    line_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[LineForm], Depends(posted(LineForm))],
) -> Response:  # fmt: skip
    """Another day for it, or that it does not come."""
    form = p.value
    with data.reading() as session:
        order_id = the_line(session, line_id).order_id
    if form is not None:
        try:
            with data.writing() as session:
                asked = LineChange(
                    once=form.once, line_id=line_id, version=form.version, state=form.state,
                    expected_on=form.expected_on,
                )  # fmt: skip
                done = change_line(session, actor, now, asked).result
                said = [one["sentence"] for one in done["findings"]]
                flash(session, request, " ".join([f"Changed the line: {LINE_WORDS[form.state]}.", *said]))
            return RedirectResponse(f"/orders/{order_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "state")
    with data.reading() as session:
        return _page(request, session, now, actor, order_id, p, 422, line_id)
