"""A shop behind its doors: the application on a fresh database, and browsers and scripts of every role."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.actions.api_tokens import make_api_token
from service.actions.sign_in import open_session
from service.actions.tablets import make_device
from service.app import create_app
from service.config import Settings
from service.core.access import Actor, Role
from service.records.engine import Database
from service.records.people import Person
from service.web.visitor import PLAIN_COOKIE
from tests.builders import FAST_HASHER, NOW, Cast, cast, opening

_numbers = itertools.count(1)


@dataclass
class Clock:
    """The service's clock, moved by the test."""

    now: datetime = NOW

    def __call__(self) -> datetime:
        return self.now

    def pass_by(self, **span: float) -> None:
        """Let time pass: ``clock.pass_by(minutes=3)``."""
        self.now += timedelta(**span)


@dataclass
class Shop:
    """The application, its database and clock, and its people."""

    app: FastAPI
    database: Database
    clock: Clock
    cast: Cast
    clients: list[TestClient] = field(default_factory=list)

    def client(self, host: str = "192.0.2.10") -> TestClient:
        """A browser of nobody, from ``host``."""
        client = TestClient(
            self.app, base_url="http://testserver", follow_redirects=False, client=(host, 50_000),
            headers={"accept": "text/html"},
        )
        self.clients.append(client)
        return client

    def signed_in(self, role: Role | str, host: str = "192.0.2.10") -> TestClient:
        """A browser in which the person of that role is signed in."""
        return self.signed_in_as(self.cast.person(Role(role)), host)

    def signed_in_as(self, person: Person, host: str = "192.0.2.10") -> TestClient:
        """A browser in which this person is signed in."""
        return self._with_session(host, person_id=person.id)

    def tablet(self, person: Person | None = None, name: str = "Bench tablet") -> TestClient:
        """A browser signed in as a shared tablet; ``person`` has tapped their name and given the PIN."""
        with self.database.writing() as session:
            device = make_device(session, self.cast.actor(Role.KEEPER), self.clock(), name)
        return self._with_session("192.0.2.20", device_id=device.id, tapped=person)

    def api(self, role: Role | str) -> TestClient:
        """A script with a bearer token of that role."""
        token = f"token-{next(_numbers)}-{role}"
        with self.database.writing() as session:
            make_api_token(session, None, self.clock(), token, Role(role), f"test {role}")
        client = TestClient(
            self.app, base_url="http://testserver", follow_redirects=False,
            headers={"authorization": f"Bearer {token}"},
        )
        self.clients.append(client)
        return client

    def actor(self, role: Role | str) -> Actor:
        return self.cast.actor(Role(role))

    def _with_session(
        self, host: str, person_id: int | None = None, device_id: int | None = None,
        tapped: Person | None = None,
    ) -> TestClient:
        token = f"session-{next(_numbers)}"
        with self.database.writing() as session:
            fresh = opening(token, self.clock())
            row = open_session(session, fresh, person_id=person_id, device_id=device_id)
            if tapped is not None:
                row.tapped_person_id, row.tapped_until = tapped.id, self.clock() + timedelta(minutes=2)
                session.add(row)
        client = self.client(host)
        client.cookies.set(PLAIN_COOKIE, token)
        return client


def shop_settings(folder: Path, database: Database) -> Settings:
    """Settings of a test: its own folder, the host name the test client uses."""
    return Settings(data=folder, database_url=str(database.engine.url), trusted_hosts=("testserver",))


@pytest.fixture
def shop(sqlite_database: Database, tmp_path: Path) -> Iterator[Shop]:
    """The shop on a fresh SQLite database, with Orla, Piet, Sanne and Ines."""
    with sqlite_database.writing() as session:
        people = cast(session)
    clock = Clock()
    app = create_app(shop_settings(tmp_path, sqlite_database), sqlite_database, clock, hasher=FAST_HASHER)
    made = Shop(app, sqlite_database, clock, people)
    yield made
    for client in made.clients:
        client.close()
