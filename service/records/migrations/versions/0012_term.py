"""terms with planned jobs, suppliers, pack sizes, the least on the shelf, orders

Revision: 0012, after: 0011.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.base import ExactDecimal, Smallest

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

_TEXT = sqlmodel.sql.sqltypes.AutoString
_AT = sqlmodel.sql.sqltypes.UTCDateTime


def _choice(name: str, *values: str) -> "sa.Enum":
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=32)


def _basis(name: str = "basis") -> "sa.Enum":
    return _choice(name, "mass", "volume", "pieces")


def _number(name: str, *, empty: bool = False) -> "sa.Column[int]":
    return sa.Column(name, sa.Integer(), nullable=empty)


def _to(table: str, column: str, of: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{of}.id"], name=op.f(f"fk_{table}_{column}"))


def _own(table: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}"))


def _check(table: str, name: str, rule: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}"))


def _term() -> None:
    op.create_table(
        "term",
        _number("id"),
        sa.Column("name", _TEXT(length=120), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("weekdays", _TEXT(length=7), nullable=False),
        sa.Column("country", _TEXT(length=2), nullable=False),
        sa.Column("part", _TEXT(length=12), nullable=False),
        sa.Column("breaks", sa.Boolean(), nullable=False),
        sa.Column("free_days", sa.JSON(), nullable=False),
        sa.Column("extra_days", sa.JSON(), nullable=False),
        _number("created_by"),
        sa.Column("created_at", _AT(), nullable=False),
        _number("version"),
        _check("term", "name_length", "length(name) between 1 and 120"),
        _check("term", "days_in_order", "last_day >= first_day"),
        _to("term", "created_by", "person"),
        _own("term"),
    )
    op.create_index(op.f("ix_term_first_day"), "term", ["first_day"])


def _planned() -> None:
    op.create_table(
        "planned_job",
        _number("id"),
        _number("term_id"),
        sa.Column("name", _TEXT(length=120), nullable=False),
        _number("recipe_id"),
        _number("recipe_version_id", empty=True),
        _number("heads"),
        sa.Column("each_written", _TEXT(length=200), nullable=False),
        sa.Column("each_amount", Smallest(), nullable=True),
        sa.Column("each_basis", _basis("each_basis"), nullable=True),
        sa.Column("each_times", ExactDecimal(), nullable=True),
        _number("spare_percent"),
        sa.Column("repeated", _TEXT(length=300), nullable=False),
        _number("created_by"),
        sa.Column("created_at", _AT(), nullable=False),
        _number("version"),
        _check("planned_job", "heads_range", "heads between 1 and 10000"),
        _check("planned_job", "spare_range", "spare_percent between 0 and 500"),
        _check("planned_job", "each_positive", "each_amount is null or each_amount > 0"),
        _to("planned_job", "term_id", "term"),
        _to("planned_job", "recipe_id", "recipe"),
        _to("planned_job", "recipe_version_id", "recipe_version"),
        _to("planned_job", "created_by", "person"),
        _own("planned_job"),
    )
    op.create_index(op.f("ix_planned_job_term_id"), "planned_job", ["term_id"])
    op.create_index(op.f("ix_planned_job_recipe_id"), "planned_job", ["recipe_id"])
    op.create_table(
        "planned_date",
        _number("id"),
        _number("planned_job_id"),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("state", _choice("state", "planned", "started", "dropped"), nullable=False),
        _number("batch_id", empty=True),
        _number("check_id", empty=True),
        _number("version"),
        _check("planned_date", "started_has_batch", "state <> 'started' or batch_id is not null"),
        _to("planned_date", "planned_job_id", "planned_job"),
        _to("planned_date", "batch_id", "batch"),
        _own("planned_date"),
        sa.UniqueConstraint("planned_job_id", "on_day", name=op.f("uq_planned_date_planned_job_id_on_day")),
    )
    for column in ("on_day", "batch_id", "check_id"):
        op.create_index(op.f(f"ix_planned_date_{column}"), "planned_date", [column])


def _packs() -> None:
    op.create_table(
        "supplier",
        _number("id"),
        sa.Column("name", _TEXT(length=120), nullable=False),
        _number("created_by"),
        sa.Column("created_at", _AT(), nullable=False),
        _to("supplier", "created_by", "person"),
        _own("supplier"),
        sa.UniqueConstraint("name", name=op.f("uq_supplier_name")),
    )
    op.create_table(
        "pack_size",
        _number("id"),
        _number("material_id"),
        sa.Column("written", _TEXT(length=200), nullable=False),
        sa.Column("amount", Smallest(), nullable=False),
        sa.Column("basis", _basis(), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=True),
        sa.Column("currency", _TEXT(length=3), nullable=True),
        _number("supplier_id", empty=True),
        _number("lead_days", empty=True),
        sa.Column("active", sa.Boolean(), nullable=False),
        _number("created_by"),
        sa.Column("created_at", _AT(), nullable=False),
        _number("version"),
        _check("pack_size", "amount_positive", "amount > 0"),
        _check("pack_size", "price_not_negative", "price_minor is null or price_minor >= 0"),
        _check("pack_size", "lead_range", "lead_days is null or lead_days between 0 and 365"),
        _to("pack_size", "material_id", "material"),
        _to("pack_size", "supplier_id", "supplier"),
        _to("pack_size", "created_by", "person"),
        _own("pack_size"),
    )
    op.create_index(op.f("ix_pack_size_material_id"), "pack_size", ["material_id"])
    op.create_table(
        "material_minimum",
        _number("material_id"),
        sa.Column("written", _TEXT(length=200), nullable=False),
        sa.Column("amount", Smallest(), nullable=True),
        sa.Column("basis", _basis(), nullable=True),
        _number("set_by"),
        sa.Column("set_at", _AT(), nullable=False),
        _number("version"),
        _check("material_minimum", "amount_positive", "amount is null or amount > 0"),
        _to("material_minimum", "material_id", "material"),
        _to("material_minimum", "set_by", "person"),
        sa.PrimaryKeyConstraint("material_id", name=op.f("pk_material_minimum")),
    )


def _orders() -> None:
    op.create_table(
        "purchase_order",
        _number("id"),
        _number("term_id", empty=True),
        _number("supplier_id", empty=True),
        sa.Column("placed_on", sa.Date(), nullable=False),
        sa.Column("note", _TEXT(length=2000), nullable=False),
        _number("placed_by"),
        sa.Column("created_at", _AT(), nullable=False),
        _to("purchase_order", "term_id", "term"),
        _to("purchase_order", "supplier_id", "supplier"),
        _to("purchase_order", "placed_by", "person"),
        _own("purchase_order"),
    )
    op.create_index(op.f("ix_purchase_order_term_id"), "purchase_order", ["term_id"])
    op.create_table(
        "order_line",
        _number("id"),
        _number("order_id"),
        _number("material_id"),
        _number("pack_size_id", empty=True),
        sa.Column("pack_written", _TEXT(length=200), nullable=False),
        sa.Column("pack_amount", Smallest(), nullable=False),
        sa.Column("basis", _basis(), nullable=False),
        _number("count"),
        sa.Column("expected_on", sa.Date(), nullable=True),
        sa.Column("price_minor", sa.BigInteger(), nullable=True),
        sa.Column("currency", _TEXT(length=3), nullable=True),
        sa.Column("state", _choice("state", "open", "received", "no-more", "cancelled"), nullable=False),
        _number("received_count"),
        sa.Column("received_amount", Smallest(), nullable=True),
        sa.Column("received_on", sa.Date(), nullable=True),
        _number("version"),
        _check("order_line", "pack_positive", "pack_amount > 0"),
        _check("order_line", "count_range", "count between 1 and 1000"),
        _check("order_line", "received_not_negative", "received_count >= 0"),
        _to("order_line", "order_id", "purchase_order"),
        _to("order_line", "material_id", "material"),
        _to("order_line", "pack_size_id", "pack_size"),
        _own("order_line"),
    )
    for column in ("order_id", "material_id", "state"):
        op.create_index(op.f(f"ix_order_line_{column}"), "order_line", [column])


def upgrade() -> None:
    _term()
    _planned()
    _packs()
    _orders()


def downgrade() -> None:
    # What is in them is looked at before (see migrations/env.py): nothing that was written is dropped.
    for table in (
        "order_line", "purchase_order", "material_minimum", "pack_size", "supplier", "planned_date",
        "planned_job", "term",
    ):  # fmt: skip
        op.drop_table(table)
