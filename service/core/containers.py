"""One tub, tube, can or jar: its states, its events, and how it stands.

Doors: records/stock.py, actions/receive_stock.py, actions/container_events.py, web/pages/containers.py.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class ContainerState(StrEnum):
    """Where a container is in its life. ``empty`` keeps its storage rules until vapour-free."""

    SEALED = "sealed"
    OPEN = "open"
    EMPTY = "empty"
    GONE = "gone"


class EventKind(StrEnum):
    """Append-only facts that change no amount."""

    OPENED = "opened"
    CLOSED = "closed"
    MOVED = "moved"
    CHECKED = "checked"
    RELABELLED = "relabelled"
    EMPTIED = "emptied"
    VAPOUR_FREE = "vapour-free"


class Standing(StrEnum):
    """How a container stands on a day; never "good" or "safe"."""

    IN_DATE = "in-date"
    LOOK_FIRST = "look-first"
    PAST = "past"
    NOT_KNOWN = "not-known"


STANDING_WORDS: Final[dict[Standing, str]] = {
    Standing.IN_DATE: "in date",
    Standing.LOOK_FIRST: "look first",
    Standing.PAST: "past",
    Standing.NOT_KNOWN: "not known",
}


class Condition(StrEnum):
    """How a container arrived, as somebody said who looked; nobody's word is ``not-known``, never sound."""

    NOT_KNOWN = "not-known"
    SOUND = "sound"
    DAMAGED = "damaged"
    LEAKING = "leaking"


class AmountKnown(StrEnum):
    """How well the amount in a container is known. ``not-known`` has no figure at all."""

    MEASURED = "measured"
    ESTIMATED = "estimated"
    NOT_KNOWN = "not-known"
