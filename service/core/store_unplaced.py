"""What stands nobody knows where, counted at worst: in each room and building it may be in.

Doors: core/store_limits.py, actions/store_gate.py.

It is not there for sure, so it makes no row over. But what would be over, or not known, with it there is not
within.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, Verdict, note, unknown
from service.core.storage_items import Stored
from service.core.storage_limits import RuleSetAnswer
from service.core.storage_rows import JudgedRow
from service.core.storage_rules import Scope

MAY_STAND: Final = "may-stand-here"


def as_in_each_cabinet(items: Sequence[Stored], more: Sequence[Stored]) -> Iterator[list[Stored]]:
    """What each cabinet would hold if all the rest stood in it."""
    first: dict[str, list[Stored]] = {}
    for item in items:
        if item.in_cabinet:
            first.setdefault(item.cabinet, []).append(item)
    for inside in first.values():
        same = inside[0]
        yield [
            *inside,
            *(
                replace(
                    one, in_cabinet=True, cabinet=same.cabinet, room=same.room, storey=same.storey,
                    approved_cabinet=same.approved_cabinet,
                )
                for one in more
            ),
        ]  # fmt: skip


def with_worst(
    name: str, answers: Sequence[RuleSetAnswer], worst: Sequence[Sequence[RuleSetAnswer]],
    more: Sequence[Stored],
) -> tuple[RuleSetAnswer, ...]:  # fmt: skip
    """Answers about a place, none of them within where it would not be with all that may stand there too.

    Args:
        worst: the same questions with it, in each way it may stand there.
        more: what may stand there.
    """
    found: list[RuleSetAnswer] = []
    for answer in answers:
        others = [one for asked in worst for one in asked if one.rule_set is answer.rule_set]
        found.append(_at_worst(name, answer, others, more))
    return tuple(found)


def _at_worst(
    name: str, answer: RuleSetAnswer, worst: Sequence[RuleSetAnswer], more: Sequence[Stored]
) -> RuleSetAnswer:
    held = {_key(row) for row in answer.rows}
    open_rows = {_key(row): row for one in worst for row in one.rows if row.met is not True}
    rows = [
        replace(row, met=None, sure=False) if row.met is True and _key(row) in open_rows else row
        for row in answer.rows
    ]
    rows += [
        replace(row, met=None, sure=False, counted=Fraction(0), names=())
        for key, row in open_rows.items()
        if key not in held and row.group.scope is not Scope.CONTAINER
    ]
    within = all(one.met is True for one in worst)
    verdict = Verdict.of([*answer.verdict, _said(name, within, more)])
    met = answer.met if within or answer.met is False else None
    return replace(answer, rows=tuple(rows), verdict=verdict, met=met)


def _key(row: JudgedRow) -> tuple[object, ...]:
    return row.row.key, row.group.scope, row.group.name, row.group.storey


def _said(name: str, within: bool, more: Sequence[Stored]) -> Finding:
    names = list(dict.fromkeys(one.name for one in more))
    some = "; ".join(names[:3]) + (f"; and {len(names) - 3} more" if len(names) > 3 else "")
    begin = f"Nobody knows where this stands, and it may be in {name}: {some}."
    if within:
        return note(MAY_STAND, f"{begin} With all of it there the rows held here are still within.", "", name)
    words = (
        f"{begin} It is in no sum here, and with it there the rows may be over, so nothing here is called "
        "within. Write down where it stands."
    )
    return unknown(MAY_STAND, words, "", name)
