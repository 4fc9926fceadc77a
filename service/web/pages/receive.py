"""`/receive`: taking in a delivery, one question at a time: what, how much, when, where, in what state."""

import re
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, ClassVar, Final

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.arrivals import ReceiveAsked, how_much
from service.actions.place_order import receive_ordered
from service.actions.receive_stock import receive
from service.core.access import Actor
from service.core.containers import Condition
from service.core.costs import judge_price
from service.core.findings import Finding, Invalid, NotFound, Refused, Severity, Verdict
from service.core.materials import KIND_WORDS, Unknown
from service.core.storage_rules import Vessel
from service.core.take_in import MOST_AT_ONCE, ArrivalDates, judge_dates
from service.records.material_queries import the_material
from service.records.material_search import active_places, all_places, find_materials, path_of
from service.records.materials import Material
from service.records.order_queries import the_line
from service.records.shop import ShopProfile
from service.records.stock import Posting, PostingResult
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets, shop_today
from service.web.fields import DayText, Id, Name, Note, NumberText, Once, Sentence, Whole
from service.web.forms import FormModel, Posted, filled, posted
from service.web.order_came import of_order
from service.web.pages.storage_facts import VESSELS
from service.web.render import page

router = APIRouter(prefix="/receive", include_in_schema=False)

STEPS: Final = {
    "amount": ("How many, and how much in each?", ("count", "amount", "estimated", "capacity", "vessel")),
    "dates": (
        "Which dates are on it?",
        ("packed_on", "received_on", "printed_date", "lot", "supplier", "price"),
    ),
    "place": ("Where does it stand?", ("place_id", "over_reason")),
    "state": ("How did it come?", ("opened", "opened_on", "condition", "sheet_came", "note")),
}
"""The questions in order: the heading, and the fields each asks."""
NAMES: Final = tuple(STEPS)
CONDITIONS = [
    (Condition.NOT_KNOWN.value, "Not looked at", ""),
    (Condition.SOUND.value, "Sound", "somebody looked at it"),
    (Condition.DAMAGED.value, "Dented or damaged", "but nothing comes out"),
    (Condition.LEAKING.value, "Leaking", "you then owe it a sound container within the hour"),
]
SHEET = [
    (Unknown.YES.value, "Yes", "or it is in the book already"),
    (Unknown.NO.value, "No", ""),
    (Unknown.NOT_KNOWN.value, "Not known", ""),
]
OPENED = [("sealed", "Sealed", ""), ("open", "Open already", "its seal is broken")]
SAY_OPENED: Final = "Say whether it is sealed or open. Nobody can tell afterwards."


class ReceiveForm(FormModel):
    """Every answer of the delivery; each step shows its own and carries the others along."""

    step: str = Field(default="amount", pattern="^(amount|dates|place|state)$")
    count: Annotated[Whole, Field(ge=1, le=MOST_AT_ONCE)] = Field(default=1, title="Count")
    amount: Annotated[str, Field(max_length=200)] = Field(default="", title="Amount in each")
    estimated: bool = False
    capacity: Annotated[str, Field(max_length=60)] = Field(default="", title="What it holds when full")
    packed_on: DayText | None = Field(default=None, title="Packed")
    received_on: DayText | None = Field(default=None, title="Received")
    printed_date: DayText | None = Field(default=None, title="Printed use-by date")
    lot: Name | None = Field(default=None, title="Lot")
    supplier: Name | None = Field(default=None, title="Supplier")
    price: NumberText | None = Field(default=None, title="Price")
    place_id: Id | None = Field(default=None, title="Place")
    opened: str = Field(default="", pattern="^(sealed|open)?$", title="Sealed or open")
    opened_on: DayText | None = Field(default=None, title="Opened on")
    condition: Condition = Field(default=Condition.NOT_KNOWN, title="Condition")
    sheet_came: Unknown = Unknown.NOT_KNOWN
    note: Note = ""
    late_reason: Sentence | None = None
    vessel: Vessel | None = Field(default=None, title="What each is made of")
    over_reason: Sentence | None = Field(default=None, title="Why it comes in over a limit")
    back: str = ""
    # The line of an order that this is of; taking it in ticks it off there.
    order_line: Id | None = Field(default=None, title="Order")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("count", "greater_than_equal"): f"Enter a count from 1 to {MOST_AT_ONCE}.",
        ("count", "less_than_equal"): f"Enter a count from 1 to {MOST_AT_ONCE}.",
    }

    def asked(self, material_id: int) -> ReceiveAsked:
        """The delivery as the action takes it."""
        return ReceiveAsked(
            once=self.once, material_id=material_id, count=self.count, amount=self.amount,
            estimated=self.estimated, capacity=self.capacity, place_id=self.place_id,
            supplier=self.supplier or "", lot=self.lot or "", packed_on=self.packed_on,
            received_on=self.received_on, printed_date=self.printed_date, opened=self.opened == "open",
            opened_on=self.opened_on, condition=self.condition, sheet_came=self.sheet_came, note=self.note,
            price=self.price, vessel=self.vessel, over_reason=self.over_reason or "",
        )  # fmt: skip


@router.get("")
def choose(
    request: Request, data: Data, actor: Signed, q: Annotated[str, Query(max_length=120)] = ""
) -> Response:
    """What has come: search the materials, or write a new one down."""
    with data.reading() as session:
        found, total = find_materials(session, q, limit=40)
        rows = [
            {
                "name": {"href": f"/receive/{row.id}", "words": row.name},
                "kind": KIND_WORDS[row.kind],
                "maker": row.maker or "–",
                "_act": {"href": f"/receive/{row.id}", "words": "Take this in"},
            }
            for row in found
            if not row.not_stocked
        ]
    context = {"p": filled(q=q), "q": q.strip(), "rows": rows, "total": total}
    return page(request, "receive/choose.html", context, section="receive", scan=True)


@router.get("/done/{posting_id}")
def done(request: Request, posting_id: Id, data: Data, actor: Signed) -> Response:
    """What was taken in, what is missing, and the way to its labels."""
    with data.reading() as session:
        posting, kept = session.get(Posting, posting_id), session.get(PostingResult, posting_id)
        if posting is None or kept is None or posting.act != "receive":
            raise NotFound("No delivery was booked under this number.")
        result = kept.result
        places = all_places(session)
        place = path_of(places.get(result.get("place") or 0), places)
    codes = [one["code"] for one in result["containers"]]
    findings = [Finding(**(one | {"severity": Severity(one["severity"])})) for one in result["findings"]]
    context = {
        "name": result["name"], "material": result["material"], "place": place, "count": len(codes),
        "codes": [{"href": f"/C/{one['code']}", "words": one["shown"]} for one in result["containers"]],
        "print": "/labels/print?" + "&".join(f"c={code}" for code in codes),
        "verdict": Verdict.of(findings),
        "link": _link_of_done,
    }  # fmt: skip
    return page(request, "receive/done.html", context, section="receive")


def _link_of_done(found: Finding) -> tuple[str, str] | None:
    """Where somebody says what becomes of an order that may have come."""
    return ("/orders", "To the orders") if found.code == "order-on-its-way" else None


@router.get("/{material_id}")
def begin(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed, secret: Secrets,
    order_line: Annotated[Id | None, Query()] = None, lot: Annotated[str, Query(max_length=120)] = "",
    count: Annotated[str, Query(max_length=6)] = "1",
) -> Response:  # fmt: skip
    """The first question; of an order that comes, what is known of it already is filled in."""
    with data.reading() as session:
        material = the_material(session, material_id)
        known = of_order(session, order_line, material_id) if order_line is not None else {}
        asked = {"count": count, "lot": lot, "condition": "not-known", "sheet_came": "not-known"}
        p = filled(**asked, once=secret(), **known)
        if not re.fullmatch(r"0*[1-9][0-9]*", count.strip(), re.ASCII):
            p.refuse("count", "Enter how many came: a whole number from 1.")
        return _question(request, session, material, p, "amount", shop_today(session, now))


@router.post("/{material_id}")
def answer(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[ReceiveForm], Depends(posted(ReceiveForm))],
) -> Response:  # fmt: skip
    """Judge the answers so far; ask the next question, or take it in after the last."""
    with data.reading() as session:
        material, today = the_material(session, material_id), shop_today(session, now)
        step = p.text("step") if p.text("step") in NAMES else "amount"
        back = p.text("back")
        if back in NAMES:
            p.errors.clear()
            return _question(request, session, material, p, back, today)
        if p.value is not None:
            _judge_so_far(session, actor, material, p, step, today)
            if step == NAMES[-1] and not p.text("opened"):
                p.refuse("opened", SAY_OPENED)
        if p.errors or p.value is None:
            return _question(request, session, material, p, _step_of(p, step), today, 422)
        if step != NAMES[-1]:
            return _question(request, session, material, p, NAMES[NAMES.index(step) + 1], today)
    return _take_in(request, data, now, actor, material, p)


def _take_in(
    request: Request, data: Data, now: Now, actor: Actor, material: Material, p: Posted[ReceiveForm]
) -> Response:
    assert p.value is not None
    secret = request.app.state.secret
    try:
        with data.writing() as session:
            asked, line = p.value.asked(material.id or 0), p.value.order_line
            if line is None:
                settled = receive(session, actor, now, asked, secret)
            else:
                settled = receive_ordered(session, actor, now, asked, line, secret)
            many = len(settled.result["containers"])
            words = f"Took in {many} container{'s' if many != 1 else ''} of {settled.result['name']}."
            order = the_line(session, line).order_id if line is not None else None
            back = {"href": f"/orders/{order}", "link": f"Order {order}"} if order else {}
            flash(session, request, words, **back)
            return RedirectResponse(f"/receive/done/{settled.posting_id}", 303)
    except Refused as refused:
        verdict = refused.verdict
        if not verdict.codes & {"keeper-takes-it-in", "reason-takes-it-in"}:
            raise
        with data.reading() as session:
            today = shop_today(session, now)
            return _question(request, session, material, p, "place", today, 409, verdict)
    except Invalid as wrong:
        p.take(wrong, "amount")
    with data.reading() as session:
        today = shop_today(session, now)
        return _question(request, session, material, p, _step_of(p, NAMES[-1]), today, 422)


def _judge_so_far(
    session: Session, actor: Actor, material: Material, p: Posted[ReceiveForm], step: str, today: date
) -> None:
    """What the action would refuse is said at its own question, not at the last one."""
    assert p.value is not None
    form, asked = p.value, p.value.asked(material.id or 0)
    try:
        how_much(session, actor, material, asked)
        if step != "amount":
            judge_price(form.price)
            received = form.received_on or today
            judge_dates(ArrivalDates(today, form.packed_on, received, form.printed_date, form.opened_on))
    except Invalid as wrong:
        p.take(wrong, "amount")


def _step_of(p: Posted[Any], step: str) -> str:
    """The question that the first complaint belongs to."""
    for name, (_, names) in STEPS.items():
        if any(field in p.errors for field in names):
            return name
    return step


def _question(
    request: Request, session: Session, material: Material, p: Posted[Any], step: str, today: date,
    status: int = 200, verdict: Verdict | None = None,
) -> Response:  # fmt: skip
    fields = STEPS[step][1]
    kept = [
        (name, p.text(name))
        for _, names in STEPS.values()
        for name in names
        if name not in fields and p.text(name)
    ]
    places = all_places(session)
    shop = session.get(ShopProfile, 1)
    context = {
        "currency": shop.currency or "" if shop else "",
        "p": p, "m": material, "step": step, "heading": STEPS[step][0], "number": NAMES.index(step) + 1,
        "steps": len(NAMES), "before": NAMES[NAMES.index(step) - 1] if step != NAMES[0] else "",
        "last": step == NAMES[-1], "today": today,
        "kept": [*kept, ("order_line", p.text("order_line")), ("once", p.text("once")), ("step", step)],
        "conditions": CONDITIONS, "sheet": SHEET, "opened": OPENED, "said": _said(p, step, places),
        "verdict": verdict, "vessels": VESSELS,
        "may_take_in": verdict is not None and "reason-takes-it-in" in verdict.codes,
        "places": [(one.id, path_of(one, places)) for one in active_places(session)],
    }  # fmt: skip
    return page(request, "receive/step.html", context, status, section="receive")


def _said(p: Posted[Any], step: str, places: dict[int, Any]) -> list[tuple[str, str]]:
    """What was answered before, in words, above the question."""
    at = NAMES.index(step)
    said = []
    if at > 0:
        amount = p.text("amount") or "amount not known"
        said.append(("How much", f"{p.text('count') or '1'} × {amount}"))
    if at > 1:
        packed = p.text("packed_on") or "not known"
        said.append(("Packed", packed))
        said.append(("Received", p.text("received_on") or "today"))
    if at > 2:
        chosen = p.text("place_id")
        place = places.get(int(chosen)) if chosen.isdigit() and len(chosen) < 10 else None
        said.append(("Place", path_of(place, places) or "not known"))
    return said
