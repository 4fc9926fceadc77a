"""Tokens for scripts: made by the command or by a keeper, shown once, switched off at any time."""

from __future__ import annotations

from datetime import date, datetime
from typing import Final, NamedTuple

from sqlalchemy import bindparam
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, select, update

from service.actions.note_change import note_change
from service.actions.sign_in import may_act
from service.core.access import Actor, Permission, Role, require
from service.core.findings import Invalid, NotFound
from service.core.sign_in_rules import token_hash
from service.records.kept_statements import run
from service.records.people import ApiToken, Person


def make_api_token(
    session: Session, actor: Actor | None, now: datetime, token: str, role: Role, label: str
) -> ApiToken:
    """A token with a role; what is done with it is booked to "script: LABEL", a name of its own.

    ``actor`` None is the command on this machine: whoever can write the data folder needs no permission.

    Raises:
        NotAllowed: the actor is not a keeper.
        Invalid: no label, or longer than 100 signs.
    """
    if actor is not None:
        require(actor, Permission.TOKENS)
    label = " ".join(label.split())
    if not label or len(label) > 100 or not label.isprintable():
        raise Invalid("Give the token a label of 1 to 100 signs, such as the script's name.")
    person = _script_person(session, role, f"script: {label}", now)
    assert person.id is not None
    row = ApiToken(token_hash=token_hash(token), label=label, role=role, person_id=person.id, created_at=now)
    session.add(row)
    session.flush()
    note_change(session, actor, now, ("token", row.id), "role", None, role, label)
    return row


def _script_person(session: Session, role: Role, name: str, now: datetime) -> Person:
    same = col(Person.name) == name, col(Person.is_script), col(Person.role) == role
    person = session.exec(select(Person).where(*same)).first()
    if person is None:
        person = Person(name=name, role=role, is_script=True, created_at=now)
        session.add(person)
        session.flush()
    return person


class TokenFound(NamedTuple):
    """A token that opens something: its own role, and the name it acts under."""

    token_id: int
    role: Role
    last_used_at: datetime | None
    person_id: int
    name: str
    active: bool
    expires_on: date | None


_BY_HASH: Final = (
    columns_of(
        col(ApiToken.id),
        col(ApiToken.role),
        col(ApiToken.last_used_at),
        col(Person.id),
        col(Person.name),
        col(Person.active),
        col(Person.expires_on),
    )
    .join(Person, col(Person.id) == col(ApiToken.person_id))
    .where(col(ApiToken.token_hash) == bindparam("hash"), col(ApiToken.ended_at).is_(None))
)


def find_api_token(session: Session, token: str, today: date) -> TokenFound | None:
    """The token with the name it acts under, or None: unknown, revoked, or that name is switched off."""
    row = run(session, _BY_HASH, hash=token_hash(token)).one_or_none()
    found = TokenFound._make(row) if row is not None else None
    return found if may_act(found, today) else None


def note_token_use(session: Session, token_id: int, now: datetime) -> None:
    """Write down when a token was last used."""
    session.exec(update(ApiToken).where(col(ApiToken.id) == token_id).values(last_used_at=now))


def api_tokens(session: Session) -> list[ApiToken]:
    """Every token, the ones in use first, newest first."""
    return list(
        session.exec(select(ApiToken).order_by(col(ApiToken.ended_at).is_not(None), col(ApiToken.id).desc()))
    )


def revoke_token(session: Session, actor: Actor | None, now: datetime, token_id: int) -> ApiToken:
    """Switch a token off for good; doing it twice changes nothing.

    Raises:
        NotAllowed, NotFound.
    """
    if actor is not None:
        require(actor, Permission.TOKENS)
    row = session.get(ApiToken, token_id, with_for_update=True)
    if row is None:
        raise NotFound("There is no such token.")
    if row.ended_at is None:
        row.ended_at = now
        session.add(row)
        note_change(session, actor, now, ("token", row.id), "revoked", "no", "yes", row.label)
    return row
