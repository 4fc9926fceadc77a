"""The ways of a mix through the matrix: the liquid at its most volatile part, traces, and powders tipped in.

Doors: core/hazards/ventilation_class.py.

Sources: the most volatile part counts for the mix: from memory. Floor of 1 %, traces judged by themselves,
dry powders judged for the step in which they are weighed: rules of this program.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.core.hazards.hazard_band import Banded, Scheme, band, rank
from service.core.hazards.mix import MixForm
from service.core.hazards.ventilation_matrix import Column, of_liquid, of_solid
from service.core.hazards.ventilation_parts import FLOOR_PERCENT, Part, Path
from service.core.hazards.ventilation_reasons import OURS, About, Reason
from service.core.hazards.volatility import Volatility, VolatilityFound, worse_volatility
from service.core.sources import Provenance

MIX: Final = "the liquid"


@dataclass(frozen=True)
class LiquidPart:
    """A liquid of the mix with its group and its volatility."""

    part: Part
    group: Banded
    found: VolatilityFound


@dataclass(frozen=True)
class TheWhole:
    """What is known of the mix as a whole.

    Args:
        boiling: by a boiling point or vapour pressure of the whole; None = none is known.
        heated: used above 25 C.
        mixed: it has several parts; own: it has statements of its own; untold: a share of it is not told.
    """

    group: Banded
    boiling: VolatilityFound | None
    heated: bool
    mixed: bool
    own: bool
    untold: bool


def liquid_paths(all_liquids: Sequence[LiquidPart], whole: TheWhole) -> list[Path]:
    """One path for the mix at its most volatile part, and one for each trace that is dangerous in itself."""
    group, boiling = whole.group, whole.boiling
    liquids = [one for one in all_liquids if not (whole.mixed and one.part.only_water)]
    # Where the mix has statements of its own, a trace counts if it is more dangerous than they say; where it
    # has none, a trace is judged by itself: its group may be the reason for the mix's.
    traces = [one for one in liquids if one.part.is_trace and not whole.own]
    counted = [
        one.found for one in liquids if not one.part.is_trace or (whole.own and _above(one.group, group))
    ]
    measured = boiling is not None and boiling.band is not None
    if boiling is not None and (measured or not counted):
        counted.append(boiling)
    paths: list[Path] = []
    if counted:
        worst = worse_volatility(*(one.at_least for one in counted))
        # What was measured on the whole answers for parts of which nobody knows it.
        told = all(one.band is not None for one in counted) and not whole.untold
        known = measured or told or worst is Volatility.NOT_APPLICABLE
        sure = known or (worst is Volatility.HIGH and not whole.heated)
        reasons = tuple(r for one in counted if one.band in (None, worst) for r in one.because)
        paths.append(
            Path(
                MIX,
                group.group,
                group.at_least,
                of_liquid(worst) if sure else None,
                reasons,
                measured=measured,
            )
        )
    elif len(liquids) < len(all_liquids) and not traces and not whole.untold:
        words = "Only water evaporates from it, which harms nobody: low volatility."
        paths.append(Path(MIX, group.group, group.at_least, Column.LOW, (_own_rule(words, "water"),)))
    return paths + [_trace(one) for one in traces if not counted or _matters(one.group)]


def _matters(group: Banded) -> bool:
    return group.group is None or rank(group.group) > 0


def _above(one: Banded, mix: Banded) -> bool:
    return one.group is None or rank(one.group) > rank(mix.at_least)


def _trace(one: LiquidPart) -> Path:
    words = f"{one.part.name} is below {FLOOR_PERCENT:g} %, and judged by itself for what it is."
    column = None if one.found.band is None else of_liquid(one.found.band)
    reasons = (*one.group.because, *one.found.because, _own_rule(words, one.part.name))
    return Path(one.part.name, one.group.group, one.group.at_least, column, reasons)


def solid_paths(parts: Sequence[Part], group: Banded, scheme: Scheme) -> list[Path]:
    """A powder by itself, or in the step in which it is weighed and tipped into a liquid."""
    paths: list[Path] = []
    for part in parts:
        if part.form is not MixForm.SOLID:
            continue
        # Among others its own statements count in whatever share it goes in: it lies undiluted on the scales.
        mine = group if len(parts) == 1 else band(part.said, scheme, part.name)
        column = of_solid(part.dustiness) if part.dustiness else None
        reasons = part.dust_reasons
        if len(parts) > 1:
            words = f"{part.name} is judged as dry powder, for the step in which it is weighed and tipped in."
            reasons = (
                *(r for r in mine.because if r.about is About.GROUP),
                *reasons,
                _own_rule(words, part.name),
            )
        paths.append(Path(part.name, mine.group, mine.at_least, column, reasons, True))
    return paths


def _own_rule(words: str, name: str) -> Reason:
    return Reason(About.RULE, words, OURS, Provenance.DERIVED, component=name)
