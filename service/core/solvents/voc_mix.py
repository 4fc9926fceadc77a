"""One reading of a mix as a law of VOC sees it: each liquid with its part, grams and ml, and its volume.

Doors: core/solvents/voc.py.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from service.core.findings import Finding, Invalid, unknown, warn
from service.core.solvents.properties import Component, Share, ShareKind, SolventFamily
from service.core.solvents.shares import Amount
from service.core.solvents.voc_parts import Part, Parted

MOST_THINNERS: Final = 6
SHRINKS_BY: Final = 0.04
"""Alcohol and water shrink by up to 3.5 % when they are mixed; the figure is higher by as much."""
_SHRINKING: Final = frozenset({SolventFamily.ALCOHOL, SolventFamily.GLYCOL_ETHER, SolventFamily.KETONE})
_IN_PARTS: Final = frozenset({ShareKind.MASS_FRACTION, ShareKind.PERCENT})
_ABSOLUTE: Final = frozenset({ShareKind.MASS_G, ShareKind.VOLUME_ML})


@dataclass(frozen=True)
class Counted:
    """One component in one reading: grams and millilitres, ``None`` where not known. Without a component it
    is what of the mix nobody told.
    """

    component: Component | None
    parted: Parted
    grams: float | None
    ml: float | None


@dataclass(frozen=True)
class Mix:
    """One reading: its components and its volume in ml."""

    counted: tuple[Counted, ...]
    volume: float | None
    summed: bool


def mix_of(amounts: Sequence[Amount], parted: Sequence[Parted], missing: float, density: float | None) -> Mix:
    counted = [
        Counted(one.component, part, one.grams, one.millilitres)
        for one, part in zip(amounts, parted, strict=True)
    ]
    if missing:
        kind = amounts[0].component.share
        by_mass = kind is not None and kind.kind in _IN_PARTS
        by_volume = kind is not None and kind.kind is ShareKind.VOLUME_FRACTION
        rest = Parted(Part.OPEN, Part.OPEN)
        counted.append(Counted(None, rest, missing if by_mass else None, missing if by_volume else None))
    grams = total(one.grams for one in counted)
    if density is not None and grams is not None:
        return Mix(tuple(counted), grams / density, False)
    return Mix(tuple(counted), total(one.ml for one in counted), True)


def thinned(
    mix: Mix, components: Sequence[Component], thinners: Sequence[Component], parted: Sequence[Parted]
) -> Iterator[Mix]:
    """The mix with every corner of what is thinned in; without thinner the mix itself."""
    shares = [_share_of(one) for one in thinners]
    kinds = {one.share.kind for one in components if one.share is not None}
    for corner in product(*((share.low, share.high) if share.is_range else (share.low,) for share in shares)):
        added: list[Counted] = []
        for one, share, value, part in zip(thinners, shares, corner, parted, strict=True):
            grams, ml = _added(one, share.kind, value, mix, absolute=kinds <= _ABSOLUTE)
            added.append(Counted(one, part, grams, ml))
        volumes = total(one.ml for one in added)
        whole = None if mix.volume is None or volumes is None else mix.volume + volumes
        yield Mix((*mix.counted, *added), whole, mix.summed or bool(added)) if added else mix


def _share_of(one: Component) -> Share:
    if one.share is None or one.share.kind is ShareKind.MOLE_FRACTION:
        words = f"{one.name}: write a thinner as volume_fraction, volumes to one volume of the mix."
        raise Invalid(words, {"thinning": words})
    return one.share


def _added(
    one: Component, kind: ShareKind, value: float, mix: Mix, *, absolute: bool
) -> tuple[float | None, float | None]:
    """Grams and ml of a thinner, for the amount of the mix that its components are written for."""
    density = one.density.value if one.density else None
    if kind in _ABSOLUTE and not absolute:
        words = (
            f"{one.name}: the mix is written in shares, so write its thinner as volume_fraction: volumes to "
            "one volume of the mix."
        )
        raise Invalid(words, {"thinning": words})
    if kind is ShareKind.MASS_G or kind in _IN_PARTS:
        whole = 1.0 if kind is ShareKind.MASS_G else total(part.grams for part in mix.counted)
        share = value / 100 if kind is ShareKind.PERCENT else value
        grams = None if whole is None else whole * share
        return grams, None if grams is None or density is None else grams / density
    whole = 1.0 if kind is ShareKind.VOLUME_ML else mix.volume
    ml = None if whole is None else whole * value
    return None if ml is None or density is None else ml * density, ml


def shrinks(mix: Mix) -> bool:
    """Whether its volume was added up although water and what shrinks with it are both in it."""
    wet = any(one.grams != 0 for one in parts(mix, Part.WATER))
    return mix.summed and wet and any(_may_shrink(one) for one in mix.counted if one.grams != 0)


def _may_shrink(one: Counted) -> bool:
    known = one.component is not None and one.component.family in _SHRINKING
    return known or one.parted.local is Part.OPEN


def left_over(volume: float | None, water_ml: float | None, exempt_ml: float | None) -> float | None:
    if volume is None or water_ml is None or exempt_ml is None:
        return None
    left = volume - water_ml - exempt_ml
    return left if left > -0.02 * volume else None


def lacks(
    components: Sequence[Component], thinners: Sequence[Component], missing: float, density: float | None,
    mixes: Sequence[Mix], ready: Sequence[Mix],
) -> list[Finding]:  # fmt: skip
    """What stands in the way of the figures, each with its mend."""
    found: list[Finding] = []
    if missing:
        words = (
            f"{missing * 100:.4g} % of the mix is not told; it counts as VOC where its amount is known, and "
            "no limit is called met. Name what it is."
        )
        found.append(unknown("remainder-not-told", words))
    no_volume = any(one.volume is None for one in (*mixes, *ready))
    for one in (*components, *thinners):
        lines = [c for mix in ready for c in mix.counted if c.component is one]
        needed = any(c.parted.local in (Part.WATER, Part.EXEMPT, Part.GIVEN) for c in lines) or no_volume
        no_ml = needed and any(c.ml is None for c in lines)
        if one.density is None and (no_ml or any(_weighs(c) and c.grams is None for c in lines)):
            words = f"The density of {one.name} is not known, so its share of a litre is not. "
            words += "Give density_g_ml, from section 9 of its data sheet."
            found.append(unknown("density-not-known", words, about=one.name))
        if one.molar_mass is None and one.share and one.share.kind is ShareKind.MOLE_FRACTION:
            words = f"The molar mass of {one.name} is not known. Give molar_mass_g_mol."
            found.append(unknown("molar-mass-not-known", words, about=one.name))
    if density is not None:
        found += _density_fits(density, mixes)
    if any(shrinks(one) for one in ready):
        words = (
            "Water and a liquid that shrinks with it are in the mix: its VOC per litre may be up to 4 % "
            "higher than shown. Give density_g_ml of the mix to settle it."
        )
        found.append(warn("shrinks-on-mixing", words))
    if any(_negative(one) for one in ready):
        words = "Water and exempt solvents take up more than the whole. Look at the densities."
        found.append(unknown("volumes-do-not-fit", words))
    return found


def _weighs(one: Counted) -> bool:
    return one.parted.local in (Part.VOC, Part.OPEN) or one.parted.eu in (Part.VOC, Part.OPEN)


def _negative(mix: Mix) -> bool:
    water, exempt = (total(one.ml for one in parts(mix, part)) for part in (Part.WATER, Part.EXEMPT))
    known = mix.volume is not None and water is not None and exempt is not None
    return known and left_over(mix.volume, water, exempt) is None


def _density_fits(density: float, mixes: Sequence[Mix]) -> list[Finding]:
    for mix in mixes:
        summed = total(one.ml for one in mix.counted)
        grams = total(one.grams for one in mix.counted)
        if grams is None:
            words = "The density of the mix was not used, for what some of it weighs is not known."
            return [warn("density-not-used", words)]
        if summed and not 0.9 <= grams / summed / density <= 1.1:
            words = (
                f"By its parts the mix weighs {grams / summed:.4g} g/ml, and {density:.4g} was given; the "
                "given density is used. Measure it again."
            )
            return [warn("density-does-not-fit", words)]
    return []


def parts(mix: Mix, part: Part) -> list[Counted]:
    return [one for one in mix.counted if one.parted.local is part]


def total(values: Iterable[float | None]) -> float | None:
    held = list(values)
    return None if None in held else float(sum(value for value in held if value is not None))
