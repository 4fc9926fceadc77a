"""`/api/orders` and `/api/materials/{id}/packs`: what a material is sold in, orders that were placed."""

from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.actions.place_order import (
    MOST_COUNT,
    MOST_LINES,
    LineAsked,
    LineChange,
    OrderAsked,
    change_line,
    place_order,
)
from service.actions.write_packs import MinimumAsked, PackAsked, set_minimum, write_pack
from service.core.costs import MOST_PAID, coins
from service.core.materials import Basis
from service.core.order_dates import LONGEST_LEAD
from service.records.material_queries import the_material
from service.records.order_queries import (
    lines_by_order,
    orders,
    packs_of,
    supplier_names,
    the_line,
    the_order,
)
from service.records.orders import LineState, MaterialMinimum, OrderLineRow, PackSizeRow, PurchaseOrder
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, PostModel, acting_for, told_now
from service.web.api_model import ApiModel
from service.web.deps import Data, Now
from service.web.fields import Id, Note, Offset, PageSize, Version, WrittenAmount

router = APIRouter(prefix="/api", tags=["planning"], responses=PROBLEMS)


class PackIn(PostModel):
    """A pack. What is missing is not known."""

    amount: WrittenAmount = Field(description="Exactly what is in one: “500 ml”, “2.5 kg”")
    price: Annotated[Decimal, Field(ge=0, le=MOST_PAID, max_digits=12)] | None = None
    supplier: Annotated[str, Field(max_length=120)] = Field("", description="A name; a new one is kept")
    lead_days: Annotated[int, Field(ge=0, le=LONGEST_LEAD)] | None = Field(
        None, description="Working days from ordering to delivery"
    )


class PackOut(BaseModel):
    id: int
    amount: int
    basis: Basis
    written: str
    price: Decimal | None
    currency: str | None
    supplier: str | None
    lead_days: int | None
    version: int


class PackList(BaseModel):
    """The packs of a material, and the least of it on the shelf at the end of a term."""

    material: int
    items: list[PackOut]
    least: int | None = Field(description="In smallest units of `least_basis`; null = nothing is asked")
    least_basis: Basis | None
    least_version: int


class LeastIn(PostModel):
    """The least on the shelf; empty = nothing is asked. ``version`` as it was read, 0 if never set."""

    amount: Annotated[str, Field(max_length=200)] = ""
    version: Version = 0


class LineIn(ApiModel):
    """So many of one pack."""

    pack: Id
    count: Annotated[int, Field(ge=1, le=MOST_COUNT)]
    expected_on: date | None = Field(None, description="Missing = nobody knows; it is then not counted")


class OrderIn(PostModel):
    """An order that was placed with one supplier."""

    lines: Annotated[list[LineIn], Field(min_length=1, max_length=MOST_LINES)]
    term: Id | None = None
    placed_on: date | None = Field(None, description="Missing: today")
    note: Note = ""
    again: bool = Field(
        False, description="It was ordered once more, though an order of these days holds such packs"
    )


class LineChangeIn(PostModel):
    """What becomes of a line; ``expected_on`` is its day from now on, missing = nobody knows."""

    state: LineState
    expected_on: date | None = None
    version: Version


class LineOut(BaseModel):
    """``received_amount`` in smallest units of ``basis``; null = not all of it is known."""

    id: int
    material: int
    pack: int | None
    pack_amount: int
    basis: Basis
    count: int
    expected_on: date | None
    state: LineState
    received_count: int
    received_amount: int | None
    received_on: date | None
    version: int


class OrderPlaced(BaseModel):
    id: int
    term: int | None
    supplier: str | None
    placed_on: date
    note: str
    lines: list[LineOut]


class OrderList(BaseModel):
    items: list[OrderPlaced]


@router.get("/materials/{material_id}/packs", summary="The packs a material is sold in")
def packs(material_id: Id, data: Data) -> PackList:
    """The smallest first, and the least of it on the shelf."""
    with data.reading() as session:
        return _packs(session, material_id)


@router.post("/materials/{material_id}/packs", status_code=201, summary="One more pack size")
def post_pack(material_id: Id, asked: PackIn, data: Data, now: Now, actor: Signed) -> PackList:
    """One of the same amount and supplier is replaced; at most eight are kept."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = PackAsked(
            once=asked.once, material_id=material_id, amount=asked.amount, price=asked.price,
            supplier=asked.supplier, lead_days=asked.lead_days,
        )  # fmt: skip
        write_pack(session, person, now, wanted)
        return _packs(session, material_id)


@router.post("/materials/{material_id}/least", status_code=201, summary="The least of it on the shelf")
def post_least(material_id: Id, asked: LeastIn, data: Data, now: Now, actor: Signed) -> PackList:
    """Ordered for the last day of a term, after all its jobs."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = MinimumAsked(asked.once, material_id, asked.amount, asked.version)
        set_minimum(session, person, now, wanted)
        return _packs(session, material_id)


@router.get("/orders", summary="Orders that were placed")
def all_orders(data: Data, offset: Offset = 0, limit: PageSize = 100) -> OrderList:
    """The newest first, with their lines."""
    with data.reading() as session:
        rows = orders(session, limit, offset)
        return OrderList(items=_orders(session, list(rows)))


@router.post("/orders", status_code=201, summary="Write down an order that was placed")
def post_order(asked: OrderIn, data: Data, now: Now, actor: Signed) -> OrderPlaced:
    """The book orders nothing by itself. Its packs are planned with from the day after they are expected."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        lines = tuple(LineAsked(one.pack, one.count, one.expected_on) for one in asked.lines)
        wanted = OrderAsked(
            once=asked.once, lines=lines, term_id=asked.term, placed_on=asked.placed_on, note=asked.note,
            again=asked.again,
        )  # fmt: skip
        done = place_order(session, person, now, wanted).result
        return _orders(session, [the_order(session, done["order"])])[0]


@router.get("/orders/{order_id}", summary="One order")
def one_order(order_id: Id, data: Data) -> OrderPlaced:
    """With what came of each line."""
    with data.reading() as session:
        return _orders(session, [the_order(session, order_id)])[0]


@router.post("/orders/lines/{line_id}", status_code=201, summary="What becomes of a line")
def post_line(line_id: Id, asked: LineChangeIn, data: Data, now: Now, actor: Signed) -> LineOut:
    """Another day, nothing more comes, cancelled. Taking it in (`POST /api/containers`, `order_line`) ticks
    it off.
    """
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = LineChange(
            once=asked.once, line_id=line_id, version=asked.version, state=asked.state,
            expected_on=asked.expected_on,
        )  # fmt: skip
        change_line(session, person, now, wanted)
        return _line(the_line(session, line_id))


def _packs(session: Session, material_id: int) -> PackList:
    the_material(session, material_id)
    names = supplier_names(session)
    least = session.get(MaterialMinimum, material_id)
    return PackList(
        material=material_id,
        items=[_pack(row, names) for row in packs_of(session, [material_id])],
        least=least.amount if least else None,
        least_basis=least.basis if least else None,
        least_version=least.version if least else 0,
    )


def _pack(row: PackSizeRow, names: dict[int, str]) -> PackOut:
    price = None if row.price_minor is None else Decimal(row.price_minor).scaleb(-coins(row.currency))
    return PackOut(
        id=row.id or 0, amount=row.amount, basis=row.basis, written=row.written, price=price,
        currency=row.currency, supplier=names.get(row.supplier_id or 0), lead_days=row.lead_days,
        version=row.version,
    )  # fmt: skip


def _orders(session: Session, rows: list[PurchaseOrder]) -> list[OrderPlaced]:
    lines = lines_by_order(session, [row.id for row in rows if row.id is not None])
    names = supplier_names(session)
    return [
        OrderPlaced(
            id=row.id or 0, term=row.term_id, supplier=names.get(row.supplier_id or 0),
            placed_on=row.placed_on, note=row.note, lines=[_line(one) for one in lines.get(row.id or 0, [])],
        )
        for row in rows
    ]  # fmt: skip


def _line(row: OrderLineRow) -> LineOut:
    same: dict[str, Any] = {
        name: getattr(row, name)
        for name in (
            "id", "pack_amount", "basis", "count", "expected_on", "state", "received_count",
            "received_amount", "received_on", "version",
        )
    }  # fmt: skip
    return LineOut(material=row.material_id, pack=row.pack_size_id, **same)
