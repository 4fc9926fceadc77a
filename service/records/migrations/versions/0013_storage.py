"""what the storage tables ask of places, materials, containers and the shop

Revision: 0013, after: 0012.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.base import ExactDecimal
from service.records.revisions import WouldLose

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

_TEXT = sqlmodel.sql.sqltypes.AutoString
_AT = sqlmodel.sql.sqltypes.UTCDateTime


def _answer(name: str) -> "sa.Column[str]":
    kind = sa.Enum("yes", "no", "not-known", name=name, native_enum=False, create_constraint=True, length=32)
    return sa.Column(name, kind, nullable=False)


def _said() -> "list[sa.Column[object]]":
    return [
        sa.Column("set_by", sa.Integer(), nullable=False),
        sa.Column("set_at", _AT(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
    ]


def _columns() -> "dict[str, sa.Column[object]]":
    """Columns that came into tables that were there before; both may be empty."""
    return {
        "container": sa.Column("vessel", _TEXT(length=16), nullable=True),
        "shop_profile": sa.Column("storage_rules", sa.JSON(), nullable=True),
    }


def upgrade() -> None:
    for table, column in _columns().items():
        op.add_column(table, column)
    op.create_table(
        "place_storage",
        sa.Column("place_id", sa.Integer(), nullable=False),
        _answer("approved"),
        sa.Column("storey", sa.Integer(), nullable=True),
        _answer("sprinklered"),
        sa.Column("floor_area", ExactDecimal(), nullable=True),
        sa.Column("floor_unit", _TEXT(length=8), nullable=False),
        sa.Column("ambient_max", ExactDecimal(), nullable=True),
        sa.Column("ambient_unit", _TEXT(length=1), nullable=False),
        sa.Column("use_group", _TEXT(length=16), nullable=True),
        *_said(),
        sa.CheckConstraint(
            "storey is null or (storey between -50 and 200 and storey <> 0)",
            name=op.f("ck_place_storage_storey_range"),
        ),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_place_storage_place_id")),
        sa.ForeignKeyConstraint(["set_by"], ["person.id"], name=op.f("fk_place_storage_set_by")),
        sa.PrimaryKeyConstraint("place_id", name=op.f("pk_place_storage")),
    )
    op.create_table(
        "material_storage",
        sa.Column("material_id", sa.Integer(), nullable=False),
        sa.Column("flash_point", ExactDecimal(), nullable=True),
        sa.Column("flash_unit", _TEXT(length=1), nullable=False),
        sa.Column("boiling_point", ExactDecimal(), nullable=True),
        sa.Column("boiling_unit", _TEXT(length=1), nullable=False),
        sa.Column("category", _TEXT(length=32), nullable=True),
        sa.Column("groups", sa.JSON(), nullable=False),
        sa.Column("source", _TEXT(length=200), nullable=False),
        *_said(),
        sa.ForeignKeyConstraint(
            ["material_id"], ["material.id"], name=op.f("fk_material_storage_material_id")
        ),
        sa.ForeignKeyConstraint(["set_by"], ["person.id"], name=op.f("fk_material_storage_set_by")),
        sa.PrimaryKeyConstraint("material_id", name=op.f("pk_material_storage")),
    )


def downgrade() -> None:
    for table, column in _columns().items():
        # SQL null and the JSON word null both say that nobody chose.
        told = f"{column.name} is not null and cast({column.name} as text) <> 'null'"
        if op.get_bind().execute(sa.text(f"select 1 from {table} where {told} limit 1")).first() is not None:
            raise WouldLose([f"{table} ({column.name})"])
    op.drop_table("material_storage")
    op.drop_table("place_storage")
    for table, column in _columns().items():
        op.drop_column(table, column.name)
