"""Where a figure or a rule comes from: the grades, and the standards this code cites in its findings.

Doors: records/knowledge.py, web/pages/materials.py (the source line under a figure).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Grade(StrEnum):
    """How well a figure is sourced, best first. ``memory`` was written down from memory: check it first."""

    STANDARD = "S"
    HANDBOOK = "H"
    JOURNAL = "J"
    INSTITUTION = "I"
    VENDOR = "V"
    WEB = "W"
    MEMORY = "memory"


GRADE_WORDS: Final[dict[Grade, str]] = {
    Grade.STANDARD: "standard or regulation",
    Grade.HANDBOOK: "handbook or reference table",
    Grade.JOURNAL: "journal",
    Grade.INSTITUTION: "institution",
    Grade.VENDOR: "supplier or trade page",
    Grade.WEB: "unsourced web page",
    Grade.MEMORY: "from memory, check first",
}

GRADE_RANK: Final[dict[Grade, int]] = {grade: place for place, grade in enumerate(Grade)}


class Provenance(StrEnum):
    """``read`` in the source, written from ``memory``, or ``derived`` by own arithmetic or own reading."""

    READ = "read"
    MEMORY = "memory"
    DERIVED = "derived"


@dataclass(frozen=True)
class Source:
    """One source: its key in the tables, its grade, its provenance word, and what and where it is."""

    key: str
    grade: Grade
    what: str
    provenance: Provenance = Provenance.READ


@dataclass(frozen=True)
class Cited:
    """A rule this code applies: standard, edition, clause, what we take from it, and read or memory."""

    standard: str
    edition: str
    clause: str
    note: str
    provenance: Provenance

    def line(self) -> str:
        """The text a finding carries as its source; a rule from memory says so.

        >>> CITED["nist-sp-811"].line()
        'NIST SP 811, 2008 edition, Appendix B (from memory)'
        """
        parts = ", ".join(part for part in (self.standard, self.edition, self.clause) if part)
        return f"{parts} (from memory)" if self.provenance is Provenance.MEMORY else parts


def weakest(grades: list[Grade]) -> Grade:
    """The grade a figure carries when several sources stand behind it: that of the weakest.

    Raises ValueError for an empty list.

    >>> weakest([Grade.STANDARD, Grade.WEB, Grade.HANDBOOK]).value
    'W'
    """
    return max(grades, key=lambda grade: GRADE_RANK[grade])


def cite(key: str) -> str:
    """The source line of a cited rule; KeyError for a key that is not registered.

    >>> cite("ifc-304.3.1")
    'International Fire Code, 2018, 304.3.1'
    """
    return CITED[key].line()


_READ, _MEMORY, _DERIVED = Provenance.READ, Provenance.MEMORY, Provenance.DERIVED
_IFC, _OSHA = "International Fire Code", "29 CFR"

CITED: Final[dict[str, Cited]] = {
    "dod-4140.27-m-type-i": Cited(
        "US DoD 4140.27-M", "", "Type I", "definite shelf life, not extendible", _READ
    ),
    "dod-4140.27-m-type-ii": Cited(
        "US DoD 4140.27-M", "", "Type II", "extendible after inspection, test or restoration", _READ
    ),
    "ifc-304.3.1": Cited(
        _IFC, "2018", "304.3.1", "oily rags in a listed disposal container, emptied daily", _READ
    ),
    "ifc-305.2": Cited(
        _IFC, "2018", "305.2", "distance of oily waste from combustibles and openings", _READ
    ),
    "ifc-2403.4.3": Cited(
        _IFC, "2018", "2403.4.3", "self-closing metal can at once; emptied daily and at shift end", _READ
    ),
    "ifc-5003.1.2": Cited(
        _IFC, "2018", "5003.1.2", "unknown liquid density counts as 10 lb per gallon in limit checks", _READ
    ),
    "ifc-5704.3.3.4": Cited(
        _IFC, "2018", "5704.3.3.4", "an emptied container is stored as full until free of vapour", _READ
    ),
    "1910.106-e-9-iii": Cited(
        _OSHA, "", "1910.106(e)(9)(iii)", "covered metal receptacle, disposed of daily; wording from memory",
        _MEMORY,
    ),
    "1910.107-g-3": Cited(
        _OSHA, "", "1910.107(g)(3)", "metal can at once; emptied daily or at shift end", _READ
    ),
    "1910.125-e-4": Cited(
        _OSHA, "", "1910.125(e)(4)", "waste can at once; emptied at shift end (the clock is memory)", _MEMORY
    ),
    "1910.1200-g": Cited(
        _OSHA, "", "1910.1200(g)", "a safety data sheet for every hazardous chemical in the room", _MEMORY
    ),
    "261.4": Cited(
        "40 CFR", "", "261.4(a)(26), (b)(18)", "solvent wipes: closed, labelled, at most 180 days", _READ
    ),
    "nist-sp-811": Cited("NIST SP 811", "2008 edition", "Appendix B", "conversion factors", _MEMORY),
    "nist-hb-44-c": Cited("NIST Handbook 44", "", "Appendix C", "US customary measures, exact", _MEMORY),
    "ghs-2.6.4.2": Cited(
        "UN GHS", "Rev. 9", "2.6.4.2", "when a calculated flash point may be used", _MEMORY
    ),
    "clp-annex-i-2.11": Cited(
        "Regulation (EC) 1272/2008", "", "Annex I 2.11", "self-heating substances and mixtures", _READ
    ),
    "astm-d6801": Cited(
        "ASTM D6801", "2002", "scope", "seed and nut oils and anything with them can self-heat", _READ
    ),
    "16-cfr-1303": Cited(
        "16 CFR", "", "1303", "lead in consumer paint: at most 0.009 % of the dry mass", _READ
    ),
    "reach-xvii": Cited(
        "Regulation (EC) 1907/2006", "", "Annex XVII 16, 17, 23",
        "lead carbonates and cadmium in paint", _READ,
    ),
    "self-heating-words": Cited(
        "This shop's book", "", "word table of self-heating materials",
        "oils, colours in oil or japan, oil varnish, alkyd, oil stain, drier in oil, wax-oil, not known",
        _DERIVED,
    ),
    "keeper-only-words": Cited(
        "This shop's book", "", "keeper-only list",
        "carcinogenic, mutagenic, toxic to reproduction, lead, cadmium, chromate, drier, not known", _DERIVED,
    ),
}
