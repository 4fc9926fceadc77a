"""Where and when each material was used, from the ledger: what 29 CFR 1910.1020 asks to keep 30 years."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, func, select

from service.core.containers import ContainerState
from service.core.record_periods import Use, keep_until
from service.records.jobs import Job
from service.records.material_search import path_of
from service.records.materials import Material
from service.records.places import Place
from service.records.stock import Container, ContainerEvent, Movement


@dataclass(frozen=True)
class UseSeen:
    """A material with its trace. ``places``: wherever a container of it stood, or a job used it."""

    row: Material
    use: Use
    places: tuple[str, ...]
    containers: int

    @property
    def keep_until(self) -> date | None:
        return keep_until(self.use)


def uses(session: Session, zone: ZoneInfo) -> list[UseSeen]:
    """Every material that was ever written down, archived ones too, by name."""
    spans, places, counts, here = _spans(session), _places(session), _counts(session), _here(session)
    rows = session.exec(select(Material).order_by(func.lower(Material.name), col(Material.id))).all()
    found = []
    for row in rows:
        number = row.id or 0
        first, last = spans.get(number, (None, None))
        use = Use(number, row.name, _day(first, zone), _day(last, zone), number in here)
        found.append(UseSeen(row, use, places.get(number, ()), counts.get(number, 0)))
    return found


def _day(at: datetime | None, zone: ZoneInfo) -> date | None:
    return None if at is None else at.astimezone(zone).date()


def _spans(session: Session) -> dict[int, tuple[datetime, datetime]]:
    """The first and last instant at which something happened to a container of each material.

    What was taken back later counts in: it makes a span longer, never shorter.
    """
    found: dict[int, tuple[datetime, datetime]] = {}
    for table in (Movement, ContainerEvent):
        query = (
            select(
                col(Container.material_id), func.min(col(table.happened_at)), func.max(col(table.happened_at))
            )
            .join(Container, col(Container.id) == col(table.container_id))
            .group_by(col(Container.material_id))
        )
        for number, first, last in session.exec(query):
            was = found.get(number, (first, last))
            found[number] = min(was[0], first), max(was[1], last)
    return found


def _counts(session: Session) -> dict[int, int]:
    query = select(Container.material_id, func.count()).group_by(col(Container.material_id))
    return dict(session.exec(query).all())


def _here(session: Session) -> set[int]:
    """Materials of which a container is not gone; an emptied one still holds what clings to it."""
    query = select(Container.material_id).where(col(Container.state) != ContainerState.GONE).distinct()
    return set(session.exec(query).all())


def _places(session: Session) -> dict[int, tuple[str, ...]]:
    rows = {place.id or 0: place for place in session.exec(select(Place)).all()}
    material = col(Container.material_id)
    of_event = col(ContainerEvent.container_id) == col(Container.id)
    pairs: list[Iterable[tuple[int, int | None]]] = [
        session.exec(select(material, col(Container.place_id)).distinct()),
        session.exec(
            select(material, col(ContainerEvent.to_place_id)).join(ContainerEvent, of_event).distinct()
        ),
        session.exec(
            select(material, col(ContainerEvent.from_place_id)).join(ContainerEvent, of_event).distinct()
        ),
        session.exec(
            select(material, col(Job.place_id))
            .join(Movement, col(Movement.container_id) == col(Container.id))
            .join(Job, col(Job.id) == col(Movement.job_id))
            .distinct()
        ),
    ]
    found: dict[int, set[str]] = {}
    for many in pairs:
        for number, place in many:
            if place is not None:
                found.setdefault(number, set()).add(path_of(rows.get(place), rows))
    return {number: tuple(sorted(names)) for number, names in found.items()}
