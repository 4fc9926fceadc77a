"""Alembic's entry. The connection is handed in by records/migrate.py; there is no alembic.ini."""

from alembic import context
from sqlalchemy import Connection, inspect, select, table
from sqlmodel import SQLModel

from service.records import tables
from service.records.revisions import WouldLose, revision_of

assert tables.MODULES

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
    transactional_ddl=True,  # with our BEGIN hook a failing SQLite migration leaves nothing behind
    compare_type=True,
)


def _held(of: Connection) -> dict[str, bool]:
    """Every table, and whether it holds a row."""
    one = {name: select(1).select_from(table(name)).limit(1) for name in inspect(of).get_table_names()}
    return {name: of.execute(query).first() is not None for name, query in one.items()}


def _went_back(before: str | None, now: str | None) -> bool:
    """Whether ``now`` comes before ``before`` in the chain: the numbers of revisions need not rise in it."""
    if before is None or before == now:
        return False
    earlier = {one.revision for one in context.script.iterate_revisions(before, "base")}
    return now is None or now in earlier


with context.begin_transaction():
    before, held = revision_of(connection), _held(connection)
    context.run_migrations()
    inspect(connection).clear_cache()
    if _went_back(before, revision_of(connection)):
        lost = sorted(held.keys() - _held(connection).keys() - {"alembic_version"})
        if any(held[name] for name in lost):
            raise WouldLose([name for name in lost if held[name]])
