"""A rag shop with mail channels and a network that is only pretended."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

from sqlmodel import Session, col, select

from service.actions.manage_channels import ChannelAsked, add_channel
from service.actions.outbox import note_round
from service.config import MailServer, Settings
from service.core.access import Actor, Role
from service.outreach.envelope import Envelope, NotSent
from service.records.engine import Database
from service.records.outbox import Channel, ChannelKind, OutboxRow
from service.records.people import Person
from service.sending import Network, Round, one_round
from tests.mail_server import SENDER
from tests.rag_shop import RagShop

_numbers = itertools.count(1)


@dataclass
class Wire:
    """What left, and what happens to whom: a kind of failure by address."""

    sent: list[Envelope] = field(default_factory=list)
    tried: list[str] = field(default_factory=list)
    fails: dict[str, str] = field(default_factory=dict)

    def mail(self, server: MailServer, envelope: Envelope, shop: str, now: datetime) -> None:
        self.service(envelope)

    def service(self, envelope: Envelope) -> None:
        self.tried.append(envelope.to)
        kind = self.fails.get(envelope.to) or self.fails.get("*")
        if kind == "bug":
            raise RuntimeError("a mistake of ours")
        if kind:
            raise NotSent(kind, f"no: {kind}")
        self.sent.append(envelope)

    @property
    def network(self) -> Network:
        return Network(self.mail, self.service)

    def take(self) -> list[Envelope]:
        """What left since the last look."""
        found, self.sent = self.sent, []
        self.tried = []
        return found


@dataclass
class Warned:
    """The shop, its wire and its settings."""

    shop: RagShop
    settings: Settings
    wire: Wire = field(default_factory=Wire)

    def round(self, **span: float) -> Round:
        """Let time pass and make one round."""
        self.shop.pass_by(**span)
        return one_round(self.shop.database, self.settings, lambda: self.shop.now, self.wire.network)

    def rows(self) -> list[OutboxRow]:
        with self.shop.database.reading() as session:
            return list(session.exec(select(OutboxRow).order_by(col(OutboxRow.id))).all())

    def with_mail(self, mail: MailServer | None) -> Warned:
        return replace(self, settings=replace(self.settings, mail=mail))


def settings_of(database: Database, folder: Path, mail: MailServer | None = None) -> Settings:
    url = database.engine.url.render_as_string(hide_password=False)
    server = mail or MailServer("127.0.0.1", 2, "none", SENDER)
    return Settings(folder, url, base_url="https://store.example", mail=server, morning_mail=None)


def mail_channel(session: Session, shop: RagShop, person: Person | None, address: str) -> Channel:
    asked = ChannelAsked(ChannelKind.MAIL, person.id if person else None, address)
    return add_channel(session, shop.actor(Role.KEEPER), shop.now, asked)


def in_reach(database: Database, keeper: Actor, now: datetime) -> None:
    """A channel of the keeper that works, and a sender that is never found silent."""
    with database.writing() as session:
        asked = ChannelAsked(ChannelKind.SERVICE, keeper.person_id, "json://127.0.0.1:9/x", "Phone")
        row = add_channel(session, keeper, now, asked)
        row.last_sent_at = now
        session.add(row)
        note_round(session, now + timedelta(days=365), 0)
