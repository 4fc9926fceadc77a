"""What the storage tables ask and no other row holds: of a place, of a material, of the shop."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, CheckConstraint
from sqlmodel import Field, SQLModel

from service.core.materials import Unknown
from service.records.base import ExactDecimal, enum_by_value


class PlaceStorage(SQLModel, table=True):
    """One row a place. ``None`` and not-known allow nothing more.

    ``approved``: of a cabinet. ``sprinklered``: the whole building. Floor area and highest temperature as
    they were written, with their units.
    """

    __tablename__ = "place_storage"
    __table_args__ = (
        CheckConstraint(
            "storey is null or (storey between -50 and 200 and storey <> 0)", name="storey_range"
        ),
    )

    place_id: int = Field(primary_key=True, foreign_key="place.id")
    approved: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "approved"))
    storey: int | None = Field(default=None)
    sprinklered: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "sprinklered"))
    floor_area: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    floor_unit: str = Field(default="ft2", max_length=8)
    ambient_max: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    ambient_unit: str = Field(default="C", max_length=1)
    use_group: str | None = Field(default=None, max_length=16)
    set_by: int = Field(foreign_key="person.id")
    set_at: datetime
    version: int = Field(default=1)


class MaterialStorage(SQLModel, table=True):
    """One row a material: figures in the unit of its data sheet, and classes that no figure decides.

    ``category``: as somebody who knows it says (1910.106, fire code or CLP, or a class of the fire code
    such as oxidizer-2). ``groups``: what it is kept apart as.
    """

    __tablename__ = "material_storage"

    material_id: int = Field(primary_key=True, foreign_key="material.id")
    flash_point: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    flash_unit: str = Field(default="C", max_length=1)
    boiling_point: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    boiling_unit: str = Field(default="C", max_length=1)
    category: str | None = Field(default=None, max_length=32)
    groups: list[Any] = Field(default_factory=list, sa_type=JSON)
    source: str = Field(default="", max_length=200)
    set_by: int = Field(foreign_key="person.id")
    set_at: datetime
    version: int = Field(default=1)
