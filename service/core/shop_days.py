"""The shop's calendar day of an instant.

Doors: actions/correct_entry.py, actions/list_alerts.py, actions/list_dates.py.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo


def shop_day(instant: datetime, zone: str) -> date:
    """The day on the wall calendar of a shop in ``zone`` (an IANA name) at an aware ``instant``.

    >>> from datetime import UTC
    >>> shop_day(datetime(2026, 3, 12, 23, 30, tzinfo=UTC), "Europe/Berlin").isoformat()
    '2026-03-13'
    """
    return instant.astimezone(ZoneInfo(zone)).date()


def due_day(due_at: datetime, zone: ZoneInfo) -> date:
    """The shop's day on which something due at an aware instant has to be done: 24:00 belongs to its day.

    >>> from datetime import UTC
    >>> due_day(datetime(2026, 3, 12, 23, tzinfo=UTC), ZoneInfo("Europe/Berlin")).isoformat()
    '2026-03-12'
    """
    # In UTC: the clock may skip midnight, or show it twice.
    return (due_at.astimezone(UTC) - timedelta(seconds=1)).astimezone(zone).date()
