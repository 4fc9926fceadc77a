"""What a failing disk or an absent database is told as: which kind of trouble it is, in plain words.

After a lost connection or a failed write at the very end nobody can say whether the entry was saved. Each
posting carries a key, so the advice is always to send the same again: it is booked once.
"""

from __future__ import annotations

import errno
from typing import Final

from sqlalchemy import exc as sa

from service.web.problems import Problem

RETRY_AFTER: Final = {"Retry-After": "5"}

_BUSY: Final = "The service is busy. Nothing was saved. Send it again in a few seconds."
_FULL: Final = (
    "The disk is full, so nothing can be written. Nothing was saved. What is in the books can be read as "
    "ever. Tell the keeper; when there is room again, send the same once more. No restart is needed."
)
_REFUSES: Final = (
    "The disk did not take what was to be written. What was saved before can be read. Tell the keeper, and "
    "send the same again later: it is booked once, whatever became of this time."
)
_AWAY: Final = (
    "The database cannot be reached at this moment. Send the same again in a few seconds: it is booked once, "
    "whatever became of this time."
)

_LOCKED_WORDS: Final = ("locked", "busy")
_FULL_WORDS: Final = ("disk is full",)
_REFUSES_WORDS: Final = ("disk i/o", "readonly", "read-only", "unable to open")
_FULL_NUMBERS: Final = (errno.ENOSPC, errno.EDQUOT)
_REFUSES_NUMBERS: Final = (errno.EROFS, errno.EFBIG, errno.EIO)
_FULL_STATES: Final = ("53100",)
_REFUSES_STATES: Final = ("58030", "25006")
_AWAY_STATES: Final = ("57P01", "57P02", "57P03", "57P05", "53300")


def busy() -> Problem:
    """Others hold the database."""
    return Problem("busy", _BUSY, headers=RETRY_AFTER)


def _full() -> Problem:
    return Problem("disk", _FULL, headers=RETRY_AFTER)


def _refuses() -> Problem:
    return Problem("disk", _REFUSES, headers=RETRY_AFTER)


def _away() -> Problem:
    return Problem("away", _AWAY, headers=RETRY_AFTER)


def of_database(error: sa.DBAPIError) -> Problem | None:
    """The problem behind what a database driver raised; None = no trouble of storage, a mistake of ours.

    On PostgreSQL the SQLSTATE decides, and an operational error without one is a lost connection. SQLite
    uses one class for its disk and for mistakes in SQL, so there the text decides.
    """
    cause = error.orig
    if type(cause).__module__.startswith("psycopg"):
        return _of_postgres(error, getattr(cause, "sqlstate", None) or "")
    text = str(cause).lower()
    if any(word in text for word in _FULL_WORDS):
        return _full()
    if any(word in text for word in _REFUSES_WORDS):
        return _refuses()
    return busy() if any(word in text for word in _LOCKED_WORDS) else None


def _of_postgres(error: sa.DBAPIError, state: str) -> Problem | None:
    if state in _FULL_STATES:
        return _full()
    if state in _REFUSES_STATES:
        return _refuses()
    if error.connection_invalidated or state in _AWAY_STATES or state.startswith("08"):
        return _away()
    if not isinstance(error, sa.OperationalError | sa.InterfaceError):
        return None
    return busy() if state else _away()


def of_system(error: OSError) -> Problem | None:
    """The problem behind what the operating system refused; None = no trouble of storage.

    >>> of_system(OSError(errno.ENOSPC, "No space left on device")).name
    'disk'
    >>> of_system(OSError(errno.ENOENT, "No such file")) is None
    True
    """
    if error.errno in _FULL_NUMBERS:
        return _full()
    return _refuses() if error.errno in _REFUSES_NUMBERS else None
