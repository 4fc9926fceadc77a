"""Finding materials by what people type, and the places a shop has, in bounded lists."""

from collections.abc import Sequence

from sqlalchemy import ColumnElement, func
from sqlmodel import Session, col, or_, select

from service.core.materials import MaterialKind
from service.records.materials import Material
from service.records.places import Place
from service.records.stock import Container

MOST = 500


def find_materials(
    session: Session,
    text: str = "",
    *,
    kind: MaterialKind | None = None,
    limit: int = 50,
    offset: int = 0,
    retired: bool = False,
) -> tuple[Sequence[Material], int]:
    """Materials whose name, maker, Colour Index name, CAS number or note hold every word; how many in all.

    Args:
        limit: at most `MOST`.
        retired: also those that were retired.
    """
    asked: list[ColumnElement[bool]] = [] if retired else [col(Material.active).is_(True)]
    if kind is not None:
        asked.append(col(Material.kind) == kind)
    for word in text.split()[:8]:
        asked.append(
            or_(
                *(
                    column.icontains(word, autoescape=True)
                    for column in (
                        col(Material.name),
                        col(Material.maker),
                        col(Material.ci_name),
                        col(Material.cas),
                        col(Material.note),
                    )
                )
            )
        )
    total = session.exec(select(func.count()).select_from(Material).where(*asked)).one()
    rows = session.exec(
        select(Material)
        .where(*asked)
        .order_by(func.lower(col(Material.name)), col(Material.id))
        .limit(min(limit, MOST))
        .offset(offset)
    ).all()
    return rows, total


def active_places(session: Session, limit: int = MOST, offset: int = 0) -> Sequence[Place]:
    """The places in use, by name."""
    return session.exec(
        select(Place)
        .where(col(Place.active).is_(True))
        .order_by(func.lower(col(Place.name)), col(Place.id))
        .limit(limit)
        .offset(offset)
    ).all()


def all_places(session: Session) -> dict[int, Place]:
    """Every place by number, retired ones too, at most 2000."""
    rows = session.exec(select(Place).order_by(col(Place.id)).limit(2000)).all()
    return {row.id: row for row in rows if row.id is not None}


def path_of(place: Place | None, places: dict[int, Place]) -> str:
    """A place with what it stands in, smallest first, from places already read: "Shelf 3, Cabinet A"."""
    names: list[str] = []
    while place is not None and len(names) < 12:
        names.append(place.name)
        place = places.get(place.parent_id or 0)
    return ", ".join(names)


def newest_containers(session: Session, limit: int = 60) -> Sequence[tuple[Container, Material]]:
    """The containers that came into the book last and are not gone."""
    rows = session.exec(
        select(Container, Material)
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Container.state) != "gone")
        .order_by(col(Container.id).desc())
        .limit(limit)
    ).all()
    return [(container, material) for container, material in rows]


def count_containers(session: Session, material_ids: Sequence[int]) -> dict[int, int]:
    """How many containers of each of these materials are sealed or open."""
    rows = session.exec(
        select(Container.material_id, func.count())
        .where(
            col(Container.material_id).in_(list(material_ids)),
            col(Container.state).in_(["sealed", "open"]),
        )
        .group_by(col(Container.material_id))
    ).all()
    return {material_id: int(number) for material_id, number in rows}
