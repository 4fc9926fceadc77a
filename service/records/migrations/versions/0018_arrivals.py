"""of which ordered line a container came

Revision: 0018, after: 0017.
"""

import sqlalchemy as sa
from alembic import op

from service.records.revisions import WouldLose

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # Without a foreign key: SQLite cannot drop a column that has one, and ordered lines are never deleted.
    op.add_column("container", sa.Column("order_line_id", sa.Integer(), nullable=True))


def downgrade() -> None:
    told = sa.text("select 1 from container where order_line_id is not null limit 1")
    if op.get_bind().execute(told).first() is not None:
        raise WouldLose(["container (of which ordered line it came)"])
    op.drop_column("container", "order_line_id")
