"""The morning mail: once a shop day, to every keeper with a mail channel, with the head of the rag log.

The head counts as witnessed when a mail that carries it has left, not when it was written.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.list_alerts import list_alerts
from service.actions.outbox import MORNING, Message
from service.actions.queue_warnings import queue_all, usable_channels
from service.actions.witness import ChainHead, chain_head, witness_head
from service.config import Settings
from service.core.alerts import AlertKind
from service.core.findings import Severity
from service.core.warning_words import LogHead, Morning, morning_mail
from service.records.book_time import book_now
from service.records.outbox import Channel, ChannelKind, MessageState, OutboxRow
from service.records.rag_queries import active_keepers
from service.records.rags import WitnessedHead
from service.records.shop import ShopProfile


def morning_due(session: Session, now: datetime, settings: Settings) -> bool:
    """Whether the mail of this shop day is to be written now. It only reads."""
    return bool(_to(session, now, settings))


def queue_morning(session: Session, now: datetime, settings: Settings) -> int:
    """Write the mail of this shop day into the outbox, one per channel; 0 when it is there already."""
    # The lock on the log's head makes two senders write the day's mail one after the other.
    head = chain_head(session, lock=True)
    channels = _to(session, now, settings)
    shop = session.get(ShopProfile, 1)
    if not channels or shop is None:
        return 0
    zone = ZoneInfo(shop.time_zone)
    day = now.astimezone(zone).date()
    found = list_alerts(session, book_now(session, now), 0)
    today = [a for a in found if a.kind is AlertKind.DUTY]
    worst = [a for a in found if a.severity is Severity.STOP]

    def words(alerts: list[Any]) -> list[str]:
        return [f"{a.sentence} {a.what_to_do}" + (f" ({a.owner})" if a.owner else "") for a in alerts]

    rest = len(found) - len(worst) - len(today)
    said = Morning(shop.name, day, words(worst), words(today), rest, LogHead(head.count, head.hash, now))
    link = f"{settings.base_url}/alerts" if settings.base_url else ""
    letter = morning_mail(said, zone, link)
    facts = {"count": head.count, "hash": head.hash, "at": now.isoformat()}
    due_at = _hour(day, zone, settings)
    return queue_all(
        session,
        (Message(MORNING, "shop", day.isoformat(), one, letter, due_at, facts=facts) for one in channels),
        now,
        settings,
    )


def _hour(day: date, zone: ZoneInfo, settings: Settings) -> datetime:
    assert settings.morning_mail is not None
    # An hour that the clocks skip is read with the offset before: the mail leaves a little later, not never.
    return datetime.combine(day, settings.morning_mail, zone).astimezone(ZoneInfo("UTC"))


def _to(session: Session, now: datetime, settings: Settings) -> list[Channel]:
    """The channels today's mail goes to; none before its hour, or when it has been written.

    Channels that were added after the hour wait for tomorrow.
    """
    shop = session.get(ShopProfile, 1)
    if shop is None or settings.morning_mail is None or settings.mail is None:
        return []
    zone = ZoneInfo(shop.time_zone)
    day = now.astimezone(zone).date()
    due_at = _hour(day, zone, settings)
    if now < due_at:
        return []
    written = select(OutboxRow.id).where(
        col(OutboxRow.rule) == MORNING, col(OutboxRow.stage) == day.isoformat()
    )
    if session.exec(written.limit(1)).first() is not None:
        return []
    keepers = active_keepers(session)
    return [
        one
        for one in usable_channels(session, settings)
        if one.kind is ChannelKind.MAIL
        and (one.person_id is None or one.person_id in keepers)
        and one.created_at <= due_at
    ]


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
