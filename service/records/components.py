"""What a material is made of by this shop's own reading of its sheet; it beats any published composition."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, CheckConstraint, UniqueConstraint
from sqlmodel import Field, Session, SQLModel, col, select

from service.records.base import ExactDecimal

_AT_ONCE = 500


class MaterialComponent(SQLModel, table=True):
    """One line of section 3. `hazards` None = not known; [] = examined and none. Changes are in `change`.

    `limits` are the component's own, as written: None = not known; [] = the sheet gives none. `ate` holds
    figures by route as text, in the units of `core/own_figures.py`.
    """

    __tablename__ = "material_component"
    __table_args__ = (
        UniqueConstraint("material_id", "position"),
        CheckConstraint("length(name) between 1 and 120", name="name_length"),
    )

    id: int | None = Field(default=None, primary_key=True)
    material_id: int = Field(foreign_key="material.id", index=True)
    position: int
    name: str = Field(max_length=120)
    cas: str = Field(default="", max_length=20)
    low: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    high: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    hazards: list[Any] | None = Field(default=None, sa_type=JSON)
    note: str = Field(default="", max_length=500)
    limits: list[Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    m_acute: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    m_chronic: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    ate: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    source: str = Field(max_length=300)
    set_by: int = Field(foreign_key="person.id")
    set_at: datetime


def components_of(session: Session, material_id: int) -> Sequence[MaterialComponent]:
    """The lines of one material in their order; none where nobody wrote them down."""
    return components_of_all(session, [material_id]).get(material_id, [])


def components_of_all(session: Session, material_ids: Sequence[int]) -> dict[int, list[MaterialComponent]]:
    """The same of many materials, by one query for every few hundred."""
    found: defaultdict[int, list[MaterialComponent]] = defaultdict(list)
    for begin in range(0, len(material_ids), _AT_ONCE):
        wanted = (
            select(MaterialComponent)
            .where(col(MaterialComponent.material_id).in_(material_ids[begin : begin + _AT_ONCE]))
            .order_by(col(MaterialComponent.material_id), col(MaterialComponent.position))
        )
        for row in session.exec(wanted).all():
            found[row.material_id].append(row)
    return dict(found)
