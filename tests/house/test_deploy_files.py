"""The files of deploy/ that nobody runs in a test by the way: SQL, units, the page on growing."""

from __future__ import annotations

import configparser
import importlib
import re
import shlex
import subprocess

import pytest
from sqlalchemy import text
from sqlalchemy.exc import ProgrammingError

from service.cli import build_parser
from service.core.access import Role
from service.records.engine import open_database
from service.records.migrate import migrate
from tests.builders import cast
from tests.house.tree import ROOT
from tests.postgres_server import PostgresServer
from tests.store_builders import material, received

DEPLOY = ROOT / "deploy"
UNITS = sorted(DEPLOY.glob("*.service"))
VERSIONS = sorted((ROOT / "service" / "records" / "migrations" / "versions").glob("0*.py"))
APPEND_ONLY = [
    table
    for path in VERSIONS
    for table, _ in getattr(
        importlib.import_module(f"service.records.migrations.versions.{path.stem}"), "APPEND_ONLY", ()
    )
]


def psql(server: PostgresServer, name: str, file: str, role: str, *more: str) -> None:
    command = [
        "psql", "-X", "-v", "ON_ERROR_STOP=1", "-v", "shop=rolls", *more, "-h", f"{server.folder}/socket",
        "-U", role, "-d", name, "-f", str(DEPLOY / "postgresql" / file),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr


def test_the_service_role_keeps_books_and_cannot_change_an_entry(postgres_server: PostgresServer) -> None:
    """setup.sql, migrate as the owner, grants.sql, then acts as the service; no trigger is even reached."""
    address = postgres_server.url("rolls")
    admin = address.split("//", 1)[1].split("@", 1)[0]
    passwords = ("-v", "owner_password='a'", "-v", "service_password='b'")
    psql(postgres_server, "postgres", "setup.sql", admin, *passwords)
    owner = open_database(address.replace(f"//{admin}@", "//rolls_owner@"), pooled=False)
    migrate(owner)
    psql(postgres_server, "rolls", "grants.sql", "rolls_owner")
    service = open_database(address.replace(f"//{admin}@", "//rolls_service@"), pooled=False)
    try:
        migrate(service)  # at its newest already: nothing to do, and no right needed
        with service.writing() as session:
            received(session, cast(session).actor(Role.KEEPER), material(session))
        for table in APPEND_ONLY:
            keys = {"posting_result": "posting_id", "override_use": "override_id", "as_made": "version_id"}
            column = keys.get(table, "id")
            for attempt in (
                f'UPDATE "{table}" SET {column} = {column}', f'DELETE FROM "{table}"', f'TRUNCATE "{table}"',
            ):  # fmt: skip
                with pytest.raises(ProgrammingError, match="permission denied"), service.writing() as session:
                    session.execute(text(attempt))
        with pytest.raises(ProgrammingError, match="permission denied"), service.writing() as session:
            session.execute(text("CREATE TABLE mine (id int)"))
    finally:
        service.dispose()
        owner.dispose()


def test_the_rights_name_every_append_only_table() -> None:
    sql = (DEPLOY / "postgresql" / "grants.sql").read_text(encoding="utf-8")
    listed = re.search(r"REVOKE UPDATE, DELETE, TRUNCATE ON\s+(.*?)\s+FROM", sql, re.DOTALL)
    assert listed is not None
    assert sorted(re.split(r",\s*", listed[1])) == sorted(APPEND_ONLY)


@pytest.mark.parametrize("unit", UNITS, ids=lambda p: p.name)
def test_units_start_commands_that_exist(unit: object) -> None:
    parser = configparser.RawConfigParser(strict=False, delimiters=("=",), comment_prefixes=("#",))
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string((DEPLOY / unit.name).read_text(encoding="utf-8"))  # type: ignore[attr-defined]
    program, *arguments = shlex.split(parser["Service"]["ExecStart"])
    assert program == "/opt/umberkeep/.venv/bin/umberkeep"
    assert build_parser().parse_args(arguments).command in ("serve", "backup")
    assert parser["Service"]["User"] == "umberkeep"


def test_the_page_on_growing_names_files_and_addresses_that_exist() -> None:
    words = (DEPLOY / "growing.md").read_text(encoding="utf-8")
    for path in re.findall(r"`((?:deploy|tests)/[\w./-]+)`", words):
        assert (ROOT / path).exists(), path
    assert "/health/ready" in words
