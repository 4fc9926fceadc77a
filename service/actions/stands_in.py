"""Where a container of the store may stand: a place in use, and no can or drum for rags and waste."""

from __future__ import annotations

from sqlmodel import Session

from service.core.findings import Invalid
from service.records.places import NO_STOCK, Place


def place_for_stock(session: Session, place_id: int | None, field: str = "place_id") -> Place | None:
    """The place a container is put; None where none is named.

    Raises:
        Invalid: no such place, out of use, or one for rags or waste; ``errors`` names ``field``.
    """
    if place_id is None:
        return None
    place = session.get(Place, place_id)
    if place is None or not place.active:
        words = "Choose one of the places in the list."
        raise Invalid(words, {field: words})
    if place.kind in NO_STOCK:
        words = f"{place.name} is for rags or waste. To throw something away, book a discard."
        raise Invalid(words, {field: words})
    return place
