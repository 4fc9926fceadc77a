"""`/sign-in` and `/sign-out`."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from service.actions.sign_in import Attempt, Opening, end_session, sign_in_with_password
from service.actions.throttle import Throttled
from service.core.access import Actor
from service.core.findings import Invalid
from service.core.sign_in_rules import address_key
from service.records.people import Person
from service.web.access_gate import Seen
from service.web.demo_sign_in import refuse_demo_from_elsewhere
from service.web.deps import Config, Data, Hash, Now, Secrets, shop_today
from service.web.forms import FormModel, Posted, posted
from service.web.sign_in_form import Carried, carried_in, go_on, landing, local_path, show_sign_in
from service.web.visitor import Visitor, drop_cookie, forget_visitor, limits_of, set_cookie

router = APIRouter(include_in_schema=False)


class SignInForm(FormModel):
    """Bounds and signs are judged with the password itself, so that every failure reads alike."""

    unguarded = frozenset({"sign_in_name", "password"})
    sign_in_name: str = ""
    password: str = ""


async def carried(request: Request) -> Carried:
    """Where to go on, from the form (read once; the framework keeps it for the request)."""
    return carried_in(await request.form(max_files=0, max_fields=800, max_part_size=200_000))


@router.get("/sign-in")
def look(request: Request, seen: Seen, next: str = "/") -> Response:
    """The sign-in page; somebody who is signed in already goes on."""
    target = local_path(next)
    if seen.actor is not None:
        return RedirectResponse(target, 303)
    return show_sign_in(request, Carried(target))


@router.post("/sign-in")
def sign_in(
    request: Request,
    data: Data,
    now: Now,
    config: Config,
    hasher: Hash,
    secrets: Secrets,
    seen: Seen,
    kept: Annotated[Carried, Depends(carried)],
    p: Annotated[Posted[SignInForm], Depends(posted(SignInForm))],
) -> Response:
    """Sign in with a password; a new session whatever cookie the browser sent."""
    refuse_demo_from_elsewhere(request)
    form = p.value or SignInForm()
    host = request.client.host if request.client else None
    attempt = Attempt(
        form.sign_in_name[:200], form.password[:1000], address_key(host),
        request.headers.get("user-agent", ""),
    )
    token = secrets()
    try:
        with data.reading() as session:
            today = shop_today(session, now)
        opening = Opening(token, now, today, limits_of(config))
        person_id = sign_in_with_password(data, hasher, attempt, opening)
    except Invalid as error:
        p.refuse("sign_in_name", error.sentence)
        return show_sign_in(request, kept, p, 422)
    except Throttled as error:
        p.refuse("", error.sentence)
        return show_sign_in(request, kept, p, 429, error.wait_s)
    with data.writing() as session:
        if seen.session_id is not None:  # the browser's former session ends; a tablet becomes a person's
            end_session(session, seen.session_id, now)
        person = session.get_one(Person, person_id)
    forget_visitor(request, Visitor(actor=Actor(person_id, person.name, person.role), theme=person.theme))
    response = go_on(request, landing(kept, person.role), person.name)
    set_cookie(response, config, token)
    return response


@router.post("/sign-out")
def sign_out(data: Data, now: Now, config: Config, seen: Seen) -> Response:
    """End this sign-in on the server and take the cookie back."""
    if seen.session_id is not None:
        with data.writing() as session:
            end_session(session, seen.session_id, now)
    response = RedirectResponse("/sign-in", 303)
    drop_cookie(response, config)
    return response
