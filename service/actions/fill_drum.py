"""What happens to a drum of waste: put in, over, weighed, moved, closed, handed over, taken back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlmodel import Session, col, select

from service.actions.do_check import refuse_taking_back
from service.actions.drum_entries import (
    DrumFact,
    counted,
    drum_of,
    drum_that_takes,
    kept_text,
    not_takes,
    place_of_list,
    put_movement_in,
    put_pot_in,
    read_put_in,
    refuse,
    write_drum_entry,
)
from service.actions.judge_drum_mix import judge_put_in
from service.actions.post_movement import Line, Written
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, NotFound, Refused, Verdict, stop, unknown
from service.core.waste_drum_lacks import size_findings, unwritten_findings
from service.core.waste_drums import STEP_WORDS, Area, DrumStep, fold_drum
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.rags import RagLoad
from service.records.stock import Movement
from service.records.waste_drum_queries import SeenDrum, seen_drum
from service.records.waste_drums import WasteDrumEntry
from service.records.waste_queries import went_out

BY_HAND: Final = frozenset({DrumStep.PUT_IN, DrumStep.OVER})
"""Steps of whoever may discard; the others are a keeper's."""


@dataclass(frozen=True, kw_only=True)
class StepAsked:
    """One thing that happened to a drum.

    Args:
        amount: what was put in, all that is in it (weighed), what left (handed over); empty = not known.
        what: what was put in, in words; load_id: a load of rags that was.
        confirmation: how the condition is met under which this may be in one drum with what is in it.
        place_id: of a move: where it stands now; None = not known, and then it may stand anywhere.
        receiver, transporter, paper: of a hand-over; the number of its paper may be empty.
        happened_at: None = now; more than 15 minutes ago needs ``late_reason``.
    """

    once: str
    drum_id: int
    step: DrumStep
    amount: str = ""
    what: str = ""
    load_id: int | None = None
    place_id: int | None = None
    receiver: str = ""
    transporter: str = ""
    paper: str = ""
    note: str = ""
    confirmation: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""

    def body(self) -> dict[str, Any]:
        unsaid = [name for name in ("confirmation", "place_id") if not vars(self)[name]]
        left_out = ("once", "late_reason", *unsaid)
        return {name: str(value) for name, value in vars(self).items() if name not in left_out}


def note_drum_step(session: Session, actor: Actor, now: datetime, asked: StepAsked) -> Settled:
    """Write down what happened to a drum; answers ``drum`` and the number of the ``entry``.

    Raises:
        NotAllowed: a student or reader; moving, weighing, closing and handing over ask for a keeper.
        Invalid, NotFound: no such drum or load, nothing said, an amount that cannot be read, less weighed,
            there or as it left, than was known to be in it without a ``note`` that says why.
        Refused: the drum was handed over or closed by then, or the step makes no sense.
    """
    require(actor, Permission.DISCARD if asked.step in BY_HAND else Permission.WASTE_HAND_OVER)
    sent = Sent(asked.once, f"waste-drum-{asked.step.value}", asked.body(), asked.happened_at,
                late_reason=asked.late_reason)  # fmt: skip
    return settle(session, actor, sent, now, lambda act: _step(act, asked))


def _step(act: Act, asked: StepAsked) -> dict[str, Any]:
    if asked.step is DrumStep.TAKEN_BACK:
        raise Invalid("Choose what happened to the drum.", {"step": "Choose what happened to the drum."})
    if asked.step is DrumStep.PUT_IN:
        seen = drum_that_takes(act, asked.drum_id)
    else:
        seen = seen_drum(act.session, asked.drum_id)
        refuse(_makes_no_sense(act, seen, asked.step))
    mg, ul = read_put_in(act, asked.amount)
    fact = DrumFact(
        mg=mg, ul=ul, written=asked.amount.strip()[:200], what=kept_text(asked.what, "what", 300),
        load_id=asked.load_id, place_id=place_of_list(act, asked.place_id),
        receiver=kept_text(asked.receiver, "receiver", 300),
        transporter=kept_text(asked.transporter, "transporter", 300),
        paper=kept_text(asked.paper, "paper", 120), note=asked.note.strip()[:2000],
    )  # fmt: skip
    _check(act, asked.step, fact)
    if asked.step in (DrumStep.WEIGHED, DrumStep.HANDED_OVER):
        _ask_why_less(act, seen, fact)
    entry = write_drum_entry(act, seen.number, asked.step, fact)
    if asked.step is DrumStep.PUT_IN:
        judge_put_in(act, seen, asked.confirmation)
    after = seen_drum(act.session, seen.number).state
    if asked.step in (DrumStep.PUT_IN, DrumStep.WEIGHED):
        act.note(*size_findings(after))
    else:
        act.note(*unwritten_findings(after))
    return {"drum": seen.number, "entry": entry.id, "name": seen.row.name, "step": asked.step.value}


def _check(act: Act, step: DrumStep, fact: DrumFact) -> None:
    """Raise Invalid where something is missing that this step cannot do without."""
    wrong: dict[str, str] = {}
    if fact.place_id is not None and step is not DrumStep.MOVED:
        wrong["place"] = "Only a move tells where it stands now. Leave the place out."
    if step is DrumStep.MOVED and fact.place_id is None:
        words = "Where it stands now is not known: in the storage sums it may be anywhere in the shop."
        act.note(unknown("drum-place-not-known", words))
    if step is DrumStep.PUT_IN:
        if not fact.what and fact.load_id is None:
            wrong["what"] = "Say what was put in."
        if fact.load_id is not None and act.session.get(RagLoad, fact.load_id) is None:
            wrong["load"] = "There is no load of rags with this number."
        if fact.mg is None and fact.ul is None:
            words = "How much it was is not known. The drum counts as “at least” until it is weighed."
            act.note(unknown("waste-mass-not-known", words))
    if step is DrumStep.WEIGHED and fact.mg is None and fact.ul is None:
        wrong["amount"] = "Write all that is in it, without the drum: a mass or a volume with its unit."
    if step is DrumStep.HANDED_OVER:
        if not fact.receiver:
            wrong["receiver"] = "Say who receives it."
        if not fact.transporter:
            wrong["transporter"] = "Say who carries it away; the receiver may be the same."
        if fact.ul is not None:
            wrong["amount"] = "Write the mass that was weighed, like “180 kg”, or leave it empty: not known."
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)


def _ask_why_less(act: Act, seen: SeenDrum, fact: DrumFact) -> None:
    """Raise Invalid where less was weighed than was known to be in it, and no sentence says why."""
    before = fold_drum(
        seen.state.facts,
        [
            one.entry for one in seen.entries
            if one.row.happened_at <= act.happened_at or one.row.step is DrumStep.TAKEN_BACK
        ],
    )  # fmt: skip
    less_mg = fact.mg is not None and fact.mg < before.mg.known
    less_ul = fact.ul is not None and fact.ul < before.ul.known
    if (less_mg or less_ul) and not is_sentence(fact.note):
        words = (
            "That is less than the book knows to be in it. Measure again, or say in "
            f"{A_SENTENCE} why: what was taken out, or which earlier figure was wrong."
        )
        raise Invalid(words, {"note": words})


def _makes_no_sense(act: Act, seen: SeenDrum, step: DrumStep) -> Verdict:
    """Why a step other than a put-in cannot be: already gone, already done, not in a satellite area."""
    name, state = seen.row.name, seen.state
    if state.gone_on is not None:
        words = f"{name} was handed over. Nothing happens to it any more but that the entry is taken back."
        return Verdict.of([stop("drum-gone", words, about=name)])
    if act.day < seen.row.begun_on:
        words = f"{name} was not begun on that day. Give a later time."
        return Verdict.of([stop("drum-not-begun", words, about=name)])
    if step in (DrumStep.OVER, DrumStep.MOVED) and (state.facts.area is Area.CENTRAL or state.moved_on):
        words = f"{name} stands in the central area already."
        return Verdict.of([stop("drum-not-satellite", words, about=name)])
    if step is DrumStep.CLOSED and state.closed_on is not None:
        words = f"{name} is closed already."
        return Verdict.of([stop("drum-closed", words, about=name)])
    last = max((one.happened_at for one in counted(seen)), default=None)
    if step is DrumStep.HANDED_OVER and last is not None and last > act.happened_at:
        words = f"Something happened to {name} after that. Give the time it left, or take that back first."
        return Verdict.of([stop("drum-later-entry", words, about=name)])
    return Verdict.of([])


@dataclass(frozen=True)
class SortAsked:
    """Discards and losses of the book that went into this drum, by the numbers of their movements."""

    once: str
    drum_id: int
    movements: tuple[int, ...]
    confirmation: str = ""


def put_discards_in(session: Session, actor: Actor, now: datetime, asked: SortAsked) -> Settled:
    """Say of discards that named no drum which one they went into; each counts from its own day.

    Raises:
        NotAllowed: not a keeper.
        Invalid: none chosen, one that is no discard into a drum or is in one already, no such drum.
        Refused: the drum had been handed over or closed before one of them.
    """
    require(actor, Permission.WASTE_HAND_OVER)
    body: dict[str, Any] = {"drum": asked.drum_id, "movements": list(asked.movements)}
    if asked.confirmation:
        body["confirmation"] = asked.confirmation
    return settle(session, actor, Sent(asked.once, "sort-waste", body), now, lambda act: _sort(act, asked))


def _sort(act: Act, asked: SortAsked) -> dict[str, Any]:
    seen = drum_of(act, asked.drum_id)
    free = {one.movement_id: one for one in went_out(act.session, no_drum=True)}
    wanted = tuple(dict.fromkeys(asked.movements))
    if not wanted or not free.keys() >= set(wanted):
        words = "Choose discards of the list: into a waste drum, and not in one of the book yet."
        raise Invalid(words, {"movements": words})
    rows = act.session.exec(select(Movement).where(col(Movement.id).in_(wanted))).all()
    for number in wanted:
        refuse(not_takes(act, seen, free[number].happened_at))
    for row in rows:
        went = free[row.id or 0]
        day = went.happened_at.astimezone(act.zone).date()
        if went.batch_id is None:
            put_movement_in(act, seen, row.id or 0, row.written, day)
        else:
            put_pot_in(act, seen, went, day)
    judge_put_in(act, seen, asked.confirmation, wanted)
    return {"drum": seen.number, "name": seen.row.name, "put_in": len(rows)}


def put_loss_or_discard(
    act: Act, drum_id: int | None, line: Line, movement: Written, confirmation: str = ""
) -> None:
    """The drum that a discard or loss names takes what it took out of the store; None: no drum was named.

    Raises:
        Invalid, Refused: as `drum_that_takes`, and as `judge_put_in`.
    """
    if drum_id is not None:
        seen = drum_that_takes(act, drum_id)
        put_movement_in(act, seen, movement.id, line.written)
        judge_put_in(act, seen, confirmation)


@dataclass(frozen=True)
class DrumBackAsked:
    """An entry of a drum to take back, and why."""

    once: str
    entry_id: int
    reason: str


def take_back_entry(session: Session, actor: Actor, now: datetime, asked: DrumBackAsked) -> Settled:
    """Take an entry back by an entry of its own; nothing is erased. A hand-over taken back stands again.

    Raises:
        NotAllowed: a student or reader; what only a keeper writes only a keeper takes back.
        NotFound.
        Refused: not theirs or from another day; taken back already; the drum was handed over since.
    """
    require(actor, Permission.DISCARD)
    sent = Sent(asked.once, "take-back-waste", {"entry": asked.entry_id, "reason": asked.reason})
    return settle(session, actor, sent, now, lambda act: _take_back(act, asked))


def _take_back(act: Act, asked: DrumBackAsked) -> dict[str, Any]:
    entry = act.session.get(WasteDrumEntry, asked.entry_id)
    if entry is None:
        raise NotFound(f"There is no entry number {asked.entry_id} of a waste drum.")
    if entry.step not in BY_HAND:
        require(act.actor, Permission.WASTE_HAND_OVER)
    refuse_taking_back(act, entry.person_id, entry.recorded_at, asked.reason)
    seen = seen_drum(act.session, entry.drum_id)
    if entry.id not in {one.id for one in counted(seen)}:
        words = "This entry was taken back already, or takes one back itself."
        raise Refused(Verdict.of([stop("taken-back-already", words)]))
    if seen.state.gone_on is not None and entry.step is not DrumStep.HANDED_OVER:
        words = f"{seen.row.name} was handed over since. Take the hand-over back first."
        raise Refused(Verdict.of([stop("drum-gone", words, about=seen.row.name)]))
    reason = kept_text(asked.reason, "reason", 2000)
    fact = DrumFact(what=f"takes back: {STEP_WORDS[entry.step]}", note=reason, reverses_id=entry.id)
    back = write_drum_entry(act, seen.number, DrumStep.TAKEN_BACK, fact)
    return {"drum": seen.number, "entry": back.id, "name": seen.row.name}


