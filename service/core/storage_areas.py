"""Whether rooms are control areas of their own: with fire barriers, told, told that not, or not told.

Doors: core/storage_limits.py, core/store_limits.py, core/store_changes.py.

A figure for a control area is held against a room only as far as barriers make it one. Where nobody said so,
all the rooms together are taken as one area as well, and what would be over there is not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from service.core.findings import Finding, note, unknown
from service.core.storage_places import Group, Place
from service.core.storage_rows import JudgedRow, judge_row
from service.core.storage_rules import Measure, RuleSet, Scope, StorageRow, StorageTables
from service.core.storage_words import begins, shown, told

AREAS_NOT_TOLD: Final = "control-areas-not-told"
_AREA_TABLE: Final = "maq"
_TABLE: Final = "IFC Table 5003.8.3.2"
_ALL: Final = "all storeys as one control area"


def as_told(place: Place, row: StorageRow, here: Sequence[Group]) -> Sequence[Group]:
    """The groups a row is held against: without barriers the rooms of a storey are one control area."""
    if place.barriers is not False or not _by_area(row):
        return here
    kept = [one for one in here if one.scope is not Scope.ROOM]
    return [*kept, *(_joined(storey, inside) for storey, inside in _by_storey(here).items())]


def perhaps_one_area(
    tables: StorageTables, rule_set: RuleSet, place: Place, here: Sequence[Group]
) -> list[JudgedRow]:
    """The rows that would be over, or not known, with rooms taken as one control area; ``met`` None."""
    found: list[JudgedRow] = []
    for row in tables.of(rule_set):
        if not _by_area(row) or row.use_group not in (None, place.use_group):
            continue
        for ways in _perhaps(place, here):
            joined = [one for group in ways for one in judge_row(tables, row, place, group)]
            worse = [one for one in joined if one.met is not True]
            if worse:
                tightest = min(worse, key=lambda one: (one.met is not False, one.allowed.limit or 0))
                group = replace(tightest.group, storey=None) if len(ways) > 1 else tightest.group
                found.append(replace(tightest, met=None, as_one=True, group=group))
    return found


def not_within(rows: Sequence[JudgedRow], as_one: Sequence[JudgedRow]) -> list[JudgedRow]:
    """Rows of rooms that are within by themselves are not known where the rooms may be one area."""
    return [
        replace(row, met=None)
        if row.met is True and any(speaks_of(one, row) for one in as_one) else row
        for row in rows
    ]  # fmt: skip


def said_of(one: JudgedRow, findings: Iterable[Finding]) -> list[Finding]:
    """What was said of a row over rooms taken as one control area."""
    return [
        finding for finding in findings
        if finding.code == AREAS_NOT_TOLD and finding.about == one.group.name
        and finding.sentence.endswith(one.row.says)
    ]  # fmt: skip


def about_areas(
    tables: StorageTables, rule_set: RuleSet, place: Place, here: Sequence[Group],
    as_one: Sequence[JudgedRow],
) -> Iterator[Finding]:  # fmt: skip
    """What is said where nobody told the barriers: of each row that would be over, else that none would."""
    for one in as_one:
        limit = one.allowed.limit
        rooms = ", ".join(dict.fromkeys(
            thing.item.room or "the room" for thing in one.group.things if thing.item.name in one.names
        ))
        over = (
            "whether that is within this row is not known" if limit is None or not one.over_by
            else f"{shown(limit, up=False)} by this row, so {shown(one.over_by, up=True)} too much"
        )  # fmt: skip
        counted = told(one.counted, one.row.unit, up=True)
        words = (
            f"{begins(one.group.name)} ({rooms}): {counted} counted, {over}. {_asked(tables, one)} and "
            f"nobody said that these stand there. {one.row.says}"
        )
        yield unknown(AREAS_NOT_TOLD, words, _cited(tables, one), one.group.name)
    rows = [row for row in tables.of(rule_set) if _by_area(row)]
    if rows and not as_one and place.barriers is None and any(True for _ in _perhaps(place, here)):
        words = (
            f"Each room is taken as a control area, which it is only with fire barriers ({_TABLE}). "
            "Nobody said that these stand there; all rooms as one area are within these rows too."
        )
        yield note(AREAS_NOT_TOLD, words, f"{_TABLE}, edition {rows[0].edition}")


def _by_area(row: StorageRow) -> bool:
    return row.storey_table == _AREA_TABLE and Scope.ROOM in row.scopes


def _by_storey(here: Sequence[Group]) -> dict[int | None, list[Group]]:
    found: dict[int | None, list[Group]] = {}
    for group in here:
        if group.scope is Scope.ROOM:
            found.setdefault(group.storey, []).append(group)
    return found


def _joined(storey: int | None, inside: Sequence[Group], name: str = "") -> Group:
    which = "all rooms" if storey is None else f"storey {storey}"
    things = tuple(thing for group in inside for thing in group.things)
    return Group(Scope.ROOM, name or f"{which} as one control area", storey, things)


def _perhaps(place: Place, here: Sequence[Group]) -> Iterator[list[Group]]:
    """What may be one control area: the rooms of each storey, and all of them by each storey's share."""
    if place.barriers is True:
        return
    counting = [group for group in here if any(thing.categories for thing in group.things)]
    storeys = _by_storey(counting)
    for storey, inside in storeys.items():
        if len(inside) > 1 and place.barriers is None:
            yield [_joined(storey, inside)]
    if len(storeys) > 1:
        rooms = [group for inside in storeys.values() for group in inside]
        yield [_joined(storey, rooms, _ALL) for storey in storeys]


def speaks_of(one: JudgedRow, row: JudgedRow) -> bool:
    """Whether a row over rooms taken as one area leaves another of the same rooms not known."""
    same_storey = one.group.name == _ALL or one.group.storey == row.group.storey
    if row.row.unit is Measure.CONTROL_AREAS:
        return same_storey and row.counted > 1
    return same_storey and row.row.key == one.row.key and row.group.scope is Scope.ROOM


def _asked(tables: StorageTables, one: JudgedRow) -> str:
    hours, citation = _barriers(tables, one)
    held = f" that hold {hours} h" if hours else ""
    parts = "Rooms and storeys" if one.group.name == _ALL else "Rooms"
    return f"{parts} are control areas of their own only with fire barriers between them{held} ({citation}),"


def _cited(tables: StorageTables, one: JudgedRow) -> str:
    return f"{_barriers(tables, one)[1]}, edition {one.row.edition}; {one.row.citation}"


def _barriers(tables: StorageTables, one: JudgedRow) -> tuple[int | None, str]:
    """How many hours the barriers of a storey hold, and where that stands."""
    share = None if one.group.storey is None else tables.share(_AREA_TABLE, one.group.storey)
    return (share.barrier_hours, share.citation) if share else (None, _TABLE)
