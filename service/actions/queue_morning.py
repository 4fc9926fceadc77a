"""The morning mail: once a shop day to everybody with a mail channel for whom there is something to tell.

Keepers and the shop's own address get it every day, with the head of the rag log. The head counts as
witnessed when a mail that carries it has left, not when it was written.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.leave_mail import leave_tokens
from service.actions.list_alerts import list_alerts
from service.actions.outbox import MORNING, Message
from service.actions.queue_warnings import queue_all, usable_channels
from service.actions.quiet_hours import quiet_of
from service.actions.witness import ChainHead, chain_head, witness_head
from service.config import Settings
from service.core import digest
from service.core.access import Permission, Role, may
from service.core.alerts import AlertKind
from service.core.digest import Choice, Hearer, Quiet, Share, share_out
from service.core.morning_words import LogHead, Morning, morning_mail
from service.core.warning_words import Letter
from service.records.book_time import book_now
from service.records.notices import DigestChoice
from service.records.outbox import Channel, ChannelKind, MessageState, OutboxRow
from service.records.owners import Here, who_is_here
from service.records.rags import WitnessedHead
from service.records.shop import ShopProfile

_NOTHING: Final = "There was nothing to tell on that day."


@dataclass(frozen=True)
class Reached:
    """Somebody the mail can reach, and by which channel; no person: the shop's own address."""

    channel: Channel
    person: Here | None
    hearer: Hearer


@dataclass(frozen=True)
class _Due:
    """One mail to be written now. ``day`` is the day it belongs to, by which it is written once."""

    to: Reached
    day: date
    at: datetime


def morning_due(session: Session, now: datetime, settings: Settings) -> bool:
    """Whether a mail of this shop day is to be written now. It only reads."""
    shop = session.get(ShopProfile, 1)
    if shop is None:
        return False
    return bool(_due(session, now, settings, reached(session, now, settings, shop), shop))


def queue_morning(
    session: Session, now: datetime, settings: Settings, secrets: Callable[[], str] | None = None
) -> int:
    """Write the mails that are due into the outbox, one per person; returns how many will leave.

    Args:
        secrets: makes the secrets of the addresses by which a kind is left out; without it there are none.
    """
    # The lock on the log's head makes two senders write the day's mail one after the other.
    head = chain_head(session, lock=True)
    shop = session.get(ShopProfile, 1)
    if shop is None:
        return 0
    everybody = reached(session, now, settings, shop)
    due = _due(session, now, settings, everybody, shop)
    if not due:
        return 0
    found = list_alerts(session, book_now(session, now), 0)
    shares = share_out([one.hearer for one in everybody], found)
    share_of = {one.channel.id: share for one, share in zip(everybody, shares, strict=True)}
    messages = []
    for one in due:
        share = share_of[one.to.channel.id]
        kinds = _may_leave(settings, one.to.person, share) if secrets else ()
        leave = {}
        if kinds and one.to.person and secrets:
            tokens = leave_tokens(session, one.to.person.id, kinds, now, secrets)
            leave = {kind: _leave_at(settings, token) for kind, token in tokens.items()}
        said = replace(_said(shop, now, settings, one.to.person, share, head), leave=leave)
        facts: dict[str, Any] = {}
        if share.head:
            facts |= {"count": head.count, "hash": head.hash, "at": now.isoformat()}
        if leave:
            facts["leave"] = leave[digest.ALL_KINDS]
        message = Message(
            MORNING, "shop", one.day.isoformat(), one.to.channel,
            Letter("Nothing to tell", "") if share.empty else morning_mail(said, ZoneInfo(shop.time_zone)),
            one.at, facts=facts, not_sent=_NOTHING if share.empty else "",
        )  # fmt: skip
        messages.append(message)
    queue_all(session, (one for one in messages if one.not_sent), now, settings)
    return queue_all(session, (one for one in messages if not one.not_sent), now, settings)


@dataclass(frozen=True)
class Preview:
    """What the mail would say to somebody now. Without a ``letter`` there would be none.

    ``reached``: whether there is a mail channel for them; ``leaves``: the hour it leaves at, on the wall.
    """

    letter: Letter | None
    reached: bool
    leaves: time | None


def preview(session: Session, now: datetime, settings: Settings, person_id: int) -> Preview:
    """What the morning mail would say to a person if it were written now; nothing is written or sent."""
    shop = session.get(ShopProfile, 1)
    if shop is None:
        return Preview(None, False, None)
    zone = ZoneInfo(shop.time_zone)
    everybody = reached(session, now, settings, shop)
    mine = next((one for one in everybody if one.hearer.person == person_id), None)
    hearers, me = [one.hearer for one in everybody], mine.person if mine else None
    choice = choice_of(session, person_id)
    if mine is None:
        me = who_is_here(session, now.astimezone(zone).date()).get(person_id)
        hearers.append(Hearer(person_id, me is not None and me.role is Role.KEEPER, choice))
    place = next(n for n, one in enumerate(hearers) if one.person == person_id)
    share = share_out(hearers, list_alerts(session, book_now(session, now), 0))[place]
    # The secrets of a mail are made when it is written; here stands where they will.
    leave = {kind: _leave_at(settings, "…") for kind in _may_leave(settings, me, share)}
    said = replace(_said(shop, now, settings, me, share, chain_head(session)), leave=leave)
    letter = None if share.empty else morning_mail(said, zone)
    return Preview(letter, mine is not None, _leaves(settings, choice.quiet))


def _leaves(settings: Settings, quiet: Quiet | None) -> time | None:
    hour = settings.morning_mail if settings.mail is not None else None
    return quiet.until if hour is not None and quiet is not None and quiet.holds(hour) else hour


def _may_leave(settings: Settings, me: Here | None, share: Share) -> tuple[str, ...]:
    """The kinds of this mail that a person may leave out by an address in it."""
    return digest.may_be_left(share) if me is not None and settings.base_url else ()


def _leave_at(settings: Settings, token: str) -> str:
    return f"{settings.base_url}/mail/leave/{token}"


def _said(
    shop: ShopProfile, now: datetime, settings: Settings, me: Here | None, share: Share, head: ChainHead
) -> Morning:
    day = now.astimezone(ZoneInfo(shop.time_zone)).date()
    return Morning(
        shop.name, day, share, me.id if me else None,
        LogHead(head.count, head.hash, now) if share.head else None, settings.base_url,
        me is None or may(me.role, Permission.SEE_STORE),
    )  # fmt: skip


def reached(session: Session, now: datetime, settings: Settings, shop: ShopProfile) -> list[Reached]:
    """Everybody the mail can reach; one channel for each person, the oldest."""
    if settings.morning_mail is None or settings.mail is None:
        return []
    channels = [one for one in usable_channels(session, settings) if one.kind is ChannelKind.MAIL]
    if not channels:
        return []
    here = who_is_here(session, now.astimezone(ZoneInfo(shop.time_zone)).date())
    numbers = [one.person_id for one in channels if one.person_id is not None]
    rows = session.exec(select(DigestChoice).where(col(DigestChoice.person_id).in_(numbers))).all()
    choices = {row.person_id: _choice(row) for row in rows}
    found: list[Reached] = []
    seen: set[int] = set()
    for channel in channels:
        number = channel.person_id
        if number is None:
            found.append(Reached(channel, None, Hearer(None)))
        elif number in here and number not in seen:
            seen.add(number)
            person, choice = here[number], choices.get(number, digest.EVERYTHING)
            found.append(Reached(channel, person, Hearer(number, person.role is Role.KEEPER, choice)))
    return found


def told_to_nobody(session: Session, now: datetime, settings: Settings) -> tuple[AlertKind, ...]:
    """The kinds that every keeper with a mail left out, so that nobody is told of what is nobody's."""
    shop = session.get(ShopProfile, 1)
    if shop is None:
        return ()
    return digest.told_to_nobody([one.hearer for one in reached(session, now, settings, shop)])


def choice_of(session: Session, person_id: int) -> Choice:
    """What somebody chose; everything, as long as they chose nothing."""
    row = session.get(DigestChoice, person_id)
    return _choice(row) if row is not None else digest.EVERYTHING


def _choice(row: DigestChoice) -> Choice:
    # A kind that a later program knows no more is told, not left out.
    off = frozenset(kind for kind in digest.SWITCHABLE if kind.value in row.kinds_off)
    return Choice(row.wanted, quiet_of(row), off)


def _due(
    session: Session, now: datetime, settings: Settings, everybody: Sequence[Reached], shop: ShopProfile
) -> list[_Due]:
    """The mails that are due and not written. A channel added after its hour waits for tomorrow."""
    if settings.morning_mail is None:
        return []
    zone, found = ZoneInfo(shop.time_zone), []
    for one in everybody:
        due = digest.morning_due(now, settings.morning_mail, zone, one.hearer.choice.quiet)
        if due is not None and one.channel.created_at <= due[1]:
            found.append(_Due(one, *due))
    keys = {_key(one): one for one in found}
    written = set(session.exec(select(OutboxRow.key).where(col(OutboxRow.key).in_(keys))).all())
    return [one for key, one in keys.items() if key not in written]


def _key(one: _Due) -> str:
    return Message(MORNING, "shop", one.day.isoformat(), one.to.channel, Letter("", ""), one.at).key


def unwitnessed_mail(session: Session, now: datetime) -> OutboxRow | None:
    """A morning mail of the last days that has left and whose head was not yet written down as witnessed."""
    since = now - timedelta(days=3)
    rows = session.exec(
        select(OutboxRow)
        .where(
            col(OutboxRow.rule) == MORNING,
            col(OutboxRow.state) == MessageState.SENT,
            col(OutboxRow.sent_at) >= since,
        )
        .order_by(col(OutboxRow.id))
    ).all()
    for row in rows:
        if "hash" not in row.facts:
            continue  # the mail of somebody who keeps no log
        known = select(WitnessedHead.id).where(col(WitnessedHead.where) == _where(row))
        if session.exec(known.limit(1)).first() is None:
            return row
    return None


def witness_morning(session: Session, now: datetime, settings: Settings) -> WitnessedHead | None:
    """Write down the head that a morning mail carried out of the house; None when there is nothing to do.

    Raises:
        OSError: the file beside the database cannot be written; nothing is recorded then.
    """
    chain_head(session, lock=True)
    row = unwitnessed_mail(session, now)
    if row is None:
        return None
    head = ChainHead(int(row.facts["count"]), str(row.facts["hash"]))
    at = datetime.fromisoformat(row.facts["at"])
    return witness_head(session, None, at, settings.data, where=_where(row), head=head)


def _where(row: OutboxRow) -> str:
    return f"morning mail of {row.stage}"
