"""`/devices`: shared tablets and tokens for scripts. Keepers only."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session, col, select

from service.actions.api_tokens import api_tokens, make_api_token, revoke_token
from service.actions.sign_in_links import make_link
from service.actions.tablets import make_device, switch_device
from service.core.access import Permission, Role, require
from service.core.findings import Invalid, NotFound
from service.records.people import Device, LinkPurpose
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Now, Secrets
from service.web.fields import Id, Name, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.people import ROLES
from service.web.render import page

router = APIRouter(include_in_schema=False)


class DeviceForm(FormModel):
    device_name: Name = Field(title="Name of the tablet")


class SwitchForm(FormModel):
    active: bool = False
    version: Version


class TokenForm(FormModel):
    label: Name = Field(title="What the script is called")
    role: Role = Field(title="Role")


def _devices(session: Session) -> list[Device]:
    return list(session.exec(select(Device).order_by(col(Device.active).desc(), col(Device.name))))


def _show(request: Request, data: Data, status: int = 200, **more: object) -> Response:
    with data.reading() as session:
        context = {
            "devices": _devices(session), "tokens": api_tokens(session), "roles": ROLES,
            "device": filled(), "token": filled(), "address": "", "secret": "", **more,
        }
    return page(request, "devices.html", context, status, section="people")


@router.get("/devices")
def look(request: Request, data: Data) -> Response:
    """Every tablet and token."""
    return _show(request, data)


@router.post("/devices")
def add_device(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    p: Annotated[Posted[DeviceForm], Depends(posted(DeviceForm))],
) -> Response:
    """A new tablet; its address is made by its button."""
    if p.value is None:
        return _show(request, data, 422, device=p)
    with data.writing() as session:
        device = make_device(session, actor, now, p.value.device_name)
        flash(session, request, f"{device.name} is listed. Make its address and open that on the tablet.")
    return RedirectResponse("/devices", 303)


@router.post("/devices/{device_id}/link")
def device_link(
    request: Request, data: Data, now: Now, actor: Signed, config: Config, secrets: Secrets, device_id: Id
) -> Response:
    """The one-time address with which the tablet is signed in; shown this once."""
    require(actor, Permission.TOKENS)
    token = secrets()
    with data.writing() as session:
        device = session.get(Device, device_id)
        if device is None or not device.active:
            raise NotFound("There is no such tablet, or it is switched off.")
        make_link(session, LinkPurpose.DEVICE, token, now, device_id=device_id)
    base = config.base_url or str(request.base_url).rstrip("/")
    return _show(request, data, address=f"{base}/tablet/{token}", address_for=device.name)


@router.post("/devices/{device_id}/active")
def switch(
    data: Data,
    now: Now,
    actor: Signed,
    device_id: Id,
    p: Annotated[Posted[SwitchForm], Depends(posted(SwitchForm))],
) -> Response:
    """Switch a tablet off (signed out at once) or allow it again."""
    if p.value is None:
        raise Invalid("Open the page again and press the button there.", p.errors)
    with data.writing() as session:
        switch_device(session, actor, now, device_id, p.value.version, active=p.value.active)
    return RedirectResponse("/devices", 303)


@router.post("/tokens")
def add_token(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    secrets: Secrets,
    p: Annotated[Posted[TokenForm], Depends(posted(TokenForm))],
) -> Response:
    """A token for a script; shown this once."""
    if p.value is None:
        return _show(request, data, 422, token=p)
    token = secrets()
    try:
        with data.writing() as session:
            make_api_token(session, actor, now, token, p.value.role, p.value.label)
    except Invalid as error:
        p.take(error, "label")
        return _show(request, data, 422, token=p)
    return _show(request, data, secret=token)


@router.post("/tokens/{token_id}/revoke")
def revoke(request: Request, data: Data, now: Now, actor: Signed, token_id: Id) -> Response:
    """End a token for good."""
    with data.writing() as session:
        row = revoke_token(session, actor, now, token_id)
        flash(session, request, f"The token {row.label} opens nothing any more.")
    return RedirectResponse("/devices", 303)
