"""The outbox: messages written once, claimed before they are sent, marked after.

Who sends takes a row (`claim`), sends it outside any transaction, and marks it. A claim lapses: what a killed
sender held is sent again by the next one, under the same message number. So a message is sent at least once,
and twice only if somebody died between sending and marking.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlalchemy.dialects.postgresql import insert as postgres_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlmodel import Session, SQLModel, col, or_, select, update

from service.actions.quiet_hours import not_before
from service.core.mail_addresses import one_line
from service.core.reminders import WarningRule, wait_after
from service.core.warning_words import Letter, late_line
from service.records.book_time import book_now
from service.records.outbox import Channel, ChannelKind, MessageState, OutboxRow, WarningRound
from service.records.people import Person
from service.records.rag_queries import judged
from service.records.rags import RagLoad
from service.records.shop import ShopProfile

CLAIM_LASTS: Final = timedelta(minutes=3)
"""Longer than any try may take (`SEND_WITHIN_S` of the senders), so that two never hold one row."""
MORNING: Final = "morning"
TRIAL: Final = "trial"
_RAG_RULES: Final = {rule.value for rule in WarningRule}
_USELESS_AFTER: Final = timedelta(hours=20)
"""A morning mail that could not leave until then: the next one tells more."""


class Failure(StrEnum):
    """Why a try failed: this address is refused for good; this message for now; the way itself for now."""

    ADDRESS = "address"
    MESSAGE = "message"
    WAY = "way"


@dataclass(frozen=True)
class Message:
    """A message to be written into the outbox. ``about`` names the thing, such as "load-3".

    ``not_sent``: why it is only written down, so that nobody asks again whether it is due.
    """

    rule: str
    about: str
    stage: str
    channel: Channel
    letter: Letter
    due_at: datetime
    load_id: int | None = None
    facts: dict[str, Any] = field(default_factory=dict)
    not_sent: str = ""

    @property
    def key(self) -> str:
        """What makes it the same message: one row per rule, thing, stage, person and channel."""
        who = self.channel.person_id or "shop"
        return f"{self.rule}/{self.about}/{self.stage}/person-{who}/channel-{self.channel.id}"


@dataclass(frozen=True)
class Claimed:
    """A row that this sender holds until its claim lapses, with all that is needed to send it."""

    row_id: int
    worker: str
    rule: str
    kind: ChannelKind
    channel_id: int
    address: str
    name: str
    message_id: str
    subject: str
    text: str
    leave: str = ""

    @property
    def way(self) -> str:
        """Messages of one way share its trouble: the mail server, or one service address."""
        return "mail" if self.kind is ChannelKind.MAIL else f"channel-{self.channel_id}"


def address_of(channel: Channel, person: Person | None) -> str:
    """Where a channel leads. A person's mail goes to the address in the book of people."""
    if channel.kind is ChannelKind.MAIL and person is not None:
        return person.email or ""
    return channel.address


def queue(session: Session, message: Message, now: datetime, domain: str) -> bool:
    """Write a message down unless it is there already; False when it is.

    An older warning of the same rule about the same load that still waits for the same channel is dropped
    and the new one takes over how late it is: a server that was away brings no flood.
    """
    key, due_at = message.key, message.due_at
    if message.rule in _RAG_RULES:
        for old in session.exec(_waiting_before(message, now)).all():
            due_at = min(due_at, old.due_at)
            _drop(session, old, "A newer warning took its place.")
    stamp = f"{now:%Y%m%d%H%M%S}"
    values = {
        "key": key, "rule": message.rule, "stage": message.stage, "load_id": message.load_id,
        "person_id": message.channel.person_id, "channel_id": message.channel.id,
        "message_id": f"<{key.replace('/', '.')}.{stamp}@{domain}>",
        "subject": message.letter.subject, "body": message.letter.text[:20_000], "facts": message.facts,
        "due_at": due_at, "created_at": now, "attempts": 0,
        "state": MessageState.DROPPED if message.not_sent else MessageState.WAITING,
        "next_try_at": now, "last_error": message.not_sent,
    }  # fmt: skip
    statement = _insert(session, OutboxRow, values).on_conflict_do_nothing(index_elements=["key"])
    return session.connection().execute(statement.returning(col(OutboxRow.id))).first() is not None


def _insert(session: Session, table: type[SQLModel], values: dict[str, Any]) -> Any:
    postgres = session.get_bind().dialect.name == "postgresql"
    return (postgres_insert if postgres else sqlite_insert)(table).values(**values)


def note_round(session: Session, now: datetime, failed: int) -> None:
    """Write down that somebody looked for warnings; two who look at once write one after the other."""
    values = {"id": 1, "looked_at": now, "failed": failed}
    statement = _insert(session, WarningRound, values)
    changed = {"looked_at": now, "failed": failed}
    session.connection().execute(statement.on_conflict_do_update(index_elements=["id"], set_=changed))


def _waiting_before(message: Message, now: datetime) -> Any:
    return (
        select(OutboxRow)
        .where(
            col(OutboxRow.state) == MessageState.WAITING,
            col(OutboxRow.channel_id) == message.channel.id,
            col(OutboxRow.load_id) == message.load_id,
            col(OutboxRow.rule).in_(_RAG_RULES),
            col(OutboxRow.key) != message.key,
            _unclaimed(now),
        )
        .with_for_update(skip_locked=True)
    )


def _unclaimed(now: datetime) -> Any:
    return or_(col(OutboxRow.claimed_until).is_(None), col(OutboxRow.claimed_until) <= now)


def anything_waits(session: Session, now: datetime) -> bool:
    """Whether a message could be claimed now."""
    query = select(OutboxRow.id).where(
        col(OutboxRow.state) == MessageState.WAITING, col(OutboxRow.next_try_at) <= now, _unclaimed(now)
    )
    return session.exec(query.limit(1)).first() is not None


def claim(session: Session, now: datetime, worker: str, not_by: Collection[str] = ()) -> Claimed | None:
    """Take the next message that is due, those tried least often first; None when there is none.

    Args:
        worker: a name no other sender has.
        not_by: ways (see `Claimed.way`) that are in trouble at the moment.

    Messages nobody needs any more (the load was answered, the channel switched off) are dropped on the way.
    """
    query = select(OutboxRow).where(
        col(OutboxRow.state) == MessageState.WAITING, col(OutboxRow.next_try_at) <= now, _unclaimed(now)
    )
    if not_by:
        channels = [int(way.removeprefix("channel-")) for way in not_by if way != "mail"]
        if "mail" in not_by:
            mail = select(Channel.id).where(col(Channel.kind) == ChannelKind.MAIL)
            query = query.where(col(OutboxRow.channel_id).not_in(mail))
        query = query.where(col(OutboxRow.channel_id).not_in(channels))
    order = (col(OutboxRow.attempts), col(OutboxRow.next_try_at), col(OutboxRow.id))
    while True:
        row = session.exec(query.order_by(*order).limit(1).with_for_update(skip_locked=True)).first()
        if row is None:
            return None
        channel = session.get(Channel, row.channel_id)
        assert channel is not None
        person = session.get(Person, channel.person_id) if channel.person_id else None
        why = _not_needed(session, row, channel, person, now)
        if why:
            _drop(session, row, why)
            session.flush()
            continue
        # A mail that could not leave on time waits for the end of the quiet hours it came into.
        waits = not_before(session, channel.person_id, now, _zone(session)) if row.rule == MORNING else now
        if waits > now:
            row.next_try_at = waits
            session.add(row)
            session.flush()
            continue
        row.claimed_by, row.claimed_until = worker, now + CLAIM_LASTS
        row.attempts += 1
        session.add(row)
        assert row.id is not None and channel.id is not None
        late = late_line(row.due_at, now, _zone(session)) if row.rule != TRIAL else ""
        return Claimed(
            row.id, worker, row.rule, channel.kind, channel.id, address_of(channel, person),
            one_line(person.name if person else ""), row.message_id, row.subject,
            f"{late}\n\n{row.body}" if late else row.body, str(row.facts.get("leave", "")),
        )  # fmt: skip


def _zone(session: Session) -> ZoneInfo:
    shop = session.get(ShopProfile, 1)
    return ZoneInfo(shop.time_zone if shop else "UTC")


def _not_needed(
    session: Session, row: OutboxRow, channel: Channel, person: Person | None, now: datetime
) -> str:
    if not channel.active or (person is not None and not person.active):
        return "The channel was switched off."
    if row.rule == MORNING and now - row.due_at > _USELESS_AFTER:
        return "It could not leave on its day."
    load = session.get(RagLoad, row.load_id) if row.load_id else None
    if load is None or row.rule not in _RAG_RULES:
        return ""
    at = book_now(session, now)
    seen = judged(session, load, at)
    wanted = (
        not seen.state.remove_met
        if row.rule == WarningRule.REMOVE.value
        else seen.judgement.past_contain
    )
    return "" if wanted else "It was answered before this could leave."


def _drop(session: Session, row: OutboxRow, why: str) -> None:
    row.state, row.last_error, row.claimed_by, row.claimed_until = MessageState.DROPPED, why, None, None
    session.add(row)


def mark_sent(session: Session, held: Claimed, now: datetime) -> None:
    """The network took it."""
    row = _held(session, held)
    if row is None:
        return
    row.state, row.sent_at, row.last_error = MessageState.SENT, now, ""
    row.claimed_by = row.claimed_until = None
    session.add(row)
    values = {"last_sent_at": now, "last_error": ""}
    session.exec(update(Channel).where(col(Channel.id) == held.channel_id).values(**values))
    _tell_trial(session, row, ok=True)


def mark_failed(session: Session, held: Claimed, now: datetime, failure: Failure, words: str) -> None:
    """It could not be sent: tried again after a wait, or never when the address itself is refused.

    A test message is tried once: its outcome is what was asked for.
    """
    row = _held(session, held)
    if row is None:
        return
    words = one_line(words, 300)
    final = failure is Failure.ADDRESS or row.rule == TRIAL
    row.state = MessageState.REFUSED if final else MessageState.WAITING
    row.next_try_at, row.last_error = now + wait_after(row.attempts), words
    row.claimed_by = row.claimed_until = None
    session.add(row)
    values = {"last_failed_at": now, "last_error": words}
    session.exec(update(Channel).where(col(Channel.id) == held.channel_id).values(**values))
    _tell_trial(session, row, ok=False)


def _held(session: Session, held: Claimed) -> OutboxRow | None:
    """The row, if this sender still holds it: a claim that lapsed may be somebody else's by now."""
    row = session.get(OutboxRow, held.row_id, with_for_update=True, populate_existing=True)
    if row is None or row.claimed_by != held.worker or row.state is not MessageState.WAITING:
        return None
    return row


def _tell_trial(session: Session, row: OutboxRow, *, ok: bool) -> None:
    if row.rule == TRIAL:
        one = (col(Channel.id) == row.channel_id) & (col(Channel.test_key) == row.key)
        session.exec(update(Channel).where(one).values(test_ok=ok))
