"""Whether fresh air alone may be enough for a substance, as the published lists have it.

The scheme behind it is made for the EU's classes. Where only another list has a class of groups C to E
beside an entry of the EU, the lists disagree and the answer is not known; the statements of a data sheet
settle it.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from service.core.hazards.read_class import read_classes
from service.core.solvents.dilution import NEVER_BY_AIR_ALONE, NOT_KNOWN, Dilution, read_codes
from service.records.knowledge_substances import Listing, PublishedList, SubstanceRow, substance_rows
from service.records.substance_facts import HARMLESS, LIST_WORDS

_EU: Final = frozenset({PublishedList.EU_ANNEX_VI, PublishedList.REACH_REGISTRATION})
_BY_BENZENE: Final = frozenset({"H340", "H350"})


@lru_cache(maxsize=2048)
def dilution_of(cas: str) -> Dilution:
    """By CAS number; a substance on no list is not known, water may.

    >>> dilution_of("108-88-3").may, dilution_of("67-64-1").may, dilution_of("").may
    (False, None, None)
    """
    if cas in HARMLESS:
        return Dilution(True)
    rows = [row for row in substance_rows(cas) if row.status in (Listing.CLASSIFIED, Listing.GROUP_ENTRY)]
    if not rows:
        return NOT_KNOWN
    eu = [row for row in rows if row.list in _EU]
    severe = _severe(eu or rows)
    if severe and severe <= _BY_BENZENE and any("P" in row.notes for row in eu):
        return Dilution(None, f"{_words(severe)} holds unless it has less than 0.1 % of benzene (note P)")
    if severe:
        return Dilution(False, _words(severe))
    others = [row for row in rows if row.list not in _EU and _severe([row])]
    if others:
        said = "; ".join(f"{LIST_WORDS[row.list]}: {_words(_severe([row]))}" for row in others)
        return Dilution(None, f"the lists disagree ({said}; not in the EU)")
    return Dilution(True)


def _severe(rows: Iterable[SubstanceRow]) -> frozenset[str]:
    codes = [
        code
        for row in rows
        for code in (*(one.code for one in read_classes(list(row.classes)).hazards), *row.supplements)
        if code
    ]
    return read_codes(codes) & NEVER_BY_AIR_ALONE


def _words(codes: Iterable[str]) -> str:
    return ", ".join(sorted(codes))
