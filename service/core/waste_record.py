"""What went out of the store as waste, line by line, summed by calendar month.

Doors: actions/look_at_waste.py, web/pages/waste.py, web/api/waste.py.

All of it counts as hazardous: the book does not know what is not. A mass that cannot be worked out makes its
month "at least"; acute waste is never known from the ledger, so a category by the ledger is "at least" too,
unless it is the heaviest.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final

from service.core.materials import Basis
from service.core.waste import JudgedMonth, Mass, Month, judge_month
from service.core.waste_rules import Kind, WasteTables

_MG: Final = 1_000_000


@dataclass(frozen=True)
class WasteLine:
    """One thing that became waste. ``kg`` ``None``: not known. ``about``: estimated. ``why_not``: mend."""

    on: date
    what: str
    code: str
    kg: Fraction | None
    about: bool
    where: str
    why_not: str = ""


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
        return None, "How much it was is not known."
    if basis is Basis.MASS:
        return Fraction(abs(change), _MG), ""
    if basis is Basis.PIECES:
        return None, "It is counted in pieces. Weigh what goes into the waste."
    if density_g_ml is None:
        return None, "Its density is not known. Write it down at the material, or weigh it."
    return Fraction(abs(change), _MG) * density_g_ml, ""


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
        found.append((judge_month(tables, Month(name, {Kind.WASTE: mass})), many))
    return found
