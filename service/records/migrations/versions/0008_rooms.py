"""the air of a room

Revision: 0008, after: 0007.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def _word(name: str, *words: str) -> sa.Enum:
    return sa.Enum(*words, name=name, native_enum=False, create_constraint=True, length=32)


def upgrade() -> None:
    op.create_table(
        "room_air",
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("volume_l", sa.Integer(), nullable=True),
        sa.Column("fresh_air_l_h", sa.Integer(), nullable=True),
        sa.Column("air_from", _word("air_from", "fan", "openings", "not-known"), nullable=False),
        sa.Column("mixing_tenths", sa.Integer(), nullable=True),
        sa.Column("temperature_tenths", sa.Integer(), nullable=True),
        sa.Column("local_exhaust", _word("local_exhaust", "yes", "no", "not-known"), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(length=2000), nullable=False),
        sa.Column("set_by", sa.Integer(), nullable=False),
        sa.Column("set_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("volume_l is null or volume_l > 0", name=op.f("ck_room_air_volume_above_zero")),
        sa.CheckConstraint(
            "fresh_air_l_h is null or fresh_air_l_h >= 0", name=op.f("ck_room_air_air_not_below_zero")
        ),
        sa.CheckConstraint(
            "mixing_tenths is null or mixing_tenths >= 10", name=op.f("ck_room_air_mixing_at_least_one")
        ),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_room_air_place_id")),
        sa.ForeignKeyConstraint(["set_by"], ["person.id"], name=op.f("fk_room_air_set_by")),
        sa.PrimaryKeyConstraint("place_id", name=op.f("pk_room_air")),
    )


def downgrade() -> None:
    op.drop_table("room_air")
