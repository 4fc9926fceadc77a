"""The rag duty as every other act meets it: the block at each door, and the load that a draw joins.

Handling the rags themselves (steps, overrides, the log page) is in handle_rags.py.
"""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, select

from service.actions.settle import Act
from service.actions.write_rag_log import write_rag_log
from service.core.findings import Finding, Invalid, Refused, Severity, Verdict, warn
from service.core.jobs import shift_end
from service.core.rag_deadlines import clocks, in_order
from service.core.rag_judgement import block
from service.core.rag_loads import LoadState
from service.core.rag_override import Override as OverrideFacts
from service.core.rag_override import OverrideFor, override_holds
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.duties import Duty
from service.records.job_queries import shift_hours
from service.records.jobs import Job
from service.records.rag_queries import JudgedLoad, active_keepers, load_state, standing_loads
from service.records.rags import Override, OverrideUse, RagLoad
from service.records.stock import Container


def blocked_by(session: Session, now: datetime) -> Verdict:
    """The stops that stand while any load is past either clock; empty when none is."""
    return block(j.judgement for j in standing_loads(session, now))


def usable_override(
    act: Act, loads: list[JudgedLoad], job: Job | None, container: Container | None, recipe_id: int | None
) -> Override | None:
    """An unused override that lets this very draw or batch through, if one was given and still holds."""
    if job is None:
        return None
    # What was done before an override was given was not let through by it.
    query = select(Override).where(
        col(Override.job_id) == job.id, col(Override.created_at) <= act.judged_at
    )
    if recipe_id is not None:
        kind, name = OverrideFor.BATCH, f"recipe {recipe_id}"
        query = query.where(col(Override.recipe_id) == recipe_id)
    elif container is not None:
        kind, name = OverrideFor.DRAW, container.code
        query = query.where(col(Override.container_id) == container.id)
    else:
        return None
    for row in act.session.exec(query.order_by(col(Override.id))).all():
        if row.id is None:
            continue
        use = act.session.get(OverrideUse, row.id)
        if use is not None and use.posting_id != act.posting_id:
            continue
        holds = override_holds(
            OverrideFacts(kind, name, row.reason, row.until),
            kind=kind,
            name=name,
            job_ends=min(job.ends_by, job.closed_at or job.ends_by),
            judgements=[j.judgement for j in loads],
            now=act.judged_at,
        )
        if holds:
            return row
    return None


def rag_stops(
    act: Act, *, job: Job | None, container: Container | None = None, recipe_id: int | None = None
) -> Verdict:
    """What overdue rags refuse of an act on something self-heating.

    Empty when nothing is overdue, or when an override covers exactly this draw (its container) or batch (its
    recipe); the override is then used up by this posting. An act is judged now, whatever time was sent with
    it; a late entry is judged at its time, so that an honest one of a draw from before the block is no
    violation.
    """
    loads = standing_loads(act.session, act.judged_at)
    stops = block(j.judgement for j in loads)
    if not stops.blocking:
        return stops
    override = usable_override(act, loads, job, container, recipe_id)
    if override is None:
        return stops
    assert override.id is not None
    if act.session.get(OverrideUse, override.id) is not None:
        return Verdict()  # another line of the same posting used it: one batch, one override
    act.session.add(OverrideUse(override_id=override.id, posting_id=act.posting_id))
    write_rag_log(
        act.session,
        kind="override-used",
        load_id=None,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={
            "override": override.id,
            "container": container.code if container else None,
            "recipe": recipe_id,
        },
    )
    return Verdict()


def refuse_or_record(act: Act, verdict: Verdict, about: str) -> None:
    """Before an act the program refuses; an act that has happened it records, with a violation.

    Raises:
        Refused: the act has not happened yet and something stops it.
        Invalid: it has happened, and nobody says in a sentence why it was done all the same.
    """
    act.note(*(f for f in verdict if f.severity is not Severity.STOP))
    stops = [f for f in verdict if f.severity is Severity.STOP]
    if not stops:
        return
    if not act.already_done:
        raise Refused(verdict)
    if not act.news and not is_sentence(act.posting.late_reason):
        words = (
            f"{stops[0].sentence} If it has happened all the same, say why in "
            f"{A_SENTENCE}."
        )
        raise Invalid(words, {"late_reason": words})
    for finding in stops:
        record_violation(act, finding, about)
    act.note(*stops)


def record_violation(
    act: Act, finding: Finding, about: str, *, said: str = "", load: RagLoad | None = None
) -> None:
    """Something was done that the shop's rules stop: it stands in the log, and a keeper owes an answer.

    The answer is owed by a keeper who neither did it nor owes the load, if there is one. `said` is the
    sentence of the duty where "did this although it was stopped" does not fit.
    """
    sentence = said or f"{act.actor.name} did this although it was stopped ({about}): {finding.sentence}"
    write_rag_log(
        act.session,
        kind="violation",
        load_id=load.id if load else None,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={"code": finding.code, "sentence": finding.sentence, "about": about, "act": act.posting.act},
    )
    keepers = active_keepers(act.session)
    parties = {act.actor.person_id, load.owed_by if load else None}
    others = [k for k in keepers if k not in parties] or keepers or [act.actor.person_id]
    act.session.add(
        Duty(
            kind="answer-violation",
            sentence=sentence[:500],
            owed_by=others[0],
            due_at=act.recorded_at,
            about_kind="rag-load" if load else "posting",
            about_id=load.id if load else act.posting_id,
            keeper_answers=True,
            created_at=act.recorded_at,
        )
    )


def load_for(act: Act, job: Job) -> RagLoad:
    """The load a self-heating draw in this job joins; made, with its two clocks, if none is standing."""
    assert job.id is not None
    newest = act.session.exec(
        select(RagLoad).where(col(RagLoad.job_id) == job.id).order_by(col(RagLoad.number).desc())
    ).first()
    if newest is not None and newest.ended_at is None:
        return newest
    ends = min(job.ends_by, job.closed_at or job.ends_by)
    made_at = min(act.happened_at, act.recorded_at)
    # A job that began before a shift is worked in it all the same: its end counts where it comes first.
    shift_ends = [
        end
        for end in (job.shift_ends_at, shift_end(made_at, shift_hours(act.session), act.zone))
        if end is not None
    ]
    due = in_order(clocks(
        used_until=max(ends, made_at),
        job_ends=ends,
        shift_ends=min(shift_ends, default=None),
        zone=act.zone,
        grace_min=act.shop.rag_grace_min,
        made_at=made_at,
    ))  # fmt: skip
    load = RagLoad(
        job_id=job.id,
        number=(newest.number if newest else 0) + 1,
        profile=act.shop.rag_profile,
        made_at=made_at,
        used_until=ends,
        contain_by=due.contain_by,
        remove_by=due.remove_by,
        because=[
            {"clock": b.clock.value, "profile": b.profile, "citation": b.citation, "reading": b.reading}
            for b in due.because
        ],
        owed_by=job.leader_id,
    )
    act.session.add(load)
    act.session.flush()
    write_rag_log(
        act.session,
        kind="load-made",
        load_id=load.id,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={
            "job": job.id,
            "owed_by": job.leader_id,
            "profile": load.profile,
            "contain_by": load.contain_by,
            "remove_by": load.remove_by,
        },
    )
    return load


def settle_load(session: Session, load: RagLoad, at: datetime) -> LoadState:
    """Write the cached state of a load anew from its log as known at an instant, and return it."""
    state = load_state(session, load, at)
    load.last_step = state.last_step.value if state.last_step else ""
    load.contained, load.ended_at = state.contained, state.ended_at
    session.add(load)
    session.flush()
    return state


def draw_ref(movement_id: int) -> str:
    """How "none were made" names a draw.

    >>> draw_ref(12)
    'draw 12'
    """
    return f"draw {movement_id}"


def use_went_on(act: Act, job: Job, ref: str, what: str) -> RagLoad:
    """Oil was still about in this job: what wiped it up joins its load or begins one, as a draw does.

    Args:
        ref: how "none were made" names it, such as "batch 3".
        what: what was done, for the log.
    """
    load = load_for(act, job)
    away = were_away(act, load)
    write_rag_log(
        act.session,
        kind="went-on",
        load_id=load.id,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={"ref": ref, "what": what},
    )
    settle_load(act.session, load, act.recorded_at)
    if away:
        act.note(more_since(load))
    return load


def were_away(act: Act, load: RagLoad) -> bool:
    """Whether the job's rags had been put away or had left until this act; asked before it is written."""
    return load.contained or (load.number > 1 and load.made_at == min(act.happened_at, act.recorded_at))


def more_since(load: RagLoad) -> Finding:
    """That there are rags again after the others were put away or had left."""
    words = f"There is more with oil on it since the rags were put away. Rag load {load.id} is loose until "
    return warn("rags-more-since", f"{words}you record where that is.", about=f"rag load {load.id}")


def join_load(act: Act, load: RagLoad, movement_id: int, what: str) -> None:
    """Log that this movement's rags belong to the load; containment that was met is open again."""
    write_rag_log(
        act.session,
        kind="draw-joined",
        load_id=load.id,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={"ref": draw_ref(movement_id), "movement": movement_id, "what": what},
    )
    settle_load(act.session, load, act.recorded_at)
