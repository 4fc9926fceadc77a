"""The shop's calendar day of an instant.

Doors: actions/correct_entry.py.
"""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo


def shop_day(instant: datetime, zone: str) -> date:
    """The day on the wall calendar of a shop in ``zone`` (an IANA name) at an aware ``instant``.

    >>> from datetime import UTC
    >>> shop_day(datetime(2026, 3, 12, 23, 30, tzinfo=UTC), "Europe/Berlin").isoformat()
    '2026-03-13'
    """
    return instant.astimezone(ZoneInfo(zone)).date()
