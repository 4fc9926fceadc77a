"""What a door is handed: the database, the clock, the settings.

A write is opened inside the endpoint (`with data.writing() as session:`) and the answer is built inside it,
so that the commit happens before the response leaves, in the same thread that holds SQLite's writer lock. A
yield dependency would hold that lock while waiting for a pool thread, and a full pool never frees it.
"""

from collections.abc import Awaitable, Callable
from datetime import date, datetime
from typing import Annotated, Final, TypeVar
from zoneinfo import ZoneInfo

from fastapi import Depends, Request
from sqlalchemy import select
from sqlmodel import Session, col

from service.actions.passwords import Hasher
from service.clock import now_utc
from service.config import Settings
from service.records.engine import Database
from service.records.kept_statements import run
from service.records.shop import ShopProfile

T = TypeVar("T")
_ZONE: Final = select(col(ShopProfile.time_zone)).where(col(ShopProfile.id) == 1)


def database_of(request: Request) -> Database:
    """The database the program was started with."""
    database: Database = request.app.state.database
    return database


def settings_of(request: Request) -> Settings:
    settings: Settings = request.app.state.settings
    return settings


def now_of(request: Request) -> datetime:
    """One `now` per request; tests hand in a clock of their own."""
    if not hasattr(request.state, "now"):
        request.state.now = getattr(request.app.state, "clock", now_utc)()
    now: datetime = request.state.now
    return now


def hasher_of(request: Request) -> Hasher:
    """Hashes passwords and PINs; never inside a write."""
    hasher: Hasher = request.app.state.hasher
    return hasher


def secret_of(request: Request) -> Callable[[], str]:
    """Makes tokens of 256 bits; tests may hand in their own."""
    secret: Callable[[], str] = request.app.state.secret
    return secret


def at_hand(look: Callable[[Request], T]) -> Callable[[Request], Awaitable[T]]:
    """A dependency that only hands out what is there already.

    The framework sends a plain function to a pool thread and waits for it: for a mere look that costs more
    than the look, and several stand before every act. Never for what asks the database.
    """

    async def looked(request: Request) -> T:
        return look(request)

    return looked


Data = Annotated[Database, Depends(at_hand(database_of))]
Config = Annotated[Settings, Depends(at_hand(settings_of))]
Now = Annotated[datetime, Depends(at_hand(now_of))]
Hash = Annotated[Hasher, Depends(at_hand(hasher_of))]
Secrets = Annotated[Callable[[], str], Depends(at_hand(secret_of))]


def shop_zone(session: Session) -> ZoneInfo:
    """The shop's zone; UTC before the shop is set up."""
    return ZoneInfo(run(session, _ZONE).scalar_one_or_none() or "UTC")


def shop_today(session: Session, now: datetime) -> date:
    """Today on the shop's wall calendar."""
    return now.astimezone(shop_zone(session)).date()
