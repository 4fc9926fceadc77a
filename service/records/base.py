"""Column types and the naming convention every table shares. Import this before declaring a table."""

from decimal import Decimal
from enum import Enum as PyEnum
from typing import Any

from sqlalchemy import BigInteger, Enum, Integer, Text
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import SQLModel

# Rows are checked by actions and by the database. The checks that Pydantic would make of a row are asked for
# by nobody and are built only if somebody does.
SQLModel.model_config["defer_build"] = True

# Without names SQLite constraints cannot be dropped in a batch migration.
SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}

BIGGEST = 10**15
"""No amount is larger: 10^15 mg is a million tonnes. Anything beyond is a slip of the pen."""


class Smallest(TypeDecorator[int]):
    """A whole number of smallest units: milligrams, microlitres or pieces. Refuses anything inexact."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> int | None:
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int):
            raise ValueError(f"an amount is a whole number of smallest units, not {value!r}")
        if not -BIGGEST <= value <= BIGGEST:
            raise ValueError(f"{value} is beyond any amount a shop can hold")
        return value


class ExactDecimal(TypeDecorator[Decimal]):
    """A decimal kept as text, so that both databases give back the same digits."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:
        if value is None:
            return None
        number = Decimal(value)
        if not number.is_finite():
            raise ValueError(f"{value!r} is not a finite number")
        return f"{number:f}"

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:
        return None if value is None else Decimal(value)


def enum_by_value(kind: type[PyEnum], name: str) -> Enum:
    """An enum column that stores the member's value under a named CHECK, alike on both databases."""
    return Enum(
        kind,
        values_callable=lambda members: [m.value for m in members],
        native_enum=False,
        create_constraint=True,
        length=32,
        name=name,
        validate_strings=True,
    )


BigId = BigInteger().with_variant(Integer(), "sqlite")
"""Row numbers of the ledger: 64 bits on PostgreSQL; SQLite's INTEGER PRIMARY KEY already is."""
