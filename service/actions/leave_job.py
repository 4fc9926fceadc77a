"""Taking somebody out of a running job who was named in it by mistake; the change stands in the book."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, select

from service.actions.note_change import note_change
from service.actions.run_job import leads_or_keeps
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Refused, Verdict, stop
from service.records.job_queries import the_job
from service.records.jobs import Job, JobPerson
from service.records.people import Person
from service.records.rags import RagHand
from service.records.stock import Movement

SHORTEST = 5


def take_out(
    session: Session, actor: Actor, now: datetime, job_id: int, person_id: int, reason: str
) -> Person:
    """Take one person out of a running job, with a sentence that says why; returns them.

    Who booked something in the job stays in it: the day sheet names everybody who did.

    Raises:
        NotAllowed: neither its leader nor a keeper asked.
        Invalid: no reason, or nobody of the job.
        Refused: the job is closed, it is its leader, or they booked something in it.
    """
    require(actor, Permission.START_JOB)
    job = the_job(session, job_id)
    leads_or_keeps(actor, job)
    why = " ".join(reason.split())
    if sum(sign.isalpha() for sign in why) < SHORTEST:
        words = "Say in a few words why they are taken out."
        raise Invalid(words, {"reason": words})
    named = session.get(JobPerson, (job_id, person_id), with_for_update=True)
    person = session.get(Person, person_id)
    if person is None or (named is None and person_id != job.leader_id):
        words = "They are not in this job. Choose one of the list."
        raise Invalid(words, {"person": words})
    _may_go(session, job, person)
    note_change(session, actor, now, ("job", job.id), "person", person.name, None, why)
    session.delete(named)
    session.flush()
    return person


def _may_go(session: Session, job: Job, person: Person) -> None:
    if job.closed_at is not None:
        raise Refused(Verdict.of([stop("job-closed", "This job is closed: its people stay as they were.")]))
    if person.id == job.leader_id:
        words = f"{person.name} leads this job and owes its rags, and cannot be taken out of it."
        raise Refused(Verdict.of([stop("leads-the-job", words)]))
    for table in (Movement, RagHand):
        query = select(table.id).where(
            col(table.job_id) == job.id, col(table.person_id) == person.id
        )
        if session.exec(query.limit(1)).first() is not None:
            words = f"{person.name} booked something in this job, so the book goes on naming them in it."
            raise Refused(Verdict.of([stop("worked-in-the-job", words)]))
