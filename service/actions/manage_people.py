"""People: added, changed, switched off and on, given a PIN, a password, an address to set one. By a keeper.

Every change is written down. The last keeper who can sign in stays one. A new role, a new password and
being switched off end every sign-in of that person at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from service.actions.calendar_feeds import LEFT, end_feeds_of
from service.actions.manage_channels import forget_trials_of
from service.actions.note_change import note_change
from service.actions.sign_in import end_sessions_of, end_taps_of
from service.actions.sign_in_links import end_links_of, keepers, make_link
from service.core.access import Actor, Permission, Role, require
from service.core.findings import Invalid, NotAllowed, NotFound, Stale
from service.core.mail_addresses import read_address
from service.core.sign_in_rules import sign_in_name
from service.records.people import LinkPurpose, Person, SignInLink

LONGEST_READER_DAYS = 366
THEMES = ("auto", "light", "dark")


@dataclass(frozen=True)
class Description:
    """What a keeper writes about a person; ``expires_on`` is the last day, and a reader must have one."""

    name: str
    role: Role
    sign_in_name: str | None = None
    expires_on: date | None = None
    email: str | None = None


def people(session: Session) -> list[Person]:
    """Everybody but scripts: the active first, by name."""
    wanted = select(Person).where(col(Person.is_script).is_(False))
    return list(session.exec(wanted.order_by(col(Person.active).desc(), col(Person.name), col(Person.id))))


def person_of(session: Session, person_id: int) -> Person:
    """One person.

    Raises:
        NotFound: no such person, or the name of a script.
    """
    person = session.get(Person, person_id)
    if person is None or person.is_script:
        raise NotFound("There is nobody here under that number.")
    return person


def add_person(
    session: Session, actor: Actor | None, now: datetime, today: date, said: Description
) -> Person:
    """A new person, without password and PIN yet. ``actor`` None is the command or the first set-up.

    Raises:
        NotAllowed, Invalid (with the field's sentence).
    """
    if actor is not None:
        require(actor, Permission.PEOPLE)
    said = _judged(said, today)
    person = Person(
        name=said.name, role=said.role, sign_in_name=said.sign_in_name, expires_on=said.expires_on,
        email=said.email, created_at=now,
    )
    _flush(session, person)
    about = ("person", person.id)
    note_change(session, actor, now, about, "name", None, person.name)
    note_change(session, actor, now, about, "role", None, person.role)
    note_change(session, actor, now, about, "sign-in name", None, person.sign_in_name)
    note_change(session, actor, now, about, "until", None, person.expires_on)
    return person


def change_person(
    session: Session,
    actor: Actor,
    now: datetime,
    today: date,
    person_id: int,
    version: int,
    said: Description,
) -> Person:
    """Write a person down anew.

    Raises:
        NotAllowed, NotFound, Invalid, Stale (somebody changed them since the page was opened).
    """
    person = _for_change(session, actor, person_id, version)
    said = _judged(said, today)
    if said.role is not Role.KEEPER or said.expires_on is not None:
        _not_the_last_keeper(session, person)
    about = ("person", person.id)
    if person.role is not said.role:
        end_sessions_of(session, person_id, now)
    for field, before, after in (
        ("name", person.name, said.name), ("role", person.role, said.role),
        ("sign-in name", person.sign_in_name, said.sign_in_name),
        ("until", person.expires_on, said.expires_on), ("e-mail", person.email, said.email),
    ):
        note_change(session, actor, now, about, field, before, after)
    if person.email != said.email:
        forget_trials_of(session, person_id)
    person.name, person.role, person.sign_in_name = said.name, said.role, said.sign_in_name
    person.expires_on, person.email, person.version = said.expires_on, said.email, person.version + 1
    _flush(session, person)
    return person


def switch_person(
    session: Session, actor: Actor, now: datetime, person_id: int, version: int, *, active: bool
) -> Person:
    """Switch a person off (they are signed out everywhere at once) or on again. Nobody is ever deleted.

    Raises:
        NotAllowed, NotFound, Stale.
    """
    person = _for_change(session, actor, person_id, version)
    if not active:
        _not_the_last_keeper(session, person)
        end_sessions_of(session, person_id, now)
        end_links_of(session, person_id, now)
        end_feeds_of(session, person_id, now, LEFT)
    note_change(session, actor, now, ("person", person.id), "active", person.active, active)
    person.active, person.version = active, person.version + 1
    session.add(person)
    return person


def set_pin(session: Session, actor: Actor, now: datetime, person_id: int, pin_hash: str | None) -> None:
    """Set the PIN for shared tablets, or take it away (None); one's own, or by a keeper. Whoever was tapped
    with the former one is not any more.

    Raises:
        NotAllowed, NotFound.
    """
    if actor.person_id != person_id:
        require(actor, Permission.PEOPLE)
    person = person_of(session, person_id)
    person.pin_hash = pin_hash
    session.add(person)
    end_taps_of(session, person_id)
    # What the PIN is stands nowhere; each setting of it is a change of its own.
    note_change(session, actor, now, ("person", person.id), "PIN", "", f"{'set' if pin_hash else 'removed'}")


def set_password(session: Session, actor: Actor | None, now: datetime, person_id: int, new_hash: str) -> None:
    """Set a password: one's own, or through a one-time address (actor None). Ends every sign-in.

    Raises:
        NotAllowed: somebody else's; a keeper makes an address for the person instead.
    """
    if actor is not None and actor.person_id != person_id:
        raise NotAllowed("Only the person sets their password. Make them a one-time address.")
    person = person_of(session, person_id)
    person.password_hash = new_hash
    session.add(person)
    end_sessions_of(session, person_id, now)
    end_links_of(session, person_id, now)
    note_change(session, actor, now, ("person", person.id), "password", "", "set")


def password_link(session: Session, actor: Actor, now: datetime, person_id: int, token: str) -> SignInLink:
    """A one-time address, good for a day, with which a person sets their own password.

    Raises:
        NotAllowed, NotFound.
        Invalid: the person has no sign-in name or is switched off.
    """
    require(actor, Permission.PEOPLE)
    person = person_of(session, person_id)
    if not person.active or person.sign_in_name is None:
        raise Invalid(f"{person.name} needs a sign-in name and must be switched on first.")
    note_change(session, actor, now, ("person", person.id), "password address", "", "made")
    return make_link(session, LinkPurpose.PASSWORD, token, now, person_id=person_id)


def choose_theme(session: Session, actor: Actor, theme: str) -> None:
    """Light, dark, or as the machine says ("auto"). Nobody else's business: it is not written down."""
    if theme not in THEMES:
        raise Invalid("Choose light, dark or automatic.")
    person = person_of(session, actor.person_id)
    person.theme = theme
    session.add(person)


def _for_change(session: Session, actor: Actor, person_id: int, version: int) -> Person:
    require(actor, Permission.PEOPLE)
    # All keepers are locked together: two keepers switching each other off would leave none.
    session.exec(select(Person.id).where(col(Person.role) == Role.KEEPER).with_for_update()).all()
    person = session.get(Person, person_id, with_for_update=True, populate_existing=True)
    if person is None or person.is_script:
        raise NotFound("There is nobody here under that number.")
    if person.version != version:
        raise Stale(f"Somebody else changed {person.name} meanwhile. Look at the page again.")
    return person


def _not_the_last_keeper(session: Session, person: Person) -> None:
    if person.role is not Role.KEEPER or not person.active:
        return
    others = [k for k in keepers(session) if k.id != person.id and k.password_hash and k.expires_on is None]
    if not others:
        raise Invalid(
            f"{person.name} is the last keeper who can sign in. Make somebody else a keeper first, "
            "with a password."
        )


def _judged(said: Description, today: date) -> Description:
    errors: dict[str, str] = {}
    name = None
    if said.sign_in_name:
        try:
            name = sign_in_name(said.sign_in_name)
        except Invalid as error:
            errors["sign_in_name"] = error.sentence
    if said.role is Role.READER and said.expires_on is None:
        errors["expires_on"] = "Enter the last day on which this reader may look."
    elif said.expires_on is not None and said.expires_on < today:
        errors["expires_on"] = "Enter a last day that is not over yet."
    elif said.role is Role.READER and ((said.expires_on or today) - today).days > LONGEST_READER_DAYS:
        errors["expires_on"] = "Enter a last day within a year."
    email = None
    if said.email:
        try:
            email = read_address(said.email)
        except Invalid as error:
            errors["email"] = error.sentence
    if errors:
        raise Invalid(next(iter(errors.values())), errors)
    return Description(said.name, said.role, name, said.expires_on, email)


def _flush(session: Session, person: Person) -> None:
    taken = select(Person.id).where(
        col(Person.sign_in_name) == person.sign_in_name, col(Person.id).is_distinct_from(person.id)
    )
    words = "Somebody has that sign-in name already. Choose another."
    with session.no_autoflush:
        if person.sign_in_name and session.exec(taken).first() is not None:
            raise Invalid(words, {"sign_in_name": words})
    session.add(person)
    try:
        session.flush()
    except IntegrityError:
        raise Invalid(words, {"sign_in_name": words}) from None
