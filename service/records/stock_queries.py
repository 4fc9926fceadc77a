"""Reading the store: containers with their material, what is promised, what a container's life has seen."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import and_, bindparam, func, or_
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, select

from service.core.containers import ContainerState, EventKind
from service.core.findings import NotFound
from service.core.ledger import MovementLine
from service.core.materials import Basis
from service.core.shelf_codes import normalise
from service.records.kept_statements import run
from service.records.materials import Material
from service.records.mixing import Allocation, Batch, BatchState
from service.records.places import Place
from service.records.stock import Container, ContainerEvent, Movement

IN_STORE = (ContainerState.SEALED, ContainerState.OPEN)


@dataclass
class Held:
    """A container together with the material in it."""

    container: Container
    material: Material

    @property
    def container_id(self) -> int:
        assert self.container.id is not None
        return self.container.id

    @property
    def basis(self) -> Basis:
        """What it is counted in. Before the first movement there is none and nothing to count."""
        assert self.material.basis is not None
        return self.material.basis


def container_by_code(session: Session, text: str) -> Container:
    """The container a scanned or typed code names, in any letter case.

    Raises:
        NotFound: no container has it; the sentence repeats the code as typed.
    """
    code = normalise(text)
    found = None
    if code is not None:
        found = session.exec(select(Container).where(col(Container.code) == code)).one_or_none()
    if found is None:
        raise _no_such_code(text)
    return found


def _no_such_code(text: str) -> NotFound:
    return NotFound(f"No container has the code {text[:40]}. Check the signs on its label.")


_BY_CODE: Final = (
    select(Container)
    .where(col(Container.code) == bindparam("code"))
    .with_for_update()
    .execution_options(populate_existing=True)
)
_MATERIAL: Final = select(Material).where(col(Material.id) == bindparam("number"))


def hold(session: Session, container_ids: Iterable[int]) -> dict[int, Held]:
    """Lock containers for writing, in order of their id so that two writers never wait for each other.

    On SQLite the one writer already stands alone; on PostgreSQL the rows are locked.
    """
    wanted = sorted(set(container_ids))
    rows = session.exec(
        select(Container)
        .where(col(Container.id).in_(wanted))
        .order_by(col(Container.id))
        .with_for_update()
        .execution_options(populate_existing=True)
    ).all()
    if len(rows) != len(wanted):
        raise NotFound("One of these containers is not in the book.")
    return {row.id: Held(row, material_of(session, row)) for row in rows if row.id is not None}


def hold_one(session: Session, code: str) -> Held:
    """Lock the one container a code names."""
    box = session.exec(_BY_CODE, params={"code": normalise(code)}).one_or_none()
    if box is None:
        raise _no_such_code(code)
    # Asked for only now: whoever changed what it is while we waited for the container is done.
    return Held(box, material_of(session, box))


def material_of(session: Session, container: Container) -> Material:
    """The material in a container."""
    return session.exec(_MATERIAL, params={"number": container.material_id}).one()


def movements_of(session: Session, container_id: int) -> Sequence[Movement]:
    """Every movement of a container, oldest first."""
    return session.exec(
        select(Movement).where(col(Movement.container_id) == container_id).order_by(col(Movement.id))
    ).all()


_LINES: Final = (
    columns_of(
        col(Movement.id),
        col(Movement.kind),
        col(Movement.change),
        col(Movement.known),
        col(Movement.counted),
        col(Movement.reverses_id),
        col(Movement.happened_at),
    )
    .where(col(Movement.container_id) == bindparam("box"))
    .order_by(col(Movement.id))
)


def lines_of(session: Session, container_id: int) -> list[MovementLine]:
    """The whole ledger of a container as the rules read it, oldest first."""
    return [MovementLine(*row) for row in run(session, _LINES, box=container_id)]


def events_of(
    session: Session, container_id: int, kind: EventKind | None = None
) -> Sequence[ContainerEvent]:
    """Every event of a container, oldest first; of one kind if asked."""
    query = select(ContainerEvent).where(col(ContainerEvent.container_id) == container_id)
    if kind is not None:
        query = query.where(col(ContainerEvent.kind) == kind)
    return session.exec(query.order_by(col(ContainerEvent.id))).all()


_PROMISED: Final = (
    columns_of(col(Allocation.container_id), func.sum(col(Allocation.amount)))
    .join(Batch, col(Batch.id) == col(Allocation.batch_id))
    .where(
        col(Allocation.container_id).in_(bindparam("boxes", expanding=True)),
        or_(
            and_(col(Allocation.state) == "promised", col(Batch.state) == BatchState.SET_ASIDE),
            and_(col(Allocation.state) == "reserved", col(Batch.state) == BatchState.RUNNING),
        ),
        col(Allocation.batch_id) != bindparam("but"),
    )
    .group_by(col(Allocation.container_id))
)


def promised(
    session: Session, container_ids: Iterable[int], except_batch: int | None = None
) -> dict[int, int]:
    """What is set aside from each container for batches that have not drawn it yet, in smallest units, with
    what running ones hold back for lines to suit.
    """
    # No batch has the number 0.
    rows = run(session, _PROMISED, boxes=list(container_ids), but=except_batch or 0)
    return {container_id: int(total) for container_id, total in rows}


def handed_out(session: Session, boxes: Iterable[Container]) -> set[int]:
    """Which of these containers were handed to somebody and have no place of the shop since."""
    nowhere = [box.id for box in boxes if box.id is not None and box.place_id is None]
    rows = session.exec(
        select(ContainerEvent.container_id)
        .where(col(ContainerEvent.container_id).in_(nowhere), col(ContainerEvent.kind) == EventKind.MOVED)
        .distinct()
    ).all()
    return set(rows)


def containers_of(session: Session, material_ids: Iterable[int]) -> list[Held]:
    """Every container of these materials that is not gone."""
    rows = session.exec(
        select(Container, Material)
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(
            col(Container.material_id).in_(list(material_ids)),
            col(Container.state) != ContainerState.GONE,
        )
        .order_by(col(Container.code))
    ).all()
    return [Held(container, material) for container, material in rows]


def place_of(session: Session, container: Container) -> Place | None:
    return session.get(Place, container.place_id) if container.place_id is not None else None


def place_names(session: Session, boxes: Iterable[Container]) -> dict[int, str]:
    """The names of the places these containers stand at, by the number of the place."""
    wanted = {box.place_id for box in boxes if box.place_id is not None}
    rows = session.exec(select(Place.id, Place.name).where(col(Place.id).in_(sorted(wanted)))).all()
    return {number: name for number, name in rows if number is not None}


def place_chain(session: Session, place: Place) -> list[Place]:
    """A place and everything it stands in, from the inside out; at most twenty, should they form a ring."""
    chain, inner = [place], place
    while inner.parent_id is not None and len(chain) < 20:
        outer = session.get(Place, inner.parent_id)
        if outer is None:
            break
        chain.append(outer)
        inner = outer
    return chain
