"""What every measurement works on: seeded stores kept by size, copies of them, and served processes."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Final

from sqlmodel import select

from service.actions.api_tokens import make_api_token
from service.actions.read_recipe import LineAsked
from service.actions.sign_in import Opening, open_session
from service.actions.write_recipe import RecipeAsked, write_recipe
from service.core.access import Actor, Role
from service.core.sign_in_rules import Limits
from service.records.engine import Database, open_database
from service.records.migrate import migrate
from service.records.mixing import Recipe
from service.records.revisions import newest_revision
from tests.bench.seed_stock import seed
from tests.bench.stock_plan import NOW, SEED, SEEDED_AT, TODAY, Plan
from tests.browser.live_server import clean_environment, free_port

KEEPER: Final = Actor(1, "Orla Brandt", Role.KEEPER)
TOKEN: Final = "a-token-for-measuring"
COOKIE: Final = "a-sign-in-for-measuring"
BEARER: Final = f"Authorization: Bearer {TOKEN}\r\n"
SIGNED_IN: Final = f"Cookie: umberkeep={COOKIE}\r\n"
RECIPE: Final = 1
INGREDIENTS: Final = 10
"""Of the recipe that is checked: its materials are number 1 to 10."""


@dataclass
class Workbench:
    """Where the stores lie, and how often things are measured.

    Args:
        folder: seeded stores stay here, named by size and seed version; a store is made once.
        turns: how often A and B are measured in turn.
        seconds: how long each load of requests lasts.
        requests: how many requests P27 sends before it looks at the memory; ``more`` how many after that.
    """

    folder: Path
    turns: int = 5
    seconds: float = 3.0
    requests: int = 10_000
    more: int = 100_000
    scratch: Path = field(init=False)

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        self.scratch = Path(tempfile.mkdtemp(prefix="now-", dir=self.folder))

    def close(self) -> None:
        shutil.rmtree(self.scratch, ignore_errors=True)

    def store(self, size: int) -> Path:
        """The file of a seeded store of so many containers. It is only read; write into a `copy`."""
        path = self.folder / f"store-{size}-seed{SEED}-{newest_revision()}.sqlite"
        if not path.exists():
            made = self.scratch / path.name
            database = open_database(f"sqlite:///{made}", pooled=False)
            with database.engine.connect() as connection:
                connection.exec_driver_sql("select 1")
            migrate(database)
            prepare(database, Plan(size))
            settle_file(database)
            made.rename(path)
        return path

    @contextmanager
    def reading(self, size: int) -> Iterator[Database]:
        """The seeded store itself, opened."""
        database = open_database(f"sqlite:///{self.store(size)}", 2)
        try:
            yield database
        finally:
            database.dispose()

    @contextmanager
    def copy(self, size: int) -> Iterator[Path]:
        """A data folder with a copy of the store, for what writes; gone afterwards."""
        folder = Path(tempfile.mkdtemp(dir=self.scratch))
        shutil.copy(self.store(size), folder / "umberkeep.sqlite")
        try:
            yield folder
        finally:
            shutil.rmtree(folder)


def prepare(database: Database, plan: Plan) -> None:
    """Seed a migrated database, with a recipe of ten materials, a keeper's token and a keeper's sign-in."""
    seed(database, plan)
    lines = tuple(LineAsked(number + 1, "100 g" if number % 7 not in (1, 6) else "100 ml")
                  for number in range(INGREDIENTS))  # fmt: skip
    with database.writing() as session:
        write_recipe(session, KEEPER, SEEDED_AT, RecipeAsked("bench-recipe", "Ten ingredients", lines))
        assert session.exec(select(Recipe.id)).one() == RECIPE
        make_api_token(session, None, NOW, TOKEN, Role.KEEPER, "bench")
        limits = Limits(timedelta(hours=10), timedelta(days=7))
        open_session(session, Opening(COOKIE, NOW, TODAY, limits), person_id=KEEPER.person_id)


def settle_file(database: Database) -> None:
    """Put everything into the one file, so that it can be copied."""
    if database.sqlite:
        with database.engine.connect() as connection:
            connection.exec_driver_sql("COMMIT")
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.exec_driver_sql("BEGIN")
    database.dispose()


@dataclass
class Served:
    """A running process: its port, and how long it took from the start to the first answer."""

    process: subprocess.Popen[bytes]
    port: int
    start_ms: float

    @property
    def rss_mib(self) -> float:
        """What it holds in memory now, in MiB."""
        for line in Path(f"/proc/{self.process.pid}/status").read_text().splitlines():
            if line.startswith("VmRSS:"):
                return int(line.split()[1]) / 1024
        raise RuntimeError("the process is gone")


@contextmanager
def served(module: str, *arguments: str, log: Path, **environment: str) -> Iterator[Served]:
    """``python -m module --port N …``, from its start to its end; it answers 200 on /health by then.

    Raises:
        RuntimeError: it ended or stayed silent for a minute; the text holds what it printed.
    """
    port = free_port()
    command = [sys.executable, "-m", module, *arguments, "--port", str(port)]
    env = clean_environment() | {"PYTHONPATH": str(Path(__file__).parents[2])} | environment
    with log.open("wb") as out:
        started = time.perf_counter()
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT, env=env)
    try:
        _wait_for(process, port, log)
        yield Served(process, port, (time.perf_counter() - started) * 1000)
    finally:
        process.terminate()
        try:
            process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(timeout=15)


def _wait_for(process: subprocess.Popen[bytes], port: int, log: Path) -> None:
    end = time.monotonic() + 60
    while time.monotonic() < end and process.poll() is None:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/health", timeout=5) as answer:
                if answer.status == 200:
                    return
        except (urllib.error.URLError, OSError):
            time.sleep(0.005)
    raise RuntimeError(f"It did not answer:\n{log.read_text(encoding='utf-8', errors='replace')[-3000:]}")


@contextmanager
def shop(bench: Workbench, data: Path, url: str = "") -> Iterator[Served]:
    """The service over a data folder (or a database address), at the instant it was seeded for."""
    more = {"UMBERKEEP_DATABASE_URL": url} if url else {}
    log = bench.scratch / f"service-{os.urandom(3).hex()}.log"
    with served("tests.bench.serve", "--data", str(data), log=log, **more) as running:
        yield running


@contextmanager
def plain(bench: Workbench, url: str) -> Iterator[Served]:
    """The reference application over a database."""
    log = bench.scratch / f"plain-{os.urandom(3).hex()}.log"
    with served("tests.bench.plain_app", log=log, PLAIN_URL=url) as running:
        yield running
