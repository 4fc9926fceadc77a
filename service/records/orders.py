"""What is bought and of whom: suppliers, pack sizes, the least on the shelf, orders that were placed."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint
from sqlmodel import Field, SQLModel

from service.core.materials import Basis
from service.records.base import Smallest, enum_by_value


class Supplier(SQLModel, table=True):
    """Somebody who sells to the shop."""

    __tablename__ = "supplier"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120, unique=True)
    created_by: int = Field(foreign_key="person.id")
    created_at: datetime


class PackSizeRow(SQLModel, table=True):
    """A pack that a material is sold in, exact in smallest units of `basis`.

    `price_minor` of one pack in whole smallest coins of `currency`; `lead_days` working days from ordering to
    delivery; both None = not known.
    """

    __tablename__ = "pack_size"
    __table_args__ = (
        CheckConstraint("amount > 0", name="amount_positive"),
        CheckConstraint("price_minor is null or price_minor >= 0", name="price_not_negative"),
        CheckConstraint("lead_days is null or lead_days between 0 and 365", name="lead_range"),
    )

    id: int | None = Field(default=None, primary_key=True)
    material_id: int = Field(foreign_key="material.id", index=True)
    written: str = Field(max_length=200)
    amount: int = Field(sa_type=Smallest)
    basis: Basis = Field(sa_type=enum_by_value(Basis, "basis"))
    price_minor: int | None = Field(default=None, sa_type=BigInteger)
    currency: str | None = Field(default=None, max_length=3)
    supplier_id: int | None = Field(default=None, foreign_key="supplier.id")
    lead_days: int | None = Field(default=None)
    active: bool = Field(default=True)
    created_by: int = Field(foreign_key="person.id")
    created_at: datetime
    version: int = Field(default=1)


class MaterialMinimum(SQLModel, table=True):
    """What of a material is to be on the shelf at the end of a term; None = nothing is asked."""

    __tablename__ = "material_minimum"
    __table_args__ = (CheckConstraint("amount is null or amount > 0", name="amount_positive"),)

    material_id: int = Field(primary_key=True, foreign_key="material.id")
    written: str = Field(default="", max_length=200)
    amount: int | None = Field(default=None, sa_type=Smallest)
    basis: Basis | None = Field(default=None, sa_type=enum_by_value(Basis, "basis"))
    set_by: int = Field(foreign_key="person.id")
    set_at: datetime
    version: int = Field(default=1)


class PurchaseOrder(SQLModel, table=True):
    """An order that was placed with one supplier; the state is in its lines."""

    __tablename__ = "purchase_order"

    id: int | None = Field(default=None, primary_key=True)
    term_id: int | None = Field(default=None, foreign_key="term.id", index=True)
    supplier_id: int | None = Field(default=None, foreign_key="supplier.id")
    placed_on: date
    note: str = Field(default="", max_length=2000)
    placed_by: int = Field(foreign_key="person.id")
    created_at: datetime


class LineState(StrEnum):
    OPEN = "open"
    RECEIVED = "received"
    NO_MORE = "no-more"
    CANCELLED = "cancelled"


LINE_WORDS = {
    LineState.OPEN: "on its way",
    LineState.RECEIVED: "received",
    LineState.NO_MORE: "nothing more comes",
    LineState.CANCELLED: "cancelled",
}


class OrderLineRow(SQLModel, table=True):
    """So many packs of one size. `expected_on` None = nobody knows when it comes.

    `received_count` containers came; `received_amount` in smallest units, None = not all of it is known.
    """

    __tablename__ = "order_line"
    __table_args__ = (
        CheckConstraint("pack_amount > 0", name="pack_positive"),
        CheckConstraint("count between 1 and 1000", name="count_range"),
        CheckConstraint("received_count >= 0", name="received_not_negative"),
    )

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="purchase_order.id", index=True)
    material_id: int = Field(foreign_key="material.id", index=True)
    pack_size_id: int | None = Field(default=None, foreign_key="pack_size.id")
    pack_written: str = Field(max_length=200)
    pack_amount: int = Field(sa_type=Smallest)
    basis: Basis = Field(sa_type=enum_by_value(Basis, "basis"))
    count: int
    expected_on: date | None = Field(default=None)
    price_minor: int | None = Field(default=None, sa_type=BigInteger)
    currency: str | None = Field(default=None, max_length=3)
    state: LineState = Field(default=LineState.OPEN, sa_type=enum_by_value(LineState, "state"), index=True)
    received_count: int = Field(default=0)
    received_amount: int | None = Field(default=0, sa_type=Smallest)
    received_on: date | None = Field(default=None)
    version: int = Field(default=1)
