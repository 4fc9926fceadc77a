"""Making a batch from a stock check: setting its stock aside, and starting it.

A start re-runs the check inside its own transaction, with the containers locked, and draws everything or
nothing. Additions are in add_to_batch.py, the end in finish_batch.py, letting go in drop_batch.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from service.actions.add_to_batch import add_row, not_oil
from service.actions.check_mix import MixAsked, MixCheck, check_mix, without_never, without_rags
from service.actions.container_act import Opening, note_first_opening
from service.actions.gate import Taking, check_job, take
from service.actions.hold_back import allocate, allocate_at_start
from service.actions.judge_never_with import answers_to, keep_answers
from service.actions.post_movement import Line
from service.actions.rag_duty import rag_stops, refuse_or_record
from service.actions.run_job import job_for_draw
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.start_planned import batch_for_check, check_of_date, day_of_check
from service.core.access import Actor, Permission, require
from service.core.check_again import from_summary, still_holds, summary
from service.core.containers import AmountKnown
from service.core.findings import (
    Finding,
    Invalid,
    NotFound,
    Refused,
    Severity,
    Stale,
    Verdict,
    note,
    stop,
    unknown,
)
from service.core.ledger import MovementKind, OtherSide
from service.core.never_with import CODE, answer_key, without_answered
from service.core.quantities import UNITS, decimal_of, show_amount
from service.core.recipe import ByHand
from service.core.shelf_codes import normalise
from service.core.stock_check import Allocation as Taken
from service.core.stock_check import StockCheck
from service.records.jobs import Job
from service.records.material_queries import counts_self_heating, the_material
from service.records.mixing import BATCH_WORDS, Batch, BatchState
from service.records.mixing_queries import check_by_fingerprint, kept_check, the_batch
from service.records.stock_queries import Held, hold

PROMISED = "promised"


@dataclass(frozen=True, kw_only=True)
class FromCheck:
    """Which kept check a batch is made from: by its number, or by its fingerprint (and recipe).

    ``planned_date_id``: the planned date whose check it is. Checks that came out alike have one fingerprint,
    so by that alone a batch stands for no planned date.
    """

    once: str
    check_id: int | None = None
    fingerprint: str = ""
    recipe_id: int | None = None
    planned_date_id: int | None = None

    def source(self) -> dict[str, Any]:
        named = {"check": self.check_id, "fingerprint": self.fingerprint, "recipe": self.recipe_id}
        return named if self.planned_date_id is None else named | {"planned_date": self.planned_date_id}


@dataclass(frozen=True, kw_only=True)
class SetAsideAsked(FromCheck):
    """Promise the stock of a checked mix to one batch; nothing is drawn."""


@dataclass(frozen=True, kw_only=True)
class StartAsked(FromCheck):
    """Start a batch: of a check, or one that was set aside (`batch_id`).

    Args:
        job_id: the running job; self-heating material always needs one.
        open_job: open a shop-work job for it where it needs one and none is named.
        looked: codes of containers the person looked at now and found sound.
        confirmation: how the conditions of what is otherwise never mixed are met, in a sentence.
    """

    batch_id: int | None = None
    job_id: int | None = None
    open_job: bool = False
    looked: tuple[str, ...] = ()
    happened_at: datetime | None = None
    already_done: bool = False
    late_reason: str = ""
    confirmation: str = ""

    def body(self) -> dict[str, Any]:
        return {
            **self.source(),
            "batch": self.batch_id,
            "job": self.job_id,
            "open_job": self.open_job,
            "looked": sorted(self.looked),
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
            "already_done": self.already_done,
            **({"confirmation": self.confirmation} if self.confirmation else {}),
        }


@dataclass(frozen=True)
class _Checked:
    """What was checked before, however it was kept."""

    recipe_id: int
    amount: str
    old: StockCheck
    check_id: int | None = None


def set_aside(session: Session, actor: Actor, now: datetime, asked: SetAsideAsked) -> Settled:
    """Promise what a check allocated. Overdue rags do not stop this: nothing is drawn.

    Raises:
        Stale: the check no longer holds; its verdict says what changed.
        Refused: something is short, or a rule stops the mix.
        NotFound: no such check is kept.
    """
    require(actor, Permission.BATCHES)
    sent = Sent(asked.once, "set-aside", asked.source())
    return settle(session, actor, sent, now, lambda act: _set_aside(act, asked))


def _set_aside(act: Act, asked: SetAsideAsked) -> dict[str, Any]:
    checked = _kept(act.session, asked)
    # What waits for its day is to be in date on that day; what is drawn now, now.
    mix, _ = _check_again(act, checked, None, day_of_check(act.session, checked.check_id))
    if not mix.may_set_aside:
        raise Refused(mix.check.verdict)
    batch = _new_batch(act, mix, BatchState.SET_ASIDE)
    batch_for_check(act, checked.check_id, batch)
    for one in mix.check.allocations:
        allocate(act.session, batch, one, one.amount, PROMISED)
    act.session.flush()
    act.note(*(f for f in mix.check.verdict if f.severity is not Severity.STOP))
    return {"batch": batch.id, "state": batch.state.value, "recipe": mix.recipe.id}


def start(session: Session, actor: Actor, now: datetime, asked: StartAsked) -> Settled:
    """Start a batch: draw everything its check allocated, or nothing at all.

    Raises:
        Stale: an allocation no longer holds, or a finding appeared or got worse; the verdict says which.
        Refused: something is short, rags are overdue, a container has to be looked at first, no job.
        NotFound: no such check or batch.
    """
    require(actor, Permission.BATCHES)
    sent = Sent(
        asked.once, "start-batch", asked.body(), asked.happened_at, asked.already_done, asked.late_reason
    )
    return settle(session, actor, sent, now, lambda act: _start(act, asked))


def _start(act: Act, asked: StartAsked) -> dict[str, Any]:
    batch = None
    if asked.batch_id is not None:
        batch = the_batch(act.session, asked.batch_id, lock=True)
        checked = promised_check(batch)
    else:
        checked = _kept(act.session, asked)
    mix, held = _check_again(act, checked, batch.id if batch else None)
    job = job_for_draw(act, asked.job_id, needed=mix.heats and asked.open_job)
    _judge_whole(act, mix, held, job)
    met = [f for f in mix.check.verdict if f.code.startswith(CODE)]
    confirmed = answers_to(act, met, asked.confirmation)
    left = without_answered(met, {answer_key(one) for one in confirmed})
    refuse_or_record(act, left, f"batch of {mix.recipe.name}")
    if batch is None:
        batch = _new_batch(act, mix, BatchState.RUNNING)
        batch_for_check(act, checked.check_id, batch)
    allocate_at_start(act.session, batch, mix.check.allocations)
    batch.check_result = summary(mix.check)
    batch.state, batch.started_at = BatchState.RUNNING, act.happened_at
    batch.job_id = job.id if job else None
    batch.version += 1
    act.session.add(batch)
    act.session.flush()
    keep_answers(act, batch, confirmed, asked.confirmation)
    drawn = [
        _draw(act, batch, mix, one, held[one.container_id], job, asked)
        for one in mix.check.allocations
        if one.at_start
    ]
    _pour_water(act, batch, mix)
    act.note(*(_still_by_hand(one) for one in mix.check.by_hand))
    return {
        "batch": batch.id,
        "state": batch.state.value,
        "recipe": mix.recipe.id,
        "job": batch.job_id,
        "additions": drawn,
    }


def _kept(session: Session, asked: FromCheck) -> _Checked:
    if asked.check_id is not None:
        kept = kept_check(session, asked.check_id)
    elif asked.planned_date_id is not None:
        kept = check_of_date(session, asked.planned_date_id, asked.fingerprint)
        if asked.recipe_id not in (None, kept.recipe_id):
            words = "This date is planned by another recipe. Check the stock for it, or leave its number out."
            raise Invalid(words, {"recipe": words})
    elif asked.fingerprint:
        kept = check_by_fingerprint(session, asked.fingerprint, asked.recipe_id)
        return _Checked(kept.recipe_id, kept.wanted_written, from_summary(kept.result))
    else:
        raise NotFound("Check the stock first: a batch starts from a check.")
    return _Checked(kept.recipe_id, kept.wanted_written, from_summary(kept.result), kept.id)


def promised_check(batch: Batch) -> _Checked:
    """What a set-aside batch was checked for. Raises Stale when it is not set aside any more."""
    if batch.state is not BatchState.SET_ASIDE or batch.check_result is None:
        raise Stale(f"Batch {batch.id} is {BATCH_WORDS[batch.state]} by now. Open it and look.")
    return _Checked(batch.recipe_id, batch.wanted_written, from_summary(batch.check_result))


def _check_again(
    act: Act, checked: _Checked, batch_id: int | None, on_day: date | None = None
) -> tuple[MixCheck, dict[int, Held]]:
    """Lock what was allocated, check again, and compare.

    The rag block is left out here: each draw is judged by the gate, where an override may lift it.
    """
    held = hold(act.session, [one.container_id for one in checked.old.allocations])
    again = MixAsked(checked.recipe_id, checked.amount, batch_id, checked.old.allocations, on_day)
    mix = check_mix(act.session, act.actor, act.judged_at, again)
    changed = still_holds(without_rags(checked.old), without_rags(mix.check))
    if changed.blocking:
        first = next(iter(changed)).sentence
        raise Stale(first, verdict=changed)
    if without_never(without_rags(mix.check)).verdict.blocking:
        raise Refused(mix.check.verdict)
    missing = [one.container_id for one in mix.check.allocations if one.container_id not in held]
    return mix, held | (hold(act.session, missing) if missing else {})


def _judge_whole(act: Act, mix: MixCheck, held: dict[int, Held], job: Job | None) -> None:
    """A self-heating mix whose oil is all "to suit" draws none of it yet; it is judged all the same."""
    check_job(act, job)
    drawn = any(
        counts_self_heating(act.session, held[one.container_id].material, held[one.container_id].container)
        for one in mix.check.allocations
        if one.at_start
    )
    if not mix.heats or drawn:
        return
    found: list[Finding] = list(rag_stops(act, job=job, recipe_id=mix.recipe.id))
    if job is None:
        found.append(
            stop("needs-job", "Its rags can ignite by themselves, so it is made in a job. Open or name one.")
        )
    refuse_or_record(act, Verdict.of(found), f"batch of {mix.recipe.name}")


def _new_batch(act: Act, mix: MixCheck, state: BatchState) -> Batch:
    assert mix.recipe.id is not None and mix.version.id is not None
    times: Decimal | None = None if mix.times is None else decimal_of(mix.times, 12)
    batch = Batch(
        recipe_id=mix.recipe.id,
        recipe_version_id=mix.version.id,
        state=state,
        times=times,
        wanted_written=mix.how_much.written[:200],
        fingerprint=mix.check.fingerprint,
        check_result=summary(mix.check),
        person_id=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(batch)
    act.session.flush()
    return batch


def _still_by_hand(line: ByHand) -> Finding:
    """What a start leaves to the bench; a line of unknown size stays not known."""
    return (unknown if line.why else note)("by-hand", line.sentence, about=line.name)


def _draw(
    act: Act, batch: Batch, mix: MixCheck, one: Taken, held: Held, job: Job | None, asked: StartAsked
) -> dict[str, Any]:
    lines = [
        (at, line)
        for at, line in enumerate(mix.lines, start=1)
        if line.material_id == one.material_id and not line.is_by_hand
    ]
    need = next(n for n in mix.check.needs if n.material_id == one.material_id)
    unit = need.unit_written if need.unit_written in UNITS else None
    written = show_amount(one.at_start, held.basis, unit)
    exact = all(line.low == line.high for _, line in lines)
    looked = {normalise(code) for code in asked.looked}
    note_first_opening(act, held, Opening(), job)
    movement = take(
        act,
        held,
        Line(
            MovementKind.DRAW,
            -one.at_start,
            OtherSide.BATCH,
            known=AmountKnown.MEASURED if exact else AmountKnown.ESTIMATED,
            written=written,
            written_unit=need.unit_written,
            other_text=f"batch {batch.id}, {mix.recipe.name}"[:200],
            batch_id=batch.id,
        ),
        Taking(job=job, looked=one.code in looked, recipe_id=mix.recipe.id, batch_id=batch.id),
    )
    add_row(act, batch, one.material_id, (one.at_start, held.basis, written), movement.id, lines[0][0])
    return {
        "code": one.code,
        "material": held.material.name,
        "amount": one.at_start,
        "basis": held.basis.value,
        "written": written,
        "movement": movement.id,
        "rag_load": movement.rag_load_id,
    }


def _pour_water(act: Act, batch: Batch, mix: MixCheck) -> None:
    """What is on no shelf goes in without a movement, its amount written down; what is to suit waits."""
    for at, line in enumerate(mix.lines, start=1):
        if line.stocked or line.is_by_hand:
            continue
        if line.high is not None and line.basis is not None:
            not_oil(act.session, the_material(act.session, line.material_id))
            written = show_amount(line.high, line.basis, line.unit_written or None)
            add_row(act, batch, line.material_id, (line.high, line.basis, written), None, at)
