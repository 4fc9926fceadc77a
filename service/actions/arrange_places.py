"""Places: rooms, cabinets, shelves, benches, rag cans and drums, each with a code of its own."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.give_codes import Chance, fresh_code
from service.actions.look_at_cans import look_again, rags_in
from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.containers import ContainerState
from service.core.findings import Invalid, NotFound, Refused, Stale, Verdict, note, stop, unknown
from service.core.materials import Unknown
from service.core.shelf_codes import show_code
from service.records.duties import open_wipes
from service.records.places import Place, PlaceKind
from service.records.stock import Container

CANS = frozenset({PlaceKind.RAG_CAN, PlaceKind.OUTSIDE_DRUM})
"""Kinds whose metal, lid and so on decide whether rags in them are contained."""
FARTHEST_MM = 100_000
LARGEST_ML = 1_000_000
_DEPTH = 12


@dataclass(frozen=True)
class PlaceAsked:
    """A place as described. Facts of a can that are not known count as not met.

    Args:
        detached: only of an outside drum: it stands apart from the building.
        floor_cannot_burn: of a can or drum: what it stands on.
        capacity_ml: of a can or drum: what it holds, in whole millilitres; None = not known.
        distance_mm: of a can or drum: to the nearest thing that can burn, walls included; None = not known.
        version: the version that was shown, for a change; None for a new place.
    """

    once: str
    name: str
    kind: PlaceKind
    parent_id: int | None = None
    metal: Unknown = Unknown.NOT_KNOWN
    lid: Unknown = Unknown.NOT_KNOWN
    self_closing: Unknown = Unknown.NOT_KNOWN
    listed: Unknown = Unknown.NOT_KNOWN
    detached: Unknown = Unknown.NOT_KNOWN
    outdoors: bool = False
    note: str = ""
    active: bool = True
    version: int | None = None
    happened_at: datetime | None = None
    late_reason: str = ""
    floor_cannot_burn: Unknown = Unknown.NOT_KNOWN
    distance_mm: int | None = None
    capacity_ml: int | None = None

    def values(self) -> dict[str, Any]:
        """The columns of the place this describes."""
        can, drum = self.kind in CANS, self.kind is PlaceKind.OUTSIDE_DRUM
        not_asked = Unknown.NOT_KNOWN
        return {
            "name": " ".join(self.name.split()),
            "kind": self.kind,
            "parent_id": self.parent_id,
            "metal": self.metal if can else not_asked,
            "lid": self.lid if can else not_asked,
            "self_closing": self.self_closing if can else not_asked,
            "listed": self.listed if can else not_asked,
            "detached": self.detached if drum else not_asked,
            "floor_cannot_burn": self.floor_cannot_burn if can else not_asked,
            "distance_mm": self.distance_mm if can else None,
            "capacity_ml": self.capacity_ml if can else None,
            "outdoors": self.outdoors or drum,
            "note": self.note.strip(),
            "active": self.active,
        }

    def sent(self, act: str, place_id: int | None = None) -> Sent:
        plain = {k: getattr(v, "value", v) for k, v in self.values().items()}
        when = self.happened_at.isoformat() if self.happened_at else None
        body = plain | {"place": place_id, "version": self.version, "happened_at": when}
        return Sent(self.once, act, body, self.happened_at, late_reason=self.late_reason)


def the_place(session: Session, place_id: int) -> Place:
    """One place.

    Raises:
        NotFound: there is none with this number.
    """
    place = session.get(Place, place_id)
    if place is None:
        raise NotFound(f"There is no place number {place_id}.", "place")
    return place


def add_place(session: Session, actor: Actor, now: datetime, asked: PlaceAsked, chance: Chance) -> Settled:
    """Write down a new place and give it a code; answers ``place``, ``code``.

    Raises:
        NotAllowed: only a keeper arranges places.
        Invalid: no name, a parent that does not exist.
    """
    require(actor, Permission.PROFILES)

    def perform(act: Act) -> dict[str, Any]:
        values = asked.values() | {"active": True}
        _judge(act.session, values, None)
        place = Place(code=fresh_code(act.session, chance), created_at=act.recorded_at, **values)
        act.session.add(place)
        act.session.flush()
        assert place.id is not None
        note_change(act.session, actor, act.recorded_at, ("place", place.id), "name", None, place.name)
        act.note(*can_findings(place))
        return _answer(place)

    return settle(session, actor, asked.sent("add-place"), now, perform)


def change_place(session: Session, actor: Actor, now: datetime, place_id: int, asked: PlaceAsked) -> Settled:
    """Rename, describe anew or retire a place; its code stays.

    Raises:
        NotAllowed, NotFound, Invalid.
        Stale: it was changed since the form was opened.
        Refused: something stands in it, or is inside it, and it is to be retired.
    """
    require(actor, Permission.PROFILES)

    def perform(act: Act) -> dict[str, Any]:
        place = act.session.get(Place, place_id, with_for_update=True, populate_existing=True)
        if place is None:
            raise NotFound(f"There is no place number {place_id}.")
        if place.version != asked.version:
            raise Stale(f"{place.name} was changed meanwhile. Open it again and enter your change once more.")
        values = asked.values()
        _judge(act.session, values, place)
        if place.active and not values["active"]:
            _may_retire(act, place)
        for field, after in values.items():
            before = getattr(place, field)
            words = field.replace("_id", "").replace("_", " ")
            note_change(act.session, actor, act.recorded_at, ("place", place.id), words, before, after)
            setattr(place, field, after)
        place.version += 1
        act.session.add(place)
        act.session.flush()
        look_again(act, place)
        act.note(*can_findings(place))
        return _answer(place)

    return settle(session, actor, asked.sent("change-place", place_id), now, perform)


def _judge(session: Session, values: dict[str, Any], place: Place | None) -> None:
    if not 1 <= len(values["name"]) <= 120:
        words = "Enter a name of up to 120 signs, such as Cabinet A."
        raise Invalid(words, {"name": words})
    if values["distance_mm"] is not None and not 0 <= values["distance_mm"] <= FARTHEST_MM:
        words = f"Enter the distance in whole millimetres, up to {FARTHEST_MM}."
        raise Invalid(words, {"distance_mm": words})
    if values["capacity_ml"] is not None and not 0 < values["capacity_ml"] <= LARGEST_ML:
        words = f"Enter what it holds: more than 0 and at most {LARGEST_ML // 1000} litres."
        raise Invalid(words, {"capacity_litres": words})
    parent_id, steps = values["parent_id"], 0
    while parent_id is not None:
        parent = session.get(Place, parent_id)
        if parent is None:
            words = "Choose one of the places in the list."
            raise Invalid(words, {"parent_id": words})
        if (place is not None and parent.id == place.id) or steps >= _DEPTH:
            words = "A place cannot stand inside itself. Choose another one."
            raise Invalid(words, {"parent_id": words})
        parent_id, steps = parent.parent_id, steps + 1


def _may_retire(act: Act, place: Place) -> None:
    session = act.session
    there = session.exec(
        select(Container.code).where(
            col(Container.place_id) == place.id, col(Container.state) != ContainerState.GONE
        )
    ).all()
    inside = session.exec(
        select(Place.name).where(col(Place.parent_id) == place.id, col(Place.active).is_(True))
    ).all()
    rags = (load.judgement.load.name for load, _ in rags_in(act, place))
    wipes = ["solvent wipes"] if open_wipes(session, place.id) else []
    named = [*(show_code(code) for code in there), *inside, *rags, *wipes]
    if named:
        more = f" and {len(named) - 5} more" if len(named) > 5 else ""
        words = f"{place.name} still holds {', '.join(named[:5])}{more}. Move them first."
        raise Refused(Verdict.of([stop("place-in-use", words, about=place.name)]))


def can_findings(place: Place) -> Verdict:
    """What is missing before rags in this can or drum count as contained; nothing for other places.

    >>> drum = Place(code="222222", name="Drum", kind=PlaceKind.OUTSIDE_DRUM, created_at=datetime.max)
    >>> sorted(can_findings(drum).codes)
    ['detached-not-known', 'lid-not-known', 'listed-not-known', 'metal-not-known', 'self-closing-not-known']
    """
    if place.kind not in CANS:
        return Verdict()
    asked = {
        "metal": ("is of metal", place.metal),
        "lid": ("has a lid", place.lid),
        "self-closing": ("closes by itself", place.self_closing),
        "listed": ("is a listed oily-waste can", place.listed),
    }
    if place.kind is PlaceKind.OUTSIDE_DRUM:
        asked["detached"] = ("stands apart from the building", place.detached)
    found = []
    for code, (words, answer) in asked.items():
        if answer is Unknown.NOT_KNOWN:
            text = f"Whether {place.name} {words} is not known. It counts as no."
            found.append(unknown(f"{code}-not-known", text, about=place.name))
        elif answer is Unknown.NO and code in ("metal", "lid", "detached"):
            text = f"Rags in {place.name} do not count as put away: it is answered no whether it {words}."
            found.append(note(f"{code}-no", text, about=place.name))
    return Verdict.of(found)


def _answer(place: Place) -> dict[str, Any]:
    return {
        "place": place.id,
        "code": place.code,
        "shown": show_code(place.code),
        "name": place.name,
        "version": place.version,
    }


def describe_path(session: Session, place: Place | None) -> str:
    """A place with what it stands in, smallest first.

    For a page or a label: "Shelf 3, Cabinet A, Store room".
    """
    names: list[str] = []
    while place is not None and len(names) < _DEPTH:
        names.append(place.name)
        place = session.get(Place, place.parent_id) if place.parent_id is not None else None
    return ", ".join(names)
