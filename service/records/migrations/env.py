"""Alembic's entry. The connection is handed in by records/migrate.py; there is no alembic.ini."""

from alembic import context
from sqlmodel import SQLModel

from service.records import tables

assert tables.MODULES

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
    transactional_ddl=True,  # with our BEGIN hook a failing SQLite migration leaves nothing behind
    compare_type=True,
)
with context.begin_transaction():
    context.run_migrations()
