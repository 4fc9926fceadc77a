"""Oily rags: the words of the rag register, and the facts that one entry in it carries.

Doors: records/rags.py, actions/handle_rags.py, web/pages/rags.py, web/api/rags.py.

What a step does to the two clocks is in ``rag_steps``, a load's story in ``rag_loads``, what is owed now
in ``rag_judgement``, who may override in ``rag_override``, the times in ``rag_deadlines``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class RagStep(StrEnum):
    """What happened to the rags. Drying and laundering by the shop are not on the list of ends."""

    LOOSE = "loose"
    IN_CAN = "in-can"
    UNDER_WATER = "under-water"
    LAID_FLAT = "laid-flat"
    OUTSIDE_DRUM = "outside-drum"
    REMOVED = "removed"
    NONE_MADE = "none-made"


class RagItem(StrEnum):
    """What carries the oil. The strict profile treats all of them alike."""

    RAGS = "rags"
    FILTER_PADS = "filter_pads"
    SOLVENT_WIPES = "solvent_wipes"
    STEEL_WOOL = "steel_wool"
    DUST = "dust"


class Vessel(StrEnum):
    """What the receptacle is made of; ``none`` is a hand, a pile, a pocket, a bench."""

    METAL = "metal"
    PLASTIC = "plastic"
    CARDBOARD = "cardboard"
    BAG = "bag"
    NOT_METAL = "not-metal"
    NONE = "none"


class Water(StrEnum):
    """How far the rags are under water: only ``full`` is wholly under."""

    NONE = "none"
    PARTLY = "partly"
    FULL = "full"


class Floor(StrEnum):
    """What the receptacle stands on."""

    NONCOMBUSTIBLE = "noncombustible"
    COMBUSTIBLE = "combustible"


class RemovalHow(StrEnum):
    """Where the rags went. The last six are no ends; they are listed so that the refusal can say why."""

    HAULER = "hauler"
    MUNICIPALITY = "municipality"
    INDUSTRIAL_LAUNDRY = "industrial-laundry"
    BURNED_UNDER_PERMIT = "burned-under-permit"
    WASHED_HERE = "washed-here"
    TUMBLE_DRIED_HERE = "tumble-dried-here"
    DRIED = "dried"
    BIN = "bin"
    TAKEN_HOME = "taken-home"
    TAKEN_OUT = "taken-out"


@dataclass(frozen=True)
class Receptacle:
    """Where the rags lie, as far as somebody looked. ``None`` is not known and never meets a clock.

    ``distance_mm`` is the distance to the nearest thing that can burn, walls included, in whole millimetres.
    ``place_detached`` says that the place is flagged as standing apart from the building.

    >>> Receptacle(material=Vessel.METAL, lid=True).listed is None
    True
    """

    material: Vessel | None = None
    lid: bool | None = None
    self_closing: bool | None = None
    listed: bool | None = None
    water: Water | None = None
    place_detached: bool | None = None
    floor: Floor | None = None
    distance_mm: int | None = None


@dataclass(frozen=True)
class Removal:
    """Who took the rags (``named``), or the number of the burning permit (``permit``)."""

    how: RemovalHow
    named: str = ""
    permit: str = ""


@dataclass(frozen=True)
class RagEntry:
    """One line of the register: at that instant (aware), this step was seen or done.

    ``covers`` names the draws a "none were made" speaks of; ``count`` is how many pieces were counted.
    """

    at: datetime
    step: RagStep
    receptacle: Receptacle | None = None
    removal: Removal | None = None
    witness: str = ""
    note: str = ""
    covers: tuple[str, ...] = ()
    count: int | None = None


@dataclass(frozen=True)
class JoinedDraw:
    """A draw of self-heating material that belongs to the load; ``ref`` is how "none were made" names it.

    So does use that went on (a batch ended, something put back). ``seen``: oily pieces were handed in, so
    there are rags whatever anybody says.
    """

    at: datetime
    ref: str
    seen: bool = False


def aware(instant: datetime, what: str) -> datetime:
    """The instant itself; ``ValueError`` when it carries no offset (it would mean another time elsewhere).

    >>> from datetime import UTC
    >>> aware(datetime(2026, 3, 10, tzinfo=UTC), "now").year
    2026
    """
    if instant.utcoffset() is None:
        raise ValueError(f"{what} needs a time zone")
    return instant
