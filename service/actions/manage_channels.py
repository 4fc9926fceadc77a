"""Channels: added, tested, switched off by a keeper; and whether warnings can reach anybody."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select, update

from service.actions.note_change import note_change
from service.actions.outbox import TRIAL, Message, address_of
from service.actions.queue_morning import told_to_nobody
from service.actions.queue_warnings import queue_all, usable_channels
from service.actions.settle import the_shop
from service.config import Settings
from service.core.access import Actor, Permission, require
from service.core.channel_addresses import read_service, shown_address
from service.core.digest import kinds_in_words
from service.core.findings import Finding, Invalid, NotFound, Stale, stop, unknown, warn
from service.core.mail_addresses import read_address
from service.core.warning_words import trial_letter
from service.records.outbox import Channel, ChannelKind, MessageState, OutboxRow, WarningRound
from service.records.people import Person
from service.records.rag_queries import active_keepers

SILENT_AFTER: Final = timedelta(minutes=20)
"""With nobody having looked for so long, the sender counts as standing still."""
MOST_CHANNELS: Final = 100


@dataclass(frozen=True)
class ChannelAsked:
    """A channel to add; without a person it is the shop's own and hears every warning."""

    kind: ChannelKind
    person_id: int | None
    address: str
    label: str = ""


def add_channel(session: Session, actor: Actor, now: datetime, asked: ChannelAsked) -> Channel:
    """Add a channel. A person's mail address is written into the book of people, where it belongs.

    Raises:
        NotAllowed, NotFound (no such person), Invalid (an address that cannot be used; there already).
    """
    require(actor, Permission.PROFILES)
    person = session.get(Person, asked.person_id, with_for_update=True) if asked.person_id else None
    if asked.person_id and (person is None or person.is_script or not person.active):
        raise NotFound("There is nobody here under that number.")
    rows = session.exec(select(Channel).where(col(Channel.active).is_(True))).all()
    if len(rows) >= MOST_CHANNELS:
        raise Invalid(f"There are {MOST_CHANNELS} channels. Switch one off first.")
    if asked.kind is ChannelKind.MAIL:
        address = _mail(asked, person)
        label = asked.label or "Mail"
    else:
        address = read_service(asked.address)
        label = asked.label or shown_address(address).partition(",")[0]
    same = [row for row in rows if row.kind is asked.kind and row.person_id == asked.person_id]
    if any((asked.kind is ChannelKind.MAIL and person) or row.address == address for row in same):
        words = "That channel is there already. To change where it leads, switch it off and add it anew."
        raise Invalid(words, {"address": words})
    if asked.kind is ChannelKind.MAIL and person is not None and person.email != address:
        note_change(session, actor, now, ("person", person.id), "e-mail", person.email, address)
        person.email, person.version = address, person.version + 1
        session.add(person)
    own = "" if asked.kind is ChannelKind.MAIL and person is not None else address
    row = Channel(
        kind=asked.kind, person_id=asked.person_id, label=label, address=own,
        created_by=actor.person_id, created_at=now,
    )  # fmt: skip
    session.add(row)
    session.flush()
    note_change(session, actor, now, ("channel", row.id), "channel", None, said_of(row, person))
    return row


def _mail(asked: ChannelAsked, person: Person | None) -> str:
    try:
        return read_address(asked.address or (person.email if person and person.email else ""))
    except Invalid as error:
        raise Invalid(error.sentence, {"address": error.sentence}) from error


def said_of(channel: Channel, person: Person | None) -> str:
    """A channel in words, without its secret."""
    where = (
        address_of(channel, person) or "no address"
        if channel.kind is ChannelKind.MAIL
        else shown_address(channel.address)
    )
    return f"{person.name if person else 'The shop'}, {channel.label}: {where}"


def switch_off(session: Session, actor: Actor, now: datetime, channel_id: int, version: int) -> Channel:
    """Switch a channel off for good; its secret is forgotten. What waits for it is dropped by the sender.

    Raises:
        NotAllowed, NotFound, Stale.
    """
    require(actor, Permission.PROFILES)
    row = _the_channel(session, channel_id)
    if row.version != version:
        raise Stale("Somebody else changed this channel meanwhile. Look at the page again.")
    row.active, row.address, row.version = False, "", row.version + 1
    session.add(row)
    note_change(session, actor, now, ("channel", row.id), "channel", row.label, "switched off")
    return row


def _the_channel(session: Session, channel_id: int) -> Channel:
    row = session.get(Channel, channel_id, with_for_update=True, populate_existing=True)
    if row is None or not row.active:
        raise NotFound("There is no such channel in use.")
    return row


def ask_for_trial(
    session: Session, actor: Actor, now: datetime, channel_id: int, settings: Settings
) -> Channel:
    """Put a test message into the outbox; the sender tries it once and its outcome stands on the channel.

    Raises:
        NotAllowed, NotFound.
        Invalid: no mail server is set, or the channel leads nowhere.
    """
    require(actor, Permission.PROFILES)
    row = _the_channel(session, channel_id)
    if row.id not in {one.id for one in usable_channels(session, settings)}:
        no_server = row.kind is ChannelKind.MAIL and settings.mail is None
        raise Invalid(
            "No mail server is set. UMBERKEEP_SMTP_HOST names it." if no_server else "It has no address yet."
        )
    shop = the_shop(session)
    letter = trial_letter(shop.name, now, ZoneInfo(shop.time_zone), actor.name)
    message = Message(TRIAL, f"{now:%Y%m%dT%H%M%S%f}", "test", row, letter, now)
    queue_all(session, [message], now, settings)
    row.test_key, row.tested_at, row.test_ok = message.key, now, None
    session.add(row)
    return row


def forget_trials_of(session: Session, person_id: int) -> None:
    """A person's mail address changed: what was tested and sent before says nothing of the new one."""
    of = (col(Channel.person_id) == person_id) & (col(Channel.kind) == ChannelKind.MAIL)
    values = {"test_key": "", "tested_at": None, "test_ok": None, "last_sent_at": None,
              "last_failed_at": None, "last_error": ""}  # fmt: skip
    session.exec(update(Channel).where(of).values(**values))


def channels(session: Session) -> list[tuple[Channel, Person | None]]:
    """Every channel in use with whose it is: the shop's first, then by name."""
    rows = session.exec(select(Channel).where(col(Channel.active).is_(True)).order_by(col(Channel.id))).all()
    found = [(row, session.get(Person, row.person_id) if row.person_id else None) for row in rows]
    return sorted(found, key=lambda pair: pair[1].name.casefold() if pair[1] else "")


def waiting(session: Session) -> int:
    """How many messages wait to be sent."""
    rows = session.exec(select(OutboxRow.id).where(col(OutboxRow.state) == MessageState.WAITING)).all()
    return len(rows)


def last_round(session: Session) -> WarningRound | None:
    """When somebody last looked for warnings to send."""
    return session.get(WarningRound, 1)


def reach_findings(session: Session, now: datetime, settings: Settings) -> list[Finding]:
    """What keeps warnings from reaching people, the worst first. Empty says only that nothing is known.

    Addresses and error texts of a server stand in none of them: everybody who sees the day's page reads them.
    """
    usable = {channel.id for channel in usable_channels(session, settings)}
    if not usable:
        return [stop("no-channel", "No warning can reach anybody: no channel is set up that works.")]
    found: list[Finding] = []
    rows = channels(session)
    looked = last_round(session)
    if looked is None or now - looked.looked_at > SILENT_AFTER:
        found.append(stop("nobody-sends", "Warnings are not being sent: nobody has looked for them lately."))
    unheard = told_to_nobody(session, now, settings)
    if unheard:
        words = f"Nobody is told by mail of: {kinds_in_words(unheard)}. Every keeper left it out of theirs."
        found.append(warn("kinds-left-out", words, about="Morning mail"))
    for channel, person in rows:
        name = f"{person.name if person else 'The shop'}, {channel.label}"
        if channel.id not in usable:
            found.append(warn("channel-leads-nowhere", f"{name}: this channel leads nowhere.", about=name))
        elif channel.test_ok is False:
            found.append(warn("test-failed", f"{name}: the last test message failed.", about=name))
        elif channel.last_failed_at and channel.last_failed_at > (channel.last_sent_at or channel.created_at):
            found.append(warn("channel-fails", f"{name}: the last message could not be sent.", about=name))
        elif not channel.test_key and channel.last_sent_at is None:
            found.append(unknown("channel-untested", f"{name}: nothing was ever sent there.", about=name))
    reached = {channel.person_id for channel, _ in rows if channel.id in usable}
    for keeper in active_keepers(session):
        row = session.get(Person, keeper)
        if row is not None and keeper not in reached:
            words = f"{row.name}, a keeper, gets no warnings: no channel."
            found.append(warn("keeper-out-of-reach", words, about=row.name))
    return found
