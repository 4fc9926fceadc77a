"""`/rags/wipes`: containers of solvent wipes kept apart, begun, due after 180 days, handed over."""

import uuid
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import col, select

from service.actions.keep_wipes import (
    CONTAINERS,
    BeginAsked,
    LeaveAsked,
    begin_wipes,
    send_wipes,
    wipes_gone,
    wipes_standing,
)
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid, NotFound, Refused, Verdict
from service.core.materials import Unknown
from service.core.wipes import LABEL, WAY_WORDS, WipesWay
from service.records.places import Place
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import DayText, Id, Name, Note, Once, Sentence
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_notice import book_now
from service.web.render import day, instant, page

router = APIRouter(prefix="/rags/wipes", include_in_schema=False)

_YES_NO = [("yes", "Yes"), ("no", "No"), ("not-known", "Not known")]
_WAYS = [(way.value, words[:1].upper() + words[1:]) for way, words in WAY_WORDS.items()]


class BeginForm(FormModel):
    place: Id = Field(title="Which can or drum")
    started_on: DayText = Field(title="Day of the first wipe")
    labelled: Unknown = Field(default=Unknown.NOT_KNOWN, title="The label")
    sound: Unknown = Field(default=Unknown.NOT_KNOWN, title="Closed and sound")
    note: Note = Field(default="", title="Remark")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("place", "missing"): "Choose a can or drum of the list.",
        ("started_on", "missing"): "Enter the day of the first wipe. Its 180 days count from then.",
    }


class LeaveForm(FormModel):
    way: WipesWay = Field(title="Who takes it")
    named: Name = Field(title="Name")
    address: Sentence = Field(title="Address")
    no_liquid: Sentence = Field(title="No free liquid")
    trichloroethylene: Unknown = Field(default=Unknown.NOT_KNOWN, title="Trichloroethylene")
    once: Once


@router.get("")
def listing(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """What stands, the days left, and the form for the next container."""
    return _listing(request, data, now, actor, _fresh())


def _fresh() -> Posted[Any]:
    return filled(once=uuid.uuid4().hex, labelled="not-known", sound="not-known")


def _listing(
    request: Request, data: Data, now: Now, actor: Actor, p: Posted[Any], status: int = 200,
    refused: Verdict | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        kinds = col(Place.kind).in_(sorted(CONTAINERS))
        rows = session.exec(select(Place).where(kinds, col(Place.active).is_(True)).order_by(Place.name))
        context = {
            "p": p, "refused": refused, "label": LABEL, "today": at.astimezone(zone).date(),
            "yes_no": _YES_NO, "may_begin": may(actor.role, Permission.CONTAIN_RAGS),
            "places": [(place.id, place.name) for place in rows.all()],
            "standing": [
                (one.duty.id, one.place.name, day(one.started_on), day(one.last), one.verdict)
                for one in wipes_standing(session, zone, at)
            ],
            "gone": [(duty.answer, instant(duty.done_at, zone.key)) for duty in wipes_gone(session)],
        }  # fmt: skip
    return page(request, "rags/wipes.html", context, status, section="rags")


@router.post("")
def begin(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[BeginForm], Depends(posted(BeginForm))],
) -> Response:  # fmt: skip
    """A container of wipes begins."""
    if p.value is None:
        return _listing(request, data, now, actor, p, 422)
    said = p.value
    try:
        with data.writing() as session:
            asked = BeginAsked(
                said.once, said.place, said.started_on, said.labelled, said.sound, said.note
            )
            number = begin_wipes(session, actor, now, asked).result["wipes"]
            flash(session, request, "Written down. Its last day stands below and among the duties.")
            return RedirectResponse(f"/rags/wipes/{number}", 303)
    except Invalid as error:
        p.take(error, "place")
        return _listing(request, data, now, actor, p, 422)
    except Refused as error:
        return _listing(request, data, now, actor, p, 409, error.verdict)


@router.get("/{duty_id}")
def one(request: Request, data: Data, now: Now, actor: Signed, duty_id: Id) -> Response:
    """One container: its days, what to know, and who takes it."""
    return _one(request, data, now, actor, duty_id, filled(once=uuid.uuid4().hex))


def _one(
    request: Request, data: Data, now: Now, actor: Actor, duty_id: int, p: Posted[Any], status: int = 200,
    refused: Verdict | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        seen = next((s for s in wipes_standing(session, zone, at) if s.duty.id == duty_id), None)
        if seen is None:
            raise NotFound(f"No container of wipes number {duty_id} stands here.")
        context = {
            "p": p, "refused": refused, "id": duty_id, "name": seen.place.name, "label": LABEL,
            "place": {"href": f"/places/{seen.place.id}", "words": seen.place.name},
            "began": day(seen.started_on), "last": day(seen.last), "verdict": seen.verdict,
            "ways": _WAYS, "yes_no": _YES_NO, "may_send": may(actor.role, Permission.WASTE_HAND_OVER),
        }  # fmt: skip
    return page(request, "rags/wipes_one.html", context, status, section="rags")


@router.post("/{duty_id}")
def leave(
    request: Request, data: Data, now: Now, actor: Signed, duty_id: Id,
    p: Annotated[Posted[LeaveForm], Depends(posted(LeaveForm))],
) -> Response:  # fmt: skip
    """It was handed over."""
    if p.value is None:
        return _one(request, data, now, actor, duty_id, p, 422)
    said = p.value
    try:
        with data.writing() as session:
            asked = LeaveAsked(
                said.once, duty_id, said.way, said.named, said.address, said.no_liquid,
                said.trichloroethylene,
            )  # fmt: skip
            told = send_wipes(session, actor, now, asked).result["sentence"]
            flash(session, request, f"Written down. {told}")
            return RedirectResponse("/rags/wipes", 303)
    except Refused as error:
        if "wipes-gone" in error.verdict.codes:
            raise
        return _one(request, data, now, actor, duty_id, p, 409, error.verdict)
