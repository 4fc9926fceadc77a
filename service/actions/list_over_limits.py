"""What a stock list does to the storage limits, judged once for the whole list and named by its lines.

What stands on such a list stood in the room already: it is recorded, as with a delivery of that kind, and
whoever took it in owes the move.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from service.actions.settle import Act
from service.actions.store_gate import Change, LookedAt, look_at_change, owe_move
from service.core.findings import Finding, Severity, note
from service.records.stock import Container

_NAMED: Final = 6
_WHERE: Final = "What to move where stands on the page Storage limits; each place was judged there."


def over_by_list(act: Act, list_id: int, came: Sequence[tuple[int, Container]]) -> None:
    """Say what the list brings over or near a limit, and by which lines; one duty for all of it.

    Args:
        came: every container with the line of the file it came from.
    """
    looked = look_at_change(act.session, Change(new=frozenset(box.id for _, box in came if box.id)))
    stops = [one for one in looked.verdict if one.severity is Severity.STOP]
    over: dict[int, Container] = {}
    for one in looked.verdict:
        lines, boxes = _of(looked, one, came)
        act.note(replace(one, sentence=f"{_lines(lines)}: {one.sentence}") if lines else one)
        if one in stops:
            over |= {box.id or 0: box for box in boxes}
    if stops:
        act.note(note("move-by-storage-page", _WHERE))
        boxes = list(over.values()) or [box for _, box in came]
        owe_move(act, boxes, f"what came with list {list_id}", stops, "it stood there already")


def _of(
    looked: LookedAt, finding: Finding, came: Sequence[tuple[int, Container]]
) -> tuple[list[int], list[Container]]:
    """The lines, and their containers, that count in what a finding is about."""
    counted = looked.counted_in(finding)
    found = [(line, box) for line, box in came if (box.material_id, box.place_id) in counted]
    return sorted({line for line, _ in found}), [box for _, box in found]


def _lines(lines: Sequence[int]) -> str:
    """
    >>> _lines([3]), _lines([2, 3, 5, 6, 7, 9, 10, 12])
    ('Line 3', 'Lines 2, 3, 5, 6, 7, 9 and 2 more')
    """
    if len(lines) == 1:
        return f"Line {lines[0]}"
    more = f" and {len(lines) - _NAMED} more" if len(lines) > _NAMED else ""
    return f"Lines {', '.join(str(one) for one in lines[:_NAMED])}{more}"
