"""what calendars told, secret addresses by which a kind of mail is left out

Revision: 0017, after: 0016.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.revisions import WouldLose

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

_TEXT = sqlmodel.sql.sqltypes.AutoString
_AT = sqlmodel.sql.sqltypes.UTCDateTime


def _columns() -> dict[str, list[sa.Column[object]]]:
    """Columns that came into tables that were there before; all may be empty."""
    return {"calendar_feed": [sa.Column("ended_why", _TEXT(length=8), nullable=True)]}


def upgrade() -> None:
    for table, columns in _columns().items():
        for column in columns:
            op.add_column(table, column)
    op.create_table(
        "calendar_told",
        sa.Column("feed_id", sa.Integer(), nullable=False),
        sa.Column("uid", _TEXT(length=60), nullable=False),
        sa.Column("kind", _TEXT(length=8), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("title", _TEXT(length=400), nullable=False),
        sa.Column("page", _TEXT(length=200), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("stamp", _AT(), nullable=False),
        sa.Column("cancelled_at", _AT(), nullable=True),
        sa.ForeignKeyConstraint(["feed_id"], ["calendar_feed.id"], name=op.f("fk_calendar_told_feed_id")),
        sa.PrimaryKeyConstraint("feed_id", "uid", name=op.f("pk_calendar_told")),
    )
    op.create_table(
        "mail_leave",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_hash", _TEXT(length=64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("kind", _TEXT(length=32), nullable=False),
        sa.Column("created_at", _AT(), nullable=False),
        sa.Column("used_at", _AT(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_mail_leave_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mail_leave")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_mail_leave_token_hash")),
    )
    op.create_index(op.f("ix_mail_leave_person_id"), "mail_leave", ["person_id"])


def downgrade() -> None:
    # What is in the tables is looked at before (see migrations/env.py): nothing that was written is dropped.
    for table, columns in _columns().items():
        told = " or ".join(f"{column.name} is not null" for column in columns)
        query = sa.text(f"select 1 from {table} where {told} limit 1")
        if op.get_bind().execute(query).first() is not None:
            raise WouldLose([f"{table} ({', '.join(column.name for column in columns)})"])
    op.drop_index(op.f("ix_mail_leave_person_id"), table_name="mail_leave")
    op.drop_table("mail_leave")
    op.drop_table("calendar_told")
    for table, columns in _columns().items():
        for column in columns:
            op.drop_column(table, column.name)
