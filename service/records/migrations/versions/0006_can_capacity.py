"""how much a rag can or drum holds

Revision: 0006, after: 0005.
"""

import sqlalchemy as sa
from alembic import op

from service.records.revisions import WouldLose

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("place", sa.Column("capacity_ml", sa.Integer(), nullable=True))


def downgrade() -> None:
    told = sa.text("select 1 from place where capacity_ml is not null limit 1")
    if op.get_bind().execute(told).first() is not None:
        raise WouldLose(["place (what a can holds)"])
    op.drop_column("place", "capacity_ml")
