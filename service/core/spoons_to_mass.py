"""Counting out spoons only works for a few: of a recipe grown more than four times they are weighed instead.

Doors: actions/check_mix.py, web/pages/bench.py, web/api/recipes.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final

from service.core.findings import Finding, note, unknown
from service.core.materials import Basis, Form
from service.core.quantities import (
    UNITS,
    CannotMeet,
    Densities,
    across,
    decimal_of,
    meeting_density,
    plain,
    show_amount,
)

GROWN_TIMES: Final = 4
SPOONS: Final = frozenset({"drop", "us-tsp", "us-tbsp", "metric-tsp", "metric-tbsp"})
CUPS: Final = frozenset({"us-cup", "imp-cup"})
"""A cup is a spoon for powder; of a liquid it is measured in a jug."""
WEIGH: Final = "weigh-instead"
NOT_WEIGHED: Final = "spoons-not-weighed"


@dataclass(frozen=True)
class SpoonLine:
    """A line as the recipe has it: ``low`` (None: to suit) to ``high`` in microlitres, written in a unit."""

    position: int
    name: str
    unit_key: str
    low: int | None
    high: int
    form: Form | None
    densities: Densities


@dataclass(frozen=True)
class Weighed:
    """``low_mg`` to ``high_mg`` instead of so many spoons; None where nobody knows what they weigh."""

    position: int
    name: str
    spoons: str
    low_mg: int | None
    high_mg: int | None
    finding: Finding

    @property
    def words(self) -> str:
        return self.finding.sentence


def spoons_to_mass(lines: Sequence[SpoonLine], times: Fraction | Decimal | None) -> tuple[Weighed, ...]:
    """What to weigh of each spoon line of a recipe made ``times``; nothing up to four times.

    >>> bulk = Densities(bulk_g_ml=(Decimal("0.32"), Decimal("0.41")), bulk_source="table")
    >>> line = SpoonLine(1, "umber", "us-tsp", 9858, 9858, Form.POWDER, bulk)
    >>> spoons_to_mass([line], Fraction(12))[0].words
    'umber: about 43.2 g (37.8 to 48.6 g) instead of 24 US tsp: weigh it.'
    """
    if times is None or Fraction(times) <= GROWN_TIMES:
        return ()
    return tuple(_weighed(line, Fraction(times)) for line in lines if _is_spoon(line))


def _is_spoon(line: SpoonLine) -> bool:
    powder = line.form not in (Form.LIQUID, Form.PASTE)
    return line.unit_key in SPOONS or (powder and line.unit_key in CUPS)


def _weighed(line: SpoonLine, times: Fraction) -> Weighed:
    spoons = _spoons(line, times)
    most = "up to " if line.low is None else ""
    try:
        light, heavy, _ = meeting_density(
            Basis.VOLUME, Basis.MASS, line.densities, form=line.form, name=line.name
        )
    except CannotMeet as lack:
        words = f"{most}{spoons} of {line.name} are too many to count. {lack.sentence}"
        found = unknown(NOT_WEIGHED, words[0].upper() + words[1:], about=line.name)
        return Weighed(line.position, line.name, spoons, None, None, found)
    low = floor(across((line.low or 0) * times, Basis.MASS, light, heavy)[0])
    high = ceil(across(line.high * times, Basis.MASS, light, heavy)[1])
    if line.low is None:
        said = f"up to {_three(high, up=True)}"
    elif (high - low) * 100 <= high:
        said = f"about {_three((low + high) // 2, up=None)}"
    else:
        middle = _three((low + high) // 2, up=None)
        said = f"about {middle} ({_bare(low, high)} to {_three(high, up=True)})"
    words = f"{line.name}: {said} instead of {most}{spoons}: weigh it."
    return Weighed(line.position, line.name, spoons, low, high, note(WEIGH, words, about=line.name))


def _spoons(line: SpoonLine, times: Fraction) -> str:
    """How many spoons it would be, to a tenth: nobody counts finer."""
    unit = UNITS[line.unit_key]
    many = decimal_of(line.high * times / Fraction(unit.factor), 1)
    return f"{plain(many)} {unit.singular if many == 1 else unit.plural}"


def _three(mg: int, *, up: bool | None) -> str:
    """To three figures: the low end down, the high end up, the middle to the nearest."""
    step = 10 ** max(0, len(str(abs(mg))) - 3)
    share = Fraction(mg, step)
    whole = round(share) if up is None else ceil(share) if up else floor(share)
    return show_amount(whole * step, Basis.MASS)


def _bare(low: int, high: int) -> str:
    """The low end, without its unit where the high end has the same one."""
    ends = [_three(low, up=False), _three(high, up=True)]
    figure, _, unit = ends[0].rpartition(" ")
    return figure if unit == ends[1].rpartition(" ")[2] else ends[0]
