"""where a drum of waste stands since it was moved

Revision: 0020, after: 0019.
"""

import sqlalchemy as sa
from alembic import op

from service.records.revisions import WouldLose

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # Without a foreign key: SQLite cannot drop a column that has one, and places are never deleted.
    op.add_column("waste_drum_entry", sa.Column("place_id", sa.Integer(), nullable=True))


def downgrade() -> None:
    told = sa.text("select 1 from waste_drum_entry where place_id is not null limit 1")
    if op.get_bind().execute(told).first() is not None:
        raise WouldLose(["waste_drum_entry (where a drum was moved to)"])
    op.drop_column("waste_drum_entry", "place_id")
