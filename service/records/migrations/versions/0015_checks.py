"""recurring checks, what was found at each, training

Revision: 0015, after: 0013.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.base import BigId
from service.records.migrations.append_only import append_only_v1, never_deleted_v1, no_replace_by_v1

revision = "0015"
down_revision = "0013"
branch_labels = None
depends_on = None

APPEND_ONLY = (("check_done", "id"), ("training", "id"))
# Their rows change and are never deleted; a table that is made anew later needs these triggers again.
KEPT = ("material", "container", "safety_sheet", "stored_file", "duty", "recurring_check")
_TEXT = sqlmodel.sql.sqltypes.AutoString
_AT = sqlmodel.sql.sqltypes.UTCDateTime
_GROUPS = (
    "general", "rags", "toxic-metals", "cmr", "driers", "other-keeper-only", "flammable", "strong", "dust",
    "spill",
)  # fmt: skip


def _choice(name: str, *values: str) -> "sa.Enum":
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=32)


def _number(name: str, *, empty: bool = False) -> "sa.Column[int]":
    return sa.Column(name, sa.Integer(), nullable=empty)


def _to(table: str, column: str, of: str, key: str = "id") -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{of}.{key}"], name=op.f(f"fk_{table}_{column}"))


def _own(table: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}"))


def _check(table: str, name: str, rule: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}"))


def _late() -> "tuple[sa.Column[object], ...]":
    return (
        sa.Column("recorded_at", _AT(), nullable=False),
        sa.Column("late", sa.Boolean(), nullable=False),
        sa.Column("late_reason", _TEXT(length=2000), nullable=False),
    )


def _recurring_check() -> None:
    op.create_table(
        "recurring_check",
        _number("id"),
        sa.Column("known_key", _TEXT(length=60), nullable=True),
        sa.Column("what", _TEXT(length=120), nullable=False),
        sa.Column("look_at", _TEXT(length=500), nullable=False),
        _number("place_id", empty=True),
        sa.Column("unit", _choice("unit", "day", "week", "month", "year"), nullable=False),
        _number("times"),
        sa.Column("counted", _choice("counted", "calendar", "from-last"), nullable=False),
        sa.Column("source", _TEXT(length=300), nullable=False),
        _number("owner_id"),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        _number("created_by"),
        sa.Column("created_at", _AT(), nullable=False),
        _number("version"),
        _check("recurring_check", "what_length", "length(what) between 1 and 120"),
        _check("recurring_check", "times_range", "times between 1 and 60"),
        _check("recurring_check", "days_in_order", "until is null or until >= since"),
        _to("recurring_check", "place_id", "place"),
        _to("recurring_check", "owner_id", "person"),
        _to("recurring_check", "created_by", "person"),
        _own("recurring_check"),
    )
    for column in ("place_id", "until"):
        op.create_index(op.f(f"ix_recurring_check_{column}"), "recurring_check", [column])


def _check_done() -> None:
    op.create_table(
        "check_done",
        _number("id"),
        sa.Column("posting_id", BigId, nullable=False),
        _number("check_id"),
        sa.Column("result", _choice("result", "fine", "not-fine", "taken-back"), nullable=False),
        sa.Column("sentence", _TEXT(length=2000), nullable=False),
        sa.Column("done_about", _TEXT(length=2000), nullable=False),
        sa.Column("photo_sha256", _TEXT(length=64), nullable=True),
        _number("reverses_id", empty=True),
        _number("person_id"),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("happened_at", _AT(), nullable=False),
        *_late(),
        _to("check_done", "posting_id", "posting"),
        _to("check_done", "check_id", "recurring_check"),
        _to("check_done", "photo_sha256", "stored_file", "sha256"),
        _to("check_done", "reverses_id", "check_done"),
        _to("check_done", "person_id", "person"),
        _own("check_done"),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_check_done_reverses_id")),
    )
    for column in ("posting_id", "check_id"):
        op.create_index(op.f(f"ix_check_done_{column}"), "check_done", [column])


def _training() -> None:
    op.create_table(
        "training",
        _number("id"),
        sa.Column("posting_id", BigId, nullable=False),
        _number("person_id"),
        sa.Column("material_group", _choice("material_group", *_GROUPS), nullable=False),
        sa.Column("topic", _TEXT(length=300), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("taught_by", _TEXT(length=120), nullable=False),
        sa.Column("note", _TEXT(length=2000), nullable=False),
        _number("reverses_id", empty=True),
        _number("recorded_by"),
        *_late(),
        _to("training", "posting_id", "posting"),
        _to("training", "person_id", "person"),
        _to("training", "reverses_id", "training"),
        _to("training", "recorded_by", "person"),
        _own("training"),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_training_reverses_id")),
    )
    for column in ("posting_id", "person_id"):
        op.create_index(op.f(f"ix_training_{column}"), "training", [column])


def upgrade() -> None:
    _recurring_check()
    _check_done()
    _training()
    dialect = op.get_bind().dialect.name
    for table, key in APPEND_ONLY:
        for statement in (
            *append_only_v1(dialect, table, key), *no_replace_by_v1(dialect, table, ("reverses_id",))
        ):
            op.execute(statement)
    for table in KEPT:
        key = "sha256" if table == "stored_file" else "id"
        for statement in never_deleted_v1(dialect, table, key):
            op.execute(statement)


def downgrade() -> None:
    postgresql = op.get_bind().dialect.name == "postgresql"
    for table in KEPT:
        names = ("never_deleted", "never_emptied") if postgresql else ("never_deleted", "never_replaced")
        for name in names:
            op.execute(f"DROP TRIGGER tr_{table}_{name}" + (f" ON {table}" if postgresql else ""))
        if postgresql:
            op.execute(f"DROP FUNCTION fn_{table}_never_deleted()")
    # What is in them is looked at before (see migrations/env.py): nothing that was written is dropped.
    for table in ("training", "check_done", "recurring_check"):
        op.drop_table(table)
        if (table, "id") in APPEND_ONLY and postgresql:
            op.execute(f"DROP FUNCTION fn_{table}_append_only()")
