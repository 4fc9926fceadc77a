"""the mixing bench: colour samples, what was made of a batch, how an addition was measured, film and prices

Revision: 0010, after: 0009.
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from service.records.base import ExactDecimal, Smallest
from service.records.migrations.append_only import append_only_v1
from service.records.revisions import WouldLose

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

APPEND_ONLY = (("as_made", "version_id"),)
_TEXT = sqlmodel.sql.sqltypes.AutoString


def _columns() -> dict[str, list[sa.Column[object]]]:
    """Columns that came into tables that were there before; all may be empty."""
    return {
        "recipe": [sa.Column("mix_purpose", _TEXT(length=24), nullable=True)],
        "recipe_version": [
            sa.Column("coverage_written", _TEXT(length=200), nullable=True),
            sa.Column("coverage_low_m2_l", ExactDecimal(), nullable=True),
            sa.Column("coverage_high_m2_l", ExactDecimal(), nullable=True),
            sa.Column("base_position", sa.Integer(), nullable=True),
        ],
        "batch": [
            sa.Column("yield_how", _TEXT(length=16), nullable=True),
            sa.Column("loss_written", _TEXT(length=200), nullable=True),
            sa.Column("loss_amount", Smallest(), nullable=True),
            sa.Column("loss_basis", _TEXT(length=32), nullable=True),
            sa.Column("strained", sa.Boolean(), nullable=True),
            sa.Column("stir_note", _TEXT(length=500), nullable=True),
        ],
        "addition": [
            sa.Column("how", _TEXT(length=16), nullable=True),
            sa.Column("at_most", Smallest(), nullable=True),
            sa.Column("pot_before_mg", Smallest(), nullable=True),
            sa.Column("pot_after_mg", Smallest(), nullable=True),
        ],
        "material": [
            sa.Column("oil_absorption_low", ExactDecimal(), nullable=True),
            sa.Column("oil_absorption_high", ExactDecimal(), nullable=True),
            sa.Column("non_volatile_percent", ExactDecimal(), nullable=True),
            sa.Column("pigment_percent", ExactDecimal(), nullable=True),
            sa.Column("pigment_key", _TEXT(length=60), nullable=True),
            sa.Column("film_source", _TEXT(length=200), nullable=True),
        ],
        "container": [sa.Column("price", ExactDecimal(), nullable=True)],
        "shop_profile": [sa.Column("currency", _TEXT(length=3), nullable=True)],
    }


def upgrade() -> None:
    for table, columns in _columns().items():
        for column in columns:
            op.add_column(table, column)
    op.create_table(
        "as_made",
        sa.Column("version_id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["version_id"], ["recipe_version.id"], name=op.f("fk_as_made_version_id")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_as_made_batch_id")),
        sa.PrimaryKeyConstraint("version_id", name=op.f("pk_as_made")),
    )
    op.create_index(op.f("ix_as_made_batch_id"), "as_made", ["batch_id"])
    for table, key in APPEND_ONLY:
        for statement in append_only_v1(op.get_bind().dialect.name, table, key):
            op.execute(statement)
    op.create_table(
        "colour_sample",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("wood", _TEXT(length=120), nullable=False),
        sa.Column("grit", _TEXT(length=40), nullable=False),
        sa.Column(
            "sealed",
            sa.Enum(
                "yes",
                "no",
                "not-known",
                name="sealed",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("sealed_with", _TEXT(length=120), nullable=False),
        sa.Column("coats", sa.Integer(), nullable=True),
        sa.Column("target", _TEXT(length=500), nullable=False),
        sa.Column("verdict", _TEXT(length=16), nullable=True),
        sa.Column("verdict_note", _TEXT(length=2000), nullable=False),
        sa.Column("judged_by", sa.Integer(), nullable=True),
        sa.Column("judged_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("photo_sha256", _TEXT(length=64), nullable=True),
        sa.Column("target_photo_sha256", _TEXT(length=64), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_colour_sample_batch_id")),
        sa.ForeignKeyConstraint(["judged_by"], ["person.id"], name=op.f("fk_colour_sample_judged_by")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_colour_sample_person_id")),
        sa.ForeignKeyConstraint(
            ["photo_sha256"], ["stored_file.sha256"], name=op.f("fk_colour_sample_photo_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["target_photo_sha256"],
            ["stored_file.sha256"],
            name=op.f("fk_colour_sample_target_photo_sha256"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_colour_sample")),
        sa.UniqueConstraint("batch_id", name=op.f("uq_colour_sample_batch_id")),
    )


def downgrade() -> None:
    for table, columns in _columns().items():
        told = " or ".join(f"{column.name} is not null" for column in columns)
        query = sa.text(f"select 1 from {table} where {told} limit 1")
        if op.get_bind().execute(query).first() is not None:
            raise WouldLose([f"{table} ({', '.join(column.name for column in columns)})"])
    op.drop_table("colour_sample")
    op.drop_index(op.f("ix_as_made_batch_id"), table_name="as_made")
    op.drop_table("as_made")
    if op.get_bind().dialect.name == "postgresql":
        for table, _ in APPEND_ONLY:
            op.execute(f"DROP FUNCTION fn_{table}_append_only()")
    for table, columns in _columns().items():
        for column in columns:
            op.drop_column(table, column.name)
