"""Reading jobs and shifts."""

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import Session, col, or_, select

from service.core.findings import NotFound
from service.core.jobs import ShiftHours
from service.records.jobs import Job, JobPerson
from service.records.materials import Material
from service.records.people import Person
from service.records.shop import Shift
from service.records.stock import Container, Movement


def the_job(session: Session, job_id: int) -> Job:
    """One job.

    Raises:
        NotFound: there is none with this number.
    """
    job = session.get(Job, job_id)
    if job is None:
        raise NotFound(f"There is no job number {job_id}.", "job")
    return job


def shift_hours(session: Session) -> list[ShiftHours]:
    """The shop's shifts as the rules read them."""
    return [ShiftHours(s.name, s.weekday, s.starts, s.ends) for s in session.exec(select(Shift)).all()]


def running_jobs(session: Session, at: datetime) -> Sequence[Job]:
    """Jobs that have started, are not closed, and are not past their end."""
    return session.exec(
        select(Job)
        .where(col(Job.started_at) <= at, col(Job.closed_at).is_(None), col(Job.ends_by) > at)
        .order_by(col(Job.started_at))
    ).all()


def open_jobs(session: Session) -> Sequence[Job]:
    """Jobs nobody has closed, also those past their end."""
    return session.exec(select(Job).where(col(Job.closed_at).is_(None)).order_by(col(Job.started_at))).all()


def is_in_job(session: Session, job: Job, person_id: int) -> bool:
    """Whether somebody leads the job or is named in it."""
    assert job.id is not None
    return job.leader_id == person_id or session.get(JobPerson, (job.id, person_id)) is not None


def people_of(session: Session, job: Job) -> Sequence[Person]:
    """The leader first, then the others by name."""
    assert job.id is not None
    others = session.exec(
        select(Person)
        .join(JobPerson, col(JobPerson.person_id) == col(Person.id))
        .where(col(JobPerson.job_id) == job.id, col(Person.id) != job.leader_id)
        .order_by(col(Person.name))
    ).all()
    leader = session.get(Person, job.leader_id)
    return [*([leader] if leader else []), *others]


def jobs_of(session: Session, person_id: int) -> Sequence[Job]:
    """The jobs somebody leads or is named in, newest first; at most 50."""
    named = select(JobPerson.job_id).where(col(JobPerson.person_id) == person_id)
    mine = or_(col(Job.leader_id) == person_id, col(Job.id).in_(named))
    return session.exec(
        select(Job).where(mine).order_by(col(Job.started_at).desc(), col(Job.id)).limit(50)
    ).all()


def closed_jobs(session: Session, limit: int = 30, offset: int = 0) -> Sequence[Job]:
    """Closed jobs, the last one closed first."""
    query = select(Job).where(col(Job.closed_at).is_not(None)).order_by(col(Job.closed_at).desc())
    return session.exec(query.limit(limit).offset(offset)).all()


def jobs_on(session: Session, starts: datetime, ends: datetime) -> Sequence[Job]:
    """Jobs that ran at any time between two instants, by their start."""
    return session.exec(
        select(Job)
        .where(
            col(Job.started_at) < ends,
            or_(col(Job.closed_at) >= starts, col(Job.closed_at).is_(None) & (col(Job.ends_by) >= starts)),
        )
        .order_by(col(Job.started_at), col(Job.id))
    ).all()


def draws_of_job(session: Session, job_id: int) -> Sequence[tuple[Movement, Container, Material]]:
    """Every movement booked to a job, oldest first."""
    return session.exec(
        select(Movement, Container, Material)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Movement.job_id) == job_id)
        .order_by(col(Movement.id))
        .limit(500)
    ).all()
