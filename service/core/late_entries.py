"""When an act happened and when it was written down: the two instants of every posting, and the late entry.

Doors: actions/settle.py, web/act_forms.py, web/api/posting.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

from service.core.findings import Invalid
from service.core.written_reason import A_SENTENCE, is_sentence

LATE_AFTER: Final = timedelta(minutes=15)
"""More than this between the two instants makes a late entry (design section 4)."""
CLOCK_TOLERANCE: Final = timedelta(minutes=2)
"""A phone's clock may run ahead by this much; such an instant counts as now."""
LONGEST_SENTENCE: Final = 2000
_EARLIEST_YEAR: Final = 1970


@dataclass(frozen=True)
class When:
    """The two instants of a posting, both aware UTC; ``late`` ones are marked wherever they show."""

    happened_at: datetime
    recorded_at: datetime
    late: bool
    reason: str = ""


def judge_time(
    happened_at: datetime | None,
    now: datetime,
    reason: str | None = None,
    *,
    last_recorded_at: datetime | None = None,
) -> When:
    """Settle when an act happened and when it is recorded.

    ``happened_at`` None means now. ``now`` is an aware instant; ``last_recorded_at`` is the newest instant in
    the book: recorded time never goes backwards, even if the machine's clock does. Raises `Invalid` with the
    field ``happened_at`` (no time zone, in the future, before 1970) or ``late_reason`` (a late entry
    without a real sentence).

    >>> noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    >>> judge_time(None, noon).late, judge_time(noon - LATE_AFTER, noon).late
    (False, False)
    >>> judge_time(noon - timedelta(hours=2), noon, "Written up after the class").late
    True
    """
    recorded = now.astimezone(UTC)
    if last_recorded_at is not None and last_recorded_at > recorded:
        recorded = last_recorded_at.astimezone(UTC)
    happened = recorded if happened_at is None else _checked(happened_at, recorded)
    late = recorded - happened > LATE_AFTER
    sentence = " ".join((reason or "").split())
    if late and not is_sentence(sentence):
        raise Invalid(
            "This is a late entry: say in a sentence why it is written down only now.",
            {"late_reason": f"Write {A_SENTENCE}."},
        )
    if len(sentence) > LONGEST_SENTENCE:
        raise Invalid("The reason is too long.", {"late_reason": f"Keep it under {LONGEST_SENTENCE} signs."})
    return When(happened, recorded, late, sentence)


def _checked(happened_at: datetime, recorded: datetime) -> datetime:
    """``happened_at`` in UTC, at most ``recorded``. Years come first: changing zones can overflow."""
    if happened_at.utcoffset() is None:
        raise _wrong("Say which time zone this time is in.")
    if happened_at.year < _EARLIEST_YEAR:
        raise _wrong("This is too long ago to be the time of an entry.")
    if happened_at.year > recorded.year + 1 or happened_at > recorded + CLOCK_TOLERANCE:
        raise _wrong("This time has not come yet. Enter when it happened, or leave it empty for now.")
    return min(happened_at.astimezone(UTC), recorded)


def _wrong(sentence: str) -> Invalid:
    return Invalid(sentence, {"happened_at": sentence})
