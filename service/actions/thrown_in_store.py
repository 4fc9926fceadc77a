"""What was thrown into a waste drum that nobody named, as the storage rows count it.

It left its container and not the house: it counts as what it was, where its container stands, until somebody
says which drum it went into. Nobody knows that it is there, so it may be in any other room too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from sqlmodel import Session

from service.actions.stored_kind import Kind, kind_of
from service.core.findings import unknown
from service.core.ledger import DESTINATIONS, Destination
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.core.store_limits import Box
from service.core.store_tree import StoreTree
from service.core.stored_stuff import kilograms, litres
from service.records.materials import Material
from service.records.storage_queries import materials_for_storage
from service.records.store_in_use import ThrownAway, thrown_into_no_drum

_DRUM: Final = "waste-drum"


def thrown_in_store(session: Session, tree: StoreTree, regime: str) -> Iterator[Box]:
    """A box for each such discard; those of one container, all of them known, as one sum."""
    together: dict[tuple[str, str, bool], ThrownAway] = {}
    for one in thrown_into_no_drum(session):
        key = one.code, one.named, one.amount is None
        held = together.get(key)
        if held is not None and held.amount is not None and one.amount is not None:
            one = replace(one, amount=held.amount + one.amount)
        together[key] = one
    facts = materials_for_storage(session, {one.material_id for one in together.values()})
    for one in together.values():
        material, told = facts[one.material_id]
        kind = kind_of(session, material, told, one.jar_id, regime)
        yield _box(one, material, kind, tree)


def _box(one: ThrownAway, material: Material, kind: Kind, tree: StoreTree) -> Box:
    named = _place_named(one.named, tree)
    place = named if named is not None else one.place_id
    basis = material.basis or Basis.PIECES
    much = "an amount not known" if one.amount is None else show_amount(one.amount, basis)
    where = tree.name(place or 0, "no place")
    name = f"{material.name}, {much} of {show_code(one.code)}, thrown into a waste drum, {where}"
    what = replace(kind.stored, liquid=replace(kind.stored.liquid, name=name))
    if one.amount is not None and basis is Basis.VOLUME:
        what = replace(what, volume_l=litres(one.amount))
    elif one.amount is not None and basis is Basis.MASS:
        what = replace(what, mass_kg=kilograms(one.amount))
    words = (
        f"{name}: nobody said which drum it went into, so it counts as what it was, at {where}, and may "
        "stand anywhere else. Say on the page of waste drums which drum it went into."
    )
    said = unknown("waste-in-no-drum-counted", words, about=show_code(one.code))
    return Box(
        what, place, 1, material.id, (*kind.findings, said), in_use=True, adrift=named is None,
        told_of=("thrown", show_code(one.code)),
    )  # fmt: skip


def _place_named(words: str, tree: StoreTree) -> int | None:
    """The place of a waste drum that the discard named, where the book has one such place."""
    begin = f"{DESTINATIONS[Destination.WASTE_DRUM]}: "
    if not words.startswith(begin):
        return None
    name = words.removeprefix(begin)
    found = [spot.id for spot in tree.spots.values() if spot.kind == _DRUM and spot.name == name]
    return found[0] if len(found) == 1 else None
