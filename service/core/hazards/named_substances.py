"""Substances that the law names one by one for a statement of their own: lead, isocyanates, epoxy resins.

Doors: core/hazards/supplements.py.

Sources: CLP Annex II 2.1 (paints with more than 0.15 % lead), 2.4 (isocyanates, as monomers and longer), 2.5
(epoxy constituents of low molar mass). The law gives no list: numbers and words are this program's own, and
so are shares of lead, from atomic masses; of a lead compound not in the table all counts as lead.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache
from typing import Final

from service.core.hazards.lines import Line

_ISOCYANATES: Final = frozenset(
    {
        "101-68-8", "9016-87-9", "26447-40-5", "5873-54-1", "2536-05-2", "584-84-9",
        "91-08-7", "26471-62-5", "822-06-0", "28182-81-2", "4098-71-9", "53880-05-0",
        "5124-30-1",
    }
)  # fmt: skip
_EPOXIES: Final = frozenset(
    {
        "25068-38-6", "1675-54-3", "28064-14-4", "9003-36-5", "16096-31-4", "2425-79-8",
        "68609-97-2", "2210-79-9", "26761-45-5",
    }
)  # fmt: skip
_LEAD: Final = {
    "7439-92-1": Decimal(1),
    "1319-46-6": Decimal("0.801"),
    "598-63-0": Decimal("0.776"),
    "1314-41-6": Decimal("0.907"),
    "1317-36-8": Decimal("0.929"),
    "7758-97-6": Decimal("0.642"),
    "1344-37-2": Decimal("0.684"),
    "12656-85-8": Decimal("0.684"),
    "7446-14-2": Decimal("0.684"),
    "301-04-2": Decimal("0.637"),
    "61790-14-5": Decimal(1),
}
# "Black lead" is graphite, and "lead-free" says what it says.
_LEAD_WORD: Final = re.compile(r"(?<!black )\b(?:lead|plumb(?:ic|ous))\b(?![ -]?free)", re.ASCII)
_ISOCYANATE_WORD: Final = re.compile(r"isocyanate(?![ -]?free)", re.ASCII)
_EPOXY_WORD: Final = re.compile(r"\bepoxy(?![ -]?free)|diglycidyl|\bglycidyl ether", re.ASCII)


def statements_of(line: Line) -> tuple[str, ...]:
    """EUH204 for an isocyanate, EUH205 for an epoxy constituent, by number or by name."""
    one = line.ingredient
    return _statements(one.cas, one.name, one.substance)


def lead_fraction(line: Line) -> Decimal | None:
    """The share of lead in a substance, 0 to 1; None where nothing says that it holds any."""
    one = line.ingredient
    if not one.metal:
        return _lead(one.cas, one.name, one.substance)
    return one.metal_fraction or Decimal(1) if one.metal.casefold() in ("pb", "lead") else None


@lru_cache(maxsize=4096)
def _statements(cas: str, name: str, substance: str) -> tuple[str, ...]:
    words = f"{name} {substance}".casefold()
    codes = []
    if cas in _ISOCYANATES or _ISOCYANATE_WORD.search(words):
        codes.append("EUH204")
    if cas in _EPOXIES or _EPOXY_WORD.search(words):
        codes.append("EUH205")
    return tuple(codes)


@lru_cache(maxsize=4096)
def _lead(cas: str, name: str, substance: str) -> Decimal | None:
    if cas in _LEAD:
        return _LEAD[cas]
    return Decimal(1) if _LEAD_WORD.search(f"{name} {substance}".casefold()) else None
