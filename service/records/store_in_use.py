"""What left its container and still counts: pots of running batches, draws of open jobs, what was handed out,
with the place it was last at, and what was thrown into a waste drum that nobody named.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from fractions import Fraction

from sqlalchemy import exists, func
from sqlalchemy import select as columns_of
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.core.containers import ContainerState, EventKind
from service.core.ledger import MovementKind
from service.records.handed_over import HANDED
from service.records.jobs import Job
from service.records.mixing import Batch, BatchState
from service.records.pot_waste import nobody_said_where
from service.records.stock import Container, ContainerEvent, Movement
from service.records.waste_queries import went_out


@dataclass(frozen=True)
class Pot:
    """The pot of a batch, where its job is; None: nobody said where.

    ``share``: what share of it is still there; None: not known.
    """

    batch_id: int
    place_id: int | None
    share: Fraction | None = Fraction(1)


@dataclass(frozen=True)
class DrawnInJob:
    """What an open job drew of one material and did not put back. ``amount`` None: not known.

    ``jar_id``: the container, where it was made here; each may hold another mix.
    """

    job_id: int
    job_name: str
    place_id: int | None
    material_id: int
    jar_id: int | None
    amount: int | None


@dataclass(frozen=True)
class ThrownAway:
    """What went into a waste drum of which the book does not know which. ``amount`` None: not known.

    ``place_id``: where its container stands; ``named``: the words that name a place for it, often empty.
    """

    code: str
    material_id: int
    place_id: int | None
    jar_id: int | None
    amount: int | None
    named: str


def thrown_into_no_drum(session: Session) -> list[ThrownAway]:
    """Discards into a waste drum that nobody named, the oldest first. One statement where there is none."""
    loose = {one.movement_id: one for one in went_out(session, no_drum=True)}
    numbers, found = sorted(loose), []
    for start in range(0, len(numbers), 500):
        asked = (
            columns_of(
                col(Movement.id), col(Container.material_id), col(Container.place_id), col(Container.id),
                col(Container.made_by_batch_id),
            )
            .join(Container, col(Container.id) == col(Movement.container_id))
            .where(col(Movement.id).in_(numbers[start : start + 500]))
            .order_by(col(Movement.id))
        )  # fmt: skip
        for number, material, place, box, batch in session.execute(asked):
            one = loose[number]
            amount = None if one.change is None else -one.change
            jar = None if batch is None else box
            found.append(ThrownAway(one.code, material, place, jar, amount, one.other_text))
    return found


def pots_standing(session: Session) -> list[Pot]:
    """The pots of all running batches, the oldest first."""
    asked = (
        columns_of(col(Batch.id), col(Job.place_id))
        .outerjoin(Job, col(Job.id) == col(Batch.job_id))
        .where(col(Batch.state) == BatchState.RUNNING)
        .order_by(col(Batch.id))
    )
    return [Pot(number, place) for number, place in session.execute(asked)]


def pots_left(session: Session) -> list[Pot]:
    """What batches that ended left in no jar, of which nobody said where it went, the oldest first."""
    left = dict.fromkeys((one.batch_id, one.share) for one in nobody_said_where(session))
    numbers = sorted({number for number, _ in left})
    places: dict[int, int | None] = {}
    for start in range(0, len(numbers), 500):
        asked = (
            columns_of(col(Batch.id), col(Job.place_id))
            .outerjoin(Job, col(Job.id) == col(Batch.job_id))
            .where(col(Batch.id).in_(numbers[start : start + 500]))
        )
        places |= {row[0]: row[1] for row in session.execute(asked)}
    return [Pot(number, places[number], share) for number, share in left]


def drawn_in_jobs(session: Session) -> list[DrawnInJob]:
    """Draws of open jobs that went into no batch, less what came back; what was reversed is left out."""
    undone = aliased(Movement)
    back = exists().where(col(undone.reverses_id) == col(Movement.id))
    asked = (
        columns_of(
            col(Job.id), col(Job.name), col(Job.place_id), col(Container.material_id), col(Container.id),
            col(Container.made_by_batch_id), func.sum(-col(Movement.change)),
            func.count() - func.count(col(Movement.change)),
        )
        .join(Movement, col(Movement.job_id) == col(Job.id))
        .join(Container, col(Container.id) == col(Movement.container_id))
        .where(
            col(Job.closed_at).is_(None),
            col(Movement.batch_id).is_(None),
            col(Movement.kind).in_([MovementKind.DRAW, MovementKind.RETURN]),
            ~back,
        )
        .group_by(
            col(Job.id), col(Job.name), col(Job.place_id), col(Container.material_id), col(Container.id),
            col(Container.made_by_batch_id),
        )
        .order_by(col(Job.id), col(Container.id))
    )  # fmt: skip
    sums: dict[DrawnInJob, int | None] = {}
    for job, name, place, material, box, made, total, unknown in session.execute(asked):
        key = DrawnInJob(job, name, place, material, box if made is not None else None, None)
        if unknown or sums.get(key, 0) is None:
            sums[key] = None
        else:
            sums[key] = (sums.get(key) or 0) + int(total or 0)
    return [
        DrawnInJob(one.job_id, one.job_name, one.place_id, one.material_id, one.jar_id, amount)
        for one, amount in sums.items() if amount is None or amount > 0
    ]  # fmt: skip


def last_places(session: Session, boxes: Collection[int] | None = None) -> dict[int, int | None]:
    """Of containers that were handed out and did not come back: where each was last; None: nobody knows.

    Args:
        boxes: only of these; None: of all.
    """
    asked = (
        columns_of(
            col(ContainerEvent.container_id), col(ContainerEvent.from_place_id),
            col(ContainerEvent.to_place_id), col(ContainerEvent.note),
        )
        .join(Container, col(Container.id) == col(ContainerEvent.container_id))
        .where(
            col(ContainerEvent.kind) == EventKind.MOVED,
            col(Container.place_id).is_(None),
            col(Container.state) != ContainerState.GONE,
        )
        .order_by(col(ContainerEvent.id))
    )  # fmt: skip
    if boxes is not None:
        asked = asked.where(col(Container.id).in_(sorted(boxes)))
    last: dict[int, int | None] = {}
    handed: set[int] = set()
    for box, before, after, words in session.execute(asked):
        last[box] = after if after is not None else before if before is not None else last.get(box)
        (handed.add if after is None and words.startswith(HANDED) else handed.discard)(box)
    return {box: last[box] for box in handed}
