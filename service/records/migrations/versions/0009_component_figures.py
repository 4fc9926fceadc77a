"""limits, M-factors and estimates of acute toxicity of a component, from section 3 of its sheet

Revision: 0009, after: 0008.
"""

import sqlalchemy as sa
from alembic import op

from service.records.base import ExactDecimal
from service.records.revisions import WouldLose

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

TABLE = "material_component"


def upgrade() -> None:
    op.add_column(TABLE, sa.Column("limits", sa.JSON(none_as_null=True), nullable=True))
    op.add_column(TABLE, sa.Column("m_acute", ExactDecimal(), nullable=True))
    op.add_column(TABLE, sa.Column("m_chronic", ExactDecimal(), nullable=True))
    op.add_column(TABLE, sa.Column("ate", sa.JSON(none_as_null=True), nullable=True))


def downgrade() -> None:
    # A JSON column may hold the word null as well as nothing.
    told = " or ".join(f"cast({name} as text) <> 'null'" for name in ("limits", "m_acute", "m_chronic", "ate"))
    if op.get_bind().execute(sa.text(f"select 1 from {TABLE} where {told} limit 1")).first() is not None:
        raise WouldLose([f"{TABLE} (limits, M-factors and estimates of a component)"])
    for name in ("ate", "m_chronic", "m_acute", "limits"):
        op.drop_column(TABLE, name)
