"""Bring a database to the newest schema; refuse one that a newer program made."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import text

from service.records.engine import Database
from service.records.revisions import SchemaTooNew, revision_of

FOLDER = Path(__file__).parent / "migrations"


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def migrate(database: Database, revision: str = "head") -> None:
    """Run what is missing, in one transaction.

    Foreign keys are off meanwhile on SQLite: rebuilding a table with them on would delete the rows that
    point to it. They are checked afterwards and nothing may be left dangling.

    Raises:
        SchemaTooNew: the database was written by a newer program.
    """
    config = _config()
    with database.writer.connect() as connection:
        current = revision_of(connection)
        known = {s.revision for s in ScriptDirectory.from_config(config).walk_revisions()}
        if current is not None and current not in known:
            raise SchemaTooNew(f"The database is at revision {current}, which this program does not know.")
        connection.rollback()
        if database.sqlite:
            # Outside any transaction, else the pragma does nothing.
            connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        config.attributes["connection"] = connection
        with connection.begin():
            command.upgrade(config, revision)
            if database.sqlite:
                dangling = connection.execute(text("pragma foreign_key_check")).fetchall()
                if dangling:
                    raise RuntimeError(f"the migration left dangling rows: {dangling[:5]}")
        if database.sqlite:
            connection.connection.driver_connection.execute("PRAGMA foreign_keys=ON")  # type: ignore[union-attr]
