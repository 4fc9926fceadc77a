"""Waste drums as the storage rows count them: liquids of which nobody wrote down a flash point.

Waste for disposal is no less flammable than what it was: it counts at its place as the most dangerous kind,
in the most that can be in it.
"""

from __future__ import annotations

from collections.abc import Iterator

from sqlmodel import Session

from service.core.findings import unknown
from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.store_limits import Box
from service.core.store_tree import StoreTree
from service.core.stored_stuff import litres
from service.records.waste_drum_queries import seen_drums


def drums_in_store(session: Session, tree: StoreTree) -> Iterator[Box]:
    """A box for each drum that stands and holds something."""
    for seen in seen_drums(session):
        state = seen.state
        if not state.standing or state.first_on is None:
            continue
        where = tree.name(seen.place_id or 0, "no place")
        name = f"Waste drum {seen.number}, {seen.row.name}, {where}"
        most = state.most_ul
        what = Stored(
            LiquidFacts(name),
            volume_l=None if most is None else litres(most),
            capacity_l=None if seen.row.capacity_ul is None else litres(seen.row.capacity_ul),
        )
        words = (
            f"Waste drum {seen.number} counts as the most flammable liquid there is: nobody wrote down the "
            "flash point of what is in it. Have it collected, or stand it where such waste may stand."
        )
        said = unknown("waste-drum-counted", words, about=f"waste drum {seen.number}")
        yield Box(what, seen.place_id, findings=(said,), in_use=True, told_of=("drum", seen.number))
