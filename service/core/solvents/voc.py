"""VOC of a mix in grams per litre: of all of it, less water and exempt compounds, and as the EU counts.

Doors: web/api/calc_voc.py, core/solvents/voc_limits.py, actions/judge_voc.py.

Volumes are added up as if nothing shrank, unless the density of the whole is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.core.findings import Finding, Invalid
from service.core.solvents.properties import Component, DataUsed, used
from service.core.solvents.shares import missing_share, readings
from service.core.solvents.voc_mix import (
    Mix,
    lacks,
    left_over,
    mix_of,
    parts,
    shrinks,
    thinned,
    total,
)
from service.core.solvents.voc_parts import Part, part_of
from service.core.solvents.voc_rules import ExemptList

LOW_SOLIDS_G_L: Final = 120.0
"""1 lb of solids to a US gallon: the low-solids rule."""
_LEAST: Final = 1e-9


@dataclass(frozen=True)
class Figure:
    """A figure in g/l, worst reading first.

    ``value`` counts what nobody knows as VOC; ``sure`` leaves it out. ``at_least``: something could not even
    be counted, so the true figure may be higher. Both ``None``: not known.
    """

    value: float | None = None
    sure: float | None = None
    at_least: bool = False
    open: bool = False

    @property
    def known(self) -> bool:
        return self.value is not None and not self.at_least and not self.open


@dataclass(frozen=True)
class VocFigures:
    """The figures of a mix at one state, in g/l of it (``per_l_solids``: g of VOC to a litre of solids).

    Water, exempt and solids are not known while nobody knows what a component is."""

    actual: Figure
    regulatory: Figure
    eu: Figure
    exempt_g_l: float | None
    water_g_l: float | None
    solids_g_l: float | None
    per_l_solids: float | None
    low_solids: bool | None
    mostly_water: bool | None
    shrinks: bool


@dataclass(frozen=True)
class VocAnswer:
    """A mix as supplied and, with thinner, as it is used; ``ready`` is what a limit is compared with."""

    supplied: VocFigures
    ready: VocFigures
    findings: tuple[Finding, ...]
    data_used: tuple[DataUsed, ...]
    unchecked: tuple[str, ...]


def work_out(
    components: Sequence[Component],
    exempt: ExemptList,
    density_g_ml: float | None = None,
    thinners: Sequence[Component] = (),
) -> VocAnswer:
    """The VOC of a mix, and of it with its thinner.

    Args:
        density_g_ml: of the whole as supplied; ``None``: volumes are added up.
        thinners: volume_fraction: volumes to one volume of the mix; mass_fraction, percent: by mass to one
            (to 100) of the mix; mass_g, volume_ml: added to a mix that is written in amounts.

    Source: 40 CFR 59.104(a)(1) (read) and 59.406(a) (from memory); Directive 2004/42/EC Article 2.
    Raises Invalid for amounts that cannot be read, each naming the component and the mend.
    """
    parted = [part_of(one, exempt) for one in (*components, *thinners)]
    own, of_thinner = parted[: len(components)], parted[len(components) :]
    findings = [finding for one in parted for finding in one.findings]
    missing = missing_share(components)
    whole = [amounts for amounts in readings(components) if any(one.grams != 0 for one in amounts)]
    mixes = [mix_of(amounts, own, missing, density_g_ml) for amounts in whole]
    ready = [made for mix in mixes for made in thinned(mix, components, thinners, of_thinner)]
    findings += lacks(components, thinners, missing, density_g_ml, mixes, ready)
    supplied = _worst([_figures(one) for one in mixes])
    done = _worst([_figures(one) for one in ready])
    data = [fact for one in parted for fact in one.data_used]
    for one in (*components, *thinners):
        data += used(one, "density")
    unchecked = tuple(dict.fromkeys(one.unchecked for one in parted if one.unchecked))
    return VocAnswer(supplied, done, tuple(findings), tuple(data), unchecked)


def per_volume_of_solids(less_water: float, voc_density: float) -> float:
    """VOC to a volume of solids from VOC less water and the density of the VOC, all in one unit.

    ``less_water`` from 0 to below ``voc_density``. Source: 30 TAC 115.423(1), with 7.36 lb/gal (read).

    >>> round(per_volume_of_solids(3.5, 7.36), 2)
    6.67
    """
    if not 0 <= less_water < voc_density:
        raise Invalid("VOC less water lies from nothing to below the density of the VOC itself.")
    return less_water / (1 - less_water / voc_density)


def _figures(mix: Mix) -> VocFigures:
    volume = mix.volume
    water, exempt = parts(mix, Part.WATER), parts(mix, Part.EXEMPT)
    film = parts(mix, Part.FILM)
    litres = volume / 1000 if volume else None
    actual, eu = _figure(mix, False, volume), _figure(mix, True, volume)
    water_ml, exempt_ml = total(one.ml for one in water), total(one.ml for one in exempt)
    left = left_over(volume, water_ml, exempt_ml)
    open_ml = total(one.ml for one in parts(mix, Part.OPEN))
    regulatory = _less_water(mix, left, open_ml)
    solids = _solids(mix, litres)
    return VocFigures(
        actual,
        regulatory,
        eu,
        None if open_ml != 0 else _per(total(one.grams for one in exempt), litres),
        None if open_ml != 0 else _per(total(one.grams for one in water), litres),
        None if open_ml != 0 or parts(mix, Part.GIVEN) else _per(total(one.grams for one in film), litres),
        _to_solids(mix, left, litres, actual),
        solids,
        _mostly_water(mix),
        shrinks(mix),
    )


def _figure(mix: Mix, eu: bool, volume: float | None) -> Figure:
    """VOC over a volume: what is sure, what nobody knows counted in, and whether more may be there."""
    grams, open_grams, more, unknown_part = 0.0, 0.0, False, False
    for one in mix.counted:
        part = one.parted.eu if eu else one.parted.local
        if part in (Part.GIVEN, Part.AT_LEAST):
            content = one.component.voc_content if one.component else None
            told = None if content is None or one.ml is None else content.value * one.ml / 1000
            grams, more = grams + (told or 0.0), more or told is None or part is Part.AT_LEAST
        elif part is Part.VOC:
            grams, more = grams + (one.grams or 0.0), more or one.grams is None
        elif part is Part.OPEN and one.grams != 0:
            open_grams, more = open_grams + (one.grams or 0.0), more or one.grams is None
            unknown_part = True
    if volume is None or volume <= 0:
        return Figure(open=unknown_part)
    return Figure(1000 * (grams + open_grams) / volume, 1000 * grams / volume, more, unknown_part)


def _less_water(mix: Mix, left: float | None, open_ml: float | None) -> Figure:
    """Less water and exempt compounds. What nobody knows may be water as well: the worse of both stands."""
    if left is None:
        return Figure()
    volume = mix.volume or 0.0
    if left <= _LEAST * volume:
        none = _figure(mix, False, volume)
        return none if none.known and not none.value else Figure()
    made = _figure(mix, False, left)
    if not made.open or made.sure is None or made.value is None:
        return made
    if open_ml is None or left - open_ml <= _LEAST * volume:
        return replace(made, at_least=True)
    return replace(made, value=max(made.value, made.sure * left / (left - open_ml)))


def _solids(mix: Mix, litres: float | None) -> bool | None:
    """Whether at most 120 g/l stays in the film; ``None``: what nobody knows decides it."""
    sure = _per(total(one.grams or 0.0 for one in parts(mix, Part.FILM)), litres)
    if sure is None:
        return None
    if sure > LOW_SOLIDS_G_L:
        return False
    perhaps = [*parts(mix, Part.FILM), *parts(mix, Part.OPEN), *parts(mix, Part.GIVEN)]
    most = _per(total(one.grams for one in perhaps), litres)
    return True if most is not None and most <= LOW_SOLIDS_G_L else None


def _mostly_water(mix: Mix) -> bool | None:
    """Whether at least half of what leaves the film is water."""
    water = total(one.grams for one in parts(mix, Part.WATER))
    kinds = (Part.EXEMPT, Part.VOC, Part.OPEN, Part.GIVEN)
    rest = total(one.grams for kind in kinds for one in parts(mix, kind))
    return None if water is None or rest is None else water >= rest


def _to_solids(mix: Mix, left: float | None, litres: float | None, actual: Figure) -> float | None:
    if left is None or litres is None or not actual.known or actual.value is None or parts(mix, Part.GIVEN):
        return None
    voc_ml = total(one.ml for one in parts(mix, Part.VOC))
    solids_ml = None if voc_ml is None else left - voc_ml
    if solids_ml is None or solids_ml <= _LEAST * litres * 1000:
        return None
    return actual.value * litres / (solids_ml / 1000)


def _worst(made: Sequence[VocFigures]) -> VocFigures:
    """Of every reading the worse; a figure that one reading lacks is not known."""

    def one_of(figures: list[Figure]) -> Figure:
        if any(one.value is None for one in figures):
            return Figure(open=any(one.open for one in figures))
        return Figure(
            max(one.value or 0.0 for one in figures),
            max(one.sure or 0.0 for one in figures),
            any(one.at_least for one in figures),
            any(one.open for one in figures),
        )

    def most(values: list[float | None]) -> float | None:
        return None if None in values else max(value for value in values if value is not None)

    def agreed(values: set[bool | None]) -> bool | None:
        return next(iter(values)) if len(values) == 1 else None

    return VocFigures(
        one_of([one.actual for one in made]),
        one_of([one.regulatory for one in made]),
        one_of([one.eu for one in made]),
        most([one.exempt_g_l for one in made]),
        most([one.water_g_l for one in made]),
        most([one.solids_g_l for one in made]),
        most([one.per_l_solids for one in made]),
        agreed({one.low_solids for one in made}),
        agreed({one.mostly_water for one in made}),
        any(one.shrinks for one in made),
    )


def _per(grams: float | None, litres: float | None) -> float | None:
    return None if grams is None or not litres else grams / litres
