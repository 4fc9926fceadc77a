"""`/shop`: name, zone, hazard law, units, grace, shifts, emergency text and numbers. Keepers only."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BeforeValidator, Field, StringConstraints

from service.actions.set_up_shop import (
    DAYS,
    REGIMES,
    UNIT_SYSTEMS,
    Profile,
    add_number,
    add_shifts,
    change_emergency_text,
    change_profile,
    emergency_numbers,
    remove_number,
    remove_shift,
    shift_words,
    shifts,
    zones_to_choose,
)
from service.actions.settle import the_shop
from service.core.findings import Invalid
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now
from service.web.fields import ClockTime, Id, Name, Version, Whole
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import page
from service.web.text_guard import check_text

router = APIRouter(prefix="/shop", include_in_schema=False)


def _lines(value: object) -> object:
    if isinstance(value, str):
        return check_text(value, lines=True).replace("\r\n", "\n").replace("\r", "\n").strip()
    return value


LongText = Annotated[str, BeforeValidator(_lines), StringConstraints(max_length=4000)]


class ProfileForm(FormModel):
    name: Name = Field(title="Name of the shop")
    time_zone: Name = Field(title="Time zone")
    regime: Name = Field(title="Hazard law")
    unit_system: Name | None = Field(default=None, title="Pints and gallons")
    rag_grace_min: Whole = Field(title="Minutes of grace for oily rags")
    currency: Name | None = Field(default=None, title="Currency")
    version: Version


class EmergencyForm(FormModel):
    emergency_text: LongText = Field(default="", title="What to do here")
    version: Version


class NumberForm(FormModel):
    who: Name = Field(title="Who answers")
    number: Name = Field(title="Telephone number")


class ShiftForm(FormModel):
    shift_name: Name = Field(title="Name of the shift")
    weekdays: list[Whole] = Field(default=[], title="Days")
    starts: ClockTime = Field(title="Starts")
    ends: ClockTime = Field(title="Ends")


def _show(request: Request, data: Data, status: int = 200, **forms: Posted[Any]) -> Response:
    with data.reading() as session:
        shop = the_shop(session)
        numbers, week = emergency_numbers(session), shifts(session)
    profile = filled(
        name=shop.name, time_zone=shop.time_zone, regime=shop.regime, unit_system=shop.unit_system,
        rag_grace_min=shop.rag_grace_min, currency=shop.currency,
    )
    context = {
        "shop": shop, "profile": profile, "emergency": filled(emergency_text=shop.emergency_text),
        "number": filled(), "shift": filled(), "numbers": numbers,
        "week": [(row.id, shift_words(row)) for row in week],
        "zones": [(zone, zone.replace("_", " ")) for zone in zones_to_choose(shop.time_zone)],
        "days": list(enumerate(DAYS)),
        "regimes": list(REGIMES.items()), "systems": list(UNIT_SYSTEMS.items()), **forms,
    }
    return page(request, "shop.html", context, status, section="people")


@router.get("")
def look(request: Request, data: Data) -> Response:
    """The shop's settings."""
    return _show(request, data)


@router.post("")
def change(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    p: Annotated[Posted[ProfileForm], Depends(posted(ProfileForm))],
) -> Response:
    """Set the profile."""
    form = p.value
    if form is None:
        return _show(request, data, 422, profile=p)
    said = Profile(
        form.name, form.time_zone, form.regime, form.unit_system, form.rag_grace_min, form.currency
    )
    try:
        with data.writing() as session:
            shop = change_profile(session, actor, now, form.version, said)
            flash(session, request, f"Settings kept. The shop's clock is {shop.time_zone}.")
    except Invalid as error:
        p.take(error)
        return _show(request, data, 422, profile=p)
    return RedirectResponse("/shop", 303)


@router.post("/emergency")
def emergency(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    p: Annotated[Posted[EmergencyForm], Depends(posted(EmergencyForm))],
) -> Response:
    """The shop's own words for a spill or a fire."""
    if p.value is None:
        return _show(request, data, 422, emergency=p)
    with data.writing() as session:
        change_emergency_text(session, actor, now, p.value.version, p.value.emergency_text)
        flash(session, request, "The page Spill or fire says this now.", "/spill", "Look at it and print it")
    return RedirectResponse("/shop", 303)


@router.post("/numbers")
def number(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    p: Annotated[Posted[NumberForm], Depends(posted(NumberForm))],
) -> Response:
    """A number on the page Spill or fire."""
    if p.value is not None:
        try:
            with data.writing() as session:
                add_number(session, actor, now, p.value.who, p.value.number)
                said = f"{p.value.who} stands on the page Spill or fire."
                flash(session, request, said, "/spill", "Look at it")
        except Invalid as error:
            p.take(error)
    if p.value is None:
        return _show(request, data, 422, number=p)
    return RedirectResponse("/shop", 303)


@router.post("/numbers/{number_id}/remove")
def drop_number(data: Data, now: Now, actor: Signed, number_id: Id) -> Response:
    """Take a number off the page."""
    with data.writing() as session:
        remove_number(session, actor, now, number_id)
    return RedirectResponse("/shop", 303)


@router.post("/shifts")
def shift(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    p: Annotated[Posted[ShiftForm], Depends(posted(ShiftForm))],
) -> Response:
    """A shift on one day or several."""
    if p.value is not None:
        form = p.value
        try:
            with data.writing() as session:
                add_shifts(session, actor, now, form.shift_name, form.weekdays, form.starts, form.ends)
                flash(session, request, f"The shift {form.shift_name} stands in the week.")
        except Invalid as error:
            p.take(error)
    if p.value is None:
        return _show(request, data, 422, shift=p)
    return RedirectResponse("/shop", 303)


@router.post("/shifts/{shift_id}/remove")
def drop_shift(data: Data, now: Now, actor: Signed, shift_id: Id) -> Response:
    """Take a shift out of the week; running jobs keep their end."""
    with data.writing() as session:
        remove_shift(session, actor, now, shift_id)
    return RedirectResponse("/shop", 303)
