"""A shop to be maltreated: a keeper's token, powders, an oil that heats, a job that runs all day."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from service.actions.api_tokens import make_api_token
from service.actions.run_job import JobAsked, open_job
from service.actions.sign_in import open_session
from service.config import database_url
from service.core.access import Role
from service.records.engine import Database, open_database
from service.records.shop import ShopProfile
from service.web.visitor import PLAIN_COOKIE
from tests.builders import cast, opening
from tests.store_builders import material, oil, once, received

TOKEN = "a-token-of-the-fault-tests-0123456789abcdef"
OTHER_TOKEN = "another-token-of-the-fault-tests-0123456789"
AUTH = {"authorization": f"Bearer {TOKEN}"}
COOKIE = "a-session-of-the-fault-tests-0123456789abcdef"
BROWSER = {"cookie": f"{PLAIN_COOKIE}={COOKIE}", "accept": "text/html"}
"""Headers of the keeper's browser."""
_numbers = itertools.count(1)


def zone_at_midday(now: datetime) -> str:
    """A zone in which it is between eleven and twelve now: no load falls due while a test runs.

    >>> [zone_at_midday(datetime(2026, 3, 12, hour, 30, tzinfo=UTC)) for hour in (9, 11, 23)]
    ['Etc/GMT-2', 'UTC', 'Etc/GMT+12']
    """
    ahead = 11 - now.hour
    # Etc names count westwards.
    return f"Etc/GMT{-ahead:+d}" if ahead else "UTC"


@dataclass(frozen=True)
class Stand:
    """Where the shop lies and what is in it. `url` empty: SQLite in `data`."""

    data: Path
    url: str = ""
    powders: list[str] = field(default_factory=list)
    oils: list[str] = field(default_factory=list)
    powder: int = 0
    job: int = 0

    @property
    def address(self) -> str:
        """The database as SQLAlchemy is told it."""
        return database_url(self.url, self.data)

    @contextmanager
    def opened(self) -> Iterator[Database]:
        """The same books, seen from outside of the service."""
        database = open_database(self.address, pooled=False)
        try:
            yield database
        finally:
            database.dispose()


def furnish(data: Path, url: str = "", *, powders: int = 4, oils: int = 1, grams: int = 1000) -> Stand:
    """Fill a migrated database: so many open containers, each with so many grams or millilitres."""
    now = datetime.now(UTC)
    stand = Stand(data, url)
    with stand.opened() as database, database.writing() as session:
        people = cast(session)
        shop = session.get(ShopProfile, 1)
        assert shop is not None
        shop.time_zone = zone_at_midday(now)
        keeper = people.actor(Role.KEEPER)
        for token in (TOKEN, OTHER_TOKEN):
            make_api_token(session, None, now, token, Role.KEEPER, f"faults {next(_numbers)}")
        # Half an hour ago: the next page would like to write down that it is in use.
        fresh = opening(COOKIE, now - timedelta(minutes=30), now.date())
        open_session(session, fresh, person_id=people.keeper.id)
        powder, heating = material(session), oil(session)
        assert powder.id is not None
        before = now - timedelta(hours=1)
        for codes, what, many in ((stand.powders, powder, powders), (stand.oils, heating, oils)):
            codes.extend(received(session, keeper, what, grams * 1000, now=before) for _ in range(many))
        # Alone in its job the leader owes the rags, not the script.
        asked = JobAsked(once(), "Term of table tops", leader_id=people.keeper.id)
        job = int(open_job(session, keeper, now - timedelta(minutes=30), asked).result["job"])
        return Stand(data, url, stand.powders, stand.oils, powder.id, job)
