"""The waste record as rows of a file: one line for each drum, with its hand-over if it left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from service.actions.look_at_drums import WasteRecord
from service.core.drum_mix import NOT_JUDGED
from service.core.findings import Severity
from service.core.waste import say_kg
from service.core.waste_drum_clocks import JudgedDrum
from service.core.waste_drums import DrumState, DrumStep, Held, counting
from service.core.waste_rules import Jurisdiction
from service.outreach.csv_tables import Cell
from service.records.drum_codes import codes_now, grouped
from service.records.waste_drum_queries import SeenDrum
from service.records.waste_drums import WasteDrumEntry
from service.web.drum_words import amounts, area_words, citation_words, entry_amount

HEADER: Final = (
    "drum", "name", "contents", "hazards", "codes", "acute", "place", "area", "size", "first_waste",
    "accumulation_start", "over_since", "leaves_by", "overdue", "rule", "kg", "kg_is_at_least",
    "handed_over", "to", "carried_by", "paper", "kg_weighed", "holds", "met_in_it",
)  # fmt: skip


def drum_rows(record: WasteRecord) -> Iterator[Sequence[Cell]]:
    """Drums that stand, what must leave first at the top, then those that left, the newest first."""
    yield HEADER
    for one in record.drums:
        yield _row(one.seen, one.judged, None, record.law)
    for gone in record.handed_over:
        yield _row(gone.seen, None, gone.entry.row, record.law)


def _row(
    seen: SeenDrum, judged: JudgedDrum | None, left: WasteDrumEntry | None, law: Jurisdiction | None
) -> Sequence[Cell]:
    row, state = seen.row, seen.state
    codes = "; ".join(
        f"{one['code']}{'' if one['applies'] else ' may apply'} ({one['citation']}, {one['grade']})"
        for one in grouped(codes_now(seen, law))
    )
    clock: tuple[Cell, ...] = ("", "", "", "", "")
    if judged is not None:
        overdue = "not known" if judged.overdue is None else judged.overdue
        clock = (judged.started, judged.excess_on, judged.deadline, overdue, citation_words(judged))
    weighed = None if left is None or left.mass_mg is None else say_kg_of(left.mass_mg)
    gone: tuple[Cell, ...] = ("", "", "", "", "")
    if left is not None:
        gone = (left.on_day, left.receiver, left.transporter, left.paper, weighed)
    return (
        seen.number, row.name, row.stream, row.hazards, codes, row.acute.value, seen.place,
        area_words(state) if left is None else "handed over", row.capacity_written, state.first_on,
        *clock, None if _nothing_known(state.mg) else say_kg_of(state.mg.known), state.mg.more, *gone,
        _holds(seen, left), _met(judged),
    )  # fmt: skip


def _met(judged: JudgedDrum | None) -> str:
    """What met in it and nobody answered, and what was not judged; of a drum that left nothing is said."""
    if judged is None:
        return ""
    stops = [one.sentence for one in judged.findings if one.severity is Severity.STOP]
    return " ".join([*stops, *(one.sentence for one in judged.findings if one.code == NOT_JUDGED)])


def _nothing_known(held: Held) -> bool:
    """Whether something is in it of which nobody knows how much; that is no nought."""
    return held.more and not held.known


def _in_it(state: DrumState) -> str:
    if not _nothing_known(state.mg):
        return amounts(state)
    return "not known" if _nothing_known(state.ul) else f"{amounts(state)}, kilograms not known"


def _holds(seen: SeenDrum, left: WasteDrumEntry | None) -> str:
    """How much is in it, or was: what was weighed last, the sum of what was put in, and what is missing."""
    said = _in_it(seen.state)
    last = None if left is None else next((one for one in seen.entries if one.row.id == left.id), None)
    if last is not None and (last.mg is not None or last.ul is not None):
        return f"{entry_amount(last)}, weighed when it left; by the entries before {said}"
    numbers = {one.number for one in counting([entry.entry for entry in seen.entries])}
    weighed = [
        one for one in seen.entries if one.row.step is DrumStep.WEIGHED and one.entry.number in numbers
    ]  # fmt: skip
    if not weighed:
        return said
    newest = max(weighed, key=lambda one: (one.row.on_day, one.entry.order, one.entry.number))
    day, found = newest.row.on_day.isoformat(), entry_amount(newest)
    return f"{said}, measured on {day}" if found == said else f"{said}; {found} measured on {day}"


def say_kg_of(mg: int) -> str:
    """Milligrams as kilograms, never less than it is."""
    return say_kg(Fraction(mg, 1_000_000))
