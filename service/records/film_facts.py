"""What the published tables hold of a material for its film and its settling, as ranges with their sources.

A historic paste's oil (``paste_oil_percent``) is a share of a paste and never an oil absorption.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

from service.core.film_ranges import Span
from service.core.sources import Grade, weakest
from service.records.knowledge import Figure, KnownMaterial, find_known, known

# Warmer liquids are thinner; tables give 40 °C. At a bench they are thicker, and settling is slower.
_AT_C: Final = 40


@dataclass(frozen=True)
class Held:
    """One figure as a range, with where it comes from."""

    span: Span
    unit: str
    source: str
    grade: str


@dataclass(frozen=True)
class FilmFacts:
    """Figures of one material of the tables; ``None`` is not published.

    ``average_um`` is an average of a grade where one was published, ``particle_um`` all that was.
    """

    key: str
    name: str
    table: str
    density: Held | None
    oil_absorption: Held | None
    non_volatile: Held | None
    oil_share: Held | None
    paste_oil: Held | None
    particle_um: Held | None
    viscosity_mpa_s: Held | None
    lead_percent: Held | None


@cache
def film_facts(key: str) -> FilmFacts | None:
    """The figures of the material with this key, or ``None``."""
    row = known(key)
    if row is None:
        return None
    density = _density(row)
    return FilmFacts(
        key=key,
        name=row.name,
        table=row.table,
        density=density,
        oil_absorption=_held(row.figures_of("oil_absorption_g_100g")),
        non_volatile=_non_volatile(row),
        oil_share=_held(row.figures_of("oil_share_percent")),
        paste_oil=_held(row.figures_of("paste_oil_percent")),
        particle_um=_held(row.figures_of("particle_um")),
        viscosity_mpa_s=_viscosity(row, density),
        lead_percent=_held(row.figures_of("lead_percent")),
    )


def film_facts_by_name(name: str) -> FilmFacts | None:
    """The same for a written name that means one material only, else ``None``: nothing is guessed."""
    found = find_known(name) if name.strip() else ()
    return film_facts(found[0].key) if len(found) == 1 else None


def _held(rows: Sequence[Figure]) -> Held | None:
    """All published rows of a figure as one range; a row with an open end does not count."""
    whole = [row for row in rows if row.low is not None and row.high is not None]
    if not whole:
        return None
    low = min(float(row.low) for row in whole if row.low is not None)
    high = max(float(row.high) for row in whole if row.high is not None)
    sources = dict.fromkeys(key for row in whole for key in row.source)
    return Held((low, high), whole[0].unit, "; ".join(sources), weakest([row.grade for row in whole]).value)


def _density(row: KnownMaterial) -> Held | None:
    rows = [one for one in row.figures_of("density_g_ml") if one.high is not None and one.low is not None]
    return _held([one for one in rows if one.at_c == 20] or rows)


def _non_volatile(row: KnownMaterial) -> Held | None:
    """A solvent of the tables leaves nothing; a pigment all; else as published."""
    if row.table == "solvents":
        return Held((0.0, 0.0), "%", "a solvent of the tables", Grade.MEMORY.value)
    if row.table == "pigments":
        return Held((100.0, 100.0), "%", "a pigment of the tables", Grade.MEMORY.value)
    return _held(row.figures_of("nonvolatile_percent"))


def _viscosity(row: KnownMaterial, density: Held | None) -> Held | None:
    """As published, else from the kinematic viscosity at 40 °C and the density."""
    if told := _held([one for one in row.figures_of("viscosity_mpa_s") if one.at_c is not None]):
        return told
    moving = _held([one for one in row.figures_of("kinematic_viscosity_mm2_s") if one.at_c == _AT_C])
    if moving is None or density is None:
        return None
    (low, high), (thin, thick) = moving.span, density.span
    return replace(moving, span=(low * thin, high * thick), unit="mPa.s")
