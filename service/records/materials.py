"""Materials as the shop describes them, with their sheets, spoon weighings, readings and ageing policies."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.records.base import ExactDecimal, Smallest, enum_by_value


class Material(SQLModel, table=True):
    """What is bought or made. `hazards` None = not known; [] = examined and not classified."""

    __tablename__ = "material"
    __table_args__ = (
        CheckConstraint("length(name) between 1 and 120", name="name_length"),
        CheckConstraint(
            "ventilation_class is null or ventilation_class between 1 and 4", name="ventilation_range"
        ),
    )

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120, index=True)
    kind: MaterialKind = Field(sa_type=enum_by_value(MaterialKind, "kind"))
    form: Form = Field(sa_type=enum_by_value(Form, "form"))
    maker: str = Field(default="", max_length=120)
    ci_name: str = Field(default="", max_length=60)
    cas: str = Field(default="", max_length=60)
    known_key: str | None = Field(default=None, max_length=60, index=True)
    # Fixed at the first movement; None until then.
    basis: Basis | None = Field(default=None, sa_type=enum_by_value(Basis, "basis"))
    density_g_ml: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    density_source: str = Field(default="", max_length=200)
    bulk_low_g_ml: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    bulk_high_g_ml: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    bulk_source: str = Field(default="", max_length=200)
    oil_share_percent: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    binder: str = Field(default="", max_length=120)
    # For the film: grams of oil per 100 g of dry pigment; what stays of a binder; the pigment in a paste.
    oil_absorption_low: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    oil_absorption_high: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    non_volatile_percent: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    pigment_percent: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    pigment_key: str | None = Field(default=None, max_length=60)
    film_source: str | None = Field(default=None, max_length=200)
    has_drier: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "has_drier"))
    flash_point_c: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    flash_point_method: str = Field(default="", max_length=60)
    no_flash_reason: str = Field(default="", max_length=200)
    hazards: list[Any] | None = Field(default=None, sa_type=JSON)
    hazards_source: str = Field(default="", max_length=200)
    toxic_metals: list[Any] | None = Field(default=None, sa_type=JSON)
    ventilation_class: int | None = Field(default=None)
    ventilation_source: str = Field(default="", max_length=200)
    self_heating: SelfHeating = Field(
        default=SelfHeating.NOT_KNOWN,
        sa_type=enum_by_value(SelfHeating, "self_heating"),
    )
    self_heating_reason: str = Field(default="", max_length=2000)
    # None = by rule (see core.material_facts.keeper_only_by_default); a keeper may set it either way.
    keeper_only: bool | None = Field(default=None)
    keeper_only_reason: str = Field(default="", max_length=2000)
    not_stocked: bool = Field(default=False)
    note: str = Field(default="", max_length=2000)
    active: bool = Field(default=True)
    created_at: datetime
    version: int = Field(default=1)


class MaterialReading(SQLModel, table=True):
    """How one person reads an ambiguous unit for one material ("oz" = "us-fl-oz"), so they are asked once."""

    __tablename__ = "material_reading"
    __table_args__ = (UniqueConstraint("material_id", "person_id", "written_unit"),)

    id: int | None = Field(default=None, primary_key=True)
    material_id: int = Field(foreign_key="material.id", index=True)
    person_id: int = Field(foreign_key="person.id")
    written_unit: str = Field(max_length=20)
    reading: str = Field(max_length=20)


class SpoonWeighing(SQLModel, table=True):
    """The shop's own "ten level spoons weighed" row; it beats a table value."""

    __tablename__ = "spoon_weighing"

    id: int | None = Field(default=None, primary_key=True)
    material_id: int = Field(foreign_key="material.id", index=True)
    written: str = Field(max_length=200)
    volume_ul: int = Field(sa_type=Smallest)
    mass_mg: int = Field(sa_type=Smallest)
    person_id: int = Field(foreign_key="person.id")
    weighed_at: datetime


class StoredFile(SQLModel, table=True):
    """An uploaded file, stored under its SHA-256; the name it came with is only text."""

    __tablename__ = "stored_file"

    sha256: str = Field(primary_key=True, max_length=64)
    name: str = Field(max_length=200)
    media_type: str = Field(max_length=60)
    size_bytes: int
    added_by: int = Field(foreign_key="person.id")
    added_at: datetime


class SafetySheet(SQLModel, table=True):
    """A supplier's safety data sheet: its law, its date, whether sections 2, 3, 9 were copied whole."""

    __tablename__ = "safety_sheet"

    id: int | None = Field(default=None, primary_key=True)
    material_id: int = Field(foreign_key="material.id", index=True)
    regime: str = Field(max_length=16)
    sheet_date: date | None = Field(default=None)
    copied_whole: bool = Field(default=False)
    file_sha256: str | None = Field(default=None, foreign_key="stored_file.sha256")
    added_by: int = Field(foreign_key="person.id")
    added_at: datetime


class AgeingPolicyRow(SQLModel, table=True):
    """How long a kind of material, or one material, lasts; the newest row for a kind or material counts."""

    __tablename__ = "ageing_policy"

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(default="", max_length=60, index=True)
    kind: MaterialKind | None = Field(default=None, sa_type=enum_by_value(MaterialKind, "kind"))
    material_id: int | None = Field(default=None, foreign_key="material.id", index=True)
    sealed_months: int | None = Field(default=None)
    opened_months: int | None = Field(default=None)
    sealed_days: int | None = Field(default=None)
    opened_days: int | None = Field(default=None)
    end: str = Field(max_length=16)
    hard_months: int | None = Field(default=None)
    extends_months: int | None = Field(default=None)
    max_extensions: int | None = Field(default=None)
    source: str = Field(default="", max_length=300)
    grade: str = Field(default="", max_length=20)
    house_policy: bool = Field(default=True)
    # What a check looks at: "Gel through the body: discard."
    note: str = Field(default="", max_length=500)
    reason: str = Field(default="", max_length=2000)
    set_by: int | None = Field(default=None, foreign_key="person.id")
    set_at: datetime
