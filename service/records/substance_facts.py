"""A substance for the hazard rules: the union of all published lists held, most severe class by class.

No list is ever complete: a substance that none of them classifies is not known, not harmless.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Final

from service.core.findings import Finding, note, unknown
from service.core.hazards.classes import Family, Hazard, Route
from service.core.hazards.mix import Ingredient, OwnLimit
from service.core.hazards.read_class import read_class, read_classes
from service.core.hazards.regimes import Regime
from service.records.knowledge_substances import Listing, PublishedList, SubstanceRow, substance_rows

# UN GHS 3.1.3.6.1(b) names water and sugar as presumed not toxic; no list of classes has a row for them.
HARMLESS: Final = {"7732-18-5": "water", "57-50-1": "sucrose"}
LIST_WORDS: Final = {
    PublishedList.EU_ANNEX_VI: "EU, CLP Annex VI",
    PublishedList.AU_HCIS: "Australia, HCIS",
    PublishedList.JP_NITE: "Japan, NITE",
    PublishedList.REACH_REGISTRATION: "EU registration",
    PublishedList.NO_LIST: "on no list",
}


@dataclass(frozen=True)
class ListedClass:
    """One class and the lists, with edition, that give it."""

    hazard: Hazard
    lists: tuple[str, ...]


@dataclass(frozen=True)
class Listed:
    """What all lists together say of one substance. ``classes`` None: no list classifies it, so it is not
    known.
    """

    cas: str
    classes: tuple[ListedClass, ...] | None
    supplements: tuple[str, ...]
    limits: tuple[OwnLimit, ...]
    ate: tuple[tuple[Route, Decimal], ...]
    m_acute: Decimal | None
    m_chronic: Decimal | None
    metal: str
    metal_fraction: Decimal | None
    note_p: bool
    findings: tuple[Finding, ...]

    @property
    def hazards(self) -> tuple[Hazard, ...] | None:
        return None if self.classes is None else tuple(one.hazard for one in self.classes)


@lru_cache(maxsize=2048)
def listed(cas: str, regime: Regime) -> Listed:
    """All lists on one CAS number, as one law lets us read them.

    A class the EU has annulled (titanium dioxide as a carcinogen) is not taken from another list under EU
    law.

    >>> [one.hazard.text for one in listed("64-17-5", Regime.EU_CLP).classes or ()][0]
    'Flam. Liq. 2 H225'
    """
    if cas in HARMLESS:
        return Listed(cas, (), (), (), (), None, None, "", None, False, ())
    rows = [row for row in substance_rows(cas) if row.status in (Listing.CLASSIFIED, Listing.GROUP_ENTRY)]
    annulled = _annulled(substance_rows(cas)) if regime is Regime.EU_CLP else {}
    findings = [
        note(
            "class-annulled",
            f"{hazard.text} is no longer law in the EU: that entry was annulled. Its dust is still "
            "not to be breathed.",
            source,
        )
        for hazard, source in annulled.items()
    ]
    findings += [
        unknown("list-not-read", f"{LIST_WORDS[row.list]} says more of {row.name} than can be read: {text}")
        for row in rows
        for text in row.unread
    ]
    kinds = {hazard.kind for hazard in annulled}
    classes = tuple(one for one in _union(rows) if one.hazard.kind not in kinds)
    return Listed(
        cas=cas,
        classes=classes if rows else None,
        supplements=tuple(dict.fromkeys(code for row in rows for code in row.supplements)),
        limits=tuple(
            OwnLimit(hazard, limit.at_least, limit.below)
            for row in rows
            for limit in row.limits
            for hazard in read_class(limit.hazard).hazards
        ),
        ate=_lowest_estimates(rows),
        m_acute=_largest(row.m_acute for row in rows),
        m_chronic=_largest(row.m_chronic for row in rows),
        metal=next((row.metal for row in rows if row.metal), ""),
        metal_fraction=max((r.metal_fraction for r in rows if r.metal_fraction is not None), default=None),
        note_p=any("P" in row.notes for row in rows),
        findings=tuple(findings),
    )


@lru_cache(maxsize=2048)
def families_with_limits(cas: str) -> frozenset[Family]:
    """The families for which a list would print limits of this substance, if it had any.

    Those the EU's own list classifies, and those for which any list has a limit; of no other may silence be
    taken for "none".
    """
    rows = [row for row in substance_rows(cas) if row.status in (Listing.CLASSIFIED, Listing.GROUP_ENTRY)]
    told = [code for row in rows if row.list is PublishedList.EU_ANNEX_VI for code in row.classes]
    told += [limit.hazard for row in rows for limit in row.limits]
    return frozenset(hazard.family for hazard in read_classes(told).hazards)


def substance_ingredient(
    name: str,
    cas: str,
    share: tuple[Decimal, Decimal],
    regime: Regime,
    *,
    without_flammable: bool = False,
    benzene_percent: Decimal | None = None,
) -> Ingredient:
    """A substance of a composition as an ingredient.

    ``without_flammable``: a petroleum cut, whose number says nothing of how it burns; its own flash point
    does.
    """
    said = listed(cas, regime)
    hazards = said.hazards
    if hazards is not None and without_flammable:
        hazards = tuple(hazard for hazard in hazards if hazard.family is not Family.FLAMMABLE_LIQUID)
    return Ingredient(
        name=name,
        low=share[0],
        high=share[1],
        hazards=hazards,
        cas=cas,
        supplements=said.supplements,
        ate={route: (value, value) for route, value in said.ate},
        not_acutely_toxic=frozenset(Route) if cas in HARMLESS else frozenset(),
        limits=said.limits,
        m_acute=said.m_acute,
        m_chronic=said.m_chronic,
        metal=said.metal,
        metal_fraction=said.metal_fraction,
        benzene_percent=benzene_percent if said.note_p else None,
    )


def _union(rows: Iterable[SubstanceRow]) -> list[ListedClass]:
    """Class by class the most severe of all lists, each form of what is breathed and each effect by
    itself.
    """
    found: dict[tuple[object, ...], dict[Hazard, list[str]]] = {}
    for row in rows:
        for hazard in read_classes(list(row.classes)).hazards:
            kind = (hazard.family, hazard.route if hazard.family is Family.ACUTE_TOXICITY else hazard.kind[1])
            where = f"{LIST_WORDS[row.list]}, {row.edition}"
            found.setdefault(kind, {}).setdefault(hazard, []).append(where)
    classes = []
    for same in found.values():
        worst = min(hazard.rank for hazard in same)
        for hazard, lists in same.items():
            if hazard.rank == worst:
                classes.append(ListedClass(hazard, tuple(dict.fromkeys(lists))))
    return classes


def _annulled(rows: Iterable[SubstanceRow]) -> dict[Hazard, str]:
    return {
        hazard: f"{LIST_WORDS[row.list]}, {row.edition}; until {row.valid_until}"
        for row in rows
        if row.status is Listing.ANNULLED
        for hazard in read_classes(list(row.once_classes)).hazards
    }


def _lowest_estimates(rows: Iterable[SubstanceRow]) -> tuple[tuple[Route, Decimal], ...]:
    best: dict[Route, Decimal] = {}
    for row in rows:
        for route, value in row.ate:
            key = Route(route)
            best[key] = min(value, best.get(key, value))
    return tuple(best.items())


def _largest(values: Iterable[int | None]) -> Decimal | None:
    known = [value for value in values if value is not None]
    return Decimal(max(known)) if known else None
