"""The way in for an inspector: a reader with a last day, and an address that signs them in once.

They read and change nothing. After the last day no page, no address and no token of theirs opens anything.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.manage_people import Description, add_person, person_of, switch_person
from service.actions.note_change import note_change
from service.actions.sign_in import may_act
from service.actions.sign_in_links import SPENT, look_at_link, make_link, spend_link
from service.core.access import Actor, Permission, Role, require
from service.core.findings import Invalid, NotFound
from service.core.months import say_date
from service.core.rag_deadlines import day_end
from service.core.written_signs import compared
from service.records.people import LinkPurpose, Person, SignInLink

USUAL_DAYS: Final = 7
"""The last day that is offered: a week from today."""
MOST_DAYS: Final = 31
_PURPOSE: Final = (LinkPurpose.SIGN_IN,)


def invite_reader(
    session: Session, actor: Actor, now: datetime, zone: ZoneInfo, name: str, last: date, token: str
) -> Person:
    """A new reader until ``last``, and an address for them that holds ``token`` and works once until then.

    Raises:
        NotAllowed: only a keeper. Invalid: no name, somebody of that name who may look already, or a last
            day that is over or more than 31 days away.
    """
    require(actor, Permission.PEOPLE)
    today = now.astimezone(zone).date()
    if last > today + timedelta(days=MOST_DAYS):
        words = f"Enter a last day within {MOST_DAYS} days. It can be made again when it is over."
        raise Invalid(words, {"last": words})
    here = next((one for one in readers(session, today) if same_name(one.name, name)), None)
    try:
        person = add_person(session, actor, now, today, Description(name, Role.READER, expires_on=last))
    except Invalid as wrong:
        if "expires_on" in wrong.errors:
            wrong.errors["last"] = wrong.errors.pop("expires_on")
        raise
    if here is not None and here.expires_on is not None:
        words = (
            f"{here.name} may look until {say_date(here.expires_on)} already. Make them another address "
            "below, or end that first."
        )
        raise Invalid(words, {"name": words})
    _address(session, actor, now, zone, person, token)
    return person


def address_again(
    session: Session, actor: Actor, now: datetime, zone: ZoneInfo, person_id: int, token: str
) -> Person:
    """Another address for a reader who is here still; one that was not used yet ends.

    Raises:
        NotAllowed: only a keeper. NotFound: nobody has this number.
        Invalid: they are no reader, switched off, their last day is over, or further away than 31 days.
    """
    require(actor, Permission.PEOPLE)
    person, today = person_of(session, person_id), now.astimezone(zone).date()
    if person not in readers(session, today):
        raise Invalid(f"{person.name} is no reader whose last day is within {MOST_DAYS} days.")
    _address(session, actor, now, zone, person, token)
    return person


def end_access(session: Session, actor: Actor, now: datetime, zone: ZoneInfo, person_id: int) -> Person:
    """Let a reader look no more, from now on: they are signed out everywhere, and no address is left.

    Raises:
        NotAllowed: only a keeper. NotFound: nobody has this number.
        Invalid: they are no reader, or may not look any more.
    """
    require(actor, Permission.PEOPLE)
    person = person_of(session, person_id)
    if person not in readers(session, now.astimezone(zone).date()):
        raise Invalid(f"{person.name} is no reader whose last day is within {MOST_DAYS} days.")
    return switch_person(session, actor, now, person_id, person.version, active=False)


def same_name(one: str, other: str) -> bool:
    """Whether two names read alike.

    >>> same_name("Nora  Vell", "nora vell")
    True
    """
    return compared(" ".join(one.split())) == compared(" ".join(other.split()))


def _address(
    session: Session, actor: Actor, now: datetime, zone: ZoneInfo, person: Person, token: str
) -> None:
    last = person.expires_on
    assert last is not None
    over = day_end(datetime(last.year, last.month, last.day, 12, tzinfo=zone), zone)
    make_link(session, LinkPurpose.SIGN_IN, token, now, person_id=person.id, until=over)
    note_change(session, actor, now, ("person", person.id), "sign-in address", "", "made")


def readers(session: Session, today: date) -> list[Person]:
    """The readers who may be given an address: switched on, their last day to come and within 31 days."""
    wanted = select(Person).where(
        col(Person.role) == Role.READER, col(Person.active), col(Person.is_script).is_(False),
        col(Person.expires_on) >= today, col(Person.expires_on) <= today + timedelta(days=MOST_DAYS),
    )  # fmt: skip
    return list(session.exec(wanted.order_by(col(Person.expires_on), col(Person.id))))


def reader_of(session: Session, token: str, now: datetime, today: date) -> Person:
    """The reader an address is for; it stays usable.

    Raises:
        NotFound: unknown, used, too old, for somebody else, or their last day is over; all told alike.
    """
    return _reader(session, look_at_link(session, token, _PURPOSE, now), today)


def use_address(session: Session, token: str, now: datetime, today: date) -> Person:
    """The same, and the address is used up.

    Raises:
        NotFound: as `reader_of`; the address of anybody else is not used up by this.
    """
    reader_of(session, token, now, today)
    return _reader(session, spend_link(session, token, _PURPOSE, now), today)


def _reader(session: Session, link: SignInLink, today: date) -> Person:
    person = session.get(Person, link.person_id) if link.person_id else None
    if person is None or person.role is not Role.READER or not may_act(person, today):
        raise NotFound(SPENT)
    return person
