"""an index over what is in the store and has something in it, by standing and last day in date

Revision: 0016, after: 0015.
"""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

_NAME = "ix_container_ends"


def upgrade() -> None:
    there = sa.text("state in ('sealed', 'open') and (balance is null or balance <> 0)")
    op.create_index(
        _NAME,
        "container",
        ["standing", "in_date_until", "next_alert_on"],
        sqlite_where=there,
        postgresql_where=there,
    )


def downgrade() -> None:
    op.drop_index(_NAME, "container")
