"""Opening a job, naming its people, closing it with a short list of what is still owed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sqlmodel import Session, col, select

from service.actions.hand_rags import handed
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, may, require
from service.core.containers import ContainerState
from service.core.findings import Finding, Findings, Invalid, NotAllowed, Refused, Verdict, note, stop, warn
from service.core.jobs import latest_end, shift_end
from service.core.oily_things import missing
from service.core.shelf_codes import show_code
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.job_queries import is_in_job, shift_hours, the_job
from service.records.jobs import Job, JobKind, JobPerson
from service.records.mixing import Batch, BatchState
from service.records.people import Person
from service.records.places import Place
from service.records.rag_queries import judged
from service.records.rags import RagLoad
from service.records.stock import Container, Movement


@dataclass(frozen=True)
class JobAsked:
    """A job to open. `ends_at` None = the end of the shift, else 24:00 of this day."""

    once: str
    name: str
    kind: JobKind = JobKind.SHOP_WORK
    place_id: int | None = None
    leader_id: int | None = None
    people: tuple[int, ...] = ()
    ends_at: datetime | None = None
    note: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""

    def body(self) -> dict[str, object]:
        return {
            "name": self.name,
            "kind": self.kind.value,
            "place": self.place_id,
            "leader": self.leader_id,
            "people": list(self.people),
            "ends_at": self.ends_at.isoformat() if self.ends_at else None,
            "note": self.note,
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
        }


def open_job(session: Session, actor: Actor, now: datetime, asked: JobAsked) -> Settled:
    """Open a job; its end and its shift's end are settled here and no later edit of a shift moves them.

    Raises:
        NotAllowed: a student or reader asked.
        Invalid: no name, an end before the start, somebody who is not in the books.
    """
    require(actor, Permission.START_JOB)
    sent = Sent(asked.once, "open-job", asked.body(), asked.happened_at, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _open(act, asked))


def _open(act: Act, asked: JobAsked) -> dict[str, object]:
    job = make_job(act, asked)
    return {"job": job.id, "name": job.name, "ends_by": job.ends_by.isoformat()}


def make_job(act: Act, asked: JobAsked) -> Job:
    """Make the job inside an act that is being settled (also used when a draw needs one)."""
    name = " ".join(asked.name.split())
    if not name:
        raise Invalid("Give the job a name.", {"name": "Give the job a name, such as Evening class."})
    starts = act.happened_at
    if asked.ends_at is not None and asked.ends_at <= starts:
        raise Invalid(
            "The job would end before it starts.", {"ends_at": "Give an end after the start of the job."}
        )
    people = {asked.leader_id or act.actor.person_id, *asked.people}
    _known_people(act.session, people)
    _may_lead(act, asked.leader_id)
    if asked.place_id is not None and act.session.get(Place, asked.place_id) is None:
        words = "There is no such place. Choose one of the list."
        raise Invalid(words, {"place_id": words})
    shift = shift_end(starts, shift_hours(act.session), act.zone)
    job = Job(
        name=name,
        kind=asked.kind,
        leader_id=asked.leader_id or act.actor.person_id,
        place_id=asked.place_id,
        started_at=starts,
        ends_by=latest_end(starts, asked.ends_at, shift, act.zone),
        shift_ends_at=shift,
        note=asked.note,
        created_at=act.recorded_at,
    )
    act.session.add(job)
    act.session.flush()
    assert job.id is not None
    for person_id in sorted(people):
        act.session.add(JobPerson(job_id=job.id, person_id=person_id, added_at=act.recorded_at))
    act.session.flush()
    return job


def _may_lead(act: Act, leader_id: int | None) -> None:
    """Who leads a job owes its rags, so it is somebody who may see them out of the building."""
    leader = act.session.get(Person, leader_id) if leader_id not in (None, act.actor.person_id) else None
    if leader is not None and (leader.is_script or not may(leader.role, Permission.REMOVE_RAGS)):
        words = f"{leader.name} cannot see rags out of the building. Choose a finisher or keeper to lead it."
        raise Invalid(words, {"leader": words})


def _known_people(session: Session, people: set[int]) -> None:
    found = session.exec(
        select(Person.id).where(col(Person.id).in_(sorted(people)), col(Person.active).is_(True))
    ).all()
    if len(found) != len(people):
        words = "One of these people is not in the books, or is switched off. Choose again."
        raise Invalid(words, {"people": words})


def job_for_draw(act: Act, job_id: int | None, *, needed: bool) -> Job | None:
    """The job a draw is for; a shop-work job is opened when one is needed and none was named.

    Args:
        needed: the material is self-heating, so that its rags must belong to a job.

    Raises:
        NotFound: no job has this number; its ``field`` is "job".
    """
    if job_id is not None:
        return the_job(act.session, job_id)
    if not needed:
        return None
    require(act.actor, Permission.START_JOB)
    day = f"{act.day.day} {act.day:%b %Y}"
    job = make_job(act, JobAsked(act.posting.once, f"Shop work, {act.actor.name}, {day}"))
    act.note(
        note("job-opened", f"The job “{job.name}” was opened for it; its rags belong to {act.actor.name}.")
    )
    return job


def add_people(session: Session, actor: Actor, now: datetime, job_id: int, people: Sequence[int]) -> Job:
    """Name more people of a running job.

    Raises:
        NotAllowed: neither its leader nor a keeper asked.
        Refused: the job is closed.
    """
    require(actor, Permission.START_JOB)
    job = the_job(session, job_id)
    leads_or_keeps(actor, job)
    if job.closed_at is not None:
        raise Refused(Verdict.of([stop("job-closed", "This job is closed. Open a new one.")]))
    _known_people(session, set(people))
    for person_id in people:
        if session.get(JobPerson, (job_id, person_id)) is None:
            session.add(JobPerson(job_id=job_id, person_id=person_id, added_at=now))
    session.flush()
    return job


def job_to_see(session: Session, actor: Actor, job_id: int) -> Job:
    """A job for somebody who wants to look at it: whoever sees the store, and the people of the job.

    Raises:
        NotFound: there is none with this number.
        NotAllowed: a student who is not in it.
    """
    job = the_job(session, job_id)
    if not may(actor.role, Permission.SEE_STORE) and not is_in_job(session, job, actor.person_id):
        raise NotAllowed("You see the jobs you are in. Ask the leader of this one to add you.")
    return job


def leads_or_keeps(actor: Actor, job: Job) -> None:
    """Raise `NotAllowed` unless the actor leads the job or is a keeper."""
    if actor.person_id != job.leader_id and actor.role.value != "keeper":
        raise NotAllowed("Only the leader of this job or a keeper can do that.")


@dataclass(frozen=True)
class ShortList:
    """What is still owed when a job is about to close."""

    findings: Verdict
    loads: tuple[int, ...] = field(default=())
    """Loads that still have to leave the building."""
    outside: tuple[int, ...] = field(default=())
    """Loads that wait in the drum outside."""


def short_list(session: Session, job: Job, now: datetime) -> ShortList:
    """What stands in the way of closing, and what to know: rags, batches, containers left open on a bench."""
    found = Findings()
    loads: list[int] = []
    outside: list[int] = []
    for load in session.exec(select(RagLoad).where(col(RagLoad.job_id) == job.id)).all():
        seen = judged(session, load, now)
        if seen.state.ended:
            continue
        (outside if seen.state.remove_met else loads).append(seen.load_id)
        if not seen.state.contained:
            found.add(
                stop(
                    "rags-not-contained",
                    f"Rag load {load.id} is not contained. Put the rags in the can and record it, "
                    "or record that none were made.",
                    about=f"rag load {load.id}",
                )
            )
        elif not seen.state.remove_met:
            found.add(
                warn(
                    "rags-to-remove",
                    f"Rag load {load.id} still has to leave the building. {seen.judgement.sentence}",
                    about=f"rag load {load.id}",
                )
            )
    assert job.id is not None
    found.add(*_batches(session, job), *missing(handed(session, job.id)), *_left_out(session, job))
    return ShortList(found.verdict(), tuple(loads), tuple(outside))


def running_batches(session: Session, job: Job) -> Sequence[Batch]:
    """The batches of a job that are neither finished nor given up."""
    return session.exec(
        select(Batch)
        .where(col(Batch.job_id) == job.id, col(Batch.state) == BatchState.RUNNING)
        .order_by(col(Batch.id))
    ).all()


def _batches(session: Session, job: Job) -> list[Finding]:
    return [
        stop(
            "batch-running",
            f"Batch {b.id} is not finished. Finish it or give it up first.",
            about=f"batch {b.id}",
        )
        for b in running_batches(session, job)
    ]


def _left_out(session: Session, job: Job) -> list[Finding]:
    rows = session.exec(
        select(Container)
        .join(Place, col(Place.id) == col(Container.place_id))
        .where(
            col(Container.id).in_(select(Movement.container_id).where(col(Movement.job_id) == job.id)),
            col(Container.state).in_([ContainerState.OPEN, ContainerState.SEALED]),
            col(Place.kind).in_(["bench", "kit", "vehicle", "customer-site"]),
        )
        .order_by(col(Container.code))
    ).all()
    return [
        warn("left-out", f"{show_code(c.code)} is not back in its cabinet.", about=show_code(c.code))
        for c in rows
    ]


def close_job(
    session: Session, actor: Actor, now: datetime, job_id: int, once: str, close_note: str = ""
) -> Settled:
    """Close a job. Its rags stay owed; use ends here, so the contain clock can only come earlier.

    Raises:
        Refused: rags are not contained, or a batch is still running.
        NotAllowed: neither its leader nor a keeper asked.
    """
    require(actor, Permission.CLOSE_JOB)
    sent = Sent(once, "close-job", {"job": job_id, "note": close_note})
    return settle(session, actor, sent, now, lambda act: _close(act, job_id, close_note))


def _close(act: Act, job_id: int, close_note: str) -> dict[str, object]:
    job = the_job(act.session, job_id)
    leads_or_keeps(act.actor, job)
    if job.closed_at is not None:
        raise Refused(Verdict.of([stop("job-closed", f"{job.name} was closed already.")]))
    owed = short_list(act.session, job, act.recorded_at)
    if owed.findings.blocking:
        raise Refused(owed.findings)
    if "rags-missing" in owed.findings.codes and not is_sentence(close_note):
        words = f"Pieces handed out did not all come in. Say what became of them in {A_SENTENCE}."
        raise Invalid(words, {"note": words})
    job.closed_at, job.closed_by, job.close_note = act.recorded_at, act.actor.person_id, close_note
    job.version += 1
    act.session.add(job)
    for load_id in (*owed.loads, *owed.outside):
        load = act.session.get(RagLoad, load_id)
        assert load is not None
        load.used_until = min(load.used_until, act.recorded_at)
        load.contain_by = min(load.contain_by, max(act.recorded_at, load.made_at))
        act.session.add(load)
        write_rag_log(
            act.session,
            kind="job-closed",
            load_id=load_id,
            person_id=act.actor.person_id,
            posting_id=act.posting_id,
            happened_at=act.happened_at,
            recorded_at=act.recorded_at,
            data={"job": job_id, "contain_by": load.contain_by},
        )
    act.note(*owed.findings)
    return {"job": job_id, "closed_at": act.recorded_at.isoformat(), "loads": list(owed.loads),
            "outside": list(owed.outside)}
