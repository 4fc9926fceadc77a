"""What is kept apart from what: two groups, and how they stand to each other.

Doors: web/api/calc_storage.py, web/api/storage_answers.py, web/api/storage_measures.py,
web/api/storage_question.py.

Only pairs whose text was read are held. A pair that is not held is not known to be fit to stand together.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import Final

from service.core.storage_groups import FLAMMABLE
from service.core.storage_items import Stored
from service.core.storage_rules import KeptApart

APART_FT: Final = Fraction(20)
SEPARATION: Final = "IFC 5003.9.8, edition 2018"
METRES_PER_FOOT: Final = Fraction("0.3048")


@dataclass(frozen=True)
class Pair:
    """Two groups and how they stand. ``None``: not known.

    ``partition``: one that does not burn and reaches 18 in above and beside the stock. ``separate_cabinets``:
    each in a cabinet for hazardous materials.
    """

    a: str
    b: str
    same_cabinet: bool | None = None
    same_room: bool | None = None
    distance_ft: Fraction | None = None
    partition: bool | None = None
    separate_cabinets: bool | None = None


@dataclass(frozen=True)
class JudgedPair:
    """``ok`` True: kept apart as the row asks; False: not; None: not known, or no row was read for it."""

    pair: Pair
    ok: bool | None
    why: str
    rules: tuple[KeptApart, ...]


def judge_pair(held: Sequence[KeptApart], pair: Pair) -> JudgedPair:
    """Two groups against every row that names both.

    >>> judge_pair((), Pair("oxidizer", "flour")).ok is None
    True
    """
    rules = tuple(one for one in held if one.groups == {pair.a, pair.b})
    if not rules:
        why = "No text that was read names this pair. Look at sections 7 and 10 of both data sheets."
        return JudgedPair(pair, None, why, ())
    says = rules[0].says
    if pair.same_cabinet:
        return JudgedPair(pair, False, f"They stand in one cabinet. {says}", rules)
    by = _separated(pair)
    if by:
        return JudgedPair(pair, True, f"Kept apart by {by} ({SEPARATION}). {says}", rules)
    if pair.same_room is False and all(one.never_one_room for one in rules):
        return JudgedPair(pair, True, f"They stand in different rooms. {says}", rules)
    if pair.partition is False and pair.separate_cabinets is not True:
        far = "no distance was told" if pair.distance_ft is None else "they are less than 20 ft apart"
        return JudgedPair(pair, False, f"No partition, and {far} ({SEPARATION}). {says}", rules)
    why = f"Whether they are 20 ft apart, or have a partition or cabinets between them, is not known. {says}"
    return JudgedPair(pair, None, why, rules)


def _separated(pair: Pair) -> str:
    """By what they are kept apart; empty: by nothing that was told."""
    if pair.distance_ft is not None and pair.distance_ft >= APART_FT:
        return "at least 20 ft"
    if pair.partition:
        return "a partition that does not burn"
    if pair.separate_cabinets:
        return "cabinets of their own"
    return ""


_BY_CLASS: Final = (
    ("oxidizer", "oxidizer"),
    ("water-reactive", "water_reactive"),
    ("corrosive", "corrosive"),
    ("organic-peroxide", "energetic"),
)


def pairs_among(held: Sequence[KeptApart], items: Sequence[Stored], flammable: Collection[int]) -> list[Pair]:
    """The pairs of groups that the told items bring together in one cabinet or one room, each once.

    ``flammable``: the numbers of the items, from 0, that some table asked counts as a flammable liquid.
    """
    found: dict[Pair, None] = {}
    known = {one.groups for one in held}
    told = [
        (item, groups_of(item) | ({FLAMMABLE} if n in flammable else set())) for n, item in enumerate(items)
    ]
    for (one, of_one), (other, of_other) in combinations(told, 2):
        if (one.room, one.storey) != (other.room, other.storey):
            continue
        together = one.in_cabinet and other.in_cabinet and one.cabinet == other.cabinet
        for a in sorted(of_one):
            for b in sorted(of_other):
                if a != b and frozenset({a, b}) in known:
                    first, second = sorted((a, b))
                    found[Pair(first, second, same_cabinet=True if together else None, same_room=True)] = None
    return list(found)


def groups_of(item: Stored) -> set[str]:
    """The groups it was told in and those of its class; none for what is free of vapour."""
    if item.emptied and item.vapour_free:
        return set()
    told = item.material_class or ""
    return set(item.groups) | {group for start, group in _BY_CLASS if told.startswith(start)}
