"""Shared tablets: signed in as a device, each act named by tapping a name and giving a PIN.

A person stays tapped for two minutes after the PIN, whatever they do meanwhile; then the tablet asks again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session, col, or_, select, update

from service.actions.note_change import note_change
from service.actions.passwords import Hasher
from service.actions.sign_in import may_act
from service.actions.throttle import count_try, forget_tries
from service.core.access import Actor, Permission, Role, require
from service.core.findings import Invalid, NotFound, Stale
from service.core.sign_in_rules import TAP_LASTS
from service.records.engine import Database
from service.records.jobs import Job, JobPerson
from service.records.people import Device, Person, WebSession

NO_MATCH = "That PIN does not belong to this name. Try again, or ask a keeper to set a new one."


@dataclass(frozen=True)
class Tap:
    """A name tapped on a tablet, with the PIN that was typed."""

    session_id: int
    device_id: int
    person_id: int
    pin: str


def people_to_tap(session: Session, today: date) -> list[Person]:
    """The names on a tablet: everybody of a running job, its leader, and the shop's own staff.

    Staff stand there without a job too: somebody has to start one, and rags are put away after it ended.
    """
    running = select(Job.id).where(col(Job.closed_at).is_(None))
    in_jobs = select(JobPerson.person_id).where(col(JobPerson.job_id).in_(running))
    leaders = select(Job.leader_id).where(col(Job.closed_at).is_(None))
    staff = col(Person.role).in_([Role.FINISHER, Role.KEEPER])
    wanted = (
        select(Person)
        .where(
            col(Person.active), col(Person.is_script).is_(False), col(Person.pin_hash).is_not(None),
            col(Person.role) != Role.READER,
            or_(col(Person.id).in_(in_jobs), col(Person.id).in_(leaders), staff),
        )
        .order_by(col(Person.name))
    )
    return [person for person in session.exec(wanted) if may_act(person, today)]


def tap(data: Database, hasher: Hasher, taps: Tap, now: datetime, today: date) -> None:
    """Name the person who acts on this tablet for the next two minutes.

    Raises:
        Invalid: the PIN does not fit, or the person is in no running job.
        Throttled: too many wrong PINs for this person on this tablet.
    """
    keys = [("pin", f"{taps.person_id}:{taps.device_id}")]
    with data.writing() as session:
        count_try(session, keys, now)
    with data.reading() as session:
        found = {person.id: person for person in people_to_tap(session, today)}.get(taps.person_id)
        stored = found.pin_hash if found else None
    if not hasher.check(taps.pin, stored).ok:
        raise Invalid(NO_MATCH, {"pin": NO_MATCH})
    with data.writing() as session:
        fresh = {person.id: person for person in people_to_tap(session, today)}.get(taps.person_id)
        if fresh is None or fresh.pin_hash != stored:
            raise Invalid(NO_MATCH, {"pin": NO_MATCH})
        forget_tries(session, keys)
        alive = col(WebSession.id) == taps.session_id, col(WebSession.ended_at).is_(None)
        session.exec(
            update(WebSession)
            .where(*alive)
            .values(tapped_person_id=taps.person_id, tapped_until=now + TAP_LASTS, last_seen_at=now)
        )


def untap(session: Session, session_id: int) -> None:
    """The person steps away; the tablet asks for the next name."""
    session.exec(
        update(WebSession)
        .where(col(WebSession.id) == session_id)
        .values(tapped_person_id=None, tapped_until=None)
    )


def make_device(
    session: Session, actor: Actor, now: datetime, name: str, place_id: int | None = None
) -> Device:
    """A new tablet, by a keeper; `sign_in_links.make_link` then gives it its one-time address.

    Raises:
        NotAllowed: not a keeper.
    """
    require(actor, Permission.TOKENS)
    device = Device(name=name, place_id=place_id, created_by=actor.person_id, created_at=now)
    session.add(device)
    session.flush()
    note_change(session, actor, now, ("device", device.id), "name", None, name)
    return device


def switch_device(
    session: Session, actor: Actor, now: datetime, device_id: int, version: int, *, active: bool
) -> Device:
    """Switch a tablet off (it is signed out at once) or allow it again (it needs a new address).

    Raises:
        NotAllowed, NotFound, Stale.
    """
    require(actor, Permission.TOKENS)
    device = session.get(Device, device_id, with_for_update=True)
    if device is None:
        raise NotFound("There is no such tablet.")
    if device.version != version:
        raise Stale("Somebody else changed this tablet meanwhile. Look at it again.")
    note_change(session, actor, now, ("device", device.id), "active", device.active, active)
    device.active, device.version = active, device.version + 1
    session.add(device)
    open_ones = col(WebSession.device_id) == device_id, col(WebSession.ended_at).is_(None)
    session.exec(
        update(WebSession).where(*open_ones).values(ended_at=now, tapped_person_id=None, tapped_until=None)
    )
    return device
