"""Reading pack sizes, suppliers, minimums and orders, and what was taken of materials by the ledger."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime

from sqlmodel import Session, col, func, select

from service.core.findings import NotFound
from service.core.ledger import MovementLine
from service.records.materials import Material
from service.records.orders import (
    LineState,
    MaterialMinimum,
    OrderLineRow,
    PackSizeRow,
    PurchaseOrder,
    Supplier,
)
from service.records.shop import Change
from service.records.stock import Container, Movement

MOST_PACKS = 8
"""Pack sizes of one material: an exact choice among more takes too long, and nobody buys ten sizes."""


def packs_of(session: Session, material_ids: Iterable[int]) -> Sequence[PackSizeRow]:
    """The packs these materials are sold in now, the smallest first."""
    return session.exec(
        select(PackSizeRow)
        .where(col(PackSizeRow.material_id).in_(list(material_ids)), col(PackSizeRow.active).is_(True))
        .order_by(col(PackSizeRow.material_id), col(PackSizeRow.amount), col(PackSizeRow.id))
    ).all()


def the_pack(session: Session, pack_id: int) -> PackSizeRow:
    """One pack size. Raises NotFound."""
    row = session.get(PackSizeRow, pack_id)
    if row is None:
        raise NotFound(f"There is no pack size number {pack_id}.")
    return row


def suppliers(session: Session) -> Sequence[Supplier]:
    """Everybody the shop buys from, by name."""
    return session.exec(select(Supplier).order_by(func.lower(col(Supplier.name)), col(Supplier.id))).all()


def the_supplier(session: Session, supplier_id: int) -> Supplier:
    """One supplier. Raises NotFound."""
    row = session.get(Supplier, supplier_id)
    if row is None:
        raise NotFound(f"There is no supplier number {supplier_id}.")
    return row


def joined_to(session: Session, supplier_id: int) -> Sequence[Change]:
    """Which other names were found to be this supplier, the newest first."""
    return session.exec(
        select(Change)
        .where(
            col(Change.about_kind) == "supplier", col(Change.about_id) == supplier_id,
            col(Change.field) == "joined",
        )
        .order_by(col(Change.id).desc())
    ).all()  # fmt: skip


def supplier_names(session: Session) -> dict[int, str]:
    """Their names by number."""
    return {row.id: row.name for row in suppliers(session) if row.id is not None}


def sold_by(session: Session) -> dict[int, list[tuple[PackSizeRow, str]]]:
    """The packs sold now by each supplier's number, with the name of the material."""
    rows = session.exec(
        select(PackSizeRow, Material.name)
        .join(Material, col(Material.id) == col(PackSizeRow.material_id))
        .where(col(PackSizeRow.active).is_(True), col(PackSizeRow.supplier_id).is_not(None))
        .order_by(func.lower(Material.name), col(PackSizeRow.amount), col(PackSizeRow.id))
    ).all()
    found: dict[int, list[tuple[PackSizeRow, str]]] = {}
    for pack, name in rows:
        found.setdefault(pack.supplier_id or 0, []).append((pack, name))
    return found


def minimums(session: Session) -> Sequence[tuple[MaterialMinimum, Material]]:
    """What of each material is to be left on the shelf, of materials in use."""
    return session.exec(
        select(MaterialMinimum, Material)
        .join(Material, col(Material.id) == col(MaterialMinimum.material_id))
        .where(col(MaterialMinimum.amount).is_not(None), col(Material.active).is_(True))
        .order_by(col(MaterialMinimum.material_id))
    ).all()


def open_lines(session: Session, material_ids: Collection[int] | None = None) -> Sequence[OrderLineRow]:
    """What is on its way, by order; of some materials if asked."""
    query = select(OrderLineRow).where(col(OrderLineRow.state) == LineState.OPEN)
    if material_ids is not None:
        query = query.where(col(OrderLineRow.material_id).in_(list(material_ids)))
    return session.exec(query.order_by(col(OrderLineRow.id))).all()


def the_order(session: Session, order_id: int) -> PurchaseOrder:
    """One order. Raises NotFound."""
    row = session.get(PurchaseOrder, order_id)
    if row is None:
        raise NotFound(f"There is no order number {order_id}.")
    return row


def the_line(session: Session, line_id: int, *, lock: bool = False) -> OrderLineRow:
    """One line of an order; ``lock`` to change it. Raises NotFound."""
    query = select(OrderLineRow).where(col(OrderLineRow.id) == line_id)
    if lock:
        query = query.with_for_update().execution_options(populate_existing=True)
    row = session.exec(query).one_or_none()
    if row is None:
        raise NotFound(f"There is no order line number {line_id}.")
    return row


def lines_like(
    session: Session, supplier_id: int | None, material_ids: Iterable[int], since: date, until: date
) -> Sequence[tuple[OrderLineRow, PurchaseOrder]]:
    """What was ordered of these materials with one supplier from one day to another, but what was cancelled
    or came to nothing, the newest order first."""
    same = (
        col(PurchaseOrder.supplier_id).is_(None)
        if supplier_id is None
        else col(PurchaseOrder.supplier_id) == supplier_id
    )
    rows = session.exec(
        select(OrderLineRow, PurchaseOrder)
        .join(PurchaseOrder, col(PurchaseOrder.id) == col(OrderLineRow.order_id))
        .where(
            same,
            col(PurchaseOrder.placed_on) >= since,
            col(PurchaseOrder.placed_on) <= until,
            col(OrderLineRow.material_id).in_(list(material_ids)),
            col(OrderLineRow.state).in_([LineState.OPEN, LineState.RECEIVED]),
        )
        .order_by(col(PurchaseOrder.id).desc(), col(OrderLineRow.id))
    ).all()
    return list(rows)


def lines_of_order(session: Session, order_id: int) -> Sequence[tuple[OrderLineRow, Material]]:
    """The lines of an order with their materials, as they were written."""
    return session.exec(
        select(OrderLineRow, Material)
        .join(Material, col(Material.id) == col(OrderLineRow.material_id))
        .where(col(OrderLineRow.order_id) == order_id)
        .order_by(col(OrderLineRow.id))
    ).all()


def orders(session: Session, limit: int = 100, offset: int = 0) -> Sequence[PurchaseOrder]:
    """The orders that were placed, the newest first."""
    wanted = select(PurchaseOrder).order_by(col(PurchaseOrder.id).desc())
    return session.exec(wanted.limit(limit).offset(offset)).all()


def count_orders(session: Session) -> int:
    return session.exec(select(func.count()).select_from(PurchaseOrder)).one()


def lines_by_order(session: Session, order_ids: Iterable[int]) -> dict[int, list[OrderLineRow]]:
    """The lines of several orders."""
    found: dict[int, list[OrderLineRow]] = {}
    rows = session.exec(
        select(OrderLineRow)
        .where(col(OrderLineRow.order_id).in_(list(order_ids)))
        .order_by(col(OrderLineRow.id))
    ).all()
    for row in rows:
        found.setdefault(row.order_id, []).append(row)
    return found


def movements_since(
    session: Session, material_ids: Collection[int], since: datetime
) -> dict[int, list[list[MovementLine]]]:
    """What happened since then to the containers of each material: the lines of one container together."""
    rows = session.execute(
        select(  # type: ignore[call-overload]  # more columns than its types foresee
            Container.material_id, Movement.container_id, Movement.id, Movement.kind, Movement.change,
            Movement.known, Movement.counted, Movement.reverses_id, Movement.happened_at,
        )
        .join(Container, col(Container.id) == col(Movement.container_id))
        .where(col(Container.material_id).in_(list(material_ids)), col(Movement.happened_at) >= since)
        .order_by(col(Movement.id))
    ).all()  # fmt: skip
    boxes: dict[tuple[int, int], list[MovementLine]] = {}
    for material_id, container_id, *line in rows:
        boxes.setdefault((material_id, container_id), []).append(MovementLine(*line))
    found: dict[int, list[list[MovementLine]]] = {}
    for (material_id, _), lines in boxes.items():
        found.setdefault(material_id, []).append(lines)
    return found


def first_received(session: Session, material_ids: Collection[int]) -> dict[int, datetime]:
    """Since when the book is kept for each material: the first movement of it."""
    rows = session.exec(
        select(Container.material_id, func.min(Movement.happened_at))
        .join(Movement, col(Movement.container_id) == col(Container.id))
        .where(col(Container.material_id).in_(list(material_ids)))
        .group_by(col(Container.material_id))
    ).all()
    return dict(rows)
