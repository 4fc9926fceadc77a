"""Whether something of the ledger left with a drum of waste: by then it is taken back no more."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session, col, select

from service.actions.drum_entries import counted
from service.core.findings import Verdict, stop
from service.core.waste_drums import DrumStep
from service.records.stock import Movement
from service.records.waste_drum_queries import seen_drum
from service.records.waste_drums import WasteDrumEntry


def left_with_a_drum(session: Session, group: Sequence[Movement]) -> Verdict:
    """A stop for each drum that was handed over and took one of these movements."""
    numbers = {one.id for one in group if one.id is not None}
    asked = select(WasteDrumEntry.drum_id).where(col(WasteDrumEntry.movement_id).in_(sorted(numbers)))
    found = session.exec(asked).all()
    stops = []
    for number in sorted(set(found)):
        seen = seen_drum(session, number)
        stands = counted(seen)
        if numbers.isdisjoint(one.movement_id for one in stands):
            continue
        if any(one.step is DrumStep.HANDED_OVER for one in stands):
            words = (
                f"It went into {seen.row.name}, which was handed over since. A keeper takes the hand-over "
                "back first, on the page of that drum, and writes it anew afterwards with what was weighed."
            )
            stops.append(stop("drum-gone", words, about=seen.row.name))
    return Verdict.of(stops)
