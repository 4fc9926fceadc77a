"""The whole store held against the storage tables: every room and building, and what is kept apart in them.

Doors: actions/judge_store.py, actions/store_gate.py, actions/store_moves.py, web/store_view.py,
web/api/store_limits.py.

Nothing here calls a store in order. A row that is *met* says that the sum is within this one row.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, Verdict, note, unknown
from service.core.shelf_codes import show_code
from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.storage_ladders import Temperature
from service.core.storage_limits import (
    NEAR_SHARE,
    RuleSetAnswer,
    judge_storage,
    room_by_areas,
    uncounted,
)
from service.core.storage_places import Place, PlaceKind
from service.core.storage_rows import JudgedRow
from service.core.storage_rules import RuleSet, Scope, StorageTables, Use
from service.core.store_pairs import PairHere, about_pair, pairs_here, perhaps
from service.core.store_tree import NOWHERE, StandsAt, StoreTree
from service.core.store_unplaced import as_in_each_cabinet, with_worst

SUMS: Final = frozenset({Scope.CABINET, Scope.ROOM, Scope.STOREY, Scope.BUILDING, Scope.AREA})
"""What adds up over a place: all but the size of the single container."""
NOT_HEATED_C: Final = Fraction(30)
"""A room up to so warm at work heats nothing: the UK's usual highest temperature of a room."""
_IN_BUILDING: Final = frozenset({Scope.STOREY, Scope.BUILDING})
_NO_PLACE_OF_USE: Final = (
    "Some of what is in use belongs to jobs of which nobody said in which room they are. It counts in the "
    "building, as one room together, and at worst in each room it may be in. Choose a place when a job is "
    "opened."
)
_NO_CLOSED_USE: Final = (
    "The book knows no closed system. All that is in use counts as in open use, of which no more is ever "
    "allowed than of closed use."
)
_BY_LAW: Final[Mapping[str, tuple[RuleSet, ...]]] = {
    "us-hcs": (RuleSet.OSHA, RuleSet.IFC),
    "eu-clp": (RuleSet.HSE, RuleSet.TRGS),
}


def rule_sets_of(chosen: Sequence[str] | None, regime: str) -> tuple[RuleSet, ...]:
    """The tables that hold in a shop, all at once: those a keeper chose, else all of its law's.

    A law without tables of its own, and words nobody knows, ask every table held.

    >>> [one.value for one in rule_sets_of(None, "us-hcs")]
    ['osha-1910.106', 'ifc-2018']
    """
    known = {one.value: one for one in RuleSet}
    found = tuple(known[word] for word in dict.fromkeys(chosen or ()) if word in known)
    return found or _BY_LAW.get(regime, tuple(RuleSet))


@dataclass(frozen=True)
class Box:
    """Containers alike in one place, told as one. ``what`` knows nothing of the place yet.

    ``in_use``: it is in no container of the store, but in a pot or drawn in a job. ``handed``: handed out.
    ``adrift``: it counts where it was last, and may be anywhere else. ``told_of``: whose place it is.
    """

    what: Stored
    place_id: int | None
    count: int = 1
    material_id: int | None = None
    findings: tuple[Finding, ...] = ()
    in_use: bool = False
    handed: bool = False
    adrift: bool = False
    told_of: tuple[str, int | str] = ("", 0)


@dataclass(frozen=True)
class Area:
    """A room, or a building, under every table that holds. ``number`` 0: nobody said which."""

    kind: PlaceKind
    number: int
    name: str
    answers: tuple[RuleSetAnswer, ...]
    pairs: tuple[PairHere, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def rows(self) -> tuple[JudgedRow, ...]:
        return tuple(row for one in self.answers for row in one.rows)

    @property
    def verdict(self) -> Verdict:
        said = (finding for one in self.answers for finding in one.verdict)
        return Verdict.of([*said, *self.findings, *(one for pair in self.pairs for one in about_pair(pair))])

    @property
    def met(self) -> bool | None:
        """The least favourable of the tables and pairs; what is missing makes it not known."""
        mets = {one.met for one in self.answers} | {pair.judged.ok for pair in self.pairs}
        if False in mets:
            return False
        return None if None in mets or not self.verdict.complete else True


@dataclass(frozen=True)
class StoreJudged:
    """Rooms and buildings; ``aside``: how many containers stand where no table for rooms is asked, and why.

    ``boxes``: what was judged. ``loose``: what of it may stand in other rooms too. ``rule_sets``: under which
    tables.
    """

    rule_sets: tuple[RuleSet, ...]
    areas: tuple[Area, ...]
    boxes: tuple[Box, ...]
    aside: Mapping[str, int] = field(default_factory=dict)
    loose: tuple[Box, ...] = ()

    @property
    def verdict(self) -> Verdict:
        return Verdict.of([*(one for area in self.areas for one in area.verdict), *_aside(self.aside)])

    @property
    def met(self) -> bool | None:
        mets = {area.met for area in self.areas}
        if False in mets:
            return False
        return None if None in mets or not self.verdict.complete else True


def judge_store(
    tables: StorageTables,
    rule_sets: Sequence[RuleSet],
    tree: StoreTree,
    boxes: Sequence[Box],
    *,
    near: Fraction = NEAR_SHARE,
    scopes: frozenset[Scope] = frozenset(Scope),
) -> StoreJudged:
    """Every room and building in which something stands, under every table; nothing is left out of a sum.

    Args:
        near: the share of a limit from which it is said to be near.
        scopes: over what rows are judged.
    """
    by_building: dict[int, dict[int, list[Box]]] = {}
    aside: dict[str, int] = {}
    for box in boxes:
        at = tree.stands(box.place_id)
        if at.aside:
            aside[at.aside] = aside.get(at.aside, 0) + box.count
        else:
            by_building.setdefault(at.building, {}).setdefault(at.room, []).append(box)
    asked = _Asked(tables, rule_sets, tree, near, scopes)
    all_of_it = [box for rooms in by_building.values() for room in rooms.values() for box in room]
    loose = [box for box in all_of_it if box.adrift or NOWHERE in _where(tree, box)]
    areas: list[Area] = []
    for building, rooms in by_building.items():
        inside = [box for room in rooms.values() for box in room]
        perhaps_in = [box for box in loose if _may_be_in(tree, box, building)]
        whole = _building(asked, building, inside, perhaps_in)
        areas.append(whole)
        for room, held in rooms.items():
            perhaps_here = [box for box in loose if _may_be_in(tree, box, building, room)]
            alone = _room(asked, room, held, perhaps_here)
            areas.append(replace(alone, answers=room_by_areas(alone.answers, whole.answers)))
    return StoreJudged(tuple(rule_sets), tuple(areas), tuple(boxes), aside, tuple(loose))


@dataclass(frozen=True)
class _Asked:
    tables: StorageTables
    rule_sets: Sequence[RuleSet]
    tree: StoreTree
    near: Fraction
    scopes: frozenset[Scope]

    def answers(
        self, place: Place, items: Sequence[Stored], scopes: frozenset[Scope]
    ) -> tuple[RuleSetAnswer, ...]:
        return tuple(
            judge_storage(self.tables, one, place, items, self.near, scopes)
            for one in self.rule_sets
            if any(row.scopes & scopes for row in self.tables.of(one))
        )


def _where(tree: StoreTree, box: Box) -> tuple[int, int]:
    at = tree.stands(box.place_id)
    return at.building, at.room


def _may_be_in(tree: StoreTree, box: Box, building: int, room: int | None = None) -> bool:
    """Whether something may stand in a building, or a room of it, without being counted there surely."""
    its_building, its_room = _where(tree, box)
    if room is None:
        return its_building != building and (box.adrift or its_building == NOWHERE)
    if (its_building, its_room) == (building, room):
        return False
    one_building = its_building == building or NOWHERE in (its_building, building)
    return box.adrift or (its_room == NOWHERE and one_building)


def _building(asked: _Asked, number: int, boxes: Sequence[Box], perhaps_in: Sequence[Box]) -> Area:
    tree, scopes = asked.tree, asked.scopes & _IN_BUILDING
    place, name = tree.facts(number, PlaceKind.BUILDING), tree.name(number, "the building")
    items, more = [placed(box, tree) for box in boxes], [placed(box, tree) for box in perhaps_in]
    answers = asked.answers(place, items, scopes)
    if more and answers:
        answers = with_worst(name, answers, [asked.answers(place, [*items, *more], scopes)], more)
    return Area(PlaceKind.BUILDING, number, name, answers)


def _room(asked: _Asked, number: int, boxes: Sequence[Box], perhaps_in: Sequence[Box]) -> Area:
    tree, scopes = asked.tree, asked.scopes - _IN_BUILDING
    place, name = tree.facts(number, PlaceKind.ROOM), tree.name(number, "nobody knows which room")
    items = [placed(box, tree) for box in boxes]
    answers = asked.answers(place, items, scopes)
    told = tuple(finding for box in boxes for finding in box.findings)
    told = (*told, *_about_room(tree, number, boxes))
    if Scope.CONTAINER in scopes:
        told = (*told, *uncounted(asked.tables, place, answers))
    pairs = tuple(pairs_here(asked.tables, items, answers)) if Scope.CABINET in scopes else ()
    if perhaps_in and answers:
        room = tree.name(number, "")
        more = [replace(placed(box, tree), room=room, storey=place.storey) for box in perhaps_in]
        worst = asked.answers(place, [*items, *more], scopes - {Scope.CONTAINER})
        of_cabinets = [
            asked.answers(place, inside, scopes & {Scope.CABINET})
            for inside in as_in_each_cabinet(items, more)
        ]
        if Scope.CABINET in scopes:
            pairs = (*pairs, *perhaps(tuple(pairs_here(asked.tables, [*items, *more], worst)), pairs))
        answers = with_worst(name, answers, [worst, *of_cabinets], more)
    return Area(PlaceKind.ROOM, number, name, answers, pairs, told)


def placed(box: Box, tree: StoreTree) -> Stored:
    """A box where it stands. At a bench or in a kit it counts as open; a cabinet nobody called approved is
    none. What is in use counts as heated as far as it is known how warm it is there at work.
    """
    at = tree.stands(box.place_id)
    use = Use.OPEN if at.at_bench else box.what.use
    return replace(
        box.what,
        liquid=_in_use(box.what.liquid, at) if use is Use.OPEN and not box.what.emptied else box.what.liquid,
        room=tree.name(at.room, ""),
        storey=at.storey,
        in_cabinet=at.cabinet is not None,
        cabinet=tree.name(at.cabinet.id, "") if at.cabinet else "",
        approved_cabinet=at.cabinet is not None and at.cabinet.approved is True,
        use=use,
    )


def _in_use(liquid: LiquidFacts, at: StandsAt) -> LiquidFacts:
    if at.at_work_c is None:
        return replace(liquid, heat_not_known=True)
    if at.at_work_c <= NOT_HEATED_C:
        return liquid
    return replace(liquid, heated_to=Temperature(at.at_work_c, "C"))


def _about_room(tree: StoreTree, number: int, boxes: Sequence[Box]) -> Iterator[Finding]:
    if number == NOWHERE:
        at_work = [box.in_use and box.what.use is Use.OPEN for box in boxes]
        many = sum(box.count for box, used in zip(boxes, at_work, strict=True) if not used)
        words = (
            f"{many} containers stand in no room the book knows. They count in the building, as one room "
            "together, and at worst in each room they may be in. Move them to a place, or say of their place "
            "which room it is in."
        )
        if many:
            yield unknown("room-not-known", words)
        if any(at_work):
            yield unknown("place-of-use-not-known", _NO_PLACE_OF_USE)
    if any(placed(box, tree).use is Use.OPEN for box in boxes):
        yield note("closed-use-not-known", _NO_CLOSED_USE)
    for at in dict.fromkeys(tree.stands(box.place_id) for box in boxes):
        if at.cabinet is not None and at.cabinet.approved is None:
            yield _cabinet_not_known(at)


def _cabinet_not_known(at: StandsAt) -> Finding:
    assert at.cabinet is not None
    words = (
        f"Whether {at.cabinet.name} is an approved cabinet for flammable liquids is not known, so what is in "
        "it counts as standing outside one too. A keeper says it on the page of the cabinet."
    )
    return unknown("cabinet-not-known", words, about=show_code(at.cabinet.code))


def _aside(aside: Mapping[str, int]) -> Iterator[Finding]:
    for where, many in aside.items():
        words = (
            f"{many} containers stand {where}. No table held here is for that, so nothing is said of them."
        )
        yield unknown("not-in-a-room", words)
