"""What every posting call under /api has in common: its key, when it happened, and whom it is booked to."""

from datetime import date, datetime

from pydantic import BaseModel, Field
from sqlmodel import Session

from service.core.access import Actor, Role
from service.core.findings import Invalid
from service.records.people import Person
from service.web.api_model import ApiModel
from service.web.fields import Id, Once

_RANK = {Role.READER: 0, Role.STUDENT: 1, Role.FINISHER: 2, Role.KEEPER: 3}

PROBLEMS: dict[int | str, dict[str, str]] = {
    401: {"description": "No token, or one that is not known"},
    403: {"description": "The role may not do this"},
    404: {"description": "No such thing"},
    409: {"description": "Refused by a rule (with `findings`), stale, or `once` used for another body"},
    413: {"description": "The body is too large"},
    422: {"description": "A field cannot be used (`errors`), or can be read in several ways (`readings`)"},
    503: {"description": "The book is busy; nothing was saved"},
}
"""The problem documents a posting may be answered with."""


class PostModel(ApiModel):
    """Base of every posting."""

    once: Once = Field(description="A key of your own, 8 to 64 signs; sending the same again is harmless")
    happened_at: datetime | None = Field(None, description="When it was done, with its zone; missing = now")
    late_reason: str = Field("", max_length=2000, description="Needed when it is more than 15 minutes ago")
    person: Id | None = Field(
        None, description="Number of the person it is booked to; missing = the token's own name"
    )


class FindingOut(BaseModel):
    """One finding of an answer."""

    severity: str
    code: str
    sentence: str
    source: str
    about: str


def acting_for(session: Session, actor: Actor, person_id: int | None, today: date) -> Actor:
    """The actor an act is booked to: the named person, never with more rights than the token or they have.

    Raises:
        Invalid: nobody active has this number.
    """
    if person_id is None or person_id == actor.person_id:
        return actor
    person = session.get(Person, person_id)
    over = person is not None and person.expires_on is not None and person.expires_on < today
    if person is None or not person.active or person.is_script or over:
        words = "Nobody in the books has this number, or they are switched off."
        raise Invalid(words, {"person": words})
    role = min(actor.role, person.role, key=lambda one: _RANK[one])
    return Actor(person_id, person.name, role, token_id=actor.token_id)
