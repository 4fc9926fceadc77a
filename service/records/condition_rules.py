"""What follows in this shop from what a look at a container found; the newest row of a finding counts."""

from datetime import datetime

from sqlmodel import Field, SQLModel

from service.core.materials import MaterialKind
from service.records.base import enum_by_value


class ConditionRuleRow(SQLModel, table=True):
    """A keeper's own rule; only added to. Where a finding has none, the published table's rule counts.

    `kind` None: for every kind of material that has no rule of its own.
    """

    __tablename__ = "condition_rule"

    id: int | None = Field(default=None, primary_key=True)
    # See core/conditions.py.
    found: str = Field(max_length=24, index=True)
    kind: MaterialKind | None = Field(default=None, sa_type=enum_by_value(MaterialKind, "kind"))
    consequence: str = Field(max_length=16)
    what_to_do: str = Field(max_length=500)
    source: str = Field(default="", max_length=300)
    grade: str = Field(default="", max_length=20)
    house_policy: bool = Field(default=True)
    reason: str = Field(max_length=2000)
    set_by: int = Field(foreign_key="person.id")
    set_at: datetime
