"""What stays of a mix when it has dried: pigment, binder, and whether the binder is enough to hold it.

Doors: actions/judge_film.py, web/api/calc_film.py.

Volumes are taken to add up. Masses in g, densities in g/ml, oil absorption in g of linseed oil to 100 g of
pigment, shares of volume 0 to 1. What is not known is ``None`` and makes every figure that needs it ``None``.
Sources: PVC, solids and density by ASTM D5201 (its scope) and textbook formulas; CPVC from oil absorption by
a dispersion supplier's note and ASTM STP 37156S (abstract). A spatula rub-out (ASTM D281) and a gentle
folding (D1483) give different oil absorptions on purpose, so a range is wanted there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from service.core.film_ranges import Share, Span, extreme_share

OIL_DENSITY_G_ML: Final = 0.935
"""Of the linseed oil that oil absorption is measured with: the usual textbook figure (from memory, Patton).

ASTM D281-12 5.5 asks for a specific gravity of 0.926 to 0.931; the difference moves a CPVC by less than
0.002.
"""
SOLIDS_HEAVIEST_G_ML: Final = 1.65
"""What stays of a binder is at most so heavy (cellulose nitrate; from memory)."""
NOTHING: Final[Span] = (0.0, 0.0)
_ONE: Final[Span] = (1.0, 1.0)


@dataclass(frozen=True)
class FilmPart:
    """One thing that went in. ``pigment`` and ``binder`` are per cent of its mass, the rest evaporates.

    Args:
        mass: g; the high end may be endless where nobody wrote how much.
        binder_density: of what stays of the binder.
        whole_density: of the thing as it comes; None: from its parts.
        dissolved: a dye: it stays, has no grains, and its volume is not known.
    """

    name: str
    mass: Span
    pigment: Span = NOTHING
    binder: Span = NOTHING
    pigment_density: Span | None = None
    binder_density: Span | None = None
    volatile_density: Span | None = None
    whole_density: Span | None = None
    oil_absorption: Span | None = None
    dissolved: bool = False


@dataclass(frozen=True)
class Film:
    """The figures of a mix, each lowest and highest; ``None`` is not known.

    ``reduced_pvc`` is PVC over CPVC: above 1 there is less binder than the grains take up. ``pigment_g`` and
    ``binder_g`` are masses; their high end may be endless.
    """

    pvc: Span | None
    cpvc: Span | None
    reduced_pvc: Span | None
    density_g_ml: Span | None
    mass_solids_percent: Span | None
    volume_solids_percent: Span | None
    pigment_mass_percent: Span | None
    pigment_g: Span
    binder_g: Span


def film_of(parts: Sequence[FilmPart], oil_density: float = OIL_DENSITY_G_ML) -> Film:
    """The film of a mix. Every range holds whatever the true figures inside theirs are, and is no wider.

    >>> paste = FilmPart("umber in oil", (100, 100), (50, 50), (50, 50), (3.2, 3.2), (0.93, 0.93))
    >>> round(film_of([paste]).pvc[0], 4)
    0.2252
    """
    there = [one for one in parts if one.mass[1] > 0]
    grains = [one for one in there if one.pigment[1] > 0]

    def figure(upper: str, lower: str, of: Sequence[FilmPart] = there) -> Span | None:
        return _figure([_grams(one, oil_density) for one in of], [one.mass for one in of], upper, lower)

    masses = _masses(there)
    return Film(
        pvc=figure("pigment_ml", "dry_ml"),
        cpvc=figure("pigment_ml", "soaked_ml", grains),
        reduced_pvc=figure("soaked_ml", "dry_ml") if grains else None,
        density_g_ml=figure("gram", "whole_ml"),
        mass_solids_percent=_percent(figure("solid_g", "gram")),
        volume_solids_percent=_percent(figure("solid_ml", "whole_ml")),
        pigment_mass_percent=_percent(figure("pigment_g", "gram")),
        pigment_g=masses[0],
        binder_g=masses[1],
    )


def cpvc_of(oil_absorption: float, density_g_ml: float, oil_density: float = OIL_DENSITY_G_ML) -> float:
    """The critical share of volume of one pigment: what its grains fill when oil fills just the gaps.

    >>> round(cpvc_of(11, 4.2), 4)
    0.6693
    """
    return 1 / (1 + oil_absorption * density_g_ml / (100 * oil_density))


def oil_to_pigment(oil_percent_of_paste: float) -> float:
    """Grams of oil to 100 g of pigment in a paste. A workable paste holds more oil than the pigment absorbs:
    never give this to ``cpvc_of``.

    >>> round(oil_to_pigment(9), 2)
    9.89
    """
    return 100 * oil_percent_of_paste / (100 - oil_percent_of_paste)


def solids_density(as_supplied: Span, non_volatile: Span) -> Span:
    """How heavy what stays of a binder may be, where only the binder as supplied was weighed: from as heavy
    as the whole (what evaporates is lighter) to the heaviest film former there is.
    """
    if non_volatile[0] >= 100:
        return as_supplied
    return as_supplied[0], max(as_supplied[1], SOLIDS_HEAVIEST_G_ML)


@dataclass(frozen=True)
class _Gram:
    """What one gram brings, at one end of each figure; ``None`` is not known."""

    gram: float
    pigment_g: float
    solid_g: float
    pigment_ml: float | None
    soaked_ml: float | None
    dry_ml: float | None
    solid_ml: float | None
    whole_ml: float | None


def _grams(part: FilmPart, oil_density: float) -> list[_Gram]:
    made: list[_Gram] = []
    for (pigment, binder), grain, stays, leaves, whole, absorbs in product(
        _shares(part), _ends(part.pigment_density), _ends(part.binder_density), _ends(part.volatile_density),
        _ends(part.whole_density), _ends(part.oil_absorption),
    ):  # fmt: skip
        if part.dissolved:
            made.append(_Gram(1.0, 0.0, 1.0, 0.0, 0.0, 0.0, None, None))
            continue
        pigment_ml, binder_ml = _volume(pigment, grain), _volume(binder, stays)
        oil_ml = 0.0 if pigment == 0 else None if absorbs is None else pigment * absorbs / 100 / oil_density
        dry = _sum(pigment_ml, binder_ml)
        parts = _sum(dry, _volume(max(0.0, 1 - pigment - binder), leaves))
        made.append(
            _Gram(
                1.0,
                pigment,
                pigment + binder,
                pigment_ml,
                _sum(pigment_ml, oil_ml),
                dry,
                dry,
                parts if whole is None else 1 / whole,
            )
        )
    return made


def _shares(part: FilmPart) -> list[tuple[float, float]]:
    """The corners of what pigment and binder may be, together never more than all of it."""
    corners: set[tuple[float, float]] = set()
    for pigment, binder in product(_ends(part.pigment), _ends(part.binder)):
        assert pigment is not None and binder is not None
        if pigment + binder <= 100:
            corners.add((pigment / 100, binder / 100))
            continue
        if part.binder[0] <= 100 - pigment:
            corners.add((pigment / 100, 1 - pigment / 100))
        if part.pigment[0] <= 100 - binder:
            corners.add((1 - binder / 100, binder / 100))
    return sorted(corners)


def _ends(span: Span | None) -> tuple[float | None, ...]:
    return (None,) if span is None else (span[0],) if span[0] == span[1] else span


def _volume(mass: float, density: float | None) -> float | None:
    return 0.0 if mass <= 1e-12 else None if density is None else mass / density


def _sum(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one + other


def _figure(grams: Sequence[Sequence[_Gram]], masses: Sequence[Span], upper: str, lower: str) -> Span | None:
    shares: list[Share] = []
    for ways, mass in zip(grams, masses, strict=True):
        pairs = {(getattr(one, upper), getattr(one, lower)) for one in ways}
        if any(n is None or d is None for n, d in pairs):
            return None
        shares.append(Share(mass, tuple(sorted(pairs))))
    return extreme_share(shares)


def _percent(span: Span | None) -> Span | None:
    return None if span is None else (span[0] * 100, span[1] * 100)


def _masses(parts: Sequence[FilmPart]) -> tuple[Span, Span]:
    pigment, binder = [0.0, 0.0], [0.0, 0.0]
    for one in parts:
        for end in (0, 1):
            pigment[end] += one.mass[end] * one.pigment[end] / 100 if one.pigment[end] else 0.0
            binder[end] += one.mass[end] * one.binder[end] / 100 if one.binder[end] else 0.0
    return (pigment[0], pigment[1]), (binder[0], binder[1])
