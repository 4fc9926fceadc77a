"""`/air`: what a mix does near a flame and in a room's air. Nothing is drawn and nothing is kept."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response
from pydantic import Field
from sqlmodel import Session

from service.actions.judge_air import AirAsked, air_of_mix
from service.actions.judge_ventilation import of_lines
from service.actions.mix_of_materials import judge_lines
from service.actions.mixes_inside import what_is_in_lines
from service.actions.read_recipe import LineRead
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid
from service.records.rooms import RoomAir, air_of, rooms
from service.records.solvent_facts import all_solvents
from service.web.access_gate import Signed
from service.web.air_view import AirView, view_air
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id, NumberText
from service.web.forms import FormModel, Posted, filled, posted
from service.web.mix_lines import (
    MOST_LINES,
    moved_lines,
    names_of_materials,
    number_lines,
    read_lines,
    recipe_form_lines,
    written_lines,
)
from service.web.pages.material_hazards import shop_regime
from service.web.render import day, page
from service.web.ventilation_view import VentilationView, view_mix

router = APIRouter(prefix="/air", include_in_schema=False)


class AirForm(FormModel):
    """All but the lines; those are read by their numbers. What is left empty is not known."""

    grams: Annotated[NumberText, Field(gt=0, le=10_000_000)] | None = Field(
        default=None, title="How much of it is used"
    )
    minutes: Annotated[NumberText, Field(ge=0, le=100_000)] | None = Field(
        default=None, title="Minutes until it is dry"
    )
    room_id: Id | None = Field(default=None, title="Room")
    added: Annotated[str, Field(max_length=60)] = ""
    step: Annotated[str, Field(max_length=20)] = "read"


@router.get("")
def ask(
    request: Request, data: Data, actor: Signed, recipe: Annotated[Id | None, Query()] = None
) -> Response:
    """An empty mix with room for three materials, or the lines of a recipe to be changed."""
    with data.reading() as session:
        known = rooms(session)
        p = filled(room_id=known[0].id if len(known) == 1 else None)
        lines: list[dict[str, str]] = [{}, {}, {}]
        if recipe is not None and may(actor.role, Permission.RECIPES):
            lines = recipe_form_lines(session, recipe)
        number_lines(p, lines)
        return _page(request, session, actor, p)


@router.post("")
def judge(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[AirForm], Depends(posted(AirForm))],
) -> Response:  # fmt: skip
    """One press: another line, a line taken out, or flash point and air of the mix."""
    step, lines = p.text("step"), written_lines(p)
    with data.reading() as session:
        if step != "judge":
            p.errors.clear()
            p.readings.clear()
            number_lines(p, moved_lines(written_lines(p, empty_too=True), step))
            return _page(request, session, actor, p)
        number_lines(p, lines or [{}, {}])
        read = read_lines(session, actor, p, lines)
        form = p.value
        room = _room(session, p, form.room_id) if form is not None else None
        if form is not None and form.added and form.added not in {one.key for one in all_solvents()}:
            p.refuse("added", "Choose one of the solvents in the list.")
        if form is None or p.errors:
            return _page(request, session, actor, p, 422)
        try:
            asked = AirAsked(form.grams, form.minutes, room, form.added)
            regime, today = shop_regime(session), shop_today(session, now)
            read = what_is_in_lines(session, read)
            judged, shares = judge_lines(session, read, regime, today)
            found = air_of_mix(session, shares, regime, asked)
            banded = of_lines(session, read, shares.parts, judged, today, operating_c=found.celsius)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), "amount_0"))
            return _page(request, session, actor, p, 422)
        told = _told(session, read, form, today)
        return _page(request, session, actor, p, 200, view_air(found, regime), view_mix(banded), told)


def _told(
    session: Session, read: list[LineRead], form: AirForm, today: date
) -> list[tuple[str, str]]:
    """What was asked, in words that stay on the paper when it is printed."""
    room = next((one.name for one in rooms(session) if one.id == form.room_id), "not told")
    minutes = "at once" if form.minutes is None else f"in {form.minutes:f} minutes"
    rows = [(line.material.name, line.written) for line in read]
    return [*rows, ("Room", room), ("Dry", minutes), ("Worked out on", day(today))]


def _room(session: Session, p: Posted[Any], room_id: int | None) -> RoomAir | None:
    if room_id is None:
        return None
    if room_id not in {one.id for one in rooms(session)}:
        p.refuse("room_id", "Choose one of the rooms in the list.")
        return None
    return air_of(session, room_id)


def _page(
    request: Request,
    session: Session,
    actor: Actor,
    p: Posted[Any],
    status: int = 200,
    answer: AirView | None = None,
    ventilation: VentilationView | None = None,
    told: list[tuple[str, str]] | None = None,
) -> Response:
    count = int(p.text("lines") or 1)
    known = rooms(session)
    context = {
        "p": p,
        "numbers": list(range(count)),
        "full": count >= MOST_LINES,
        "names": list(names_of_materials(session)),
        "rooms": [(room.id, room.name) for room in known],
        "solvents": sorted(((one.key, one.name) for one in all_solvents()), key=lambda pair: pair[1].lower()),
        "v": answer,
        "ventilation": ventilation,
        "told": told or [],
        "describe": _describe(p, known) if may(actor.role, Permission.PROFILES) else "",
    }
    return page(request, "hazards/air.html", context, status, section="store")


def _describe(p: Posted[Any], known: list[Any]) -> str:
    """Where the room that was chosen is described; without one, where places are made."""
    chosen = next((room for room in known if str(room.id) == p.text("room_id")), None)
    return f"/places/{chosen.id}/air" if chosen is not None else "/places"
