"""`/places/{id}/air`: what is known of a room's air. Keepers only; what is left empty is not known."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.arrange_places import the_place
from service.actions.describe_room import RoomAsked, describe_room
from service.core.findings import Invalid
from service.core.materials import Unknown
from service.records.places import Place
from service.records.rooms import AirFrom, RoomAir, air_of
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Note, NumberText, Once, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import page
from service.web.room_words import FROM_WORDS, shown

router = APIRouter(prefix="/places", include_in_schema=False)

YES_NO = [("yes", "Yes"), ("no", "No"), ("not-known", "Not known")]


class RoomForm(FormModel):
    """What is left empty is not known."""

    volume_m3: Annotated[NumberText, Field(ge=0, le=10_000_000)] | None = Field(
        default=None, title="Size of the room"
    )
    fresh_air_m3_h: Annotated[NumberText, Field(ge=0, le=10_000_000)] | None = Field(
        default=None, title="Fresh air"
    )
    air_changes: Annotated[NumberText, Field(ge=0, le=1000)] | None = Field(
        default=None, title="Air changes an hour"
    )
    air_from: AirFrom = AirFrom.NOT_KNOWN
    mixing_factor: Annotated[NumberText, Field(ge=0, le=1000)] | None = Field(
        default=None, title="Mixing factor"
    )
    temperature_c: Annotated[NumberText, Field(ge=-100, le=100)] | None = Field(
        default=None, title="Temperature"
    )
    local_exhaust: Unknown = Unknown.NOT_KNOWN
    note: Note = ""
    version: Version = 0
    once: Once

    def asked(self) -> RoomAsked:
        """Raises Invalid where fresh air is told twice, or in air changes without the size of the room."""
        return RoomAsked(
            self.once, self.version, self.volume_m3, self._air(), self.air_from, self.mixing_factor,
            self.temperature_c, self.local_exhaust, self.note,
        )  # fmt: skip

    def _air(self) -> Decimal | None:
        if self.air_changes is None:
            return self.fresh_air_m3_h
        if self.fresh_air_m3_h is not None:
            words = "Write the fresh air in m³ an hour or as air changes, not both."
            raise Invalid(words, {"air_changes": words})
        if self.volume_m3 is None:
            words = "Air changes need the size of the room. Enter it, or write the fresh air in m³ an hour."
            raise Invalid(words, {"volume_m3": words})
        return self.air_changes * self.volume_m3


@router.get("/{place_id}/air")
def ask(request: Request, place_id: Id, data: Data, actor: Signed, secret: Secrets) -> Response:
    """The form, filled with what is known."""
    with data.reading() as session:
        place = the_place(session, place_id)
        return _form(request, session, filled(**_values(air_of(session, place_id)), once=secret()), place)


@router.post("/{place_id}/air")
def keep(
    request: Request, place_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[RoomForm], Depends(posted(RoomForm))],
) -> Response:  # fmt: skip
    """Keep it, with before and after."""
    if p.value is not None:
        try:
            with data.writing() as session:
                made = describe_room(session, actor, now, place_id, p.value.asked()).result
                words = f"The air of {made['name']} is written down."
                flash(session, request, words, "/air", "Ask for a mix")
                return RedirectResponse(f"/places/{place_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "volume_m3")
    with data.reading() as session:
        return _form(request, session, p, the_place(session, place_id), 422)


def _form(request: Request, session: Session, p: Posted[Any], place: Place, status: int = 200) -> Response:
    context = {"p": p, "place": place, "from_words": FROM_WORDS, "yes_no": YES_NO}
    return page(request, "places/air.html", context, status, section="store")


def _values(row: RoomAir | None) -> dict[str, Any]:
    if row is None:
        return {"air_from": AirFrom.NOT_KNOWN.value, "local_exhaust": Unknown.NOT_KNOWN.value, "version": 0}
    return {
        "volume_m3": shown(row.volume_l, 1000),
        "fresh_air_m3_h": shown(row.fresh_air_l_h, 1000),
        "air_from": row.air_from.value,
        "mixing_factor": shown(row.mixing_tenths, 10),
        "temperature_c": shown(row.temperature_tenths, 10),
        "local_exhaust": row.local_exhaust.value,
        "note": row.note,
        "version": row.version,
    }
