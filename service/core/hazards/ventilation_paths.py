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


def liquid_paths(
    all_liquids: Sequence[LiquidPart],
    group: Banded,
    boiling: VolatilityFound | None,
    heated: bool,
    mixed: bool,
) -> list[Path]:
    """One path for the mix at its most volatile part, and one for each trace that is dangerous in itself."""
    liquids = [one for one in all_liquids if not (mixed and one.part.only_water)]
    counted = [one.found for one in liquids if not one.part.is_trace]
    traces = [one for one in liquids if one.part.is_trace]
    measured = boiling is not None and boiling.band is not None
    if boiling is not None and (measured or not counted):
        counted.append(boiling)
    paths: list[Path] = []
    if counted:
        worst = worse_volatility(*(one.at_least for one in counted))
        # What was measured on the whole answers for parts of which nobody knows it.
        known = measured or all(one.band is not None for one in counted) or worst is Volatility.NOT_APPLICABLE
        sure = known or (worst is Volatility.HIGH and not heated)
        reasons = tuple(r for one in counted if one.band in (None, worst) for r in one.because)
        paths.append(Path(MIX, group.group, group.at_least, of_liquid(worst) if sure else None, reasons))
    elif len(liquids) < len(all_liquids) and not traces:
        words = "Only water evaporates from it, which harms nobody: low volatility."
        paths.append(Path(MIX, group.group, group.at_least, Column.LOW, (_own_rule(words, "water"),)))
    return paths + [_trace(one) for one in traces if not counted or _matters(one.group)]


def _matters(group: Banded) -> bool:
    return group.group is None or rank(group.group) > 0


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
