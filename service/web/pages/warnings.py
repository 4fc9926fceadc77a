"""`/warnings`: the ways by which warnings reach people, test messages, what is wrong. Keepers only."""

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field, StringConstraints

from service.actions.manage_channels import (
    ChannelAsked,
    add_channel,
    ask_for_trial,
    channels,
    last_round,
    reach_findings,
    switch_off,
    waiting,
)
from service.actions.manage_people import people
from service.actions.outbox import address_of
from service.core.channel_addresses import WORDS, shown_address
from service.core.findings import Invalid
from service.outreach.send_by_service import is_understood
from service.records.outbox import Channel, ChannelKind
from service.records.people import Person
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Now, shop_zone
from service.web.fields import Id, Name, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import instant, page

router = APIRouter(prefix="/warnings", include_in_schema=False)

LongAddress = Annotated[str, StringConstraints(min_length=1, max_length=900, strip_whitespace=True)]


class MailForm(FormModel):
    mail_person: Id | None = Field(default=None, title="For whom")
    email: Name | None = Field(default=None, title="E-mail address")
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {}


class ServiceForm(FormModel):
    person: Id | None = Field(default=None, title="For whom")
    label: Name = Field(title="What it is called")
    address: LongAddress = Field(title="Address of the service")
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("label", "missing"): "Enter what it is called, like Phone of Orla.",
        ("address", "missing"): "Enter the address of the service.",
    }


class OffForm(FormModel):
    version: Version


def _show(
    request: Request, data: Data, config: Config, now: Now, status: int = 200, **forms: Any
) -> Response:
    server = config.mail
    with data.reading() as session:
        zone = shop_zone(session).key
        looked = last_round(session)
        cards = [_card(row, person, zone) for row, person in channels(session)]
        context = {
            "findings": reach_findings(session, now, config),
            "cards": cards,
            "waiting": waiting(session),
            "looked": instant(looked.looked_at, zone) if looked else "never",
            "server": f"{server.host}, port {server.port}, {server.security}" if server else "",
            "sender": server.sender if server else "",
            "own_loop": config.send_alerts,
            "morning": f"{config.morning_mail:%H:%M}" if config.morning_mail else "",
            "who": [(one.id, one.name) for one in people(session) if one.active],
            "mail": filled(), "service": filled(), "odd": filled(),
        }  # fmt: skip
    return page(request, "warnings.html", context | forms, status, section="people")


def _card(row: Channel, person: Person | None, zone: str) -> dict[str, Any]:
    mail = row.kind is ChannelKind.MAIL
    return {
        "id": row.id, "version": row.version, "label": row.label,
        "who": person.name if person else "The shop",
        "leads": (address_of(row, person) or "no address") if mail else shown_address(row.address),
        "test": _tested(row, zone), "ok": row.test_ok,
        "sent": instant(row.last_sent_at, zone) if row.last_sent_at else "nothing yet",
        "error": row.last_error if _later(row.last_failed_at, row.last_sent_at) else "",
    }  # fmt: skip


def _later(one: datetime | None, other: datetime | None) -> bool:
    return one is not None and (other is None or one > other)


def _tested(row: Channel, zone: str) -> str:
    if not row.test_key or row.tested_at is None:
        return "never tested"
    at = instant(row.tested_at, zone)
    if row.test_ok is None:
        return f"test message of {at} is on its way"
    return f"test message of {at} {'was taken' if row.test_ok else 'failed'}"


@router.get("")
def look(request: Request, data: Data, config: Config, now: Now) -> Response:
    """Every channel with its last test."""
    return _show(request, data, config, now)


@router.post("/mail")
def add_mail(
    request: Request, data: Data, config: Config, now: Now, actor: Signed,
    p: Annotated[Posted[MailForm], Depends(posted(MailForm))],
) -> Response:  # fmt: skip
    """A mail address for a person or for the shop."""
    if p.value is not None:
        asked = ChannelAsked(ChannelKind.MAIL, p.value.mail_person, p.value.email or "")
        done = _add(request, data, now, actor, p, asked, "email")
        if done is not None:
            return done
    return _show(request, data, config, now, 422, mail=p)


@router.post("/services")
def add_service(
    request: Request, data: Data, config: Config, now: Now, actor: Signed,
    p: Annotated[Posted[ServiceForm], Depends(posted(ServiceForm))],
) -> Response:  # fmt: skip
    """A notification service for a person or for the shop."""
    form = p.value
    if form is not None:
        asked = ChannelAsked(ChannelKind.SERVICE, form.person, form.address, form.label)
        done = _add(request, data, now, actor, p, asked, "address")
        if done is not None:
            return done
    return _show(request, data, config, now, 422, service=p)


def _add(
    request: Request, data: Data, now: Now, actor: Signed, p: Posted[Any], asked: ChannelAsked, field: str
) -> Response | None:
    try:
        with data.writing() as session:
            row = add_channel(session, actor, now, asked)
            if asked.kind is ChannelKind.SERVICE and not is_understood(row.address):
                raise Invalid(WORDS)
            flash(session, request, "The channel stands below. Send a test message to see that it works.")
    except Invalid as error:
        p.take(Invalid(error.sentence), field)
        return None
    return RedirectResponse("/warnings", 303)


@router.post("/{channel_id}/test")
def test(
    request: Request, data: Data, config: Config, now: Now, actor: Signed, channel_id: Id
) -> Response:
    """A test message; it leaves on the sender's own thread, and its outcome stands on the page."""
    try:
        with data.writing() as session:
            row = ask_for_trial(session, actor, now, channel_id, config)
            when = "Look again in a few seconds." if config.send_alerts else "It leaves with the next timer."
            said = f"{row.label}: a test message is on its way. {when}"
            flash(session, request, said, "/warnings", "Look again")
    except Invalid as error:
        odd = filled()
        odd.take(error)
        return _show(request, data, config, now, 422, odd=odd)
    if request.app.state.wake_sender is not None:
        request.app.state.wake_sender()
    return RedirectResponse("/warnings", 303)


@router.post("/{channel_id}/off")
def off(
    request: Request, data: Data, config: Config, now: Now, actor: Signed, channel_id: Id,
    p: Annotated[Posted[OffForm], Depends(posted(OffForm))],
) -> Response:  # fmt: skip
    """Switch a channel off."""
    if p.value is None:
        return _show(request, data, config, now, 422, odd=p)
    with data.writing() as session:
        row = switch_off(session, actor, now, channel_id, p.value.version)
        flash(session, request, f"{row.label} is switched off and its address forgotten.")
    return RedirectResponse("/warnings", 303)
