"""What people do with oily rags: put them away, hand them over, count them, say that none were made.

The rules decide (core.rag_loads); this file sees who may say so, writes the log, and keeps the load's
cached state, its violations and the duty of a full drum in step with it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.drum_duty import close_drum_duty, open_drum_duty
from service.actions.rag_duty import record_violation, settle_load
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, may, require
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Verdict, note, stop
from service.core.rag_loads import LoadState, check_step
from service.core.rag_steps import CONTAINING
from service.core.rags import RagEntry, RagStep, Receptacle, Removal, Water
from service.records.job_queries import is_in_job
from service.records.places import Place, PlaceKind
from service.records.rag_queries import (
    JudgedLoad,
    judged,
    load_state,
    log_rows,
    receptacle_data,
    receptacle_of,
    step_entry,
)
from service.records.rags import RagLoad

MOST_LOADS = 50
_PLACES = {
    RagStep.IN_CAN: {PlaceKind.RAG_CAN},
    RagStep.UNDER_WATER: {PlaceKind.RAG_CAN, PlaceKind.WASTE_DRUM, PlaceKind.OUTSIDE_DRUM},
    RagStep.OUTSIDE_DRUM: {PlaceKind.OUTSIDE_DRUM},
}
_WEIGHED = frozenset({RagStep.OUTSIDE_DRUM, RagStep.REMOVED})
"""Steps that keep a mass."""


@dataclass(frozen=True)
class StepAsked:
    """One thing done with the rags of one or several loads ("the whole can left with the hauler").

    Args:
        can_id: the place they were put into; needed for can, water and drum.
        water: how far they are under water, as seen.
        covers: the draws that left no rags ("draw 12"); only for none-made.
        count: how many pieces were counted, if anybody did.
        mass: of an outside drum, or of what was removed, if known; collected_on: of an outside drum.
        witness: who saw it, when that is not the person who writes it down.
    """

    once: str
    loads: tuple[int, ...]
    step: RagStep
    can_id: int | None = None
    water: Water | None = None
    removal: Removal | None = None
    witness: str = ""
    note: str = ""
    covers: tuple[str, ...] = ()
    count: int | None = None
    mass: str = ""
    collected_on: date | None = None
    happened_at: datetime | None = None
    late_reason: str = ""

    def body(self) -> dict[str, Any]:
        removal = self.removal
        return {
            "loads": sorted(set(self.loads)), "step": self.step.value, "can": self.can_id,
            "water": self.water.value if self.water else None,
            "removal": [removal.how.value, removal.named, removal.permit] if removal else None,
            "witness": self.witness, "note": self.note, "covers": sorted(self.covers), "count": self.count,
            "mass": self.mass,
            "collected_on": self.collected_on.isoformat() if self.collected_on else None,
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
        }  # fmt: skip


def add_step(session: Session, actor: Actor, now: datetime, asked: StepAsked) -> Settled:
    """Write down one step for each load named: all of them or none.

    Raises:
        NotAllowed: not this role, or a student whose job it is not.
        NotFound: no such load or can.
        Invalid: no can where one is needed.
        Refused: the rules do not take it as that step; each finding says what to record or mend instead.
    """
    require(actor, Permission.HAND_IN_RAGS)
    if not 1 <= len(set(asked.loads)) <= MOST_LOADS:
        raise Invalid("Say which rags.", {"loads": f"Choose from one to {MOST_LOADS} loads."})
    sent = Sent(asked.once, "rag-step", asked.body(), asked.happened_at, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _steps(act, asked))


def _steps(act: Act, asked: StepAsked) -> dict[str, Any]:
    place = _place(act.session, asked)
    entry = RagEntry(
        at=act.happened_at,
        step=asked.step,
        receptacle=receptacle_of(place, asked.water) if place else None,
        removal=asked.removal,
        witness=" ".join(asked.witness.split()),
        note=asked.note.strip(),
        covers=asked.covers,
        count=asked.count,
    )
    answers = [step_one(act, load_id, entry, asked, place) for load_id in sorted(set(asked.loads))]
    return {"loads": answers}


def _place(session: Session, asked: StepAsked) -> Place | None:
    if asked.can_id is None:
        if asked.step in CONTAINING:
            raise Invalid("Say where the rags are.", {"can": "Choose the can or drum the rags are in."})
        return None
    place = session.get(Place, asked.can_id)
    if place is None or not place.active:
        raise NotFound(f"There is no place number {asked.can_id} in use.")
    if asked.step in _PLACES and place.kind not in _PLACES[asked.step]:
        words = f"{place.name} is no {'outside drum' if asked.step is RagStep.OUTSIDE_DRUM else 'rag can'}."
        raise Invalid(words, {"can": f"{words} Choose one from the list."})
    return place


def step_one(
    act: Act, load_id: int, entry: RagEntry, asked: StepAsked, place: Place | None
) -> dict[str, Any]:
    """One step of one load inside an act that is being settled.

    Raises:
        NotFound, NotAllowed, Refused: as `add_step`.
        Invalid: a mass was told at a step that keeps none.
    """
    if asked.mass.strip() and entry.step not in _WEIGHED:
        words = "A mass is kept only of rags in a drum outside, or taken away. Leave it out here."
        raise Invalid(words, {"mass": words})
    before = held_load(act, load_id)
    load = before.row
    state = load_state(act.session, load, act.recorded_at)
    _may_say(act, before, state, entry.step)
    verdict = check_step(state, entry, act.recorded_at)
    if verdict.blocking:
        raise Refused(verdict)
    act.note(*verdict)
    drum = (asked.mass, asked.collected_on) if entry.step is RagStep.OUTSIDE_DRUM else None
    weighed = (asked.mass, None) if entry.step is RagStep.REMOVED and asked.mass.strip() else None
    write_step(act, load, entry, place, drum or weighed)
    settle_load(act.session, load, act.recorded_at)
    after = judged(act.session, load, act.recorded_at)
    note_lateness(act, before, after)
    if drum is not None and after.state.remove_met:
        open_drum_duty(act, load, place.name if place else "", asked.mass, asked.collected_on)
    if after.state.ended:
        close_drum_duty(act, load)
    return load_answer(after)


def held_load(act: Act, load_id: int) -> JudgedLoad:
    """A load locked for writing, as it stands before the act.

    Raises:
        NotFound: there is none with this number.
    """
    query = select(RagLoad).where(col(RagLoad.id) == load_id).with_for_update()
    load = act.session.exec(query.execution_options(populate_existing=True)).one_or_none()
    if load is None:
        raise NotFound(f"There is no rag load number {load_id}.")
    return judged(act.session, load, act.recorded_at)


def _may_say(act: Act, seen: JudgedLoad, state: LoadState, step: RagStep) -> None:
    """Whether this person may say this of this load (design section 6)."""
    actor, own = act.actor, is_in_job(act.session, seen.job, act.actor.person_id)
    if step is RagStep.NONE_MADE:
        require(actor, Permission.NONE_MADE)
        if not own and not may(actor.role, Permission.REVERSE_ANY):
            raise NotAllowed("That no rags were made is said by somebody of that job, or by a keeper.")
    elif step is RagStep.REMOVED:
        require(actor, Permission.REMOVE_RAGS)
        if state.remove_met and not state.ended:
            require(actor, Permission.WASTE_HAND_OVER)
    elif step in (RagStep.OUTSIDE_DRUM, RagStep.LAID_FLAT):
        require(actor, Permission.CONTAIN_RAGS)
    elif not may(actor.role, Permission.CONTAIN_RAGS) and not (own and seen.job.closed_at is None):
        raise NotAllowed("You are not in the running job of these rags. Ask its leader to record it.")


def write_step(
    act: Act,
    load: RagLoad,
    entry: RagEntry,
    place: Place | None,
    drum: tuple[str, date | None] | None = None,
) -> None:
    """One step into the log, with the facts of the can as they were recorded at that moment."""
    removal = entry.removal
    data: dict[str, object] = {
        "step": entry.step.value,
        "receptacle": receptacle_data(entry.receptacle),
        "can": place.id if place else None,
        "can_name": place.name if place else "",
        "removal": {"how": removal.how.value, "named": removal.named, "permit": removal.permit}
        if removal
        else None,
        "witness": entry.witness,
        "note": entry.note,
        "covers": list(entry.covers),
        "count": entry.count,
        "late_reason": act.posting.late_reason if act.posting.late else "",
    }
    if drum is not None:
        data |= {"mass": drum[0], "collected_on": drum[1]}
    _log(act, "step", load, data)


def _log(act: Act, kind: str, load: RagLoad, data: dict[str, object]) -> None:
    write_rag_log(
        act.session,
        kind=kind,
        load_id=load.id,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data=data,
    )


def note_lateness(act: Act, before: JudgedLoad, after: JudgedLoad) -> None:
    """A load that was put away or ended too late is a violation, which a keeper answers."""
    was, now = before.judgement, after.judgement
    late: list[str] = []
    if was.past_contain and not now.past_contain and now.contain_minutes_late:
        late.append("rags-contained-late")
    if was.past_remove and not now.past_remove and now.remove_minutes_late:
        late.append("rags-removed-late")
    for finding in now.violations:
        if finding.code in late:
            said = f"{was.load.name}, owed by {was.load.owed_by}: {finding.sentence}"
            record_violation(act, finding, was.load.name, said=said, load=after.row)


def load_answer(seen: JudgedLoad) -> dict[str, Any]:
    """A load after an act, as plain data."""
    return {
        "id": seen.load_id,
        "step": seen.state.step.value,
        "contained": seen.state.contained,
        "remove_met": seen.state.remove_met,
        "ended": seen.state.ended,
        "where": seen.state.where,
        "sentence": seen.judgement.sentence,
    }


def count_rags(
    session: Session, actor: Actor, now: datetime, load_id: int, count: int, once: str, witness: str = ""
) -> Settled:
    """Count the pieces of a load where they lie: the last step is stated again with the count.

    Once counted, "none were made" cannot stand any more.

    Raises:
        Invalid: the count is not between 1 and 100 000.
        Refused: the load has ended.
    """
    require(actor, Permission.HAND_IN_RAGS)
    if not 1 <= count <= 100_000:
        raise Invalid("Count again.", {"count": "Enter how many pieces there are, 1 or more."})
    sent = Sent(once, "rag-count", {"load": load_id, "count": count, "witness": witness})
    return settle(session, actor, sent, now, lambda act: _count(act, load_id, count, witness))


def _count(act: Act, load_id: int, count: int, witness: str) -> dict[str, Any]:
    seen = held_load(act, load_id)
    state = load_state(act.session, seen.row, act.recorded_at)
    _may_say(act, seen, state, RagStep.LOOSE)
    if state.ended:
        raise Refused(Verdict.of([stop("rags-ended", "This load has ended; there is nothing to count.")]))
    box, place = _last_receptacle(act.session, seen.row) if state.contained else (None, None)
    entry = RagEntry(act.happened_at, state.step, box, witness=witness, count=count)
    write_step(act, seen.row, entry, place)
    settle_load(act.session, seen.row, act.recorded_at)
    act.note(note("rags-counted", f"{count} pieces are in the book."))
    return {"loads": [load_answer(judged(act.session, seen.row, act.recorded_at))]}


def _last_receptacle(session: Session, load: RagLoad) -> tuple[Receptacle | None, Place | None]:
    """Where the newest step that stands says the rags are."""
    steps = [row for row in log_rows(session, load.id) if row.kind == "step"]
    newest = max(steps, key=lambda row: (row.happened_at, row.id or 0))
    place_id = json.loads(newest.body).get("can")
    return step_entry(newest).receptacle, session.get(Place, place_id) if place_id else None
