"""What is still on its way of an ordered line: what was ordered less what came, by packs and by amount.

Doors: actions/what_came.py, actions/what_is_coming.py.
"""

from __future__ import annotations

from collections.abc import Sequence


def still_coming(count: int, pack: int, came_count: int, came: int) -> list[int]:
    """The packs that are still to come, each in smallest units; the last may be a part of one.

    ``count`` packs of ``pack`` were ordered, ``came_count`` containers came and hold ``came`` as far as
    anybody knows. The lesser of both counts: a can of two litres is two packs of one litre, and what a pack
    lacked does not come by itself.

    >>> still_coming(2, 1000, 1, 2000), still_coming(3, 1000, 1, 500), still_coming(5, 1000, 1, 2500)
    ([], [1000, 1000], [1000, 1000, 500])
    """
    left = max(0, min((count - came_count) * pack, count * pack - came))
    return [pack] * (left // pack) + ([left % pack] if left % pack else [])


def taken_off(lines: Sequence[tuple[int, list[int]]], arrivals: Sequence[int | None]) -> list[list[int]]:
    """What is left on its way where things came that may be of these lines, by their place in ``lines``.

    A line is its pack and what is still to come of it. Each arrival (None = nobody knows how much) takes off
    at least one pack, first of a line with packs of that very size.

    >>> taken_off([(1000, [1000, 1000]), (500, [500])], [500, None])
    [[1000], []]
    """
    left = [sum(packs) for _, packs in lines]
    for amount in arrivals:
        order = sorted(range(len(lines)), key=lambda at: (lines[at][0] != amount, at))
        rest, first = amount or 0, True
        for at in order:
            if left[at] and (first or rest):
                off = min(left[at], max(rest, lines[at][0] if first else 0))
                left[at] -= off
                rest, first = max(0, rest - off), False
    return [
        [pack] * (much // pack) + ([much % pack] if much % pack else [])
        for (pack, _), much in zip(lines, left, strict=True)
    ]
