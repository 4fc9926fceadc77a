"""What every posting call under /api has in common: its key, when it happened, and whom it is booked to.

Whoever calls may know a person by number or by name, and a place by number or by the code on it.
"""

from datetime import datetime, timedelta
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, Field, WithJsonSchema
from sqlmodel import Session, col, func, or_, select

from service.actions.sign_in import may_act
from service.core.access import Actor, Role
from service.core.findings import Invalid
from service.core.shelf_codes import normalise
from service.core.written_days import tidy
from service.core.written_signs import ways_written
from service.records.people import Person
from service.records.places import Place
from service.web.api_model import ApiModel
from service.web.deps import shop_today
from service.web.fields import MAX_ID, Once
from service.web.text_guard import check_text, sentence

_RANK = {Role.READER: 0, Role.STUDENT: 1, Role.FINISHER: 2, Role.KEEPER: 3}

PROBLEMS: dict[int | str, dict[str, Any]] = {
    400: {"description": "The request cannot be taken apart: broken encoding, too deep, a wrong Host"},
    401: {"description": "No token, or one that is not known"},
    403: {"description": "The role may not do this"},
    404: {"description": "No such thing"},
    409: {
        "description": "Refused by a rule (with `findings`), stale, or `once` used for another body: `type` "
        "ends in refused, stale, once-reused"
    },
    413: {"description": "The body is too large"},
    415: {"description": "The body is not JSON by its Content-Type"},
    422: {"description": "A field cannot be used (`errors`), or can be read in several ways (`readings`)"},
    429: {"description": "Too many tries; `Retry-After` says when to come again"},
    503: {"description": "The book is busy, nothing was saved; `Retry-After` says when to send it again"},
}
"""The problem documents a posting may be answered with."""


def _reference(value: Any) -> Any:
    if value is None or (isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= MAX_ID):
        return value
    if not isinstance(value, str):
        raise sentence("Send its number or its name here.")
    text = tidy(check_text(value, lines=False))
    if not 1 <= len(text) <= 120:
        raise sentence("Send its number, or 1 to 120 signs.")
    return int(text) if text.isascii() and text.isdigit() and 0 < int(text) <= MAX_ID else text


def told_now(happened_at: datetime | None, now: datetime) -> None:
    """For what takes effect when it is told: a time that was sent may only be about now.

    Raises:
        Invalid: more than 15 minutes from now.
    """
    if happened_at is not None and abs(happened_at - now) > timedelta(minutes=15):
        words = "This counts from when it is told: leave happened_at out."
        raise Invalid(words, {"happened_at": words})


_NUMBER_OR_TEXT = WithJsonSchema(
    {
        "anyOf": [
            {"type": "integer", "minimum": 1, "maximum": MAX_ID},
            {"type": "string", "minLength": 1, "maxLength": 120},
        ]
    }
)
PersonRef = Annotated[int | str, BeforeValidator(_reference), _NUMBER_OR_TEXT]
"""A person by number, or by the name as it stands in the books."""
PlaceRef = Annotated[int | str, BeforeValidator(_reference), _NUMBER_OR_TEXT]
"""A place by number, by its code, or by its name where only one place in use has it."""


class PostModel(ApiModel):
    """Base of every posting."""

    once: Once = Field(
        description="A key of your own, 1 to 64 signs; sending the same again is harmless",
        examples=["delivery-2026-03-12-a"],
    )
    happened_at: datetime | None = Field(None, description="When it was done, with its zone; missing = now")
    late_reason: str = Field(
        "",
        max_length=2000,
        description="A sentence; needed when it is more than 15 minutes ago, and for what was done "
        "(`already_done`) although a rule stops it",
    )
    person: PersonRef | None = Field(
        None, description="Number or name of the person it is booked to; missing = the token's own name"
    )


class FindingOut(BaseModel):
    """One finding of an answer."""

    severity: str
    code: str
    sentence: str
    source: str
    about: str


def acting_for(session: Session, actor: Actor, whom: int | str | None, now: datetime) -> Actor:
    """The actor an act is booked to: the named person, never with more rights than the token or they have.

    Raises:
        Invalid: nobody active has this number or name, or several have the name.
    """
    person_id = person_number(session, whom, "person")
    if person_id is None or person_id == actor.person_id:
        return actor
    person = session.get(Person, person_id)
    if person is None or person.is_script or not may_act(person, shop_today(session, now)):
        words = "Nobody in the books has this number, or they are switched off."
        raise Invalid(words, {"person": words})
    role = min(actor.role, person.role, key=lambda one: _RANK[one])
    return Actor(person_id, person.name, role, token_id=actor.token_id)


def person_number(session: Session, whom: int | str | None, field: str) -> int | None:
    """A person's number from their number or name; a number is handed on as it is.

    Raises:
        Invalid: nobody active has the name, or several have.
    """
    if whom is None or isinstance(whom, int):
        return whom
    same = or_(col(Person.name) == whom, func.lower(col(Person.name)).in_(ways_written(whom)))
    found = session.exec(select(Person.id).where(same, col(Person.active), ~col(Person.is_script))).all()
    if len(found) != 1:
        words = "Nobody in the books has this name, or they are switched off."
        if found:
            words = "Several people have this name. Send the number of the one who is meant."
        raise Invalid(words, {field: words})
    return found[0]


def place_number(session: Session, place: int | str | None, field: str) -> int | None:
    """A place's number from its number, code or name; a number is handed on as it is.

    Raises:
        Invalid: no place has this code or name, or several in use have the name.
    """
    if place is None or isinstance(place, int):
        return place
    code = normalise(place)
    found = session.exec(select(Place.id).where(col(Place.code) == code)).one_or_none() if code else None
    if found is not None:
        return found
    same = or_(col(Place.name) == place, func.lower(col(Place.name)).in_(ways_written(place)))
    named = session.exec(select(Place.id).where(same, col(Place.active))).all()
    if len(named) != 1:
        words = "No place has this code or name."
        if named:
            words = "Several places have this name. Send the number or the code of the one that is meant."
        raise Invalid(words, {field: words})
    return named[0]
