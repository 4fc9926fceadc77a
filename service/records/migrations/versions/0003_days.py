"""pieces handed out and in, and days closed

Revision: 0003, after: 0002.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.migrations.append_only import append_only_v1

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

APPEND_ONLY = (("rag_hand", "id"), ("day_closing", "id"))
_BIG = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_THINGS = (
    "rags", "paper-towels", "strainers", "stir-sticks", "gloves", "steel-wool", "dust", "mop-heads", "clothing",
)  # fmt: skip


def upgrade() -> None:
    op.create_table(
        "rag_hand",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("posting_id", _BIG, nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column(
            "way",
            sa.Enum("out", "in", "loose", name="way", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column(
            "thing",
            sa.Enum(*_THINGS, name="thing", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_rag_hand_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_rag_hand_person_id")),
        sa.ForeignKeyConstraint(["posting_id"], ["posting.id"], name=op.f("fk_rag_hand_posting_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rag_hand")),
    )
    op.create_index(op.f("ix_rag_hand_job_id"), "rag_hand", ["job_id"], unique=False)
    op.create_table(
        "day_closing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("posting_id", _BIG, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("closed_by", sa.Integer(), nullable=False),
        sa.Column("closed_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(length=2000), nullable=False),
        sa.Column("entries", sa.Integer(), nullable=False),
        sa.Column("hash", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.ForeignKeyConstraint(["closed_by"], ["person.id"], name=op.f("fk_day_closing_closed_by")),
        sa.ForeignKeyConstraint(["posting_id"], ["posting.id"], name=op.f("fk_day_closing_posting_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_day_closing")),
    )
    op.create_index(op.f("ix_day_closing_day"), "day_closing", ["day"], unique=False)
    for table, key in APPEND_ONLY:
        for statement in append_only_v1(op.get_bind().dialect.name, table, key):
            op.execute(statement)


def downgrade() -> None:
    op.drop_table("day_closing")
    op.drop_table("rag_hand")
    if op.get_bind().dialect.name == "postgresql":
        for table, _ in APPEND_ONLY:
            op.execute(f"DROP FUNCTION fn_{table}_append_only()")
