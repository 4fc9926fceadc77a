"""channels, outbox, and the round of the sender

Revision: 0005, after: 0004.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def _text(length: int) -> sa.types.TypeEngine[str]:
    return sqlmodel.sql.sqltypes.AutoString(length=length)


def _instant() -> sqlmodel.sql.sqltypes.UTCDateTime:
    return sqlmodel.sql.sqltypes.UTCDateTime()


def _one_of(name: str, *values: str) -> sa.Enum:
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=32)


def upgrade() -> None:
    op.create_table(
        "channel",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", _one_of("channel_kind", "mail", "service"), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("label", _text(120), nullable=False),
        sa.Column("address", _text(1000), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_by", sa.Integer(), nullable=True),
        sa.Column("created_at", _instant(), nullable=False),
        sa.Column("test_key", _text(200), nullable=False),
        sa.Column("tested_at", _instant(), nullable=True),
        sa.Column("test_ok", sa.Boolean(), nullable=True),
        sa.Column("last_sent_at", _instant(), nullable=True),
        sa.Column("last_failed_at", _instant(), nullable=True),
        sa.Column("last_error", _text(300), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("length(label) between 1 and 120", name=op.f("ck_channel_label_length")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_channel_person_id")),
        sa.ForeignKeyConstraint(["created_by"], ["person.id"], name=op.f("fk_channel_created_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_channel")),
    )
    op.create_table(
        "outbox",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", _text(200), nullable=False),
        sa.Column("rule", _text(32), nullable=False),
        sa.Column("stage", _text(32), nullable=False),
        sa.Column("load_id", sa.Integer(), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("channel_id", sa.Integer(), nullable=False),
        sa.Column("message_id", _text(250), nullable=False),
        sa.Column("subject", _text(200), nullable=False),
        sa.Column("body", _text(20_000), nullable=False),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.Column("due_at", _instant(), nullable=False),
        sa.Column("created_at", _instant(), nullable=False),
        sa.Column(
            "state", _one_of("message_state", "waiting", "sent", "refused", "dropped"), nullable=False
        ),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("next_try_at", _instant(), nullable=False),
        sa.Column("claimed_by", _text(60), nullable=True),
        sa.Column("claimed_until", _instant(), nullable=True),
        sa.Column("sent_at", _instant(), nullable=True),
        sa.Column("last_error", _text(300), nullable=False),
        sa.ForeignKeyConstraint(["load_id"], ["rag_load.id"], name=op.f("fk_outbox_load_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_outbox_person_id")),
        sa.ForeignKeyConstraint(["channel_id"], ["channel.id"], name=op.f("fk_outbox_channel_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outbox")),
        sa.UniqueConstraint("key", name=op.f("uq_outbox_key")),
    )
    op.create_table(
        "warning_round",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("looked_at", _instant(), nullable=False),
        sa.Column("failed", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_warning_round_single_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_warning_round")),
    )
    op.create_index(op.f("ix_channel_person_id"), "channel", ["person_id"])
    op.create_index(op.f("ix_outbox_state_next_try_at"), "outbox", ["state", "next_try_at"])
    op.create_index(op.f("ix_outbox_load_id"), "outbox", ["load_id"])
    op.create_index(op.f("ix_outbox_channel_id"), "outbox", ["channel_id"])


def downgrade() -> None:
    for table in ("warning_round", "outbox", "channel"):
        op.drop_table(table)
