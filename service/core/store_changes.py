"""What a change makes worse of the store: rows that come to be over, or near, pairs, and what is open.

Doors: actions/limits_after.py, actions/store_gate.py.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from service.core.findings import Finding, Severity, Verdict
from service.core.storage_areas import said_of
from service.core.storage_limits import NEAR_SHARE, about_row, is_near
from service.core.storage_rows import JudgedRow
from service.core.store_limits import Area, StoreJudged
from service.core.store_pairs import about_pair
from service.core.store_unplaced import MAY_STAND

A_DROP: Final = Fraction(1, 100_000)
"""Of a row's unit: what is poured from one can into two comes out a microlitre off, by rounding alone."""


def over_by(before: StoreJudged, after: StoreJudged, near: Fraction = NEAR_SHARE) -> Verdict:
    """What a change makes worse: rows that come to be over or further over, that come near, and pairs.

    Stops are rows of law that were read, and pairs in one cabinet; the rest are warnings. A row that is over
    already and gains nothing is not held against the change. A place that was within with all that may stand
    there, and is not any more, is not known; nor are rooms that are now over as one control area.
    """
    had = {_key(area, row): row for area in before.areas for row in area.rows}
    found: list[Finding] = []
    for area in after.areas:
        for row in area.rows:
            earlier = had.get(_key(area, row))
            gained = earlier is None or row.counted - earlier.counted > A_DROP
            more = gained or (earlier is not None and _less_allowed(earlier, row))
            if more and (row.met is False or is_near(row, near)):
                found += [one for one in about_row(row, near) if one.severity is not Severity.UNKNOWN]
    known = {one for area in before.areas for one in area.verdict}
    found += [
        one for area in after.areas for one in area.verdict
        if one.code == MAY_STAND and one.severity is Severity.UNKNOWN and one not in known
    ]  # fmt: skip
    found += [
        one for area in after.areas for row in area.rows if row.as_one and _key(area, row) not in had
        for one in said_of(row, area.verdict)
    ]  # fmt: skip
    pairs = {(area.number, pair.judged.pair) for area in before.areas for pair in area.pairs}
    for area in after.areas:
        for pair in area.pairs:
            if (area.number, pair.judged.pair) not in pairs:
                found += about_pair(pair)
    return Verdict.of(found)


def _less_allowed(earlier: JudgedRow, row: JudgedRow) -> bool:
    """A move out of an approved cabinet can halve what the room may hold without adding anything to it."""
    was, now = earlier.allowed.limit, row.allowed.limit
    return now is not None and (was is None or now < was)


def _key(area: Area, row: JudgedRow) -> tuple[object, ...]:
    return area.kind, area.number, row.row.key, row.group.scope, row.group.name, row.group.storey
