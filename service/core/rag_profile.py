"""Rag rules as data: which published texts a profile stands on, and what it asks of a receptacle.

Doors: records/knowledge_rags.py, web/pages/rags.py, web/api/calc_rag_deadline.py.

The strict profile is written here and not only in the table of facts, so that a missing or edited table
can never make the rules milder. The table ``rag_rules.csv`` holds the same rows and the ones not used yet.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from service.core.rags import RagItem

ALL_ITEMS = frozenset(RagItem)
_IFC_2018 = "2018"
_IFC_READ = "read in the 2020 Minnesota State Fire Code, which is the 2018 IFC as amended there"


class RuleSubject(StrEnum):
    """What a rule speaks about."""

    CONTAIN = "contain"
    REMOVE = "remove"
    RECEPTACLE = "receptacle"
    WATER = "water"
    PLACE = "place"
    DRYING = "drying"
    END = "end"
    WASTE = "waste"


class RuleForce(StrEnum):
    """Law where it applies, advice, or this house's own reading where the texts are silent."""

    MANDATORY = "mandatory"
    ADVICE = "advice"
    HOUSE = "house"


class RuleGrade(StrEnum):
    """How we know: read in the named source, part read, from memory, or derived by us."""

    READ = "read"
    PART_READ = "part-read"
    MEMORY = "memory"
    DERIVED = "derived"


class RemoveClock(StrEnum):
    """How a text sets the time by which rags must be gone. Daily is the calendar day, never 24 hours."""

    SHIFT_AND_DAY = "shift-and-day"
    SHIFT_OR_DAY = "shift-or-day"
    SHIFT = "shift"
    DAY = "day"
    DAYS_180 = "days-180"
    NONE = "none"


@dataclass(frozen=True)
class RagRule:
    """One rule in our own words, with the text it comes from and how we know it."""

    key: str
    citation: str
    edition: str
    provenance: str
    grade: RuleGrade
    force: RuleForce
    subject: RuleSubject
    items: frozenset[RagItem]
    says: str


@dataclass(frozen=True)
class RagProfile:
    """A set of rules that one shop goes by.

    ``asks_listed`` / ``asks_self_closing``: what a can must be. ``laid_flat_contains``: whether rags laid
    flat outdoors meet the contain clock. ``remove``: how its remove clock is set; ``water_meets_remove``:
    wholly under water stops it. ``items``: what its texts speak of.
    """

    key: str
    title: str
    rules: tuple[RagRule, ...]
    asks_listed: bool = True
    asks_self_closing: bool = True
    laid_flat_contains: bool = False
    remove: RemoveClock = RemoveClock.SHIFT_AND_DAY
    water_meets_remove: bool = False
    items: frozenset[RagItem] = ALL_ITEMS

    def about(self, subject: RuleSubject, item: RagItem = RagItem.RAGS) -> tuple[RagRule, ...]:
        """The rules on one subject that speak of this item, in the order of the profile.

        >>> [r.citation for r in STRICT.about(RuleSubject.CONTAIN)]
        ['IFC 2403.4.3']
        """
        return tuple(r for r in self.rules if r.subject is subject and item in r.items)

    def cite(self, subject: RuleSubject, item: RagItem = RagItem.RAGS) -> str:
        """The citations on one subject, joined for a finding's source."""
        return "; ".join(dict.fromkeys(r.citation for r in self.about(subject, item)))


def _ifc(
    key: str, number: str, subject: RuleSubject, says: str, items: frozenset[RagItem] = ALL_ITEMS
) -> RagRule:
    return RagRule(
        key, f"IFC {number}", _IFC_2018, _IFC_READ, RuleGrade.READ, RuleForce.MANDATORY, subject, items, says
    )


def _house(key: str, subject: RuleSubject, provenance: str, says: str) -> RagRule:
    return RagRule(
        key,
        "this house's reading",
        "1",
        provenance,
        RuleGrade.DERIVED,
        RuleForce.HOUSE,
        subject,
        ALL_ITEMS,
        says,
    )


_STRICT_RULES = (
    _ifc(
        "ifc-2403-4-3-when",
        "2403.4.3",
        RuleSubject.CONTAIN,
        "Rags and waste with finishing material go into the can immediately after use. No minutes are given.",
    ),
    _ifc(
        "ifc-2403-4-3-emptied",
        "2403.4.3",
        RuleSubject.REMOVE,
        "The can is emptied at least once a day and at the end of each shift: both, so the earlier "
        "one counts.",
    ),
    _ifc(
        "ifc-304-3-1-daily",
        "304.3.1",
        RuleSubject.REMOVE,
        "What is liable to heat by itself is taken out of the container and disposed of every day.",
    ),
    _house(
        "house-calendar-day",
        RuleSubject.REMOVE,
        "no text read defines daily as 24 hours; the calendar day is the stricter reading",
        "Daily means by 24:00 of the same local day, never a rolling 24 hours.",
    ),
    _ifc(
        "ifc-2403-4-3-can",
        "2403.4.3",
        RuleSubject.RECEPTACLE,
        "The can is metal, approved, with a lid that closes by itself.",
    ),
    _ifc(
        "ifc-304-3-1-listed",
        "304.3.1",
        RuleSubject.RECEPTACLE,
        "Materials liable to heat by themselves, such as oily rags, go into a listed disposal container.",
    ),
    RagRule(
        "tip-sheet-water",
        "NFPA tip sheet on oily rags",
        "2017",
        "read as reprinted by a municipality",
        RuleGrade.READ,
        RuleForce.ADVICE,
        RuleSubject.WATER,
        ALL_ITEMS,
        "Rags wait in a metal container with a tight cover, filled with water and detergent.",
    ),
    RagRule(
        "osha-107-b-5-ii",
        "29 CFR 1910.107(b)(5)(ii)",
        "in force 2008",
        "read in an OSHA letter of 11 February 2008",
        RuleGrade.READ,
        RuleForce.MANDATORY,
        RuleSubject.WATER,
        frozenset({RagItem.FILTER_PADS}),
        "Spray booth filter pads kept wholly in water need not leave at the close of the day. "
        "The strict profile does not use this relief.",
    ),
    _house(
        "house-water-holds",
        RuleSubject.WATER,
        "trade press: oil that has not cured can heat again when the rag comes out of the water",
        "Under water is holding, not an end: the remove clock runs on, and taken out is loose again.",
    ),
    _ifc(
        "ifc-305-2",
        "305.2",
        RuleSubject.PLACE,
        "Greasy or oily materials never stand in a receptacle that burns, and keep 3 048 mm from what "
        "burns; in a covered receptacle that cannot burn, on a floor that cannot burn, 610 mm are enough.",
    ),
    RagRule(
        "d6801-significance",
        "ASTM D6801, significance",
        "2002",
        "read in the scope and significance text",
        RuleGrade.READ,
        RuleForce.ADVICE,
        RuleSubject.DRYING,
        ALL_ITEMS,
        "Whether oiled material heats by itself depends little on whether it was dried in air first.",
    ),
    _house(
        "house-laid-flat",
        RuleSubject.DRYING,
        "the advisers disagree on drying; the rules read ask for a can",
        "Laid flat does not count as contained, never overnight, and drying is no end.",
    ),
    _house(
        "house-ends",
        RuleSubject.END,
        "oil stays in the cloth after a wash; dryer fires after laundering are on record (title read)",
        "Rags end with a named hauler, municipality or industrial laundry, or burned under a permit with "
        "its number. Washing or tumble drying by the shop is no end.",
    ),
)

STRICT = RagProfile("strict", "Strict", _STRICT_RULES)
PROFILES: dict[str, RagProfile] = {STRICT.key: STRICT}
