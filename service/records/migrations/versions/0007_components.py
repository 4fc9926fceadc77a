"""what a material is made of, by the shop's own reading of its sheet

Revision: 0007, after: 0006.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.base import ExactDecimal

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def _text(length: int) -> sa.types.TypeEngine[str]:
    return sqlmodel.sql.sqltypes.AutoString(length=length)


def upgrade() -> None:
    op.create_table(
        "material_component",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("material_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", _text(120), nullable=False),
        sa.Column("cas", _text(20), nullable=False),
        sa.Column("low", ExactDecimal(), nullable=True),
        sa.Column("high", ExactDecimal(), nullable=True),
        sa.Column("hazards", sa.JSON(), nullable=True),
        sa.Column("note", _text(500), nullable=False),
        sa.Column("source", _text(300), nullable=False),
        sa.Column("set_by", sa.Integer(), nullable=False),
        sa.Column("set_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.CheckConstraint("length(name) between 1 and 120", name=op.f("ck_material_component_name_length")),
        sa.ForeignKeyConstraint(
            ["material_id"], ["material.id"], name=op.f("fk_material_component_material_id")
        ),
        sa.ForeignKeyConstraint(["set_by"], ["person.id"], name=op.f("fk_material_component_set_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_material_component")),
        sa.UniqueConstraint(
            "material_id", "position", name=op.f("uq_material_component_material_id_position")
        ),
    )
    op.create_index(op.f("ix_material_component_material_id"), "material_component", ["material_id"])


def downgrade() -> None:
    op.drop_table("material_component")
