"""One-time addresses: a printed sign-in, the first keeper, setting a password, signing a tablet in.

A look never uses an address up; the button does.
"""

from typing import Annotated

from fastapi import APIRouter, Depends, Path, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.manage_people import person_of, set_password
from service.actions.set_up_shop import FirstKeeper, set_up, zones_to_choose
from service.actions.sign_in import Opening, end_session, may_act, open_session
from service.actions.sign_in_links import SPENT, keepers, look_at_link, make_link, spend_link
from service.clock import machine_zone
from service.core.findings import Invalid, NotFound
from service.core.sign_in_rules import judge_password
from service.records.people import Device, LinkPurpose, Person
from service.records.shop import ShopProfile
from service.web.access_gate import Seen
from service.web.deps import Config, Data, Hash, Now, Secrets, shop_today
from service.web.fields import Name, Secret
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import page
from service.web.visitor import limits_of, set_cookie

NO_ANSWER = frozenset({"UTC", "Etc/UTC", "Etc/UCT", "Etc/GMT", "GMT"})
"""What a machine without a time zone of its own says."""

router = APIRouter(include_in_schema=False)
Token = Annotated[str, Path(max_length=200)]
PRINTED = (LinkPurpose.SIGN_IN, LinkPurpose.FIRST_KEEPER)


class FirstKeeperForm(FormModel):
    name: Name = Field(title="Your name")
    sign_in_name: Name = Field(title="Sign-in name")
    password: Secret = Field(title="Password")
    shop_name: Name = Field(title="Name of the shop")
    time_zone: Name = Field(title="Time zone")


class PasswordForm(FormModel):
    password: Secret = Field(title="New password")


def _button(request: Request, title: str, lead: str, words: str) -> Response:
    context = {"title": title, "lead": lead, "words": words, "action": request.url.path}
    return page(request, "one_time.html", context)


@router.get("/sign-in/once/{token}")
def look_at_printed(request: Request, token: Token, data: Data, now: Now) -> Response:
    """What a printed address is for, with one button."""
    with data.reading() as session:
        link = look_at_link(session, token, PRINTED, now)
        person = session.get(Person, link.person_id) if link.person_id else None
    if person is None:
        lead = "This shop is empty. The next page asks for the first keeper and the shop's name."
        return _button(request, "Set the shop up", lead, "Go on")
    lead = "The address works once. After the button it opens nothing any more."
    return _button(request, f"Sign in as {person.name}", lead, "Sign in")


@router.post("/sign-in/once/{token}")
def use_printed(
    token: Token, data: Data, now: Now, config: Config, secrets: Secrets, seen: Seen
) -> Response:
    """Use a printed address up: sign the keeper in, or go on to the first keeper's page."""
    fresh = secrets()
    with data.writing() as session:
        link = spend_link(session, token, PRINTED, now)
        today = shop_today(session, now)
        person = session.get(Person, link.person_id) if link.person_id else None
        if person is None:
            # The page that follows may be sent several times until every field is right.
            make_link(session, LinkPurpose.FIRST_KEEPER, fresh, now)
            response = RedirectResponse(f"/first-keeper/{fresh}", 303)
        elif not may_act(person, today):
            raise NotFound(SPENT)
        else:
            if seen.session_id is not None:
                end_session(session, seen.session_id, now)
            open_session(session, Opening(fresh, now, today, limits_of(config)), person_id=person.id)
            response = RedirectResponse("/", 303)
            set_cookie(response, config, fresh)
    return response


def _first_keeper_page(request: Request, p: Posted[FirstKeeperForm], status: int = 200) -> Response:
    offered = zones_to_choose(p.text("time_zone"))
    context = {"p": p, "zones": [(zone, zone.replace("_", " ")) for zone in offered]}
    return page(request, "first_keeper.html", context, status)


@router.get("/first-keeper/{token}")
def first_keeper(request: Request, token: Token, data: Data, now: Now) -> Response:
    """Who keeps the store, and where the shop is."""
    with data.reading() as session:
        look_at_link(session, token, (LinkPurpose.FIRST_KEEPER,), now)
        if keepers(session):
            raise NotFound(SPENT)
        shop = session.get(ShopProfile, 1)
    # A machine that was never told where it stands says UTC: that is no answer for a shop, so it is asked.
    here = machine_zone()
    zone = shop.time_zone if shop else "" if here in NO_ANSWER else here
    known = filled(shop_name=shop.name if shop else "", time_zone=zone)
    return _first_keeper_page(request, known)


@router.post("/first-keeper/{token}")
def make_first_keeper(
    request: Request,
    token: Token,
    data: Data,
    now: Now,
    config: Config,
    hasher: Hash,
    secrets: Secrets,
    p: Annotated[Posted[FirstKeeperForm], Depends(posted(FirstKeeperForm))],
) -> Response:
    """Make the first keeper and the shop's profile, and sign the keeper in."""
    with data.reading() as session:
        look_at_link(session, token, (LinkPurpose.FIRST_KEEPER,), now)
    form = p.value
    if form is None:
        return _first_keeper_page(request, p, 422)
    try:
        hashed = hasher.make(judge_password(form.password))
    except Invalid as error:
        p.take(error, "password")
        return _first_keeper_page(request, p, 422)
    said = FirstKeeper(form.name, form.sign_in_name, hashed, form.shop_name, form.time_zone)
    fresh = secrets()
    try:
        with data.writing() as session:
            spend_link(session, token, (LinkPurpose.FIRST_KEEPER,), now)
            keeper = set_up(session, now, shop_today(session, now), said)
            opening = Opening(fresh, now, shop_today(session, now), limits_of(config))
            open_session(session, opening, person_id=keeper.id)
            response = RedirectResponse("/shop", 303)
    except Invalid as error:
        p.take(error)
        return _first_keeper_page(request, p, 422)
    set_cookie(response, config, fresh)
    return response


def _password_page(request: Request, p: Posted[PasswordForm], person: Person, status: int = 200) -> Response:
    return page(request, "set_password.html", {"p": p, "person": person}, status)


def _password_person(data: Data, token: str, now: Now) -> Person:
    with data.reading() as session:
        link = look_at_link(session, token, (LinkPurpose.PASSWORD,), now)
        person = person_of(session, link.person_id or 0)
        if not may_act(person, shop_today(session, now)):
            raise NotFound(SPENT)
    return person


@router.get("/set-password/{token}")
def look_at_password(request: Request, token: Token, data: Data, now: Now) -> Response:
    """The person a keeper made the address for chooses a password."""
    return _password_page(request, filled(), _password_person(data, token, now))


@router.post("/set-password/{token}")
def choose_password(
    request: Request,
    token: Token,
    data: Data,
    now: Now,
    hasher: Hash,
    p: Annotated[Posted[PasswordForm], Depends(posted(PasswordForm))],
) -> Response:
    """Set it, end every former sign-in, and lead to the sign-in page."""
    person = _password_person(data, token, now)
    if p.value is not None:
        try:
            hashed = hasher.make(judge_password(p.value.password))
        except Invalid as error:
            p.take(error, "password")
    if p.value is None:
        return _password_page(request, p, person, 422)
    with data.writing() as session:
        spend_link(session, token, (LinkPurpose.PASSWORD,), now)
        set_password(session, None, now, person.id or 0, hashed)
    return RedirectResponse("/sign-in", 303)


@router.get("/tablet/{token}")
def look_at_tablet(request: Request, token: Token, data: Data, now: Now) -> Response:
    """Sign this browser in as a shared tablet, with one button."""
    with data.reading() as session:
        link = look_at_link(session, token, (LinkPurpose.DEVICE,), now)
        device = session.get_one(Device, link.device_id)
    lead = (
        "This browser becomes a shared tablet. It books nothing by itself: each person taps their name and "
        "gives their PIN."
    )
    return _button(request, f"Make this the tablet {device.name}", lead, "Sign the tablet in")


@router.post("/tablet/{token}")
def use_tablet(token: Token, data: Data, now: Now, config: Config, secrets: Secrets, seen: Seen) -> Response:
    """Use the tablet's address up."""
    fresh = secrets()
    with data.writing() as session:
        link = spend_link(session, token, (LinkPurpose.DEVICE,), now)
        device = session.get_one(Device, link.device_id)
        if not device.active:
            raise NotFound(SPENT)
        if seen.session_id is not None:
            end_session(session, seen.session_id, now)
        opening = Opening(fresh, now, shop_today(session, now), limits_of(config))
        open_session(session, opening, device_id=device.id)
        response = RedirectResponse("/tap", 303)
    set_cookie(response, config, fresh, device=True)
    return response
