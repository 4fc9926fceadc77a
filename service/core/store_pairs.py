"""What is kept apart and stands in one room all the same.

Doors: core/store_limits.py, actions/store_gate.py.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.core.findings import Finding, stop, unknown
from service.core.storage_groups import FLAMMABLE
from service.core.storage_items import Stored
from service.core.storage_limits import RuleSetAnswer
from service.core.storage_pairs import JudgedPair, groups_of, judge_pair, pairs_among
from service.core.storage_rules import StorageTables

_PERHAPS: Final = "One of them stands nobody knows where, and it may be here."


@dataclass(frozen=True)
class PairHere:
    """Two groups that stand in one room, with what is of each."""

    judged: JudgedPair
    of_a: tuple[str, ...]
    of_b: tuple[str, ...]


def pairs_here(
    tables: StorageTables, items: Sequence[Stored], answers: Sequence[RuleSetAnswer]
) -> Iterator[PairHere]:
    flammable = {
        number for one in answers for number, thing in enumerate(one.things) if thing.burns
    }  # fmt: skip
    if not any(groups_of(item) for item in items):
        return
    of_group: dict[str, list[str]] = {}
    few: dict[tuple[str, frozenset[str]], int] = {}
    for number, item in enumerate(items):
        groups = groups_of(item) | ({FLAMMABLE} if number in flammable else set())
        for group in groups:
            of_group.setdefault(group, []).append(item.name)
        # Twice is enough of what stands alike: more bring no other pair.
        for turn in ("", "again"):
            key = (f"{item.in_cabinet} {item.cabinet}{turn}", frozenset(groups))
            if few.setdefault(key, number) == number:
                break
    kept = sorted(set(few.values()))
    asked = [items[number] for number in kept]
    burning = {at for at, number in enumerate(kept) if number in flammable}
    for pair in pairs_among(tables.kept_apart, asked, burning):
        yield PairHere(
            judge_pair(tables.kept_apart, pair),
            tuple(dict.fromkeys(of_group.get(pair.a, ()))),
            tuple(dict.fromkeys(of_group.get(pair.b, ()))),
        )


def about_pair(pair: PairHere) -> Iterator[Finding]:
    """What is said of two groups in one room: kept wrongly, or not known."""
    one = pair.judged
    about = f"{_some(pair.of_a)} and {_some(pair.of_b)}"
    source = "; ".join(f"{rule.citation}, edition {rule.edition}" for rule in one.rules)
    if one.ok is False:
        yield stop("kept-apart", f"{about}: {one.why}", source, about)
    elif one.ok is None:
        yield unknown("kept-apart-not-known", f"{about}: {one.why}", source, about)


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return f"{', '.join(names[:3])}{more}"


def perhaps(pairs: Sequence[PairHere], known: Sequence[PairHere]) -> Iterator[PairHere]:
    """The pairs that are here only if something is that stands nobody knows where: not known."""
    held = {frozenset((one.judged.pair.a, one.judged.pair.b)) for one in known}
    for one in pairs:
        if frozenset((one.judged.pair.a, one.judged.pair.b)) not in held:
            yield replace(one, judged=replace(one.judged, ok=None, why=f"{_PERHAPS} {one.judged.why}"))
