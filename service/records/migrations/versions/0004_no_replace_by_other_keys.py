"""an append-only row is not replaced through another of its unique keys either

Revision: 0004, after: 0003.
"""

from alembic import op

from service.records.migrations.append_only import no_replace_by_v1

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

OTHER_KEYS = (
    ("posting", ("once",)),
    ("movement", ("reverses_id",)),
    ("recipe_version", ("recipe_id", "number")),
)


def upgrade() -> None:
    dialect = op.get_bind().dialect.name
    for table, columns in OTHER_KEYS:
        for statement in no_replace_by_v1(dialect, table, columns):
            op.execute(statement)


def downgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        for table, columns in OTHER_KEYS:
            op.execute(f"DROP TRIGGER tr_{table}_no_replace_by_{'_'.join(columns)}")
