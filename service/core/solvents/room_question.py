"""What is asked of a room's air, and the figures of one reading of the mix on one basis.

Doors: core/solvents/room_judgement.py, web/api/calc_vapour.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.findings import Invalid
from service.core.solvents import room_air
from service.core.solvents.air_needed import QUARTER, air_to_level, air_to_quarter
from service.core.solvents.dilution import Dilution
from service.core.solvents.evaporation import Surface
from service.core.solvents.properties import Component, ShareKind
from service.core.solvents.room_air import Release, Room
from service.core.solvents.shares import Amount
from service.core.solvents.vapour import molar_volume_l
from service.core.solvents.vapour_of_mix import Basis, Blend, evaporating, vapour_per_litre

_PPM: Final = 1_000_000.0
_WHOLE_AMOUNTS: Final = frozenset({ShareKind.MASS_G, ShareKind.VOLUME_ML})


class EmissionUnit(StrEnum):
    """Grams an hour, millilitres of liquid a minute, or cubic metres of vapour an hour."""

    G_H = "g_h"
    ML_MIN = "ml_min"
    M3_H = "m3_h"


@dataclass(frozen=True)
class Emission:
    """What goes into the air all the time, of that part of the mix which evaporates."""

    value: float
    unit: EmissionUnit


@dataclass(frozen=True)
class AirQuestion:
    """A mix, what of it goes into the air in which time, and the room. What nobody told is ``None``.

    ``liquid_ml`` is of the whole mix; without it and without ``emission`` the components' own amounts go, if
    they are in grams or millilitres. ``dilution`` has one entry for each component. Levels are in ppm of all
    vapours together, water left out.
    """

    components: tuple[Component, ...]
    liquid_ml: float | None = None
    emission: Emission | None = None
    evaporation_min: float | None = None
    start_ppm: float | None = None
    target_ppm: float | None = None
    times_min: tuple[float, ...] = ()
    volume_m3: float | None = None
    airflow_m3_h: float | None = None
    mixing_factor: float | None = None
    celsius: float = 25.0
    airflow_is_natural: bool = False
    basis: Basis | None = None
    surface: Surface | None = None
    dilution: tuple[Dilution, ...] = ()

    def __post_init__(self) -> None:
        if self.liquid_ml is not None and self.emission is not None:
            sentence = "Give either liquid_ml, which evaporates once, or emission, which goes on; not both."
            raise Invalid(sentence, {"emission": sentence})
        if self.mixing_factor is not None:
            room_air.check_mixing(self.mixing_factor)

    @property
    def factor(self) -> float:
        return room_air.UNPLANNED_MIXING if self.mixing_factor is None else self.mixing_factor

    @property
    def room(self) -> Room | None:
        if self.volume_m3 is None or self.airflow_m3_h is None:
            return None
        return Room(self.volume_m3, self.airflow_m3_h, self.factor)

    @property
    def amounts_go(self) -> bool:
        """Whether the components' own grams or millilitres are what evaporates."""
        kinds = {one.share.kind for one in self.components if one.share}
        alone = self.liquid_ml is None and self.emission is None and kinds <= _WHOLE_AMOUNTS
        return alone and (self.evaporation_min is not None or self.start_ppm is None)

    @property
    def amounts_left_open(self) -> bool:
        """Whether grams or millilitres stand beside a starting level, and nobody says if they evaporate."""
        kinds = {one.share.kind for one in self.components if one.share}
        return kinds <= _WHOLE_AMOUNTS and not self.releases

    @property
    def releases(self) -> bool:
        return self.liquid_ml is not None or self.emission is not None or self.amounts_go

    @property
    def is_about_air(self) -> bool:
        """False where only figures of the vapour itself are asked."""
        return self.releases or self.start_ppm is not None

    @property
    def hours(self) -> float | None:
        return None if self.evaporation_min is None else self.evaporation_min / 60


@dataclass(frozen=True)
class Row:
    """A moment: minutes (None: only neared), ppm, mg/m3, per cent of the lower limit, share of the limits."""

    min: float | None
    ppm: float | None
    mg_m3: float | None
    percent_lel: float | None
    exposure_index: float | None
    index_is_at_least: bool


@dataclass(frozen=True)
class Figures:
    """All figures of one reading on one basis. ``known_percent_lel``: at the peak, by known limits alone."""

    basis: Basis
    vapour_l_per_l: float | None = None
    lower_limit: float | None = None
    vapour_m3_h: float | None = None
    series: tuple[Row, ...] = ()
    peak: Row | None = None
    rises_for_good: bool = False
    known_percent_lel: float | None = None
    mean_mg_m3: float | None = None
    mean_over_min: float | None = None
    ppm_if_no_air: float | None = None
    steady_ppm: float | None = None
    air_for_quarter_lel: float | None = None
    air_for_limits: float | None = None
    air_needed: float | None = None
    air_per_litre: float | None = None
    purge_min: float | None = None


def figures_of(asked: AirQuestion, amounts: Sequence[Amount], blend: Blend) -> Figures:
    """Every figure of one reading. ``None`` is what cannot be told from what is known."""
    litres = vapour_per_litre(amounts)
    limit = blend.lower_limit
    release = release_of(asked, amounts, blend) if asked.releases else Release()
    flow = release.per_hour / _PPM if asked.releases and release and release.per_hour else None
    quarter = None if flow is None or limit is None else air_to_quarter(flow, limit)
    breath = None if blend.index is None or blend.index_is_at_least else blend.index
    for_limits = None if flow is None or breath is None else flow * _PPM * breath * asked.factor
    mixed = None
    if flow is not None and limit is not None:
        mixed = air_to_level(flow, QUARTER * limit * 10_000, asked.factor)
    made = Figures(
        blend.basis,
        vapour_l_per_l=litres,
        lower_limit=limit,
        vapour_m3_h=flow,
        air_for_quarter_lel=quarter,
        air_for_limits=for_limits,
        air_needed=None if mixed is None or for_limits is None else max(mixed, for_limits),
        air_per_litre=None if litres is None or limit is None else air_to_quarter(litres / 1000, limit),
    )
    return made if release is None or not asked.is_about_air else _in_room(asked, blend, release, made)


def release_of(asked: AirQuestion, amounts: Sequence[Amount], blend: Blend) -> Release | None:
    """The vapours, water left out, as ppm times m3 at the room's temperature; ``None`` if not known."""
    per_m3 = molar_volume_l(asked.celsius) / 1000 * _PPM * blend.carried
    if asked.emission is not None:
        moles = _moles_an_hour(asked.emission, asked.celsius, blend)
        return None if moles is None else Release(per_hour=moles * per_m3, hours=asked.hours)
    moles = _moles_of_liquid(asked, amounts, blend)
    if moles is None:
        return None
    if not asked.hours:
        return Release(at_once=moles * per_m3, hours=0.0)
    return Release(per_hour=moles * per_m3 / asked.hours, hours=asked.hours)


def _moles_an_hour(emission: Emission, celsius: float, blend: Blend) -> float | None:
    if emission.unit is EmissionUnit.M3_H:
        return emission.value * 1000 / molar_volume_l(celsius)
    if emission.unit is EmissionUnit.G_H:
        return None if blend.grams_per_mole is None else emission.value / blend.grams_per_mole
    return None if blend.ml_per_mole is None else emission.value * 60 / blend.ml_per_mole


def _moles_of_liquid(asked: AirQuestion, amounts: Sequence[Amount], blend: Blend) -> float | None:
    """By weight: the same grams evaporate on both bases, with the molar mass of the vapour of each."""
    gone = [one.grams for one in evaporating(amounts)]
    if blend.grams_per_mole is None or any(grams is None for grams in gone):
        return None
    grams = sum(one or 0.0 for one in gone)
    if not asked.amounts_go:
        volumes = [one.millilitres for one in amounts]
        if any(one is None for one in volumes):
            return None
        grams *= (asked.liquid_ml or 0.0) / sum(one or 0.0 for one in volumes)
    return grams / blend.grams_per_mole


def _in_room(asked: AirQuestion, blend: Blend, release: Release, made: Figures) -> Figures:
    start = asked.start_ppm or 0.0
    last = max(asked.times_min, default=0.0)
    no_air = _without_air(asked, start, release, last)
    room = asked.room
    if room is None:
        return _with(made, ppm_if_no_air=no_air)
    top = room_air.peak(room, start, release)
    if not asked.releases:
        over: float | None = last or None
    else:
        over = asked.evaporation_min if asked.evaporation_min else last or None
    mean = room_air.mean_over(room, start, release, over / 60) if over else None
    end = _when_it_ends(room, start, release)
    target = asked.target_ppm if asked.target_ppm is not None else None if end is None else end / 10
    purge = None if end is None or not target else room_air.purge_hours(room, end, target)
    steady = room_air.steady_level(room, release.per_hour) if not release.at_once else None
    return _with(
        made,
        series=tuple(
            _row(blend, room_air.level_at(room, start, release, minute / 60), minute)
            for minute in asked.times_min
        ),
        peak=None if top is None else _row(blend, top.level, None if top.hours is None else top.hours * 60),
        rises_for_good=top is None,
        known_percent_lel=None if top is None else 100 * top.level * blend.known_burning,
        mean_mg_m3=None if mean is None or blend.mg is None else mean * blend.mg,
        mean_over_min=over,
        ppm_if_no_air=no_air,
        steady_ppm=steady,
        purge_min=None if purge is None else purge * 60,
    )


def _without_air(asked: AirQuestion, start: float, release: Release, last_min: float) -> float | None:
    if asked.volume_m3 is None:
        return None
    still = Room(asked.volume_m3, 0.0)
    if release.hours is not None or not release.per_hour:
        return room_air.level_at(still, start, release, release.hours or 0.0)
    return room_air.level_at(still, start, release, last_min / 60) if last_min else None


def _when_it_ends(room: Room, start: float, release: Release) -> float | None:
    """From where air alone brings it down: the level at the end of the release, or the steady one."""
    if release.hours is not None or not release.per_hour:
        return room_air.level_at(room, start, release, release.hours or 0.0)
    steady = room_air.steady_level(room, release.per_hour)
    return None if steady is None else max(steady, start)


def _row(blend: Blend, ppm: float, minute: float | None) -> Row:
    return Row(
        minute,
        ppm,
        None if blend.mg is None else ppm * blend.mg,
        None if blend.lower_limit is None else ppm / (blend.lower_limit * 100),
        None if blend.index is None else ppm * blend.index,
        blend.index_is_at_least,
    )


def _with(made: Figures, **more: object) -> Figures:
    return Figures(**{**vars(made), **more})
