"""The only writer of what happened to a drum of waste, and what keeps an entry from being written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from service.actions.read_amount import shop_system
from service.actions.settle import Act
from service.core.bench_writing import read_written
from service.core.findings import Invalid, NotFound, Refused, Verdict, stop
from service.core.materials import Basis
from service.core.waste_drums import DrumState, DrumStep
from service.records.places import Place
from service.records.waste_drum_queries import SeenDrum, mass_and_volume, seen_drum
from service.records.waste_drums import WasteDrumEntry
from service.records.waste_queries import WentOut

_AMOUNT: Final = "Write a mass or a volume with its unit, like “12 kg” or “5 l”. Empty is not known."


@dataclass(frozen=True, kw_only=True)
class DrumFact:
    """What an entry says beside its step. Amounts are whole mg and microlitres; None = not known."""

    on: date | None = None
    mg: int | None = None
    ul: int | None = None
    written: str = ""
    what: str = ""
    movement_id: int | None = None
    load_id: int | None = None
    job_id: int | None = None
    place_id: int | None = None
    receiver: str = ""
    transporter: str = ""
    paper: str = ""
    note: str = ""
    reverses_id: int | None = None


def write_drum_entry(act: Act, drum_id: int, step: DrumStep, fact: DrumFact) -> WasteDrumEntry:
    """Add an entry to the book of a drum; nothing is checked here."""
    row = WasteDrumEntry(
        posting_id=act.posting_id, drum_id=drum_id, step=step, on_day=fact.on or act.day, mass_mg=fact.mg,
        volume_ul=fact.ul, written=fact.written, what=fact.what, movement_id=fact.movement_id,
        load_id=fact.load_id, job_id=fact.job_id, place_id=fact.place_id, receiver=fact.receiver,
        transporter=fact.transporter, paper=fact.paper, note=fact.note, reverses_id=fact.reverses_id,
        person_id=act.actor.person_id, happened_at=act.happened_at, recorded_at=act.recorded_at,
        late=act.posting.late, late_reason=act.posting.late_reason,
    )  # fmt: skip
    act.session.add(row)
    act.session.flush()
    return row


def place_of_list(act: Act, place_id: int | None) -> int | None:
    """The place that was chosen, if any. Raises Invalid: no such place, or none that is in use."""
    place = act.session.get(Place, place_id) if place_id is not None else None
    if place_id is not None and (place is None or not place.active):
        words = "Choose a place of the list."
        raise Invalid(words, {"place": words})
    return place_id


def drum_that_takes(act: Act, drum_id: int, field: str = "drum") -> SeenDrum:
    """A drum into which something can be put when this act happened.

    Raises:
        Invalid: there is none with this number; the error stands at ``field``.
        Refused: it was handed over or closed before, or not begun yet.
    """
    seen = drum_of(act, drum_id, field)
    refuse(not_takes(act, seen))
    return seen


def drum_of(act: Act, drum_id: int, field: str = "drum") -> SeenDrum:
    """A drum that an act names. Raises Invalid at ``field``: there is none with this number."""
    try:
        return seen_drum(act.session, drum_id)
    except NotFound as error:
        words = "Choose a waste drum of the list."
        raise Invalid(words, {field: words}) from error


def not_takes(act: Act, seen: SeenDrum, at: datetime | None = None) -> Verdict:
    """Why nothing can be put in: by then it was handed over or full, or it was not begun yet.

    Args:
        at: when a discard of the book went into it; it may be older than the drum in the book. None = now.
    """
    name, then = seen.row.name, at or act.happened_at
    for step, code, words in (
        (DrumStep.HANDED_OVER, "drum-gone", f"{name} was handed over. It takes nothing any more."),
        (DrumStep.CLOSED, "drum-closed", f"{name} is full and closed. Put it into another drum."),
    ):
        ended = [one for one in counted(seen) if one.step is step]
        if any(one.happened_at <= then for one in ended):
            return Verdict.of([stop(code, words, about=name)])
    if at is None and act.day < seen.row.begun_on:
        words = f"{name} was not begun on that day. Give a later time, or another drum."
        return Verdict.of([stop("drum-not-begun", words, about=name)])
    return Verdict.of([])


def counted(seen: SeenDrum) -> list[WasteDrumEntry]:
    """The entries of a drum that count."""
    gone = {one.row.reverses_id for one in seen.entries}
    return [
        one.row for one in seen.entries
        if one.row.step is not DrumStep.TAKEN_BACK and one.row.id not in gone and not one.undone
    ]  # fmt: skip


def refuse(verdict: Verdict) -> None:
    """Raise Refused where something stops it."""
    if verdict.blocking:
        raise Refused(verdict)


def put_movement_in(
    act: Act, seen: SeenDrum, movement_id: int, written: str, on: date | None = None
) -> WasteDrumEntry:
    """What a discard or loss took out of the store went into this drum, with that movement's amount."""
    fact = DrumFact(on=on, movement_id=movement_id, written=written[:200])
    return write_drum_entry(act, seen.number, DrumStep.PUT_IN, fact)


def put_pot_in(act: Act, seen: SeenDrum, went: WentOut, on: date) -> WasteDrumEntry:
    """What a draw put into a pot went into this drum with it: its share, and water that stands beside it."""
    mg, ul = mass_and_volume(went.change, went.basis, went.density_used or went.density_g_ml, went.beside)
    fact = DrumFact(on=on, mg=mg, ul=ul, movement_id=went.movement_id, what=went.other_text[:300])
    return write_drum_entry(act, seen.number, DrumStep.PUT_IN, fact)


def read_put_in(act: Act, text: str, field: str = "amount") -> tuple[int | None, int | None]:
    """Milligrams and microlitres of what was written, its upper end, rounded up; empty is not known.

    Raises:
        Ambiguous, Invalid: it cannot be read, or is no mass or volume.
    """
    if not text.strip():
        return None, None
    try:
        written = read_written(text, system=shop_system(act.session))
    except Invalid as error:
        error.errors = {field: next(iter(error.errors.values()), error.sentence)}
        raise
    if written.high is None or written.high.basis not in (Basis.MASS, Basis.VOLUME):
        raise Invalid(_AMOUNT, {field: _AMOUNT})
    if written.high.smallest <= 0:
        raise Invalid("Enter more than nothing.", {field: "Enter more than nothing, or leave it empty."})
    amount = -(-written.high.smallest.numerator // written.high.smallest.denominator)
    return (amount, None) if written.high.basis is Basis.MASS else (None, amount)


def kept_text(text: str, field: str, most: int) -> str:
    """A text without blanks around it. Raises Invalid: longer than the book keeps."""
    kept = " ".join(text.split())
    if len(kept) > most:
        words = f"Shorten it to {most} signs."
        raise Invalid(words, {field: words})
    return kept


def told_of_drum(state: DrumState) -> dict[str, Any]:
    """How a drum is after an act, as plain data."""
    return {"drum": state.facts.number, "name": state.facts.name, "gone": not state.standing}
