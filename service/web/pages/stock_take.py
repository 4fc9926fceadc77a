"""`/receive/stock-take`: beginning the book in a room that is full already, can after can, with a scanner."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.receive_stock import receive
from service.core.containers import Condition
from service.core.findings import Invalid
from service.core.shelf_codes import show_code
from service.records.material_search import active_places, all_places, find_materials, path_of
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets, shop_today
from service.web.fields import DayText, Id, Name, Note, Once
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.receive import CONDITIONS, OPENED, SAY_OPENED
from service.web.render import page

router = APIRouter(prefix="/receive/stock-take", include_in_schema=False)

_KEPT = 40
"""Codes carried along to be printed together."""


class TakeForm(FormModel):
    """One container as it stands there. What nobody knows stays empty."""

    code: Annotated[str, Field(max_length=120)] = Field(default="", title="Code")
    material_id: Id = Field(title="Material")
    amount: Annotated[str, Field(max_length=200)] = Field(default="", title="How much is in it")
    capacity: Annotated[str, Field(max_length=60)] = Field(default="", title="What it holds when full")
    opened: str = Field(title="Sealed or open", pattern="^(sealed|open)$")
    opened_on: DayText | None = Field(default=None, title="Opened on")
    packed_on: DayText | None = Field(default=None, title="Packed")
    received_on: DayText | None = Field(default=None, title="Received")
    printed_date: DayText | None = Field(default=None, title="Printed use-by date")
    lot: Name | None = Field(default=None, title="Lot")
    place_id: Id | None = Field(default=None, title="Place")
    condition: Condition = Field(default=Condition.NOT_KNOWN, title="Condition")
    note: Note = ""
    done: list[str] = Field(default=[], max_length=_KEPT)
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("material_id", "missing"): "Choose what is in it. If it is not in the list, write it down first.",
        ("opened", "missing"): SAY_OPENED,
        ("opened", "string_pattern_mismatch"): SAY_OPENED,
    }

    def asked(self) -> ReceiveAsked:
        """The container as the action takes it."""
        return ReceiveAsked(
            once=self.once, material_id=self.material_id, amount=self.amount, capacity=self.capacity,
            place_id=self.place_id, origin=Origin.STOCK_TAKE, lot=self.lot or "", packed_on=self.packed_on,
            received_on=self.received_on, printed_date=self.printed_date, opened=self.opened == "open",
            opened_on=self.opened_on, condition=self.condition, note=self.note, code=self.code,
        )  # fmt: skip


Codes = Annotated[list[Annotated[str, Query(pattern="^[2-9B-DF-HJKMNP-TV-Z]{6}$")]], Query(max_length=_KEPT)]


@router.get("")
def ask(
    request: Request, data: Data, now: Now, actor: Signed, secret: Secrets,
    material: Id | None = None, place: Id | None = None, done: Codes = [],  # noqa: B006 - the framework copies it
) -> Response:  # fmt: skip
    """The next container; material and place are those of the last one."""
    p = filled(material_id=material, place_id=place, done=done, once=secret(), condition="not-known")
    with data.reading() as session:
        return _form(request, session, p, now)


def _form(request: Request, session: Session, p: Posted[Any], now: Now, status: int = 200) -> Response:
    places = all_places(session)
    materials, _ = find_materials(session, limit=500)
    done = p.all("done")
    context = {
        "p": p, "today": shop_today(session, now), "conditions": CONDITIONS, "opened": OPENED,
        "places": [(one.id, path_of(one, places)) for one in active_places(session)],
        "materials": [
            (row.id, f"{row.name}, {row.maker}" if row.maker else row.name)
            for row in materials if not row.not_stocked
        ],
        "done": [(code, show_code(code)) for code in done],
        "print": "/labels/print?" + "&".join(f"c={code}" for code in done),
    }  # fmt: skip
    return page(request, "receive/stock_take.html", context, status, section="receive")


@router.post("")
def take(
    request: Request, data: Data, now: Now, actor: Signed, secret: Secrets,
    p: Annotated[Posted[TakeForm], Depends(posted(TakeForm))],
) -> Response:  # fmt: skip
    """Book it and go on with the next."""
    if p.value is not None:
        form = p.value
        try:
            with data.writing() as session:
                made = receive(session, actor, now, form.asked(), secret).result
                code, shown = made["containers"][0]["code"], made["containers"][0]["shown"]
                words = f"{made['name']} is in the book as {shown}. Next one."
                flash(session, request, words, f"/C/{code}", "Open its page")
        except Invalid as wrong:
            p.take(wrong, "amount")
        else:
            kept = [one for one in form.done if one.isalnum() and len(one) == 6 and one.isascii()]
            codes = dict.fromkeys([*kept, code] if not form.code else kept)
            place = f"&place={form.place_id}" if form.place_id else ""
            carried = "".join(f"&done={one}" for one in list(codes)[-_KEPT:])
            where = f"/receive/stock-take?material={form.material_id}{place}{carried}"
            return RedirectResponse(where, 303)
    with data.reading() as session:
        return _form(request, session, p, now, 422)
