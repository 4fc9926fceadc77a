"""What became waste by the books: discards and losses with where they went, rags that went into the drum.

It only reads. What went into the rag can counts with the load too if that was weighed: rather twice than not.
Each line says its mass or what is missing to know it; each month its category or "at least".
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.core.bench_writing import Ambiguous, read_written
from service.core.containers import AmountKnown
from service.core.findings import Finding, Invalid
from service.core.ledger import DESTINATIONS, NOBODY_NAMED, Destination, MovementKind
from service.core.materials import Basis, Unknown
from service.core.waste import JudgedMonth, caution
from service.core.waste_drums import DrumStep, counting, counting_whole
from service.core.waste_record import (
    DrumLine,
    WasteLine,
    amounts_with,
    by_month,
    found_by_weighing,
    is_the_load,
    line_mass,
    rag_lines,
)
from service.core.waste_rules import Jurisdiction
from service.records.knowledge_waste import waste_tables
from service.records.waste_drum_queries import SeenDrum, SeenEntry, seen_drums
from service.records.waste_queries import RagsWent, WentOut, counted_short, rags_went, went_out

_MG_PER_KG: Final = 1_000_000
TOGETHER: Final = re.compile(r"(.+), of loads (\d+(?:, \d+)+) together")
"""A mass of several loads that were emptied together, as `actions/empty_can.py` writes it."""


@dataclass(frozen=True)
class WasteBook:
    """The months, the newest first, with their lines; and what is said beside them."""

    months: list[tuple[JudgedMonth, list[WasteLine]]]
    findings: tuple[Finding, ...]


Months = list[tuple[JudgedMonth, list[WasteLine]]]


def look_at_waste(session: Session, zone: ZoneInfo, as_of: datetime | None = None) -> WasteBook:
    """All that became waste, by calendar months of the shop's zone, against the US generator categories.

    Args:
        as_of: only what the book had heard by then; None = all of it.
    """
    months = judged_months(session, zone, seen_drums(session, as_of=as_of), as_of=as_of)
    return WasteBook(months, tuple(caution(Jurisdiction.US)))


def judged_months(
    session: Session, zone: ZoneInfo, drums: Sequence[SeenDrum], *,
    as_of: datetime | None = None, since: datetime | None = None,
) -> Months:  # fmt: skip
    """The months of discards, losses, rags and what was put into drums by hand.

    Args:
        drums: with their entries; a load of rags that is told by its own steps is not counted again.
    """
    rags = list(rags_went(session, as_of=as_of, since=since))
    acute = {
        entry.row.movement_id for drum in drums if drum.row.acute is Unknown.YES for entry in _counted(drum)
    }  # fmt: skip
    lines = [
        replace(_went(one, zone), acute=one.movement_id in acute)
        for one in pots_as_one(went_out(session, as_of=as_of, since=since))
    ]
    lines += [line for one in rags for line in _unread(one, zone)]
    lines += short_lines(counted_short(session, as_of=as_of, since=since), zone)
    in_drums = drum_lines(drums)
    lines += rag_lines({one.load_id: _rags(one, zone) for one in rags}, in_drums)
    return by_month(waste_tables(), lines)


def drum_lines(drums: Iterable[SeenDrum]) -> list[DrumLine]:
    """What was put into drums past the ledger, each with the number of its load of rags, if it is one.

    What a discard or loss put in is told by that movement and does not stand here. What names a load and is
    told as something else is no load: it counts by itself.
    """
    found: list[DrumLine] = []
    for drum in drums:
        acute, by_number = drum.row.acute is Unknown.YES, {one.row.id or 0: one for one in drum.entries}
        counts = counting_whole(drum.state.facts, [one.entry for one in drum.entries])
        for one in counts:
            entry = by_number.get(one.number)
            if entry is None:
                found.append(DrumLine(_unwritten(drum, one.on)))
                continue
            row = entry.row
            if row.step is not DrumStep.PUT_IN or row.movement_id is not None:
                continue
            kg = None if entry.mg is None else Fraction(entry.mg, _MG_PER_KG)
            what = row.what or (f"Oily rags, load {row.load_id}" if row.load_id else "not said")
            why = "" if kg is not None else "Nobody wrote its mass. Weigh the drum before it goes."
            where = f"put into {drum.row.name}"
            load = row.load_id if not row.what or is_the_load(row.what) else None
            line = WasteLine(row.on_day, what, "", kg, False, where, why, acute)
            found.append(DrumLine(line, load, entry.mg is not None or entry.ul is not None))
        for on, mg in found_by_weighing(counts):
            kg = None if mg is None else Fraction(mg, _MG_PER_KG)
            why = "" if mg is not None else "It was measured, but not weighed. Weigh the drum before it goes."
            where = f"in the drum {drum.row.name}"
            what = "weighed more than was written down; counted whole in each month it may be of"
            found.append(DrumLine(WasteLine(on, what, "", kg, False, where, why, acute)))
    return found


def _unwritten(drum: SeenDrum, on: date) -> WasteLine:
    """What is in a drum that is full, over, moved or gone, of which nobody wrote that it was put in."""
    why = "Nobody wrote down what was put in. Weigh the drum before it goes."
    where, acute = f"in the drum {drum.row.name}", drum.row.acute is Unknown.YES
    return WasteLine(on, "content not known", "", None, False, where, why, acute)


def _counted(drum: SeenDrum) -> list[SeenEntry]:
    """The entries of a drum that count, in the order in which they happened."""
    by_number = {entry.row.id or 0: entry for entry in drum.entries}
    return [by_number[one.number] for one in counting(entry.entry for entry in drum.entries)]


def _went(one: WentOut, zone: ZoneInfo) -> WasteLine:
    density = one.density_used if one.density_used is not None else one.density_g_ml
    kg, why = line_mass(one.change, one.basis, None if density is None else Fraction(density))
    kg, _ = amounts_with(kg, None, one.beside)
    if kg is None and not why:
        why = "How much water went in with it is not known."
    return WasteLine(
        on=one.happened_at.astimezone(zone).date(),
        what=one.material,
        code=one.code,
        kg=kg,
        about=one.known is not AmountKnown.MEASURED,
        where=_where_to(one),
        why_not=why,
    )


def _where_to(one: WentOut) -> str:
    """Where it went, with what somebody wrote beside it; a hauler nobody named is said."""
    where = one.other_text or (DESTINATIONS[one.destination] if one.destination else "")
    if one.kind is MovementKind.LOSS:
        where = f"lost: {where}" if where else "lost"
    beside = one.reason.strip() if one.kind in (MovementKind.LOSS, MovementKind.DISCARD) else ""
    if beside:
        return f"{where}: {beside}" if where else beside
    return f"{where} ({NOBODY_NAMED})" if one.destination is Destination.HAULER else where


def pots_as_one(went: Sequence[WentOut]) -> list[WentOut]:
    """A pot of which no share is known is one line and not one for each draw."""
    told = {one.batch_id for one in went if one.change is not None}
    found: dict[object, WentOut] = {}
    for one in went:
        if one.batch_id is None or one.batch_id in told:
            found[one.movement_id, one.change is None] = one
        elif (one.batch_id, "pot") not in found:
            what = f"What was mixed {one.material.partition(', mixed ')[2]}"
            found[(one.batch_id, "pot")] = one._replace(material=what, code="")
    return list(found.values())


def short_lines(short: Iterable[tuple[datetime, str, str]], zone: ZoneInfo) -> list[WasteLine]:
    """One line for each month in which counts found less than the book; nobody knows what of it is waste."""
    months: dict[str, list[tuple[date, str, str]]] = {}
    for at, code, name in short:
        day = at.astimezone(zone).date()
        months.setdefault(f"{day:%Y-%m}", []).append((day, code, name))
    found = []
    for many in months.values():
        boxes = {code: name for _, code, name in many}
        code, name = next(iter(boxes.items()))
        what = f"counted less than the book: {name}"
        if len(boxes) > 1:
            code, what = "", f"counted less than the book: {len(boxes)} containers"
        why = "If some of it was thrown away, it counts here. Take the count back and write that first."
        on = max(day for day, _, _ in many)
        found.append(WasteLine(on, what, code, None, False, "nobody wrote where it went", why))
    return found


def _rags(one: RagsWent, zone: ZoneInfo) -> WasteLine:
    told = [_written_kg(text, one.load_id) for text in one.masses]
    kg = max((each for each in told if each is not None), default=None)
    why = "" if kg is not None else "Nobody wrote what the rags weighed. Weigh the drum before it goes."
    day = one.happened_at.astimezone(zone).date()
    return WasteLine(day, f"Oily rags, load {one.load_id}", "", kg, kg is not None, one.where, why)


def _unread(one: RagsWent, zone: ZoneInfo) -> list[WasteLine]:
    """A mass of rags that cannot be read beside one that can: it may be more."""
    told = {text: _written_kg(text, one.load_id) for text in one.masses}
    day, known = one.happened_at.astimezone(zone).date(), any(kg is not None for kg in told.values())
    return [
        WasteLine(day, f"Oily rags, load {one.load_id}, told as “{text}”", "", None, False, one.where,
                  "This is no mass that can be read. It may be more than what else was told of them.")
        for text, kg in told.items() if kg is None and known
    ]  # fmt: skip


def _written_kg(text: str, load: int = 0) -> Fraction | None:
    """A mass as somebody wrote it; anything else is not known. One of several loads stands with the first.

    >>> _written_kg("about 3 kg"), _written_kg("half a drum"), _written_kg("2 l"), _written_kg("")
    (Fraction(3, 1), None, None, None)
    >>> [_written_kg("2 kg, of loads 4, 7 together", load) for load in (4, 7)]
    [Fraction(2, 1), Fraction(0, 1)]
    """
    together = TOGETHER.fullmatch(text)
    if together is not None:
        first, whole = int(together[2].split(",")[0]), _written_kg(together[1])
        return whole if whole is None or load == first else Fraction(0)
    try:
        written = read_written(text) if text.strip() else None
    except (Ambiguous, Invalid):
        return None
    if written is None or written.high is None or written.high.basis is not Basis.MASS:
        return None
    return written.high.smallest / _MG_PER_KG
