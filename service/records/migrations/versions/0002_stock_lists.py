"""stock lists brought in as files

Revision: 0002, after: 0001.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "stock_list",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(length=120), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("encoding", sqlmodel.sql.sqltypes.AutoString(length=20), nullable=False),
        sa.Column("rows_print", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.Column(
            "empty_opened",
            sa.Enum(
                "ask", "sealed", "open", name="empty_opened", native_enum=False, create_constraint=True, length=32
            ),
            nullable=False,
        ),
        sa.Column("again", sa.Boolean(), nullable=False),
        sa.Column("choices", sa.JSON(), nullable=False),
        sa.Column("brought_by", sa.Integer(), nullable=False),
        sa.Column("brought_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column(
            "taken_posting_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True
        ),
        sa.Column("taken_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("took", sa.JSON(), nullable=False),
        sa.Column("left_out", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["brought_by"], ["person.id"], name=op.f("fk_stock_list_brought_by")),
        sa.ForeignKeyConstraint(
            ["taken_posting_id"], ["posting.id"], name=op.f("fk_stock_list_taken_posting_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_list")),
        sa.UniqueConstraint("taken_posting_id", name=op.f("uq_stock_list_taken_posting_id")),
    )
    with op.batch_alter_table("stock_list", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_list_rows_print"), ["rows_print"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_list_taken_at"), ["taken_at"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("stock_list", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stock_list_taken_at"))
        batch_op.drop_index(batch_op.f("ix_stock_list_rows_print"))
    op.drop_table("stock_list")
