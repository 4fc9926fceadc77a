"""`/rags/cans`: what lies in each can and drum; emptying one into another, or carrying it elsewhere."""

import uuid
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session, col, select

from service.actions.arrange_places import describe_path, the_place
from service.actions.empty_can import HOLDERS, CarryAsked, EmptyAsked, carry_can, empty_can
from service.actions.look_at_cans import rags_in_place
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid, Refused, Verdict
from service.core.rags import Water
from service.records.places import Place, PlaceKind
from service.records.rag_queries import rag_cans
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import ClockText, DayText, Id, Name, Note, Once, Sentence, to_instant
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_notice import book_now
from service.web.rag_words import WATER, can_holds, shown
from service.web.render import page
from service.web.when_done import no_time_typed

router = APIRouter(prefix="/rags/cans", include_in_schema=False)


class CanForm(FormModel):
    """What every act with a whole can says."""

    when: Literal["now", "earlier"] = Field(default="now", title="When")
    happened: ClockText | None = Field(default=None, title="When it was done")
    reason: Sentence | None = Field(default=None, title="Why it is written only now")
    note: Note = Field(default="", title="Remark")
    once: Once

    def happened_at(self, zone: ZoneInfo) -> datetime | None:
        """The instant that was typed; None = just now.

        Raises:
            Invalid: "earlier" without a time, a time beside "now", or one the clocks skipped.
        """
        if self.when == "now":
            no_time_typed(self.happened)
            return None
        if self.happened is None:
            words = "Enter when it was done, like 25 Nov 2026 14:05."
            raise Invalid(words, {"happened": words})
        try:
            return to_instant(self.happened, zone)
        except Invalid as error:
            raise Invalid(error.sentence, {"happened": error.sentence}) from None


class EmptyForm(CanForm):
    into: Id = Field(title="Into which can or drum")
    water: Water | None = Field(default=None, title="Under water")
    mass: Name | None = Field(default=None, title="Mass")
    collected_on: DayText | None = Field(default=None, title="Collection day")
    witness: Name | None = Field(default=None, title="Who saw it")


class CarryForm(CanForm):
    to: Id = Field(title="Where it stands now")


@router.get("")
def listing(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """Every can and drum with what lies in it."""
    with data.reading() as session:
        at = book_now(session, now)
        cans = [
            (
                can.id, can.name, describe_path(session, _parent(session, can)),
                len(rags_in_place(session, can, at)),
            )
            for can in rag_cans(session)
        ]  # fmt: skip
    return page(request, "rags/cans.html", {"cans": cans}, section="rags")


def _parent(session: Session, can: Place) -> Place | None:
    return session.get(Place, can.parent_id) if can.parent_id else None


@router.get("/{place_id}")
def one(
    request: Request, data: Data, now: Now, actor: Signed, place_id: Id,
    into: Annotated[Id | None, Query()] = None,
) -> Response:  # fmt: skip
    """What lies in it, and the two things that are done with a whole can. ``into`` chooses a drum already."""
    p = filled(once=uuid.uuid4().hex, when="now", into=into)
    return _one(request, data, now, actor, place_id, empty=p)


@router.get("/{place_id}/carry")
def carry_page(request: Request, data: Data, now: Now, actor: Signed, place_id: Id) -> Response:
    """Where the can was carried to."""
    return _one(request, data, now, actor, place_id, template="carry")


def _one(
    request: Request, data: Data, now: Now, actor: Actor, place_id: int, status: int = 200,
    refused: Verdict | None = None, template: str = "can", **forms: Any,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        can = the_place(session, place_id)
        inside = rags_in_place(session, can, at)
        stands = select(Place).where(col(Place.active).is_(True), col(Place.kind).not_in(sorted(HOLDERS)))
        context: dict[str, Any] = {
            "id": place_id, "name": can.name, "refused": refused, "holds": can_holds(can),
            "where": describe_path(session, _parent(session, can)),
            "loads": [shown(load, zone.key) for load, _ in inside],
            "others": [(c.id, c.name) for c in rag_cans(session) if c.id != place_id],
            "places": [
                (p.id, describe_path(session, p))
                for p in session.exec(stands.order_by(col(Place.name))).all() if p.id != can.parent_id
            ],
            "may": may(actor.role, Permission.CONTAIN_RAGS), "is_can": can.kind is PlaceKind.RAG_CAN,
            "water": WATER, "clock": (at - timedelta(minutes=30)).astimezone(zone),
            "today": at.astimezone(zone).date(),
            "empty": filled(once=uuid.uuid4().hex, when="now"),
            "carry": filled(once=uuid.uuid4().hex, when="now"),
        } | forms  # fmt: skip
    return page(request, f"rags/{template}.html", context, status, section="rags")


@router.post("/{place_id}/empty")
def empty(
    request: Request, data: Data, now: Now, actor: Signed, place_id: Id,
    p: Annotated[Posted[EmptyForm], Depends(posted(EmptyForm))],
) -> Response:  # fmt: skip
    """All its loads into another can or drum."""
    if p.value is None:
        return _one(request, data, now, actor, place_id, 422, empty=p)
    said = p.value
    try:
        with data.writing() as session:
            asked = EmptyAsked(
                said.once, place_id, said.into, said.water, said.mass or "", said.collected_on,
                said.witness or "", said.note, said.happened_at(shop_zone(session)), said.reason or "",
            )  # fmt: skip
            loads = empty_can(session, actor, now, asked).result["loads"]
            count = "1 rag load" if len(loads) == 1 else f"{len(loads)} rag loads"
            flash(session, request, f"Written down: {count}. {loads[0]['sentence']}")
            return RedirectResponse("/rags", 303)
    except Invalid as error:
        p.take(error, "into")
        return _one(request, data, now, actor, place_id, 422, empty=p)
    except Refused as error:
        return _one(request, data, now, actor, place_id, 409, error.verdict, empty=p)


@router.post("/{place_id}/carry")
def carry(
    request: Request, data: Data, now: Now, actor: Signed, place_id: Id,
    p: Annotated[Posted[CarryForm], Depends(posted(CarryForm))],
) -> Response:  # fmt: skip
    """The can stands elsewhere, with its rags in it."""
    if p.value is None:
        return _one(request, data, now, actor, place_id, 422, None, "carry", carry=p)
    said = p.value
    try:
        with data.writing() as session:
            at = said.happened_at(shop_zone(session))
            asked = CarryAsked(said.once, place_id, said.to, said.note, at, said.reason or "")
            told = carry_can(session, actor, now, asked).result["sentence"]
            flash(session, request, f"Written down. {told} The times of its rags stay as they were.")
            return RedirectResponse(f"/rags/cans/{place_id}", 303)
    except Invalid as error:
        p.take(error, "to")
        return _one(request, data, now, actor, place_id, 422, None, "carry", carry=p)
    except Refused as error:
        return _one(request, data, now, actor, place_id, 409, error.verdict, "carry", carry=p)
