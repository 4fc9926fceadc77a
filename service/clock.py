"""The only place that asks the time or for chance. Everything else is told them.

Instants are aware UTC; days are dates in the shop's own zone.
"""

from __future__ import annotations

import os
import secrets
import time
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


def now_utc() -> datetime:
    """The present instant, aware, in UTC."""
    return datetime.now(UTC)


def shop_day(instant: datetime, zone: ZoneInfo) -> date:
    """The date on the shop's wall calendar at an instant.

    >>> shop_day(datetime(2026, 3, 1, 23, 30, tzinfo=UTC), ZoneInfo("Europe/Berlin")).isoformat()
    '2026-03-02'
    """
    return instant.astimezone(zone).date()


def new_secret() -> str:
    """A fresh token of 256 bits, safe in an address. Chance, like time, is asked for here only."""
    return secrets.token_urlsafe(32)


def new_id() -> str:
    """A short name for one request in the log."""
    return secrets.token_hex(6)


def monotonic() -> float:
    """Seconds for measuring durations; never goes back."""
    return time.monotonic()


def machine_zone() -> str:
    """The time zone this machine is set to, as a proposal for a new shop; "UTC" where it cannot be told."""
    link = Path("/etc/localtime")
    named = os.environ.get("TZ", "").lstrip(":")
    if not named and link.is_symlink():
        named = str(link.readlink()).partition("zoneinfo/")[2]
    try:
        return ZoneInfo(named).key or "UTC"
    except (ValueError, OSError, ZoneInfoNotFoundError):
        return "UTC"
