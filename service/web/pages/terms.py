"""`/term`: the terms of the shop, a new one, and changing one."""

import uuid
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.write_term import (
    TermAsked,
    change_term,
    free_as_typed,
    read_extra,
    read_free,
    write_term,
)
from service.core.access import Permission, may
from service.core.findings import Invalid
from service.core.months import say_date
from service.records.order_queries import open_lines
from service.records.plan_queries import all_terms, dates_planned, the_term
from service.records.plans import Term
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_today
from service.web.fields import DayText, Id, Name, Note, Once, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import day, page

router = APIRouter(prefix="/term", include_in_schema=False)

WEEKDAYS = [
    ("0", "Monday"), ("1", "Tuesday"), ("2", "Wednesday"), ("3", "Thursday"), ("4", "Friday"),
    ("5", "Saturday"), ("6", "Sunday"),
]  # fmt: skip


class TermForm(FormModel):
    """A term as typed."""

    name: Name = Field(title="Name of the term")
    first_day: DayText = Field(title="First day")
    last_day: DayText = Field(title="Last day")
    weekdays: list[Annotated[str, Field(pattern="^[0-6]$")]] = Field(default=[], title="Days with lessons")
    country: Annotated[str, Field(max_length=2)] = Field(default="", title="Country")
    part: Annotated[str, Field(max_length=12)] = Field(default="", title="Part of the country")
    breaks: bool = False
    free: Note = Field(default="", title="Free days of the school")
    extra: Note = Field(default="", title="Days with lessons all the same")
    version: Version = 0
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Give the term a name.",
        ("first_day", "missing"): "Enter the first day of the term.",
        ("last_day", "missing"): "Enter the last day of the term.",
    }

    def asked(self) -> TermAsked:
        """The term as the action takes it. Raises Invalid."""
        return TermAsked(
            once=self.once, name=self.name, first_day=self.first_day, last_day=self.last_day,
            weekdays=tuple(int(one) for one in self.weekdays), country=self.country.strip().upper(),
            part=self.part.strip().upper(), breaks=self.breaks, free=read_free(self.free),
            extra=read_extra(self.extra),
        )  # fmt: skip


Form = Annotated[Posted[TermForm], Depends(posted(TermForm))]


@router.get("")
def listing(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """Every term, the latest first."""
    with data.reading() as session:
        today = shop_today(session, now)
        terms = all_terms(session)
        standing = dates_planned(session, [row.id for row in terms if row.id is not None])
        coming = len(open_lines(session))
    cards = [
        {
            "href": f"/term/{row.id}",
            "name": row.name,
            "days": f"{day(row.first_day)} to {day(row.last_day)}",
            "when": _when(row, today),
            "dates": standing.get(row.id or 0, 0),
        }
        for row in terms
    ]
    context = {"cards": cards, "coming": coming, "may_plan": may(actor.role, Permission.PLAN)}
    return page(request, "term/list.html", context, section="term")


def _when(row: Term, today: date) -> str:
    if today < row.first_day:
        return "to come"
    return "running" if today <= row.last_day else "over"


@router.get("/new")
def new(request: Request) -> Response:
    """An empty term."""
    p = filled(once=uuid.uuid4().hex, weekdays=["0", "1", "2", "3", "4"], breaks=True, version=0)
    return _page(request, p, None)


@router.post("/new")
def write(request: Request, p: Form, data: Data, now: Now, actor: Signed) -> Response:
    """A new term; then its plan."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                done = write_term(session, actor, now, form.asked()).result
                flash(session, request, f"You wrote down the term {done['name']}. Now plan its jobs.")
            return RedirectResponse(f"/term/{done['term']}", 303)
        except Invalid as wrong:
            p.take(wrong)
    return _page(request, p, None, 422)


@router.get("/{term_id}/edit")
def edit(term_id: Id, request: Request, data: Data) -> Response:
    """The term as it stands, to be changed."""
    with data.reading() as session:
        row = the_term(session, term_id)
    p = filled(
        once=uuid.uuid4().hex, name=row.name, first_day=day(row.first_day), last_day=day(row.last_day),
        weekdays=list(row.weekdays), country=row.country, part=row.part, breaks=row.breaks,
        free=free_as_typed(row), extra="\n".join(say_date(date.fromisoformat(d)) for d in row.extra_days),
        version=row.version,
    )  # fmt: skip
    return _page(request, p, term_id)


@router.post("/{term_id}/edit")
def change(term_id: Id, request: Request, p: Form, data: Data, now: Now, actor: Signed) -> Response:
    """What is planned already stays on its days."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                done = change_term(session, actor, now, term_id, form.version, form.asked()).result
                words = f"You changed the term {done['name']}. What was planned stays on its days."
                flash(session, request, " ".join([words, *(one["sentence"] for one in done["findings"])]))
            return RedirectResponse(f"/term/{term_id}", 303)
        except Invalid as wrong:
            p.take(wrong)
    with data.reading() as session:
        the_term(session, term_id)
    return _page(request, p, term_id, 422)


def _page(request: Request, p: Posted[Any], term_id: int | None, status: int = 200) -> Response:
    context = {
        "p": p,
        "term_id": term_id,
        "action": f"/term/{term_id}/edit" if term_id else "/term/new",
        "back": f"/term/{term_id}" if term_id else "/term",
        "weekdays": WEEKDAYS,
    }
    return page(request, "term/edit.html", context, status, section="term")
