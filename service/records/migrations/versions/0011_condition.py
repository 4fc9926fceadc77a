"""what a check found, what follows from it in this shop, who wants which mail and when, calendar addresses

Revision: 0011, after: 0010.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.base import ExactDecimal
from service.records.migrations.append_only import append_only_v1
from service.records.revisions import WouldLose

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

APPEND_ONLY = (("condition_rule", "id"),)
_TEXT = sqlmodel.sql.sqltypes.AutoString
_AT = sqlmodel.sql.sqltypes.UTCDateTime
_KINDS = (
    "dry-pigment", "colour-in-oil", "colour-in-japan", "dye", "binder", "drier", "solvent", "resin",
    "glue-or-size", "ready-made-finish", "other-chemical", "consumable", "made-mix",
)  # fmt: skip


def _columns() -> dict[str, list[sa.Column[object]]]:
    """Columns that came into tables that were there before; all may be empty."""
    return {
        "container_event": [
            sa.Column("found", _TEXT(length=24), nullable=True),
            sa.Column("measured_mg_l", ExactDecimal(), nullable=True),
        ],
    }


def upgrade() -> None:
    for table, columns in _columns().items():
        for column in columns:
            op.add_column(table, column)
    op.create_table(
        "condition_rule",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("found", _TEXT(length=24), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(*_KINDS, name="kind", native_enum=False, create_constraint=True, length=32),
            nullable=True,
        ),
        sa.Column("consequence", _TEXT(length=16), nullable=False),
        sa.Column("what_to_do", _TEXT(length=500), nullable=False),
        sa.Column("source", _TEXT(length=300), nullable=False),
        sa.Column("grade", _TEXT(length=20), nullable=False),
        sa.Column("house_policy", sa.Boolean(), nullable=False),
        sa.Column("reason", _TEXT(length=2000), nullable=False),
        sa.Column("set_by", sa.Integer(), nullable=False),
        sa.Column("set_at", _AT(), nullable=False),
        sa.ForeignKeyConstraint(["set_by"], ["person.id"], name=op.f("fk_condition_rule_set_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_condition_rule")),
    )
    op.create_index(op.f("ix_condition_rule_found"), "condition_rule", ["found"])
    for table, key in APPEND_ONLY:
        for statement in append_only_v1(op.get_bind().dialect.name, table, key):
            op.execute(statement)
    op.create_table(
        "digest_choice",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("wanted", sa.Boolean(), nullable=False),
        sa.Column("quiet_from", _TEXT(length=5), nullable=True),
        sa.Column("quiet_until", _TEXT(length=5), nullable=True),
        sa.Column("kinds_off", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_digest_choice_person_id")),
        sa.PrimaryKeyConstraint("person_id", name=op.f("pk_digest_choice")),
    )
    op.create_table(
        "calendar_feed",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("token_hash", _TEXT(length=64), nullable=False),
        sa.Column("created_at", _AT(), nullable=False),
        sa.Column("ended_at", _AT(), nullable=True),
        sa.Column("last_read_at", _AT(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_calendar_feed_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_feed")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_calendar_feed_token_hash")),
    )
    op.create_index(op.f("ix_calendar_feed_person_id"), "calendar_feed", ["person_id"])


def downgrade() -> None:
    for table, columns in _columns().items():
        told = " or ".join(f"{column.name} is not null" for column in columns)
        query = sa.text(f"select 1 from {table} where {told} limit 1")
        if op.get_bind().execute(query).first() is not None:
            raise WouldLose([f"{table} ({', '.join(column.name for column in columns)})"])
    op.drop_index(op.f("ix_calendar_feed_person_id"), table_name="calendar_feed")
    op.drop_table("calendar_feed")
    op.drop_table("digest_choice")
    op.drop_index(op.f("ix_condition_rule_found"), table_name="condition_rule")
    op.drop_table("condition_rule")
    if op.get_bind().dialect.name == "postgresql":
        for table, _ in APPEND_ONLY:
            op.execute(f"DROP FUNCTION fn_{table}_append_only()")
    for table, columns in _columns().items():
        for column in columns:
            op.drop_column(table, column.name)
