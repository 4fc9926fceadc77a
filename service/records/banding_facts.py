"""What the EU's lists say of a substance, as control banding reads it: a lower bound, never whole."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Final

from service.core.findings import Finding, unknown
from service.core.hazards.hazard_band import Scheme, Statements, band, rank, statements_of
from service.core.hazards.read_class import read_classes
from service.records.knowledge_substances import Listing, PublishedList, substance_rows
from service.records.substance_facts import HARMLESS

_EU: Final = frozenset({PublishedList.EU_ANNEX_VI, PublishedList.REACH_REGISTRATION})


@lru_cache(maxsize=1024)
def eu_statements(cas: str) -> Statements | None:
    """The statements of the EU's lists for a CAS number, a lower bound; ``None``: on none of them.

    Water is examined and has none. What only the benzene in a cut brings (note P) is left to the sheet.

    >>> eu_statements("108-88-3").codes[:1], eu_statements("7732-18-5").complete, eu_statements("")
    (('H225',), True, None)
    """
    if cas in HARMLESS:
        return Statements()
    rows = [row for row in substance_rows(cas) if row.list in _EU]
    rows = [row for row in rows if row.status in (Listing.CLASSIFIED, Listing.GROUP_ENTRY)]
    if not rows:
        return None
    hazards = [one for row in rows for one in read_classes(list(row.classes)).hazards]
    if any("P" in row.notes for row in rows):
        hazards = [one for one in hazards if one.code not in ("H340", "H350")]
    supplements = tuple(code for row in rows for code in row.supplements)
    return replace(statements_of(hazards, supplements), complete=False)


def with_the_lists(
    said: Statements | None, cas: str, name: str, scheme: Scheme
) -> tuple[Statements | None, tuple[Finding, ...]]:
    """What was said; where nothing was, what the lists hold; where these are worse, both, and a question."""
    listed = eu_statements(cas) if cas else None
    if listed is None:
        return said, ()
    if said is None:
        if listed.complete:
            return listed, ()
        return listed, (_lower_bound(name, listed),)
    told, held = band(said, scheme, name), band(replace(listed, complete=True), scheme, name)
    if rank(held.at_least) <= rank(told.at_least):
        return said, ()
    both = replace(said, codes=tuple(dict.fromkeys((*said.codes, *listed.codes))), complete=False)
    words = (
        f"{name}: the EU's list holds {', '.join(listed.codes)}, which is worse than what was told. "
        "Look into section 2 of its data sheet; until then the class is not known."
    )
    return both, (unknown("list-says-worse", words, "CLP Annex VI", name),)


def _lower_bound(name: str, listed: Statements) -> Finding:
    words = (
        f"The hazards of {name} were not told. The EU's list holds {', '.join(listed.codes)}. A list is "
        "never complete, so the class is not known, and at least that of these."
    )
    return unknown("hazards-by-list-only", words, "CLP Annex VI", name)
