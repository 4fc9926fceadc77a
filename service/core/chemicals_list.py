"""The list of the hazardous chemicals that are present, one line for each material, and its orders.

Doors: actions/list_chemicals.py, outreach/csv_tables.py, web/pages/hazard_store.py.

US 29 CFR 1910.1200(e)(1)(i) asks for it with the name that leads to the safety data sheet. A material of
which nothing is known stands in it too: not known is not none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final


@dataclass(frozen=True)
class ListedChemical:
    """One material that is present.

    Args:
        classes: in the words of the law; empty with ``lacks`` 0 = examined, none.
        sheet: whether there is a safety data sheet in the book; ``sheet_date`` None = without a date.
        places: where its containers stand, smallest part first; None among them = a place nobody wrote down.
        amount: of all containers together in words; None = not one was measured.
        in_use: what is out of its containers and still here, in words; empty: nothing by the book.
        lacks: how many facts are missing; the line is complete only with 0.
        sheet_answers: what a whole sheet of the supplier answers for, though nothing else is known of it.
        oily: rags with it count as oily rags, which no hazard class says.
    """

    material_id: int
    name: str
    maker: str
    cas: str
    classes: tuple[str, ...]
    signal: str
    sheet: bool
    sheet_date: date | None
    places: tuple[str | None, ...]
    containers: int
    amount: str | None
    lacks: int
    sheet_answers: str = ""
    oily: bool = False
    in_use: str = ""

    @property
    def held(self) -> str | None:
        """What of it is here in words, in containers and in use; None = not known."""
        if not self.containers and self.in_use:
            return self.in_use
        return f"{self.amount or 'not measured'}; {self.in_use}" if self.in_use else self.amount

    @property
    def complete(self) -> bool:
        return self.lacks == 0

    @property
    def why_complete(self) -> str:
        """Why nothing is missing though not all is known; empty where that needs no word."""
        if not self.complete or not self.sheet_answers:
            return ""
        return f"by the supplier's sheet of the whole, though {self.sheet_answers}"


class ChemicalOrder(StrEnum):
    """By what the list is put in order."""

    NAME = "name"
    WORST = "worst"
    PLACE = "place"
    SHEET = "sheet"


_SIGNALS: Final = {"Danger": 0, "Warning": 2, "": 3}
_UNKNOWN_PLACE: Final = 1


def ordered(rows: Sequence[ListedChemical], order: ChemicalOrder) -> list[ListedChemical]:
    """The list in one order, by name within it. What is not known stands among the worst, never last.

    >>> def row(name, signal, lacks): return ListedChemical(
    ...     1, name, "", "", (), signal, False, None, (), 1, None, lacks)
    >>> three = [row("a", "", 0), row("b", "", 1), row("c", "Danger", 0)]
    >>> [r.name for r in ordered(three, ChemicalOrder.WORST)]
    ['c', 'b', 'a']
    """

    def key(row: ListedChemical) -> tuple[object, ...]:
        if order is ChemicalOrder.WORST:
            place = _SIGNALS[row.signal]
            first: tuple[object, ...] = (min(place, _UNKNOWN_PLACE) if row.lacks else place,)
        elif order is ChemicalOrder.PLACE:
            where = row.places[0] if row.places else None
            first = (where is not None, (where or "").casefold())
        elif order is ChemicalOrder.SHEET:
            first = (row.sheet, row.sheet_date or date.min)
        else:
            first = ()
        return (*first, row.name.casefold(), row.material_id)

    return sorted(rows, key=key)
