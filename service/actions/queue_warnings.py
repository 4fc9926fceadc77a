"""What the rag loads demand to be said now, written into the outbox: once each, to everybody it concerns."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.outbox import Message, address_of, queue
from service.config import Settings
from service.core.access import Role
from service.core.reminders import BEFORE_MIN, CallList, DueWarning, due_warnings
from service.core.warning_words import rag_warning
from service.records.book_time import book_now
from service.records.job_queries import is_in_job
from service.records.outbox import Channel, ChannelKind, OutboxRow
from service.records.people import Person
from service.records.rag_queries import JudgedLoad, active_keepers, standing_loads
from service.records.shop import ShopProfile


def mail_domain(settings: Settings) -> str:
    """The domain of message numbers: that of the shop's own address."""
    return settings.mail.sender.rpartition("@")[2] if settings.mail else "umberkeep.invalid"


def usable_channels(session: Session, settings: Settings) -> list[Channel]:
    """The channels by which something can leave: switched on, of somebody who is here, with an address."""
    rows = session.exec(
        select(Channel, Person)
        .outerjoin(Person, col(Person.id) == col(Channel.person_id))
        .where(col(Channel.active).is_(True))
        .order_by(col(Channel.id))
    ).all()
    usable = []
    for channel, owner in rows:
        person: Person | None = owner  # the shop's own channels have none
        here = person is None or person.active
        leads = channel.kind is not ChannelKind.MAIL or settings.mail is not None
        if here and leads and address_of(channel, person):
            usable.append(channel)
    return usable


def due_messages(session: Session, now: datetime, settings: Settings) -> list[Message]:
    """Every warning about a rag load that is due and was not written down yet. It only reads."""
    at = book_now(session, now)
    near = [seen for seen in standing_loads(session, at) if _near(seen, at)]
    channels = usable_channels(session, settings) if near else []
    if not channels:
        return []
    shop = session.get(ShopProfile, 1)
    zone, name = ZoneInfo(shop.time_zone if shop else "UTC"), shop.name if shop else "The shop"
    reachable = {channel.person_id for channel in channels if channel.person_id is not None}
    found = []
    for seen in near:
        told = session.exec(
            select(OutboxRow.rule, OutboxRow.stage).where(col(OutboxRow.load_id) == seen.load_id).distinct()
        ).all()
        people = _call_list(session, seen)
        for due in due_warnings(seen.judgement, seen.state, at, told, people, reachable):
            link = f"{settings.base_url}/rags/{seen.load_id}" if settings.base_url else ""
            letter = rag_warning(due, seen.judgement, at, zone, name, link)
            found += [
                Message(
                    due.rule.value, f"load-{seen.load_id}", due.stage, channel, letter, due.due_at,
                    load_id=seen.load_id,
                )
                for channel in _for(due, channels)
            ]  # fmt: skip
    return found


def queue_all(session: Session, messages: Iterable[Message], now: datetime, settings: Settings) -> int:
    """Write messages into the outbox; how many were not there yet."""
    domain = mail_domain(settings)
    return sum(queue(session, message, now, domain) for message in messages)


def _near(seen: JudgedLoad, at: datetime) -> bool:
    first = seen.row.remove_by - timedelta(minutes=max(BEFORE_MIN))
    return seen.judgement.blocks or (not seen.state.remove_met and at >= first)


def _for(due: DueWarning, channels: Iterable[Channel]) -> list[Channel]:
    """The shop's own channels hear every warning; a person's those that are for that person."""
    return [one for one in channels if one.person_id is None or one.person_id in due.people]


def _call_list(session: Session, seen: JudgedLoad) -> CallList:
    """The one who owes the load, the keepers, the leader of the job, its finishers, then the others by name.

    Whoever was in the job knows where the rags lie.
    """
    finishers = session.exec(
        select(Person.id)
        .where(
            col(Person.role) == Role.FINISHER, col(Person.active).is_(True), col(Person.is_script).is_(False)
        )
        .order_by(col(Person.name), col(Person.id))
    ).all()
    known = [number for number in finishers if number is not None]
    here = [number for number in known if is_in_job(session, seen.job, number)]
    others = [seen.job.leader_id, *here, *known]
    return CallList.of(seen.row.owed_by, sorted(active_keepers(session)), others)
