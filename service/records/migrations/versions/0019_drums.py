"""drums of waste, what happened to each, and the category that a keeper told

Revision: 0019, after: 0018.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.base import BigId
from service.records.migrations.append_only import append_only_v1, no_replace_by_v1

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

APPEND_ONLY = (("waste_drum", "id"), ("waste_drum_entry", "id"), ("waste_site", "id"))
_TEXT = sqlmodel.sql.sqltypes.AutoString
_AT = sqlmodel.sql.sqltypes.UTCDateTime


def _choice(name: str, *values: str) -> "sa.Enum":
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=32)


def _text(name: str, length: int) -> "sa.Column[str]":
    return sa.Column(name, _TEXT(length=length), nullable=False)


def _number(name: str, *, empty: bool = False) -> "sa.Column[int]":
    return sa.Column(name, sa.Integer(), nullable=empty)


def _big(name: str, *, empty: bool = True) -> "sa.Column[int]":
    return sa.Column(name, sa.BigInteger(), nullable=empty)


def _to(table: str, column: str, of: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{of}.id"], name=op.f(f"fk_{table}_{column}"))


def _own(table: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}"))


def _check(table: str, name: str, rule: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}"))


def _drum() -> None:
    op.create_table(
        "waste_drum",
        _number("id"),
        sa.Column("posting_id", BigId, nullable=False),
        _text("name", 120),
        _number("place_id", empty=True),
        _text("stream", 300),
        _text("hazards", 300),
        sa.Column("area", _choice("area", "satellite", "central"), nullable=False),
        sa.Column("acute", _choice("acute", "yes", "no", "not-known"), nullable=False),
        _big("capacity_ul"),
        _text("capacity_written", 60),
        sa.Column("codes", sa.JSON(), nullable=False),
        _text("codes_reason", 2000),
        sa.Column("begun_on", sa.Date(), nullable=False),
        _number("person_id"),
        sa.Column("recorded_at", _AT(), nullable=False),
        _check("waste_drum", "name_length", "length(name) between 1 and 120"),
        _to("waste_drum", "posting_id", "posting"),
        _to("waste_drum", "place_id", "place"),
        _to("waste_drum", "person_id", "person"),
        _own("waste_drum"),
    )
    op.create_index(op.f("ix_waste_drum_place_id"), "waste_drum", ["place_id"])


def _entry() -> None:
    steps = ("put-in", "over", "weighed", "moved", "closed", "handed-over", "taken-back")
    op.create_table(
        "waste_drum_entry",
        sa.Column("id", BigId, nullable=False),
        sa.Column("posting_id", BigId, nullable=False),
        _number("drum_id"),
        sa.Column("step", _choice("step", *steps), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        _big("mass_mg"),
        _big("volume_ul"),
        _text("written", 200),
        _text("what", 300),
        sa.Column("movement_id", BigId, nullable=True),
        _number("load_id", empty=True),
        _number("job_id", empty=True),
        _text("receiver", 300),
        _text("transporter", 300),
        _text("paper", 120),
        _text("note", 2000),
        sa.Column("reverses_id", BigId, nullable=True),
        _number("person_id"),
        sa.Column("happened_at", _AT(), nullable=False),
        sa.Column("recorded_at", _AT(), nullable=False),
        sa.Column("late", sa.Boolean(), nullable=False),
        _text("late_reason", 2000),
        _to("waste_drum_entry", "posting_id", "posting"),
        _to("waste_drum_entry", "drum_id", "waste_drum"),
        _to("waste_drum_entry", "movement_id", "movement"),
        _to("waste_drum_entry", "load_id", "rag_load"),
        _to("waste_drum_entry", "job_id", "job"),
        _to("waste_drum_entry", "reverses_id", "waste_drum_entry"),
        _to("waste_drum_entry", "person_id", "person"),
        _own("waste_drum_entry"),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_waste_drum_entry_reverses_id")),
    )
    for column in ("posting_id", "drum_id", "movement_id"):
        op.create_index(op.f(f"ix_waste_drum_entry_{column}"), "waste_drum_entry", [column])


def _site() -> None:
    op.create_table(
        "waste_site",
        _number("id"),
        sa.Column("posting_id", BigId, nullable=False),
        sa.Column("category", _choice("category", "VSQG", "SQG", "LQG"), nullable=True),
        _number("haul_miles", empty=True),
        _text("reason", 2000),
        _number("person_id"),
        sa.Column("recorded_at", _AT(), nullable=False),
        _check("waste_site", "haul_range", "haul_miles between 0 and 20000"),
        _to("waste_site", "posting_id", "posting"),
        _to("waste_site", "person_id", "person"),
        _own("waste_site"),
    )


def upgrade() -> None:
    _drum()
    _entry()
    _site()
    dialect = op.get_bind().dialect.name
    for table, key in APPEND_ONLY:
        for statement in append_only_v1(dialect, table, key):
            op.execute(statement)
    for statement in no_replace_by_v1(dialect, "waste_drum_entry", ("reverses_id",)):
        op.execute(statement)


def downgrade() -> None:
    postgresql = op.get_bind().dialect.name == "postgresql"
    # What is in them is looked at before (see migrations/env.py): nothing that was written is dropped.
    for table in ("waste_drum_entry", "waste_drum", "waste_site"):
        op.drop_table(table)
        if postgresql:
            op.execute(f"DROP FUNCTION fn_{table}_append_only()")
