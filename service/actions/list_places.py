"""Which place of the book each line of a stock list means, and what names stand for that no place has."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from sqlmodel import Session

from service.core.stock_list import ListLine
from service.core.stock_list_file import LineProblem
from service.core.written_signs import compared
from service.records.material_search import active_places, path_of
from service.records.places import NO_STOCK

_MOST: Final = 2000
NOWHERE: Final = "place:none"
"""The answer that nobody knows which place is meant."""


@dataclass(frozen=True)
class PlaceAsked:
    """A name that no place of the book has: ``key`` of the answer, its lines, the answer so far."""

    key: str
    name: str
    lines: tuple[int, ...]
    chosen: str = ""


def place_key(name: str) -> str:
    """What the answer to a place's name is kept under."""
    return hashlib.sha256(f"place|{compared(name)}".encode()).hexdigest()[:16]


@dataclass
class ListPlaces:
    """The places of one list. ``offered``: number and whole way of each place where stock may stand."""

    session: Session
    choices: Mapping[str, str]
    asked: dict[str, PlaceAsked] = field(default_factory=dict)
    offered: dict[int, str] = field(default_factory=dict)
    _by_name: dict[str, list[int]] = field(default_factory=dict)

    def know(self) -> None:
        """Read the places once."""
        rows = list(active_places(self.session, _MOST))
        by_id = {row.id: row for row in rows if row.id is not None}
        for row in rows:
            if row.kind in NO_STOCK:
                continue
            assert row.id is not None
            self.offered[row.id] = path_of(row, by_id)
            for name in {row.name, self.offered[row.id], row.code}:
                self._by_name.setdefault(compared(name), []).append(row.id)

    def of(self, line: ListLine) -> tuple[int | None, LineProblem | None]:
        """The number of the place a line means, None for not known; or why it is not settled."""
        if not line.place:
            return None, None
        found = self._by_name.get(compared(line.place), [])
        if len(found) == 1:
            return found[0], None
        if found:
            mend = "Write the code on its label, or the whole way, like “Shelf 3, Cabinet A”."
            words = f"“{line.place[:60]}”, which {len(found)} places are called"
            return None, LineProblem(line.line, "place", words, "one place", mend)
        key = place_key(line.place)
        asked = self.asked.get(key) or PlaceAsked(key, line.place, (), self._answer(key))
        self.asked[key] = replace(asked, lines=(*asked.lines, line.line))
        if asked.chosen:
            return int(asked.chosen.partition(":")[2]) if asked.chosen != NOWHERE else None, None
        mend = (
            "Say which place is meant; or a keeper writes it down under Places; or leave the cell empty, and "
            "it is not known yet."
        )
        words = f"“{line.place[:60]}”"
        return None, LineProblem(line.line, "place", words, "the name or code of a place in the book", mend)

    def _answer(self, key: str) -> str:
        choice = self.choices.get(key, "")
        kind, _, number = choice.partition(":")
        known = number.isascii() and number.isdigit() and len(number) < 10 and int(number) in self.offered
        return choice if choice == NOWHERE or (kind == "place" and known) else ""
