"""Triggers that make tables append-only in both databases. Frozen: a later change is a new function.

On SQLite a REPLACE deletes the old row without firing delete triggers unless recursive triggers are on for
the connection; the insert trigger refuses an existing key too, so that a foreign tool is stopped as well.
"""

from collections.abc import Iterator


def append_only_v1(dialect: str, table: str, key: str = "id") -> Iterator[str]:
    """Statements that refuse UPDATE, DELETE (and TRUNCATE) and re-used keys on a table."""
    message = f"{table} is append-only"
    if dialect == "sqlite":
        for act in ("UPDATE", "DELETE"):
            yield (
                f"CREATE TRIGGER tr_{table}_no_{act.lower()} BEFORE {act} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
            )
        yield (
            f"CREATE TRIGGER tr_{table}_no_replace BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key}) "
            f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
        )
        return
    yield (
        f"CREATE FUNCTION fn_{table}_append_only() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{message}' USING ERRCODE = '23514'; END $$"
    )
    yield (
        f"CREATE TRIGGER tr_{table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION fn_{table}_append_only()"
    )
    yield (
        f"CREATE TRIGGER tr_{table}_no_truncate BEFORE TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION fn_{table}_append_only()"
    )


def no_replace_by_v1(dialect: str, table: str, columns: tuple[str, ...]) -> Iterator[str]:
    """Statements that refuse to replace a row through a unique key of these columns; nothing on PostgreSQL.

    `append_only_v1` looks at the first key only: REPLACE with a new id and an old value of another unique
    column would take the old row away without a delete trigger.
    """
    if dialect == "sqlite":
        same = " AND ".join(f"{column} = NEW.{column}" for column in columns)
        yield (
            f"CREATE TRIGGER tr_{table}_no_replace_by_{'_'.join(columns)} BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) "
            f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
        )


def never_deleted_v1(dialect: str, table: str, key: str = "id") -> Iterator[str]:
    """Statements that refuse to delete a row of a table whose rows may change, or to replace it by key."""
    message = f"{table} is never deleted"
    if dialect == "sqlite":
        yield (
            f"CREATE TRIGGER tr_{table}_never_deleted BEFORE DELETE ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
        )
        yield (
            f"CREATE TRIGGER tr_{table}_never_replaced BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key}) "
            f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
        )
        return
    yield (
        f"CREATE FUNCTION fn_{table}_never_deleted() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{message}' USING ERRCODE = '23514'; END $$"
    )
    yield (
        f"CREATE TRIGGER tr_{table}_never_deleted BEFORE DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION fn_{table}_never_deleted()"
    )
    yield (
        f"CREATE TRIGGER tr_{table}_never_emptied BEFORE TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION fn_{table}_never_deleted()"
    )


def no_later_clocks_v1(dialect: str) -> Iterator[str]:
    """A rag load's clocks may move earlier, never later; job and making never change; never deleted."""
    changed = (
        "NEW.contain_by > OLD.contain_by OR NEW.remove_by > OLD.remove_by OR NEW.made_at <> OLD.made_at"
        " OR NEW.job_id <> OLD.job_id OR NEW.profile <> OLD.profile"
    )
    message = "the clocks of a rag load never move later"
    if dialect == "sqlite":
        yield (
            f"CREATE TRIGGER tr_rag_load_clocks BEFORE UPDATE ON rag_load WHEN {changed} "
            f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
        )
        yield (
            "CREATE TRIGGER tr_rag_load_no_delete BEFORE DELETE ON rag_load "
            "BEGIN SELECT RAISE(ABORT, 'a rag load is never deleted'); END"
        )
        yield (
            "CREATE TRIGGER tr_rag_load_no_replace BEFORE INSERT ON rag_load "
            "WHEN EXISTS (SELECT 1 FROM rag_load WHERE id = NEW.id) "
            "BEGIN SELECT RAISE(ABORT, 'a rag load is never replaced'); END"
        )
        return
    yield (
        "CREATE FUNCTION fn_rag_load_clocks() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF TG_OP <> 'UPDATE' OR {changed} THEN "
        f"RAISE EXCEPTION '{message}' USING ERRCODE = '23514'; "
        "END IF; RETURN NEW; END $$"
    )
    yield (
        "CREATE TRIGGER tr_rag_load_clocks BEFORE UPDATE OR DELETE ON rag_load "
        "FOR EACH ROW EXECUTE FUNCTION fn_rag_load_clocks()"
    )
    yield (
        "CREATE TRIGGER tr_rag_load_no_truncate BEFORE TRUNCATE ON rag_load "
        "FOR EACH STATEMENT EXECUTE FUNCTION fn_rag_load_clocks()"
    )
