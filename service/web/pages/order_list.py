"""`/term/{id}/orders`: the order list of a term, to print and to save, and writing down an order from it."""

import uuid
from datetime import date, timedelta
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.look_at_orders import look_at_orders
from service.actions.look_at_term import TermOutlook, look_at_term
from service.actions.place_order import MOST_LINES, LineAsked, OrderAsked, place_order
from service.core.access import Permission, may
from service.core.costs import say_cost
from service.core.findings import Invalid, Verdict
from service.core.order_dates import comes_on
from service.core.order_list import OrderLine
from service.core.school_calendar import SchoolCalendar
from service.outreach.csv_tables import written
from service.records.material_queries import the_material
from service.records.order_queries import packs_of, supplier_names, the_pack
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.csv_answers import as_csv
from service.web.deps import Data, Now, shop_today
from service.web.fields import DayText, Id, Note, Once, Whole
from service.web.finding_links import links_of
from service.web.forms import FormModel, Posted, filled, judge, posted
from service.web.order_view import COLUMNS, beside, by_supplier, csv_rows, rows, said_of_several
from service.web.plan_amounts import pack as pack_words
from service.web.render import day, page

router = APIRouter(prefix="/term", include_in_schema=False)

MOST_ROWS = MOST_LINES
FAR = timedelta(days=28)
"""What can still be ordered so much later is offered, and not ordered unless somebody says so."""
_OF_ORDERS = frozenset(
    {
        "no-pack-size", "order-not-complete", "pack-life-not-known", "lead-not-known", "order-late",
        "cost-not-known", "order-is-late", "order-day-not-known", "order-otherwise", "pack-otherwise",
        "minimum-otherwise", "need-not-known", "job-not-known", "recipe-empty", "no-school-day",
        "may-not-be-made", "day-left-open", "past-before-use", "two-bases",
        "others-lack", "may-be-here-already", "ordered-life-not-known", "set-aside-lost", "batch-otherwise",
        "set-aside-not-measured", "batch-lacks", "set-aside-opened-before", "left-not-known",
        "past-by-then", "older-version", "order-on-closed-day",
    }
)  # fmt: skip


class OrderForm(FormModel):
    """An order; its lines are read by their numbers."""

    placed_on: DayText | None = Field(default=None, title="Ordered on")
    note: Note = Field(default="", title="Remark")
    most_fields: ClassVar[int] = 3 * MOST_LINES + 20
    again: bool = False
    lines: Whole = 0
    supplier: Whole = 0
    once: Once


class LineForm(FormModel):
    """One line of it."""

    pack: Id
    count: Whole = Field(default=0, title="How many packs")
    expected: DayText | None = Field(default=None, title="Expected")


@router.get("/{term_id}/orders")
def listing(term_id: Id, request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """What to buy, of whom, by when."""
    with data.reading() as session:
        look = look_at_term(session, term_id, shop_today(session, now))
        found = look_at_orders(session, look)
        packs = {row.id or 0: row for row in packs_of(session, look.materials)}
    cost, several = look.plan.orders.cost, said_of_several(found)
    under = {words for _, told in several for words in told["lines"]}
    said = [f for f in [*look.verdict, *cost.findings] if f.code in _OF_ORDERS]
    context = {
        "term": look.term,
        "today": day(look.today),
        "columns": COLUMNS,
        "rows": rows(look, found),
        "beside": [beside(look, one, under) for one in found],
        "several": several,
        "cost": say_cost(cost.exact, look.currency, at_least=cost.at_least),
        "suppliers": by_supplier(look, found, packs),
        "verdict": Verdict.of(dict.fromkeys(said)),
        "link": links_of(look),
        "may_plan": may(actor.role, Permission.PLAN),
    }
    return page(request, "term/orders.html", context, section="term")


@router.get("/{term_id}/orders.csv")
def saved(term_id: Id, data: Data, now: Now, actor: Signed) -> Response:
    """The same as a file."""
    with data.reading() as session:
        look = look_at_term(session, term_id, shop_today(session, now))
        return as_csv("order-list.csv", written(csv_rows(look, look_at_orders(session, look))))


@router.get("/{term_id}/orders/new")
def new(
    term_id: Id, request: Request, data: Data, now: Now, supplier: Annotated[Whole, Query()] = 0
) -> Response:
    """The lines of one supplier, ready to be written down as an order that was placed."""
    with data.reading() as session:
        look = look_at_term(session, term_id, shop_today(session, now))
        lines = _lines_of(session, look, supplier)
        values: dict[str, object] = {}
        for at, line in enumerate(lines[:MOST_ROWS]):
            values |= {
                f"pack_{at}": line.pack.pack_id, f"count_{at}": 0 if _is_far(line, look) else line.count,
                f"expected_{at}": _expected(look.calendar, look.today, line),
            }  # fmt: skip
        p = filled(
            once=uuid.uuid4().hex, placed_on=day(look.today), lines=min(len(lines), MOST_ROWS),
            supplier=supplier, more=max(0, len(lines) - MOST_ROWS), **values,
        )  # fmt: skip
        return _form(request, session, p, look, supplier)


def _lines_of(session: Session, look: TermOutlook, supplier: int) -> list[OrderLine]:
    """What the list would buy of one supplier, in its order."""
    of = {row.id: row.supplier_id or 0 for row in packs_of(session, look.materials)}
    lines = [line for order in look.plan.orders.orders for line in order.lines]
    return [line for line in lines if of.get(line.pack.pack_id) == supplier]


def _is_far(line: OrderLine, look: TermOutlook) -> bool:
    return line.order_by is not None and line.order_by > look.today + FAR


def _expected(calendar: SchoolCalendar, today: date, line: OrderLine) -> str:
    """The day the list says it is to be here, or the day it comes at the earliest; empty: nobody knows."""
    if line.pack.lead_days is None:
        return ""
    return day(max(line.arrive, comes_on(calendar, today, line.pack.lead_days)))


def _until(line: OrderLine, far: bool) -> str:
    here = f"here by {day(line.arrive)}"
    if far and line.order_by is not None:
        return f"Needed: {line.count}, {here}. Can be ordered until {day(line.order_by)}"
    return here


@router.post("/{term_id}/orders/new")
def place(
    term_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[OrderForm], Depends(posted(OrderForm))],
) -> Response:  # fmt: skip
    """Write down an order that was placed; its packs are then on their way."""
    form, numbers, lines = p.value, [], []
    for at in range(min(_whole(p.text("lines")), MOST_ROWS)):
        line = _read_line(p, at)
        if line is not None and line.count:
            numbers.append(at)
            lines.append(LineAsked(line.pack, line.count, line.expected))
    if form is not None and not p.errors:
        try:
            with data.writing() as session:
                asked = OrderAsked(
                    once=form.once, lines=tuple(lines), term_id=term_id, placed_on=form.placed_on,
                    note=form.note, again=form.again,
                )  # fmt: skip
                done = place_order(session, actor, now, asked).result
                said = [one["sentence"] for one in done["findings"] if one["code"] == "came-lately"]
                words = f"Wrote down order {done['order']}. What comes of it is counted."
                flash(session, request, " ".join([words, *said]))
            return RedirectResponse(f"/orders/{done['order']}", 303)
        except Invalid as wrong:
            _take(p, wrong, numbers)
    with data.reading() as session:
        look = look_at_term(session, term_id, shop_today(session, now))
        return _form(request, session, p, look, _whole(p.text("supplier")), 422)


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


def _read_line(p: Posted[Any], at: int) -> LineForm | None:
    """One line of the form; what is wrong in it is added to the form under its numbered names."""
    raw: dict[str, str | list[str]] = {
        name: p.text(f"{name}_{at}") for name in ("pack", "count", "expected")
    }
    one = judge(LineForm, raw)
    for name, words in one.errors.items():
        p.refuse(f"{name}_{at}", words, one.readings.get(name, ()))
    return one.value


def _take(p: Posted[Any], wrong: Invalid, numbers: list[int]) -> None:
    """The action counts the lines that were ordered; the page those that it shows."""
    named = {}
    for name, words in wrong.errors.items():
        kind, _, at = name.rpartition("_")
        if kind in ("count", "expected") and at.isdigit() and int(at) < len(numbers):
            named[f"{kind}_{numbers[int(at)]}"] = words
        else:
            named[name] = words
    p.take(Invalid(wrong.sentence, named))


def _form(
    request: Request, session: Session, p: Posted[Any], look: TermOutlook, supplier: int, status: int = 200
) -> Response:
    rows = []
    hints: dict[int, list[str]] = {}
    for line in _lines_of(session, look, supplier):
        hints.setdefault(line.pack.pack_id, []).append(_until(line, _is_far(line, look)))
    for at in range(min(_whole(p.text("lines")), MOST_ROWS)):
        number = _whole(p.text(f"pack_{at}"))
        pack = the_pack(session, number) if number else None
        if pack is not None:
            name = the_material(session, pack.material_id).name
            what = f"{name}, packs of {pack_words(pack.amount, pack.basis, pack.written)}"
            # One pack can be of several deliveries: its lines stand in the order of the list.
            rows.append((at, what, number, hints[number].pop(0) if hints.get(number) else ""))
    context = {
        "p": p,
        "term": look.term,
        "rows": rows,
        "more": _whole(p.text("more")),
        "supplier": supplier_names(session).get(supplier, ""),
    }
    return page(request, "term/order_new.html", context, status, section="term")
