"""how much a rag can or drum holds

Revision: 0006, after: 0005.
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("place", sa.Column("capacity_ml", sa.Integer(), nullable=True))


def downgrade() -> None:
    op.drop_column("place", "capacity_ml")
