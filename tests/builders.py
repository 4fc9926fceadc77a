"""A small shop and its people, for every test that needs somebody to act.

Invented names: Orla keeps the store, Piet finishes, Sanne learns, Ines inspects until the end of the month.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from sqlmodel import Session

from service.actions.passwords import Hasher
from service.actions.sign_in import Opening
from service.core.access import Actor, Role
from service.core.sign_in_rules import Limits
from service.records.people import Person
from service.records.shop import ShopProfile

NOW = datetime(2026, 3, 12, 9, 30, tzinfo=UTC)
"""The same Thursday morning as in conftest: 10:30 on the wall in Berlin."""
TODAY = date(2026, 3, 12)
ZONE = "Europe/Berlin"

LIMITS = Limits(timedelta(hours=10), timedelta(days=7))

FAST_HASHER = Hasher(memory_kib=8, passes=1)
"""Argon2 all the same, with the smallest parameters."""


@dataclass(frozen=True)
class Cast:
    """Four people by role; ``actor(role)`` is the person an act is booked to."""

    keeper: Person
    finisher: Person
    student: Person
    reader: Person

    def person(self, role: Role) -> Person:
        return {
            Role.KEEPER: self.keeper, Role.FINISHER: self.finisher,
            Role.STUDENT: self.student, Role.READER: self.reader,
        }[role]

    def actor(self, role: Role) -> Actor:
        return actor_of(self.person(role))


def password_of(person: Person) -> str:
    """Everybody's password follows from their sign-in name."""
    return f"the password of {person.sign_in_name}"


PINS = {"orla": "7305", "piet": "4281", "sanne": "9164"}


def actor_of(person: Person) -> Actor:
    assert person.id is not None
    return Actor(person.id, person.name, person.role)


def shop(session: Session, zone: str = ZONE) -> ShopProfile:
    """The shop profile, if there is none yet."""
    profile = session.get(ShopProfile, 1)
    if profile is None:
        profile = ShopProfile(id=1, name="Harbour Lane Finishing", time_zone=zone, created_at=NOW)
        session.add(profile)
        session.flush()
    return profile


def person(session: Session, name: str, role: Role, *, expires_on: date | None = None) -> Person:
    """One person who can sign in; staff and students have a PIN."""
    key = name.split()[0].lower()
    row = Person(
        name=name, sign_in_name=key, role=role, created_at=NOW, expires_on=expires_on,
        pin_hash=FAST_HASHER.make(PINS[key]) if key in PINS else None,
    )
    row.password_hash = FAST_HASHER.make(password_of(row))
    session.add(row)
    session.flush()
    return row


def cast(session: Session) -> Cast:
    """The shop with its four people, added to the session and flushed."""
    shop(session)
    return Cast(
        keeper=person(session, "Orla Brandt", Role.KEEPER),
        finisher=person(session, "Piet Maas", Role.FINISHER),
        student=person(session, "Sanne Vos", Role.STUDENT),
        reader=person(session, "Ines Roth", Role.READER, expires_on=date(2026, 3, 31)),
    )


def opening(token: str = "t", now: datetime = NOW, today: date = TODAY) -> Opening:
    """What a new session needs from outside."""
    return Opening(token, now, today, LIMITS)
