"""What is known of one liquid of a mix: each figure with unit, source and grade; what nobody knows: ``None``.

Doors: records/solvent_facts.py (fills it from the tables), web/api/solvent_components.py (from a request).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from service.core.solvents.vapour_pressure import Curve

GIVEN: Final = "given"


class SolventFamily(StrEnum):
    """What a liquid is, as far as the validation of a model asks for it."""

    ALKANE = "alkane"
    AROMATIC = "aromatic"
    ALCOHOL = "alcohol"
    KETONE = "ketone"
    ESTER = "ester"
    GLYCOL_ETHER = "glycol-ether"
    TERPENE = "terpene"
    TERPENE_CUT = "terpene-cut"
    PETROLEUM_CUT = "petroleum-cut"
    HALOGENATED = "halogenated"
    WATER = "water"


@dataclass(frozen=True)
class Known:
    """One figure: its value in ``unit``, where it comes from, and how good that is.

    ``source`` is "given" for what the question itself says, else keys of the sources table; ``grade`` is
    "given" or a grade of ``core.sources.Grade``.
    """

    value: float
    unit: str
    source: str = GIVEN
    grade: str = GIVEN
    note: str = ""


class LimitKind(StrEnum):
    """Over which time an exposure limit is averaged."""

    TWA = "twa"
    STEL = "stel"
    CEILING = "ceiling"


class LimitUnit(StrEnum):
    PPM = "ppm"
    MG_M3 = "mg_m3"


@dataclass(frozen=True)
class ExposureLimit:
    """A limit of the air people breathe, in the unit its body gives it in.

    ``edition`` may be empty where none is known; ``grade`` is "given" or a grade of the sources table.
    """

    value: float
    unit: LimitUnit
    kind: LimitKind
    body: str
    edition: str = ""
    source: str = GIVEN
    grade: str = GIVEN
    note: str = ""


class ShareKind(StrEnum):
    """How the amount of a component is written. ``percent`` is per cent by mass."""

    MOLE_FRACTION = "mole_fraction"
    MASS_FRACTION = "mass_fraction"
    VOLUME_FRACTION = "volume_fraction"
    PERCENT = "percent"
    MASS_G = "mass_g"
    VOLUME_ML = "volume_ml"


@dataclass(frozen=True)
class Share:
    """An amount as written: one number (low = high) or a range."""

    kind: ShareKind
    low: float
    high: float

    @property
    def is_range(self) -> bool:
        return self.low != self.high


Groups = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Component:
    """One liquid (or what is dissolved or stirred into it) of a mix.

    Units stand in each ``Known``: g/mol, g/ml, C, kPa, vol%, mm2/s, kcal/mol. ``boiling_point`` is the
    initial one. ``vapour_pressures`` are single points (figure, temperature in C). ``groups_original`` and
    ``groups_dortmund`` are UNIFAC subgroups (number, count); ``None``: not assigned. ``stand_in`` names the
    pure liquid whose curve and groups stand for a petroleum cut or an oil. ``volatile`` False: a solid, resin
    or drying oil that stays in the film. ``voc_exempt`` is what the question says, by itself for no law.
    ``flashes_high``: an untold part of a material that as a whole flashes above every category.
    """

    name: str
    share: Share | None
    cas: str = ""
    key: str = ""
    family: SolventFamily | None = None
    molar_mass: Known | None = None
    density: Known | None = None
    boiling_point: Known | None = None
    flash_point: Known | None = None
    no_flash_because: str = ""
    lower_limit: Known | None = None
    upper_limit: Known | None = None
    viscosity: Known | None = None
    heat_of_combustion: Known | None = None
    vapour_pressures: tuple[tuple[Known, float], ...] = ()
    curve: Curve | None = None
    groups_original: Groups | None = None
    groups_dortmund: Groups | None = None
    groups_source: str = ""
    stand_in: str = ""
    is_cut: bool = False
    volatile: bool | None = None
    flashes_high: bool = False
    water: bool = False
    voc_exempt: bool | None = None
    voc_content: Known | None = None
    limits: tuple[ExposureLimit, ...] = field(default=())


@dataclass(frozen=True)
class DataUsed:
    """A figure that went into an answer: of what, which, how much, from where, how good."""

    ingredient: str
    property: str
    value: float | str
    unit: str
    source: str
    grade: str


def used(component: Component, *names: str) -> list[DataUsed]:
    """The figures of a component by field name, for ``data_used``; those that are not known are left out."""
    found: list[DataUsed] = []
    for name in names:
        known = getattr(component, name)
        if isinstance(known, Known):
            found.append(DataUsed(component.name, name, known.value, known.unit, known.source, known.grade))
    return found
