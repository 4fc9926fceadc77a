"""`/inspectors`: a keeper lets an inspector in for some days; `/inspector/…`: the address that does it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Path, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.invite_reader import (
    MOST_DAYS,
    USUAL_DAYS,
    address_again,
    end_access,
    invite_reader,
    reader_of,
    readers,
    use_address,
)
from service.actions.sign_in import Opening, end_session, open_session
from service.core.findings import Invalid
from service.records.people import Person
from service.web.access_gate import Seen, Signed
from service.web.chrome import flash
from service.web.demo_sign_in import refuse_demo_from_elsewhere
from service.web.deps import Config, Data, Now, Secrets, shop_today, shop_zone
from service.web.fields import DayText, Id, Name
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import day, page
from service.web.sign_in_form import PACK
from service.web.visitor import limits_of, set_cookie

router = APIRouter(include_in_schema=False)
Token = Annotated[str, Path(max_length=200)]


class InviteForm(FormModel):
    """Who comes, and until when."""

    name: Name = Field(title="Name")
    last: DayText = Field(title="Last day")
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Enter the inspector's name, as it is to stand in the books.",
        ("last", "missing"): "Enter the last day on which they may look.",
    }


def _page(
    request: Request, data: Data, now: Now, p: Posted[Any] | None = None, status: int = 200,
    made: tuple[str, str] = ("", ""),
) -> Response:  # fmt: skip
    with data.reading() as session:
        today = shop_today(session, now)
        here = [(one.id, one.name, one.expires_on) for one in readers(session, today)]
    usual = day(today + timedelta(days=USUAL_DAYS))
    context = {
        "p": p or filled(last=usual), "here": here, "most": MOST_DAYS, "name": made[0], "address": made[1],
    }  # fmt: skip
    return page(request, "inspectors.html", context, status, section="people")


@router.get("/inspectors")
def look(request: Request, data: Data, now: Now) -> Response:
    """Who may look at the books now, and the form for another."""
    return _page(request, data, now)


@router.post("/inspectors")
def invite(
    request: Request, data: Data, now: Now, actor: Signed, config: Config, secrets: Secrets,
    p: Annotated[Posted[InviteForm], Depends(posted(InviteForm))],
) -> Response:  # fmt: skip
    """A reader with a last day, and their address, shown this once."""
    if p.value is None:
        return _page(request, data, now, p, 422)
    token = secrets()
    try:
        with data.writing() as session:
            person = invite_reader(
                session, actor, now, shop_zone(session), p.value.name, p.value.last, token
            )
    except Invalid as wrong:
        p.take(wrong, "name")
        return _page(request, data, now, p, 422)
    return _page(request, data, now, made=(person.name, _address(request, config, token)))


@router.post("/inspectors/{person_id}/address")
def again(
    request: Request, data: Data, now: Now, actor: Signed, config: Config, secrets: Secrets, person_id: Id
) -> Response:
    """Another address for a reader; the former one, if nobody used it, ends."""
    token = secrets()
    try:
        with data.writing() as session:
            person = address_again(session, actor, now, shop_zone(session), person_id, token)
    except Invalid as wrong:
        p = filled()
        p.take(wrong)
        return _page(request, data, now, p, 422)
    return _page(request, data, now, made=(person.name, _address(request, config, token)))


@router.post("/inspectors/{person_id}/end")
def end(request: Request, data: Data, now: Now, actor: Signed, person_id: Id) -> Response:
    """Nothing opens for this reader any more, from now on."""
    try:
        with data.writing() as session:
            person = end_access(session, actor, now, shop_zone(session), person_id)
            flash(session, request, f"{person.name} may look no more.")
    except Invalid as wrong:
        p = filled()
        p.take(wrong)
        return _page(request, data, now, p, 422)
    return RedirectResponse("/inspectors", 303)


def _address(request: Request, config: Config, token: str) -> str:
    base = config.base_url or str(request.base_url).rstrip("/")
    return f"{base}/inspector/{token}"


@router.get("/inspector/{token}")
def look_at_address(request: Request, token: Token, data: Data, now: Now) -> Response:
    """What the address is for, with one button; a look does not use it up."""
    with data.reading() as session:
        person = reader_of(session, token, now, shop_today(session, now))
    context = {
        "title": f"Look at the books as {person.name}",
        "lead": f"Until {_last(person)} you read what an inspector asks for; you change nothing. The address "
        "works once: after the button it opens nothing any more.",
        "words": "Open the books", "action": request.url.path,
    }  # fmt: skip
    return page(request, "one_time.html", context)


@router.post("/inspector/{token}")
def enter(
    request: Request, token: Token, data: Data, now: Now, config: Config, secrets: Secrets, seen: Seen
) -> Response:
    """Sign the inspector in and lead to the pack."""
    refuse_demo_from_elsewhere(request)
    fresh = secrets()
    with data.writing() as session:
        today = shop_today(session, now)
        person = use_address(session, token, now, today)
        if seen.session_id is not None:
            end_session(session, seen.session_id, now)
        open_session(session, Opening(fresh, now, today, limits_of(config)), person_id=person.id)
    response = RedirectResponse(PACK, 303)
    set_cookie(response, config, fresh)
    return response


def _last(person: Person) -> str:
    return day(person.expires_on) if person.expires_on else ""
