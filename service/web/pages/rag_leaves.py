"""`/rags/hand-over`: a whole can or drum leaves. First which one, then who took what lies in it."""

import uuid
from datetime import datetime, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.can_left import LeftAsked, can_left
from service.actions.look_at_cans import rags_in_place
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid, Refused, Verdict
from service.core.rags import Removal, RemovalHow
from service.records.places import PlaceKind
from service.records.rag_queries import rag_cans
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Id, Name
from service.web.forms import Posted, filled, posted
from service.web.pages.rag_cans import CanForm
from service.web.rag_notice import book_now
from service.web.rag_words import how_choices, shown
from service.web.render import page

router = APIRouter(prefix="/rags/hand-over", include_in_schema=False)


class LeftForm(CanForm):
    can: Id = Field(title="Which can or drum")
    loads: list[Id] = Field(default=[], title="What lies in it")
    how: RemovalHow = Field(title="Who took it")
    named: Name | None = Field(default=None, title="Name")
    permit: Name | None = Field(default=None, title="Permit number")
    witness: Name | None = Field(default=None, title="Who saw it")


@router.get("")
def hand_over(
    request: Request, data: Data, now: Now, actor: Signed, can: Annotated[Id | None, Query()] = None
) -> Response:
    """Which can or drum; then, for the one named, what lies in it and who took it."""
    return _page(request, data, now, actor, filled(once=uuid.uuid4().hex, can=can, when="now"))


def _page(
    request: Request, data: Data, now: datetime, actor: Actor, p: Posted[Any], status: int = 200,
    refused: Verdict | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        cans = []
        for place in rag_cans(session):
            inside = [load for load, _ in rags_in_place(session, place, at)]
            if not inside:
                continue
            cans.append({
                "id": place.id, "name": place.name,
                "loads": [shown(load, zone.key) for load in inside],
                "loose": [load.judgement.load.name for load in inside if not load.state.contained],
                "may": place.kind is not PlaceKind.OUTSIDE_DRUM
                or may(actor.role, Permission.WASTE_HAND_OVER),
            })  # fmt: skip
        chosen = next((can for can in cans if str(can["id"]) == p.text("can")), None)
        context = {
            "p": p, "cans": cans, "can": chosen, "how": how_choices(), "refused": refused,
            "clock": (at - timedelta(minutes=30)).astimezone(zone),
        }  # fmt: skip
    return page(request, "rags/hand_over.html", context, status, section="rags")


@router.post("")
def handed_over(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[LeftForm], Depends(posted(LeftForm))],
) -> Response:  # fmt: skip
    """Every load in it ends, and no other."""
    if p.value is None:
        return _page(request, data, now, actor, p, 422)
    said = p.value
    try:
        with data.writing() as session:
            removal = Removal(said.how, said.named or "", said.permit or "")
            asked = LeftAsked(
                said.once, said.can, tuple(said.loads), removal,
                said.witness or "", said.note, said.happened_at(shop_zone(session)), said.reason or "",
            )  # fmt: skip
            left = len(can_left(session, actor, now, asked).result["loads"])
            many = "1 rag load" if left == 1 else f"{left} rag loads"
            flash(session, request, f"Written down: {many} left the building.")
            return RedirectResponse("/rags", 303)
    except Invalid as error:
        p.take(error, "how")
        return _page(request, data, now, actor, p, 422)
    except Refused as error:
        return _page(request, data, now, actor, p, 409, error.verdict)
