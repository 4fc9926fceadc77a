"""Places: where containers, rags and people are."""

from datetime import datetime
from enum import StrEnum
from typing import Final

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from service.core.materials import Unknown
from service.records.base import enum_by_value


class PlaceKind(StrEnum):
    BUILDING = "building"
    ROOM = "room"
    CABINET = "cabinet"
    SHELF = "shelf"
    BENCH = "bench"
    RAG_CAN = "rag-can"
    OUTSIDE_DRUM = "outside-drum"
    WASTE_DRUM = "waste-drum"
    KIT = "kit"
    VEHICLE = "vehicle"
    CUSTOMER_SITE = "customer-site"


NO_STOCK: Final = (PlaceKind.RAG_CAN, PlaceKind.WASTE_DRUM, PlaceKind.OUTSIDE_DRUM)
"""Cans and drums for rags and waste: no container of the store stands in one."""


class Place(SQLModel, table=True):
    """A building, room, cabinet, shelf, bench, can or drum. Facts of a can not known count as not met."""

    __tablename__ = "place"
    __table_args__ = (CheckConstraint("length(name) between 1 and 120", name="name_length"),)

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(max_length=6, unique=True)
    name: str = Field(max_length=120)
    kind: PlaceKind = Field(sa_type=enum_by_value(PlaceKind, "kind"))
    parent_id: int | None = Field(default=None, foreign_key="place.id", index=True)
    metal: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "metal"))
    lid: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "lid"))
    self_closing: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "self_closing"))
    listed: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "listed"))
    detached: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "detached"))
    # What a rag can stands on and how far, in whole millimetres, the nearest thing that burns is.
    floor_cannot_burn: Unknown = Field(
        default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "floor_cannot_burn")
    )
    distance_mm: int | None = Field(default=None)
    # What a rag can or drum holds, in whole millilitres, as its maker says.
    capacity_ml: int | None = Field(default=None)
    outdoors: bool = Field(default=False)
    note: str = Field(default="", max_length=2000)
    active: bool = Field(default=True)
    created_at: datetime
    version: int = Field(default=1)
