"""`/me`: one's own password, PIN and theme."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.manage_people import choose_theme, person_of, set_password, set_pin
from service.actions.sign_in import Opening, check_own_password, open_session
from service.actions.throttle import Throttled
from service.core.access import Actor
from service.core.findings import Invalid
from service.core.sign_in_rules import judge_password, judge_pin
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Hash, Now, Secrets, shop_today
from service.web.fields import Secret
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import page
from service.web.visitor import limits_of, set_cookie

router = APIRouter(include_in_schema=False)


class NewPassword(FormModel):
    present_password: Secret = Field(title="Present password")
    new_password: Secret = Field(title="New password")


class NewPin(FormModel):
    present_password: Secret = Field(title="Password")
    pin: Secret = Field(title="New PIN")


class Theme(FormModel):
    theme: str = ""


def _show(
    request: Request, data: Data, actor: Actor, status: int = 200, wait_s: int = 0, **forms: Posted[Any]
) -> Response:
    with data.reading() as session:
        person = person_of(session, actor.person_id)
    context = {
        "person": person, "password": forms.get("password", filled()), "pin": forms.get("pin", filled()),
        "theme": filled(theme=person.theme), "on_tablet": actor.device_id is not None,
    }
    headers = {"Retry-After": str(wait_s)} if wait_s else {}
    return page(request, "account.html", context, status, headers=headers)


@router.get("/me")
def look(request: Request, data: Data, actor: Signed) -> Response:
    """One's own account."""
    return _show(request, data, actor)


@router.post("/me/password")
def change_password(
    request: Request,
    data: Data,
    actor: Signed,
    now: Now,
    config: Config,
    hasher: Hash,
    secrets: Secrets,
    p: Annotated[Posted[NewPassword], Depends(posted(NewPassword))],
) -> Response:
    """A new password ends every sign-in of this person and opens a new one here."""
    if p.value is None:
        return _show(request, data, actor, 422, password=p)
    try:
        check_own_password(data, hasher, actor.person_id, p.value.present_password, now)
        hashed = hasher.make(judge_password(p.value.new_password))
    except Invalid as error:
        p.take(error, "new_password")
        return _show(request, data, actor, 422, password=p)
    except Throttled as error:
        p.refuse("present_password", error.sentence)
        return _show(request, data, actor, 429, error.wait_s, password=p)
    token = secrets()
    with data.writing() as session:
        set_password(session, actor, now, actor.person_id, hashed)
        opening = Opening(token, now, shop_today(session, now), limits_of(config))
        open_session(session, opening, person_id=actor.person_id)
    response = RedirectResponse("/me", 303)
    set_cookie(response, config, token)
    return response


@router.post("/me/pin")
def change_pin(
    request: Request,
    data: Data,
    actor: Signed,
    now: Now,
    hasher: Hash,
    p: Annotated[Posted[NewPin], Depends(posted(NewPin))],
) -> Response:
    """A new PIN for shared tablets, proved by the password."""
    if p.value is None:
        return _show(request, data, actor, 422, pin=p)
    try:
        check_own_password(data, hasher, actor.person_id, p.value.present_password, now)
        hashed = hasher.make(judge_pin(p.value.pin))
    except Invalid as error:
        p.take(error, "pin")
        return _show(request, data, actor, 422, pin=p)
    except Throttled as error:
        p.refuse("present_password", error.sentence)
        return _show(request, data, actor, 429, error.wait_s, pin=p)
    with data.writing() as session:
        set_pin(session, actor, now, actor.person_id, hashed)
        flash(session, request, "Your new PIN works on the shop's tablets from now on.")
    return RedirectResponse("/me", 303)


@router.post("/me/theme")
def change_theme(data: Data, actor: Signed, p: Annotated[Posted[Theme], Depends(posted(Theme))]) -> Response:
    """Light, dark or automatic."""
    with data.writing() as session:
        choose_theme(session, actor, p.text("theme"))
    return RedirectResponse("/me", 303)
