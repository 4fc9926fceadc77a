"""What went out of the store as waste, line by line, summed by calendar month.

Doors: actions/look_at_waste.py, web/pages/waste.py, web/api/waste.py.

All of it counts as hazardous: the book does not know what is not. A mass that cannot be worked out makes its
month "at least"; acute waste is never known from the ledger, so a category by the ledger is "at least" too,
unless it is the heaviest.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Final

from service.core.materials import Basis
from service.core.waste import JudgedMonth, Mass, Month, judge_month
from service.core.waste_drums import DrumEntry, DrumStep
from service.core.waste_rules import Kind, WasteTables

_MG: Final = 1_000_000
_RAGS: Final = re.compile(r"(the )?((oily|used) )?(rags?|cloths?|wipes?)(,? (of )?load \d+)?")


@dataclass(frozen=True)
class WasteLine:
    """One thing that became waste. ``kg`` ``None``: not known. ``about``: estimated. ``why_not``: mend.

    ``acute``: a drum of acute waste took it; False says only that no such drum is known.
    """

    on: date
    what: str
    code: str
    kg: Fraction | None
    about: bool
    where: str
    why_not: str = ""
    acute: bool = False


@dataclass(frozen=True)
class DrumLine:
    """What was put into a drum past the ledger. ``load``: the rags it was; ``told``: an amount was said."""

    line: WasteLine
    load: int | None = None
    told: bool = False


def is_the_load(what: str) -> bool:
    """Whether words beside the number of a load of rags say no more than that it is rags.

    >>> is_the_load("Oily rags, load 3"), is_the_load("the rags"), is_the_load("Thinner and rags")
    (True, True, False)
    """
    return _RAGS.fullmatch(" ".join(what.casefold().split())) is not None


def rag_lines(rags: Mapping[int, WasteLine], put_in: Sequence[DrumLine]) -> list[WasteLine]:
    """The lines of loads of rags by their own steps, and those of what was put into drums.

    A load counts once in a month, and never less than what was put in of it; what was put in without an
    amount is told by the load's own step. In another month than that step it counts whole there too, as
    nobody knows in which of both it became waste.
    """
    found = []
    own = dict(rags)
    for one in put_in:
        step = None if one.load is None else own.get(one.load)
        apart = step is None or one.line.kg is None or step.kg is None or _other_month(one.line, step)
        if step is None or (one.told and apart):
            found.append(one.line)
    whole: dict[int, Fraction] = {}
    for one in put_in:
        if one.load is not None and one.line.kg is not None:
            whole[one.load] = whole.get(one.load, Fraction(0)) + one.line.kg
    for load, step in own.items():
        if step.kg is not None and whole.get(load, 0) > step.kg:
            own[load] = replace(step, kg=whole[load])
    return [*own.values(), *found]


def _other_month(one: WasteLine, other: WasteLine) -> bool:
    return (one.on.year, one.on.month) != (other.on.year, other.on.month)


def line_mass(
    change: int | None, basis: Basis | None, density_g_ml: Fraction | None
) -> tuple[Fraction | None, str]:
    """Kilograms of a change in smallest units, or what is missing to know them.

    >>> line_mass(-2_500_000, Basis.MASS, None)
    (Fraction(5, 2), '')
    >>> line_mass(-1_000_000, Basis.VOLUME, Fraction(8, 10))
    (Fraction(4, 5), '')
    >>> line_mass(-1_000_000, Basis.VOLUME, None)[0] is None
    True
    """
    if change is None or basis is None:
        return None, "Nobody wrote how much it was."
    if basis is Basis.MASS:
        return Fraction(abs(change), _MG), ""
    if basis is Basis.PIECES:
        return None, "It is counted in pieces. Weigh what goes into the waste."
    if density_g_ml is None:
        return None, "Its density is not known. Write it down at the material, or weigh it."
    return Fraction(abs(change), _MG) * density_g_ml, ""


def amounts_with(
    kg: Fraction | None, litres: Fraction | None, beside: tuple[int | None, int | None]
) -> tuple[Fraction | None, Fraction | None]:
    """Kilograms and litres with what went beside them, told in mg and µl; not known stays not known.

    >>> amounts_with(Fraction(2), None, (500_000, 500_000))
    (Fraction(5, 2), None)
    """
    mg, ul = beside
    return (
        None if kg is None or mg is None else kg + Fraction(mg, _MG),
        None if litres is None or ul is None else litres + Fraction(ul, _MG),
    )


def line_volume(
    change: int | None, basis: Basis | None, density_g_ml: Fraction | None
) -> Fraction | None:
    """Litres of a change in smallest units; None where they cannot be known.

    >>> line_volume(-2_000_000, Basis.VOLUME, None), line_volume(-800_000, Basis.MASS, Fraction(8, 10))
    (Fraction(2, 1), Fraction(1, 1))
    """
    if change is None or basis is None or basis is Basis.PIECES:
        return Fraction(0) if change == 0 and basis is not None else None
    if basis is Basis.VOLUME:
        return Fraction(abs(change), _MG)
    return None if not density_g_ml else Fraction(abs(change), _MG) / density_g_ml


def found_by_weighing(entries: Iterable[DrumEntry]) -> list[tuple[date, int | None]]:
    """What weighings and hand-overs of a drum show above what was put in: day and mg (None: not known).

    In which month it arose is not known: the whole of it stands in every month that put in something of
    unknown mass since the drum was weighed before, else in every month that put in anything, else in the
    month of the weighing.

    Args:
        entries: those of one drum that count, in the order in which they happened.
    """
    found: list[tuple[date, int | None]] = []
    puts: list[DrumEntry] = []
    written = litres = 0
    for one in entries:
        if one.step is DrumStep.PUT_IN:
            puts.append(one)
            written, litres = written + (one.mg or 0), litres + (one.ul or 0)
        elif one.step in (DrumStep.WEIGHED, DrumStep.HANDED_OVER):
            days = [put.on for put in puts if put.mg is None] or [put.on for put in puts] or [one.on]
            first_days = {(day.year, day.month): day for day in reversed(days)}
            if one.mg is not None and one.mg > written:
                found += [(day, one.mg - written) for day in first_days.values()]
            elif one.mg is None and one.ul is not None and one.ul > litres:
                found += [(day, None) for day in first_days.values()]
            if one.mg is not None:
                written, puts = one.mg, []
            litres = max(litres, one.ul or 0)
    return found


def by_month(tables: WasteTables, lines: Iterable[WasteLine]) -> list[tuple[JudgedMonth, list[WasteLine]]]:
    """The months in which something became waste, the newest first, with their lines in order."""
    sorted_lines: dict[str, list[WasteLine]] = {}
    for line in lines:
        sorted_lines.setdefault(f"{line.on:%Y-%m}", []).append(line)
    found = []
    for name in sorted(sorted_lines, reverse=True):
        many = sorted(sorted_lines[name], key=lambda line: line.on)
        known = sum((line.kg for line in many if line.kg is not None), Fraction(0))
        mass = Mass(known, any(line.kg is None for line in many))
        # Beside what drums of acute waste took there may always be more of it: the ledger cannot tell.
        acute = sum((line.kg for line in many if line.acute and line.kg is not None), Fraction(0))
        masses = {Kind.WASTE: mass, Kind.ACUTE: Mass(acute, True)}
        found.append((judge_month(tables, Month(name, masses)), many))
    return found
