"""One-time addresses: printed by the command, or made by a keeper for a person or a tablet.

Each works once and for a short time. Opening it shows a page with one button; only the button (a POST) uses
it up, so that a mail program or a messenger that looks at the address first does not spend it.
"""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, or_, select, update

from service.core.access import Role
from service.core.findings import Invalid, NotFound
from service.core.sign_in_rules import LINK_LASTS, PASSWORD_LINK_LASTS, clock_went_back, token_hash
from service.records.people import LinkPurpose, Person, SignInLink

SPENT = "This address has been used or is too old. Ask for a new one."


def make_link(
    session: Session,
    purpose: LinkPurpose,
    token: str,
    now: datetime,
    *,
    person_id: int | None = None,
    device_id: int | None = None,
    until: datetime | None = None,
) -> SignInLink:
    """A new one-time address; earlier unused ones of the same purpose for the same person or tablet end.

    Args:
        until: when it is over; None: as long as its purpose lasts.
    """
    same = (
        col(SignInLink.purpose) == purpose,
        col(SignInLink.person_id).is_not_distinct_from(person_id),
        col(SignInLink.device_id).is_not_distinct_from(device_id),
        col(SignInLink.used_at).is_(None),
    )
    session.exec(update(SignInLink).where(*same).values(used_at=now))
    lasts = PASSWORD_LINK_LASTS if purpose is LinkPurpose.PASSWORD else LINK_LASTS
    link = SignInLink(
        token_hash=token_hash(token),
        purpose=purpose,
        person_id=person_id,
        device_id=device_id,
        created_at=now,
        expires_at=until or now + lasts,
    )
    session.add(link)
    session.flush()
    return link


def end_links_of(session: Session, person_id: int, now: datetime) -> None:
    """End a person's unused one-time addresses: they were switched off, or have a new password."""
    unused = col(SignInLink.person_id) == person_id, col(SignInLink.used_at).is_(None)
    session.exec(update(SignInLink).where(*unused).values(used_at=now))


def look_at_link(
    session: Session, token: str, purposes: tuple[LinkPurpose, ...], now: datetime
) -> SignInLink:
    """The link a token names, unused and in time; it stays usable.

    Raises:
        NotFound: anything else, all told alike.
    """
    wanted = select(SignInLink).where(col(SignInLink.token_hash) == token_hash(token))
    link = session.exec(wanted).one_or_none()
    if link is None or link.purpose not in purposes or link.used_at is not None or now >= link.expires_at:
        raise NotFound(SPENT)
    if clock_went_back(link.created_at, now):
        raise NotFound(SPENT)
    return link


def spend_link(session: Session, token: str, purposes: tuple[LinkPurpose, ...], now: datetime) -> SignInLink:
    """Use a link up. Of two requests at the same instant one gets it.

    Raises:
        NotFound: unknown, used, too old.
    """
    link = look_at_link(session, token, purposes, now)
    free = col(SignInLink.id) == link.id, col(SignInLink.used_at).is_(None)
    if session.exec(update(SignInLink).where(*free).values(used_at=now)).rowcount != 1:
        raise NotFound(SPENT)
    session.refresh(link)
    return link


def keepers(session: Session) -> list[Person]:
    """The keepers who are switched on and are people, not scripts."""
    wanted = select(Person).where(
        col(Person.role) == Role.KEEPER, col(Person.active), col(Person.is_script).is_(False)
    )
    return list(session.exec(wanted.order_by(col(Person.id))))


def printed_link(
    session: Session, token: str, now: datetime, who: str = ""
) -> tuple[SignInLink, Person | None]:
    """The address the command prints: for the named keeper, the only or first one, or the first keeper to be.

    Raises:
        Invalid: nobody active has that name, or is no keeper.
    """
    candidates = keepers(session)
    if who:
        named = select(Person).where(
            or_(col(Person.sign_in_name) == who.casefold(), col(Person.name) == who),
            col(Person.active), col(Person.is_script).is_(False),
        )
        candidates = list(session.exec(named))
        if not candidates:
            raise Invalid(f"Nobody here is called {who!r} and may sign in.")
    if not candidates:
        return make_link(session, LinkPurpose.FIRST_KEEPER, token, now), None
    person = candidates[0]
    return make_link(session, LinkPurpose.SIGN_IN, token, now, person_id=person.id), person
