"""The supplier's classes and ours side by side: every difference, and of the two the more severe, class by
class.

Doors: actions/judge_hazards.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from service.core.hazards.classes import Hazard, most_severe
from service.core.hazards.classify import Classified
from service.core.hazards.reasons import Because
from service.core.sources import Provenance


class Differs(StrEnum):
    """How two views of one kind of hazard differ."""

    ONLY_SUPPLIER = "only the supplier says it"
    ONLY_OURS = "only our calculation says it"
    SUPPLIER_WORSE = "the supplier's is the more severe"
    OURS_WORSE = "ours is the more severe"
    OTHER_WORDS = "as severe, with other organs or effects"


@dataclass(frozen=True)
class Difference:
    """One kind of hazard on which supplier and calculation do not agree; ``None``: that side is silent."""

    supplier: Hazard | None
    ours: Hazard | None
    how: Differs


@dataclass(frozen=True)
class TwoViews:
    """Both views together: ``classes`` to go by, and where they differ."""

    classes: tuple[Classified, ...]
    differences: tuple[Difference, ...]


def compare(supplier: Sequence[Hazard], ours: Sequence[Classified], source: str) -> TwoViews:
    """Of each kind of hazard the more severe of both; ``source``: where the supplier's classes were copied
    from.
    """
    theirs = {hazard.kind: hazard for hazard in most_severe(list(supplier))}
    mine = {one.hazard.kind: one for one in ours}
    classes: list[Classified] = []
    differences: list[Difference] = []
    for kind in dict.fromkeys((*theirs, *mine)):
        told, counted = theirs.get(kind), mine.get(kind)
        if told is None and counted is not None:
            differences.append(Difference(None, counted.hazard, Differs.ONLY_OURS))
            classes.append(counted)
        elif told is not None and counted is None:
            differences.append(Difference(told, None, Differs.ONLY_SUPPLIER))
            classes.append(Classified(told, (_by_supplier(source),)))
        elif told is not None and counted is not None:
            if told.rank != counted.hazard.rank:
                worse = Differs.SUPPLIER_WORSE if told.rank < counted.hazard.rank else Differs.OURS_WORSE
                differences.append(Difference(told, counted.hazard, worse))
            elif (set(told.organs), told.code) != (set(counted.hazard.organs), counted.hazard.code):
                differences.append(Difference(told, counted.hazard, Differs.OTHER_WORDS))
            keep_told = told.rank <= counted.hazard.rank
            reasons = (_by_supplier(source), *counted.because) if keep_told else counted.because
            (kept,) = most_severe([told, counted.hazard])
            classes.append(Classified(kept, reasons))
    return TwoViews(tuple(classes), tuple(differences))


def more_severe(one: Sequence[Classified], other: Sequence[Classified]) -> tuple[Classified, ...]:
    """Two calculations of the same mix as one: of each kind the more severe; of equals reasons, organs and
    effects together.
    """
    best = {item.hazard.kind: item for item in one}
    for item in other:
        held = best.get(item.hazard.kind)
        if held is None or item.hazard.rank < held.hazard.rank:
            best[item.hazard.kind] = item
        elif item.hazard.rank == held.hazard.rank:
            (both,) = most_severe([held.hazard, item.hazard])
            best[item.hazard.kind] = Classified(both, tuple(dict.fromkeys((*held.because, *item.because))))
    return tuple(best.values())


def _by_supplier(source: str) -> Because:
    return Because(
        f"supplier: {source}" if source else "supplier's sheet", "", None, None, (), "", Provenance.READ
    )
