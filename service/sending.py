"""Sending: one round (queue what is due, send what waits), and the loop that makes rounds beside the service.

The network is used outside every transaction and never on a thread that answers requests.
"""

from __future__ import annotations

import logging
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, Protocol

from sqlalchemy.exc import SQLAlchemyError

from service.actions.outbox import (
    MORNING,
    Claimed,
    Failure,
    anything_waits,
    claim,
    mark_failed,
    mark_sent,
    note_round,
)
from service.actions.queue_morning import morning_due, queue_morning, unwitnessed_mail, witness_morning
from service.actions.queue_warnings import due_messages, queue_all
from service.clock import new_id, new_secret, now_utc
from service.config import MailServer, Settings
from service.outreach.envelope import Envelope, NotSent
from service.outreach.mail_page import mail_page
from service.outreach.send_by_mail import send_by_mail
from service.outreach.send_by_service import send_by_service
from service.records.engine import Database, DatabaseBusy
from service.records.outbox import ChannelKind, WarningRound
from service.records.shop import ShopProfile

EVERY_S: Final = 20.0
MARK_EVERY: Final = timedelta(minutes=1)
TROUBLE_MOST: Final = 2
"""So many failures of one way in one round, and the rest of what goes that way waits for the next round."""

log = logging.getLogger("umberkeep.sending")


class MailSender(Protocol):
    def __call__(self, server: MailServer, envelope: Envelope, shop: str, now: datetime) -> None: ...


@dataclass(frozen=True)
class Network:
    """How messages leave the house; tests hand in their own. Both raise `NotSent`."""

    mail: MailSender = send_by_mail
    service: Callable[[Envelope], None] = send_by_service


@dataclass(frozen=True)
class Round:
    """What one round did."""

    queued: int = 0
    sent: int = 0
    failed: int = 0


def one_round(
    database: Database,
    settings: Settings,
    clock: Callable[[], datetime] = now_utc,
    network: Network | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> Round:
    """Queue what is due and send what waits. Two at once, in one process or several, send nothing twice.

    Raises:
        DatabaseBusy, SQLAlchemyError: the database cannot be used now.
    """
    network = network or Network()
    queued = _queue(database, settings, clock())
    worker, trouble, sent, failed = new_id(), Counter[str](), 0, 0
    while not stop():
        with database.reading() as session:
            if not anything_waits(session, clock()):
                break
        ways = [way for way, times in trouble.items() if times >= TROUBLE_MOST]
        with database.writing() as session:
            held = claim(session, clock(), worker, ways)
            shop = session.get(ShopProfile, 1)
        if held is None:
            break
        marked: tuple[Callable[..., None], tuple[object, ...]]
        try:
            _send(held, settings, network, clock(), shop.name if shop else "")
        except NotSent as error:
            failed += 1
            failure = Failure(error.kind)
            trouble[held.way] += failure is Failure.WAY
            marked = (mark_failed, (held, clock(), failure, error.words))
        else:
            sent += 1
            marked = (mark_sent, (held, clock()))
        _write(database, *marked)
    _witness(database, settings, clock())
    _mark(database, clock(), failed)
    return Round(queued, sent, failed)


def _write(database: Database, act: Callable[..., None], said: tuple[object, ...], tries: int = 3) -> None:
    """Mark what the network did, also while others write: unmarked, it would be sent once more."""
    for left in reversed(range(tries)):
        try:
            with database.writing() as session:
                act(session, *said)
            return
        except DatabaseBusy:
            if not left:
                raise


def _queue(database: Database, settings: Settings, now: datetime) -> int:
    """Look first, write only when there is something to write: the one writer is needed by the bench."""
    with database.reading() as session:
        messages, morning = due_messages(session, now, settings), morning_due(session, now, settings)
    queued = 0
    if messages:
        with database.writing() as session:
            # Judged anew inside: what was answered since the look is not warned of.
            queued += queue_all(session, due_messages(session, now, settings), now, settings)
    if morning:
        with database.writing() as session:
            queued += queue_morning(session, now, settings, new_secret)
    return queued


def _send(held: Claimed, settings: Settings, network: Network, now: datetime, shop: str) -> None:
    morning = held.rule == MORNING and held.kind is ChannelKind.MAIL
    page = mail_page(held.subject, held.text, settings.base_url) if morning else ""
    envelope = Envelope(
        held.address, held.name, held.message_id, held.subject, held.text, page, held.leave if morning else ""
    )
    if not held.address:
        raise NotSent("address", "The channel leads nowhere: no address.")
    try:
        if held.kind is ChannelKind.MAIL:
            if settings.mail is None:
                raise NotSent("way", "No mail server is set.")
            network.mail(settings.mail, envelope, shop, now)
        else:
            network.service(envelope)
    except NotSent:
        raise
    except Exception as error:
        # Whatever one message brings about, the others leave.
        log.warning("A message could not be sent: %s", type(error).__name__)
        raise NotSent("message", f"It could not be sent ({type(error).__name__}).") from error


def _witness(database: Database, settings: Settings, now: datetime) -> None:
    with database.reading() as session:
        if unwitnessed_mail(session, now) is None:
            return
    try:
        with database.writing() as session:
            witness_morning(session, now, settings)
    except OSError as error:
        log.warning("The head of the rag log could not be written beside the database: %s", error.strerror)


def _mark(database: Database, now: datetime, failed: int) -> None:
    with database.reading() as session:
        row = session.get(WarningRound, 1)
        if row is not None and row.failed == failed and timedelta() <= now - row.looked_at < MARK_EVERY:
            return
    with database.writing() as session:
        note_round(session, now, failed)


class Loop:
    """Rounds in a thread of their own, from `start` until `stop`; `wake` begins the next one at once."""

    def __init__(
        self,
        database: Database,
        settings: Settings,
        clock: Callable[[], datetime] = now_utc,
        network: Network | None = None,
        every_s: float = EVERY_S,
    ) -> None:
        self._stopped = threading.Event()
        self._round: Callable[[], Round] = lambda: one_round(
            database, settings, clock, network, self._stopped.is_set
        )
        self._every_s = every_s
        self._woken = threading.Event()
        # A daemon: a server that does not answer must not hold up the end; the claim lapses by itself.
        self._thread = threading.Thread(target=self._run, name="sending", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def wake(self) -> None:
        self._woken.set()

    def stop(self, wait_s: float = 3.0) -> None:
        self._stopped.set()
        self._woken.set()
        self._thread.join(wait_s)

    def _run(self) -> None:
        while not self._stopped.is_set():
            try:
                self._round()
            except (DatabaseBusy, SQLAlchemyError) as error:
                log.warning("Warnings are looked for again soon; the database: %s", type(error).__name__)
            except Exception:
                log.exception("A round of sending broke off; the next one comes all the same.")
            self._woken.wait(self._every_s)
            self._woken.clear()
