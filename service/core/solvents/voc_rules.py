"""The laws of volatile organic compounds: whose list of exempt compounds, which limit for which product.

Doors: records/knowledge_voc.py, core/solvents/voc.py, core/solvents/voc_limits.py, web/api/calc_voc.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from service.core.findings import Invalid


class Jurisdiction(StrEnum):
    """Whose law: the EU has no list of exempt compounds; ``otc`` are states that follow the model rule."""

    US_FEDERAL = "us-federal"
    OTC = "otc"
    SCAQMD = "scaqmd"
    CANADA = "canada"
    EU = "eu"


LIST_OF: Final = {Jurisdiction.OTC: Jurisdiction.US_FEDERAL}
"""Whose list of exempt compounds is taken where a jurisdiction has no rows of its own."""


class VocBasis(StrEnum):
    """Which figure a limit is compared with: all of the product, less water and exempt, or the EU's."""

    ACTUAL = "actual"
    REGULATORY = "regulatory"
    EU = "eu"


class Base(StrEnum):
    """Water-borne or solvent-borne; only the EU's limits ask."""

    WATER_BORNE = "WB"
    SOLVENT_BORNE = "SB"


@dataclass(frozen=True)
class Exemption:
    """What one list says of one compound. ``grade`` is a grade of the sources table."""

    cas: str
    name: str
    exempt: bool
    source: str
    grade: str
    note: str = ""


@dataclass(frozen=True)
class ExemptList:
    """The compounds that a jurisdiction does not count, by CAS number. What is not on it counts."""

    jurisdiction: Jurisdiction | None
    rows: Mapping[str, Exemption] = field(default_factory=dict)

    def of(self, cas: str) -> Exemption | None:
        """What the list says of a CAS number; ``None``: nothing, so it counts."""
        return self.rows.get(cas) if cas else None


@dataclass(frozen=True)
class VocLimit:
    """One row of a table of limits, in g/l. ``in_force`` False: a later stage has taken its place."""

    key: str
    regime: Jurisdiction
    category: str
    title: str
    base: Base | None
    stage: str
    since: str
    limit_g_l: float
    basis: VocBasis
    in_force: bool
    citation: str
    source: str
    grade: str
    provenance: str
    note: str = ""

    @property
    def is_low_solids(self) -> bool:
        return self.category.endswith("low-solids")


def rows_for(
    rows: tuple[VocLimit, ...], jurisdiction: Jurisdiction, category: str, base: Base | None
) -> tuple[VocLimit, ...]:
    """The rows in force for a product: its category, or all that begin with its words; all for no category.

    A low-solids row of the same jurisdiction comes with them where its words do: whether it holds is judged.

    Raises Invalid, naming the categories, for one that the jurisdiction does not have.
    """
    held = [row for row in rows if row.regime is jurisdiction and row.in_force]
    wanted = "-".join(category.casefold().replace("_", " ").replace("-", " ").split())
    exact = [row for row in held if row.category == wanted]
    chosen = exact or [row for row in held if not wanted or row.category.startswith(f"{wanted}-")]
    if held and not chosen:
        known = ", ".join(dict.fromkeys(row.category for row in held))
        words = f"There is no category “{category.strip()[:60]}” here. Choose one of: {known}."
        raise Invalid(words, {"product_category": words})
    first = wanted.partition("-")[0]
    family = [r for r in held if r.is_low_solids and r.category in (f"{first}-low-solids", "low-solids")]
    preserving = [r for r in held if r.is_low_solids and wanted.startswith("wood-preservatives")]
    together = dict.fromkeys([*chosen, *family, *(r for r in preserving if r.category.startswith("wood-"))])
    return tuple(row for row in together if base is None or row.base in (None, base))
