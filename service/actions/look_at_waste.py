"""What became waste by the books: discards and losses with where they went, rags that went into the drum.

It only reads. What went into the rag can counts with the load too if that was weighed: rather twice than not.
Each line says its mass or what is missing to know it; each month its category or "at least".
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.core.bench_writing import Ambiguous, read_written
from service.core.containers import AmountKnown
from service.core.findings import Finding, Invalid
from service.core.ledger import DESTINATIONS, MovementKind
from service.core.materials import Basis
from service.core.waste import JudgedMonth, caution
from service.core.waste_record import WasteLine, by_month, line_mass
from service.core.waste_rules import Jurisdiction
from service.records.knowledge_waste import waste_tables
from service.records.waste_queries import RagsWent, WentOut, rags_went, went_out

_MG_PER_KG: Final = 1_000_000


@dataclass(frozen=True)
class WasteBook:
    """The months, the newest first, with their lines; and what is said beside them."""

    months: list[tuple[JudgedMonth, list[WasteLine]]]
    findings: tuple[Finding, ...]


def look_at_waste(session: Session, zone: ZoneInfo) -> WasteBook:
    """All that became waste, by calendar months of the shop's zone, against the US generator categories."""
    lines = [_went(one, zone) for one in went_out(session)]
    lines += [_rags(one, zone) for one in rags_went(session)]
    return WasteBook(by_month(waste_tables(), lines), tuple(caution(Jurisdiction.US)))


def _went(one: WentOut, zone: ZoneInfo) -> WasteLine:
    density = one.density_used if one.density_used is not None else one.density_g_ml
    kg, why = line_mass(one.change, one.basis, None if density is None else Fraction(density))
    where = one.other_text or (DESTINATIONS[one.destination] if one.destination else "")
    if one.kind is MovementKind.LOSS:
        where = f"lost: {where}" if where else "lost"
    return WasteLine(
        on=one.happened_at.astimezone(zone).date(),
        what=one.material,
        code=one.code,
        kg=kg,
        about=one.known is not AmountKnown.MEASURED,
        where=where,
        why_not=why,
    )


def _rags(one: RagsWent, zone: ZoneInfo) -> WasteLine:
    kg = _written_kg(one.mass)
    why = "" if kg is not None else "Nobody wrote what the rags weighed. Weigh the drum before it goes."
    day = one.happened_at.astimezone(zone).date()
    return WasteLine(day, f"Oily rags, load {one.load_id}", "", kg, kg is not None, one.where, why)


def _written_kg(text: str) -> Fraction | None:
    """A mass as somebody wrote it; anything else is not known.

    >>> _written_kg("about 3 kg"), _written_kg("half a drum"), _written_kg("2 l"), _written_kg("")
    (Fraction(3, 1), None, None, None)
    """
    try:
        written = read_written(text) if text.strip() else None
    except (Ambiguous, Invalid):
        return None
    if written is None or written.high is None or written.high.basis is not Basis.MASS:
        return None
    return written.high.smallest / _MG_PER_KG
