"""Recipes with append-only versions, batches, what a batch has set aside, and what was put in."""

from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, CheckConstraint, Column, ForeignKey, UniqueConstraint
from sqlmodel import Field, SQLModel

from service.core.materials import Basis
from service.records.base import BigId, ExactDecimal, Smallest, enum_by_value


class Recipe(SQLModel, table=True):
    """A named proportion; its content is in versions."""

    __tablename__ = "recipe"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120, index=True)
    purpose: str = Field(default="", max_length=60)
    # What sort of mix it is (core/mix_purposes.py); None = nobody said.
    mix_purpose: str | None = Field(default=None, max_length=24)
    # The material its jars hold; made when the first jar is filled.
    material_id: int | None = Field(default=None, foreign_key="material.id")
    active: bool = Field(default=True)
    current_version: int = Field(default=1)
    created_by: int = Field(foreign_key="person.id")
    created_at: datetime
    version: int = Field(default=1)


class RecipeVersion(SQLModel, table=True):
    """One state of a recipe. Append-only. `makes` is what the lines as written give, if anybody said so."""

    __tablename__ = "recipe_version"
    __table_args__ = (UniqueConstraint("recipe_id", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    recipe_id: int = Field(foreign_key="recipe.id", index=True)
    number: int
    makes_written: str = Field(default="", max_length=200)
    makes_amount: int | None = Field(default=None, sa_type=Smallest)
    makes_basis: Basis | None = Field(default=None, sa_type=enum_by_value(Basis, "makes_basis"))
    # How parts are measured, where a line is in parts or per cent.
    shares_by: Basis | None = Field(default=None, sa_type=enum_by_value(Basis, "shares_by"))
    note: str = Field(default="", max_length=4000)
    # How far a litre goes, as written and in square metres per litre.
    coverage_written: str | None = Field(default=None, max_length=200)
    coverage_low_m2_l: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    coverage_high_m2_l: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    # The line that "parts of a base" are counted from, by its position.
    base_position: int | None = Field(default=None)
    person_id: int = Field(foreign_key="person.id")
    created_at: datetime


class RecipeLineRow(SQLModel, table=True):
    """One line of a recipe version. Append-only.

    `low` to `high` are whole smallest units of what was written (`basis` is that of the unit the bench used);
    they meet the material's own basis when the stock is checked, by the density known then. A share has
    `share_low` to `share_high` instead; "to suit" has `to_suit`, and `high` only if somebody wrote the most.
    """

    __tablename__ = "recipe_line"

    id: int | None = Field(default=None, primary_key=True)
    version_id: int = Field(foreign_key="recipe_version.id", index=True)
    position: int
    material_id: int = Field(foreign_key="material.id", index=True)
    written: str = Field(max_length=200)
    low: int | None = Field(default=None, sa_type=Smallest)
    high: int | None = Field(default=None, sa_type=Smallest)
    basis: Basis | None = Field(default=None, sa_type=enum_by_value(Basis, "basis"))
    unit_key: str = Field(default="", max_length=20)
    share_low: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    share_high: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    to_suit: bool = Field(default=False)
    about: bool = Field(default=False)
    note: str = Field(default="", max_length=500)


class AsMade(SQLModel, table=True):
    """Which batch a recipe version was written from: what really went in. Append-only."""

    __tablename__ = "as_made"

    version_id: int = Field(primary_key=True, foreign_key="recipe_version.id")
    batch_id: int = Field(foreign_key="batch.id", index=True)


class KeptCheck(SQLModel, table=True):
    """The answer of a stock check, kept so that a start can tell whether it still holds; not for long."""

    __tablename__ = "kept_check"

    id: int | None = Field(default=None, primary_key=True)
    fingerprint: str = Field(max_length=64, index=True)
    recipe_id: int = Field(foreign_key="recipe.id")
    recipe_version_id: int = Field(foreign_key="recipe_version.id")
    wanted_written: str = Field(max_length=200)
    times: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    heats: bool = Field(default=True)
    result: dict[str, Any] = Field(sa_type=JSON)
    person_id: int = Field(foreign_key="person.id")
    made_at: datetime = Field(index=True)


class BatchState(StrEnum):
    SET_ASIDE = "set-aside"
    RUNNING = "running"
    FINISHED = "finished"
    GIVEN_UP = "given-up"


BATCH_WORDS = {
    BatchState.SET_ASIDE: "set aside",
    BatchState.RUNNING: "running",
    BatchState.FINISHED: "finished",
    BatchState.GIVEN_UP: "given up",
}


class Batch(SQLModel, table=True):
    """One making of a recipe. `set-aside` promises stock without drawing it."""

    __tablename__ = "batch"

    id: int | None = Field(default=None, primary_key=True)
    recipe_id: int = Field(foreign_key="recipe.id", index=True)
    recipe_version_id: int = Field(foreign_key="recipe_version.id")
    job_id: int | None = Field(default=None, foreign_key="job.id", index=True)
    state: BatchState = Field(sa_type=enum_by_value(BatchState, "state"))
    # How many times the recipe as written; None for a recipe in parts alone.
    times: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    wanted_written: str = Field(default="", max_length=200)
    fingerprint: str = Field(default="", max_length=64)
    check_result: dict[str, Any] | None = Field(default=None, sa_type=JSON)
    started_at: datetime | None = Field(default=None)
    finished_at: datetime | None = Field(default=None)
    yield_written: str = Field(default="", max_length=200)
    # What it made in smallest units; None = not measured.
    yield_amount: int | None = Field(default=None, sa_type=Smallest)
    yield_basis: Basis | None = Field(default=None, sa_type=enum_by_value(Basis, "yield_basis"))
    # "measured" or "estimated"; None = nobody said.
    yield_how: str | None = Field(default=None, max_length=16)
    loss_note: str = Field(default="", max_length=2000)
    loss_written: str | None = Field(default=None, max_length=200)
    # What stayed in pot and strainer in smallest units; None = not measured.
    loss_amount: int | None = Field(default=None, sa_type=Smallest)
    loss_basis: str | None = Field(default=None, max_length=32)
    # Whether it was strained (None = nobody said), and how it is to be stirred.
    strained: bool | None = Field(default=None)
    stir_note: str | None = Field(default=None, max_length=500)
    person_id: int = Field(foreign_key="person.id")
    created_at: datetime
    version: int = Field(default=1)


class Allocation(SQLModel, table=True):
    """What a batch takes from one container: promised while set aside, then drawn, or reserved for a line
    that is put in by hand until that is used; released when let go.
    """

    __tablename__ = "allocation"
    __table_args__ = (CheckConstraint("amount > 0", name="amount_positive"),)

    id: int | None = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    container_id: int = Field(foreign_key="container.id", index=True)
    material_id: int = Field(foreign_key="material.id")
    amount: int = Field(sa_type=Smallest)
    state: str = Field(default="promised", max_length=12, index=True)


class Addition(SQLModel, table=True):
    """One amount put into a batch, with the movement that took it (none for tap water). Append-only."""

    __tablename__ = "addition"

    id: int | None = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    material_id: int = Field(foreign_key="material.id")
    movement_id: int | None = Field(
        default=None, sa_column=Column(BigId, ForeignKey("movement.id"), nullable=True)
    )
    # The line of the recipe it fulfils, if any.
    position: int | None = Field(default=None)
    amount: int | None = Field(default=None, sa_type=Smallest)
    basis: Basis | None = Field(default=None, sa_type=enum_by_value(Basis, "basis"))
    written: str = Field(default="", max_length=200)
    # How it was measured (core/additions.py); None = an amount was typed, or taken at the start.
    how: str | None = Field(default=None, max_length=16)
    # Where nobody measured it: the most it can have been, in smallest units; None = not known either.
    at_most: int | None = Field(default=None, sa_type=Smallest)
    # The pot on the scale before and after, in mg.
    pot_before_mg: int | None = Field(default=None, sa_type=Smallest)
    pot_after_mg: int | None = Field(default=None, sa_type=Smallest)
    person_id: int = Field(foreign_key="person.id")
    added_at: datetime
