"""`/people`: names, roles, last days, PINs, addresses to set a password. Keepers only."""

from collections.abc import Mapping
from typing import Annotated, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.manage_people import (
    Description,
    add_person,
    change_person,
    password_link,
    people,
    person_of,
    set_pin,
    switch_person,
)
from service.core.access import Role
from service.core.findings import Invalid
from service.core.sign_in_rules import judge_pin
from service.records.people import Person
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Hash, Now, Secrets, shop_today
from service.web.fields import DayText, Id, Name, Secret, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import day, page

router = APIRouter(prefix="/people", include_in_schema=False)

ROLES = [
    (Role.STUDENT.value, "Student", "draws, adds to a batch and hands in rags in a running job"),
    (Role.FINISHER.value, "Finisher", "runs jobs, receives, counts, makes batches, puts rags away"),
    (Role.KEEPER.value, "Keeper", "also overrides, facts of materials, people, settings"),
    (Role.READER.value, "Reader", "looks at store and logs until a last day: an inspector, a guest"),
]


class PersonForm(FormModel):
    name: Name = Field(title="Name")
    role: Role = Field(title="Role")
    sign_in_name: Name | None = Field(default=None, title="Sign-in name")
    expires_on: DayText | None = Field(default=None, title="Last day")
    email: Name | None = Field(default=None, title="E-mail address")
    version: Version = 0
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Enter the person's name.",
        ("role", "missing"): "Choose a role.",
    }

    def description(self) -> Description:
        return Description(self.name, self.role, self.sign_in_name, self.expires_on, self.email)


class SwitchForm(FormModel):
    active: bool = False
    version: Version


class PinForm(FormModel):
    pin: Secret = Field(title="PIN")


def _standing(person: Person) -> str:
    if not person.active:
        return "switched off"
    if person.expires_on is not None:
        return f"until {day(person.expires_on)}"
    return "active"


def _ways(person: Person) -> str:
    ways = [words for words, has in (("password", person.password_hash), ("PIN", person.pin_hash)) if has]
    return " and ".join(ways) or "none yet"


@router.get("")
def look(request: Request, data: Data) -> Response:
    """Everybody, and the ways to devices and the shop's settings."""
    with data.reading() as session:
        rows = [
            {
                "name": {"href": f"/people/{person.id}", "words": person.name},
                "role": person.role.value, "standing": _standing(person), "ways": _ways(person),
                "_act": {"href": f"/people/{person.id}", "words": "Change"},
            }
            for person in people(session)
        ]
    return page(request, "people.html", {"rows": rows}, section="people")


def _person_page(
    request: Request, p: Posted[PersonForm], person: Person | None, status: int = 200,
    pin: Posted[PinForm] | None = None, address: str = "",
) -> Response:
    context = {
        "p": p, "pin": pin or filled(), "person": person, "roles": ROLES, "address": address,
        "standing": _standing(person) if person else "", "ways": _ways(person) if person else "",
    }
    return page(request, "person.html", context, status, section="people")


@router.get("/new")
def ask(request: Request) -> Response:
    """A new person."""
    return _person_page(request, filled(role=Role.STUDENT.value), None)


@router.post("/new")
def add(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    p: Annotated[Posted[PersonForm], Depends(posted(PersonForm))],
) -> Response:
    """Add the person; password and PIN are set on the page that follows."""
    if p.value is None:
        return _person_page(request, p, None, 422)
    try:
        with data.writing() as session:
            person = add_person(session, actor, now, shop_today(session, now), p.value.description())
            flash(session, request, f"{person.name} is in the books. A PIN or a password is set below.")
    except Invalid as error:
        p.take(error)
        return _person_page(request, p, None, 422)
    return RedirectResponse(f"/people/{person.id}", 303)


def _filled(person: Person) -> Posted[PersonForm]:
    return filled(
        name=person.name, role=person.role.value, sign_in_name=person.sign_in_name,
        expires_on=day(person.expires_on) if person.expires_on else "", email=person.email,
        version=person.version,
    )


def _load(data: Data, person_id: int) -> Person:
    with data.reading() as session:
        return person_of(session, person_id)


@router.get("/{person_id}")
def one(request: Request, data: Data, person_id: Id) -> Response:
    """One person."""
    person = _load(data, person_id)
    return _person_page(request, _filled(person), person)


@router.post("/{person_id}")
def change(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    person_id: Id,
    p: Annotated[Posted[PersonForm], Depends(posted(PersonForm))],
) -> Response:
    """Write the person down anew."""
    if p.value is None:
        return _person_page(request, p, _load(data, person_id), 422)
    try:
        with data.writing() as session:
            today = shop_today(session, now)
            said, version = p.value.description(), p.value.version
            person = change_person(session, actor, now, today, person_id, version, said)
            flash(session, request, f"{person.name}: {person.role.value}, {_standing(person)}.")
    except Invalid as error:
        p.take(error)
        return _person_page(request, p, _load(data, person_id), 422)
    return RedirectResponse(f"/people/{person_id}", 303)


@router.post("/{person_id}/active")
def switch(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    person_id: Id,
    p: Annotated[Posted[SwitchForm], Depends(posted(SwitchForm))],
) -> Response:
    """Switch the person off or on."""
    try:
        if p.value is None:
            raise Invalid("Open the page again and press the button there.")
        with data.writing() as session:
            person = switch_person(session, actor, now, person_id, p.value.version, active=p.value.active)
            words = "may sign in again" if person.active else "is switched off and signed out everywhere"
            flash(session, request, f"{person.name} {words}.")
    except Invalid as error:
        person = _load(data, person_id)
        shown = _filled(person)
        shown.take(error)
        return _person_page(request, shown, person, 422)
    return RedirectResponse(f"/people/{person_id}", 303)


@router.post("/{person_id}/pin")
def pin(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    hasher: Hash,
    person_id: Id,
    p: Annotated[Posted[PinForm], Depends(posted(PinForm))],
) -> Response:
    """Set the person's PIN."""
    person = _load(data, person_id)
    if p.value is not None:
        try:
            hashed = hasher.make(judge_pin(p.value.pin))
        except Invalid as error:
            p.take(error, "pin")
    if p.value is None:
        return _person_page(request, _filled(person), person, 422, pin=p)
    with data.writing() as session:
        set_pin(session, actor, now, person_id, hashed)
        flash(session, request, f"{person.name} has a new PIN for the shop's tablets.")
    return RedirectResponse(f"/people/{person_id}", 303)


@router.post("/{person_id}/password-link")
def link(
    request: Request, data: Data, now: Now, actor: Signed, config: Config, secrets: Secrets, person_id: Id
) -> Response:
    """A one-time address for the person; shown this once."""
    token = secrets()
    try:
        with data.writing() as session:
            password_link(session, actor, now, person_id, token)
    except Invalid as error:
        person = _load(data, person_id)
        shown = _filled(person)
        shown.take(error)
        return _person_page(request, shown, person, 422)
    base = config.base_url or str(request.base_url).rstrip("/")
    person = _load(data, person_id)
    return _person_page(request, _filled(person), person, address=f"{base}/set-password/{token}")
