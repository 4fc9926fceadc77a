"""Rags and what else takes up oil: handed out for a job, handed in again, or found lying with oil on it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlmodel import Session, col, func, select

from service.actions.handle_rags import load_answer, note_lateness, write_step
from service.actions.rag_duty import load_for, more_since, settle_load, were_away
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, may, require
from service.core.findings import Invalid, NotAllowed, Refused, Verdict, note, stop, unknown
from service.core.oily_things import THING_WORDS, OilyThing, Way
from service.core.rags import RagEntry, RagStep
from service.records.job_queries import is_in_job, the_job
from service.records.jobs import Job
from service.records.rag_queries import judged
from service.records.rags import RagHand, RagLoad

MOST_PIECES: Final = 10_000
_CLOSED: Final = (
    "This job is closed; nothing more is counted for it. What has oil on it is written down as lying there."
)


@dataclass(frozen=True)
class HandAsked:
    """What was handed over or found. ``pieces`` 1 to 10 000."""

    once: str
    job_id: int
    way: Way
    thing: OilyThing
    pieces: int
    note: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""

    def body(self) -> dict[str, Any]:
        return {
            "job": self.job_id, "way": self.way.value, "thing": self.thing.value, "pieces": self.pieces,
            "note": self.note, "happened_at": self.happened_at.isoformat() if self.happened_at else None,
        }  # fmt: skip


def hand_rags(session: Session, actor: Actor, now: datetime, asked: HandAsked) -> Settled:
    """Write down pieces handed out, handed in, or seen loose with oil on them.

    What is seen loose begins or joins the job's rag load, with its two clocks: it owes as a draw does.
    So does what is handed in where oil was drawn: put away or gone is only what was there before.
    Answers ``job``, ``out`` and ``in`` (pieces of that kind so far) and, for what owes a can, ``load``.

    Raises:
        NotAllowed: a student who is not in the job.
        NotFound, Invalid: no such job, a count that cannot be.
        Refused: counting for a job that is closed.
    """
    require(actor, Permission.HAND_IN_RAGS)
    if not 1 <= asked.pieces <= MOST_PIECES:
        words = f"Enter how many pieces there are, from 1 to {MOST_PIECES}."
        raise Invalid(words, {"pieces": words})
    if len(asked.note) > 2000:
        raise Invalid("Shorten the remark.", {"note": "Shorten this to 2000 signs."})
    sent = Sent(
        asked.once, "hand-rags", asked.body(), asked.happened_at, late_reason=asked.late_reason,
        news=asked.way is Way.LOOSE,
    )  # fmt: skip
    return settle(session, actor, sent, now, lambda act: _hand(act, asked))


def _hand(act: Act, asked: HandAsked) -> dict[str, Any]:
    job = the_job(act.session, asked.job_id)
    if asked.way is not Way.LOOSE and job.closed_at is not None:
        raise Refused(Verdict.of([stop("job-closed", _CLOSED)]))
    # Not whether it is running: what is found or comes back after its end is written down all the same.
    if not may(act.actor.role, Permission.START_JOB) and not is_in_job(act.session, job, act.actor.person_id):
        raise NotAllowed("You are not in this job. Ask its leader to record it.")
    answer: dict[str, Any] = {"job": job.id}
    if asked.way is Way.LOOSE:
        answer["load"] = _found_loose(act, job, asked)
    else:
        load = _count(act, job, asked)
        if load is not None:
            answer["load"] = load_answer(judged(act.session, load, act.recorded_at))
    out, came = handed(act.session, asked.job_id).get(asked.thing, (0, 0))
    return answer | {"out": out, "in": came}


def _found_loose(act: Act, job: Job, asked: HandAsked) -> dict[str, Any]:
    load = load_for(act, job)
    before = judged(act.session, load, act.recorded_at)
    words = f"{asked.pieces} {THING_WORDS[asked.thing]}, seen with oil on them"
    said = f"{words}: {asked.note.strip()}" if asked.note.strip() else f"{words}."
    write_step(act, load, RagEntry(act.happened_at, RagStep.LOOSE, note=said, count=asked.pieces), None)
    settle_load(act.session, load, act.recorded_at)
    after = judged(act.session, load, act.recorded_at)
    note_lateness(act, before, after)
    act.note(note("rags-loose", f"{said} {after.judgement.sentence}"))
    return load_answer(after)


def _count(act: Act, job: Job, asked: HandAsked) -> RagLoad | None:
    """Count the pieces; those handed in owe a can where the job has, or had, a rag load."""
    assert job.id is not None
    load = load_for(act, job) if asked.way is Way.IN and _has_oil(act.session, job) else None
    away = load is not None and were_away(act, load)
    act.session.add(
        RagHand(
            posting_id=act.posting_id,
            job_id=job.id,
            way=asked.way,
            thing=asked.thing,
            pieces=asked.pieces,
            person_id=act.actor.person_id,
            at=act.happened_at,
        )
    )
    write_rag_log(
        act.session,
        kind="handed-out" if asked.way is Way.OUT else "handed-in",
        load_id=load.id if load else None,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={
            "job": job.id,
            "thing": asked.thing.value,
            "pieces": asked.pieces,
            "what": f"{asked.pieces} {THING_WORDS[asked.thing]} for {job.name}",
            "note": asked.note.strip(),
        },
    )
    if load is not None:
        settle_load(act.session, load, act.recorded_at)
        if away:
            act.note(more_since(load))
    elif asked.way is Way.IN:
        words = (
            "By the book no oil was drawn in this job, so these owe no can. If there is oil on them, write "
            "them down as lying there with oil on it."
        )
        act.note(unknown("rags-oil-not-known", words))
    return load


def _has_oil(session: Session, job: Job) -> bool:
    query = select(col(RagLoad.id)).where(col(RagLoad.job_id) == job.id).limit(1)
    return session.exec(query).first() is not None


def handed(session: Session, job_id: int) -> dict[OilyThing, tuple[int, int]]:
    """Pieces handed out and handed in for a job, by kind."""
    rows = session.exec(
        select(RagHand.thing, RagHand.way, func.sum(RagHand.pieces))
        .where(col(RagHand.job_id) == job_id)
        .group_by(col(RagHand.thing), col(RagHand.way))
    ).all()
    sums = {(OilyThing(thing), Way(way)): int(pieces) for thing, way, pieces in rows}
    things = {thing for thing, _ in sums}
    return {t: (sums.get((t, Way.OUT), 0), sums.get((t, Way.IN), 0)) for t in things}
