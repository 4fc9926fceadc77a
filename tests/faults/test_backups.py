"""Copies made while people write: each restores, holds what was acknowledged before, is whole or nothing."""

from __future__ import annotations

import hashlib
import os
import random
import signal
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import text

from service.actions.back_up import UNFINISHED, back_up, check_copy, restore
from service.config import read_settings
from service.records.database_copies import CopyError
from tests.faults.how_many import how_many
from tests.faults.invariants import holds, nothing_lost
from tests.faults.served import Nursery, Served
from tests.faults.stand import Stand
from tests.faults.writers import AtWork, all_kept, crew, no_bad_answers
from tests.postgres_server import PostgresServer

COPIES = {"sqlite": 20, "postgres": 6}
KILLS = how_many(20, 200)


@pytest.fixture
def new_place(stand: Stand, postgres_server: PostgresServer, tmp_path: Path) -> Stand:
    """An empty place of the same kind: a new folder, and on PostgreSQL a new empty database."""
    url = ""
    if stand.url:
        postgres_server.admin("CREATE DATABASE new_place")
        url = postgres_server.url("new_place")
    return Stand(tmp_path / "new place", url)


@pytest.fixture(autouse=True)
def _swept(request: pytest.FixtureRequest) -> object:
    yield
    if "new_place" in request.fixturenames and "postgres_server" in request.fixturenames:
        server: PostgresServer = request.getfixturevalue("postgres_server")
        server.admin("DROP DATABASE IF EXISTS new_place WITH (FORCE)")


def log_of(stand: Stand) -> list[str]:
    with stand.opened() as database, database.reading() as session:
        return list(session.connection().execute(text("select hash from rag_log order by id")).scalars())


def test_the_drill(
    stand: Stand, new_place: Stand, servers: Nursery, serving: Callable[..., Served], tmp_path: Path
) -> None:
    """The commands of the page on keeping the books, in their order, while eight people write."""
    service, said = serving(stand), tmp_path / "said"
    writers = crew(stand, [service.port], 8, 1)
    with AtWork(writers) as work:
        assert work.first_answer.wait(20)
        time.sleep(0.5)
        before = all_kept(writers)
        code, copy = servers.run(
            said, "backup", "--data", stand.data, "--to", tmp_path / "second disk", url=stand.url
        )
        assert code == 0, copy
        time.sleep(0.2)
    no_bad_answers(writers)
    assert len(all_kept(writers)) > len(before) > 0, "nobody wrote"
    assert nothing_lost(stand, writers) > 0

    code, words = servers.run(said, "restore", copy, "--data", new_place.data, url=new_place.url)
    assert code == 0, words
    code, words = servers.run(said, "check-ledger", "--data", new_place.data, url=new_place.url)
    assert (code, words.splitlines()[0][:27]) == (0, "The ledger holds together: ")
    assert "last witnessed head" in words
    with new_place.opened() as database:
        holds(database, before, new_place.data)
    restored, live = log_of(new_place), log_of(stand)
    assert restored and restored == live[: len(restored)]

    # The service starts on it, knows what it answered before, and takes the next entry.
    again = serving(new_place)
    hand = crew(replace(stand, data=new_place.data, url=new_place.url), [again.port], 1, 2)[0]
    status, answer, _ = hand.post((before[0].path, before[0].body))
    assert (status, answer.get("repeated", True)) == (201, True)
    assert hand.send((f"/api/containers/{stand.powders[0]}/draws", {"once": "after", "amount": "1 g"})) == 201
    assert nothing_lost(new_place, [hand]) == 1


def test_every_copy_holds_what_was_acknowledged_before_it(
    stand: Stand, serving: Callable[..., Served], tmp_path: Path, postgres_server: PostgresServer
) -> None:
    service = serving(stand)
    writers = crew(stand, [service.port], 8, 3)
    settings = read_settings({}, data=str(stand.data))
    settings = replace(settings, database_url=stand.address)
    made = []
    with AtWork(writers) as work:
        assert work.first_answer.wait(20)
        for second in range(COPIES["postgres" if stand.url else "sqlite"]):
            before = all_kept(writers)
            at = datetime(2026, 11, 1, 12, 0, second, tzinfo=UTC)
            made.append((before, back_up(settings, tmp_path / "copies", at)))
    assert nothing_lost(stand, writers) >= len(made[-1][0]) > len(made[0][0])
    for number, (before, copy) in enumerate(made):
        place = Stand(tmp_path / f"restored {number}")
        if stand.url:
            postgres_server.admin("DROP DATABASE IF EXISTS new_place WITH (FORCE)")
            postgres_server.admin("CREATE DATABASE new_place")
            place = replace(place, url=postgres_server.url("new_place"))
        restore(replace(settings, data=place.data, database_url=place.address), copy)
        with place.opened() as database:
            holds(database, before, place.data)
    if stand.url:
        postgres_server.admin("DROP DATABASE new_place WITH (FORCE)")


def fingerprint(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def _until_it_writes(into: Path, at_most_s: float) -> None:
    """Waits for the folder of the copy: how long the command needs to get there differs from run to run."""
    end = time.monotonic() + at_most_s
    while time.monotonic() < end and not (into.exists() and any(into.iterdir())):
        time.sleep(0.005)


def test_a_killed_back_up_leaves_no_copy_that_looks_whole(
    sqlite_stand: Stand, servers: Nursery, tmp_path: Path
) -> None:
    stand, said, disk = sqlite_stand, tmp_path / "said", tmp_path / "disk"
    (stand.data / "files" / "ab").mkdir(parents=True)
    for number in range(40):
        (stand.data / "files" / "ab" / f"sheet{number}").write_bytes(os.urandom(20_000))
    began = time.monotonic()
    code, first = servers.run(said, "backup", "--data", stand.data, "--to", disk)
    whole_s = time.monotonic() - began
    assert code == 0, first
    old = fingerprint(Path(first))
    dice, broke_off = random.Random("killed back-up"), 0
    for number in range(KILLS):
        into = disk / str(number)
        pid = servers.begin(said, "backup", "--data", stand.data, "--to", into)
        if number % 2:
            _until_it_writes(into, whole_s * 3)
            time.sleep(dice.uniform(0, whole_s / 8))
        else:
            time.sleep(dice.uniform(0, whole_s))
        os.kill(pid, signal.SIGKILL)
        killed = servers.ended(pid) == -signal.SIGKILL
        for copy in [path for path in into.glob("*") if path.is_dir()] if into.exists() else []:
            if copy.name.endswith(UNFINISHED):
                broke_off += 1
                with pytest.raises(CopyError, match="not a finished copy"):
                    check_copy(copy)
            else:
                check_copy(copy)
                place = Stand(tmp_path / f"from {number}")
                restore(replace(read_settings({}, data=str(place.data)), database_url=place.address), copy)
                with place.opened() as database:
                    holds(database)
        assert killed or any(into.glob("*Z")), "it ended by itself without a copy"
    assert broke_off >= KILLS // 4, "the kills came too early or too late to show anything"
    assert fingerprint(Path(first)) == old
    with stand.opened() as database:
        holds(database, (), stand.data)


def test_a_full_disk_under_the_copy_is_said_and_leaves_nothing(
    sqlite_stand: Stand, servers: Nursery, tmp_path: Path
) -> None:
    stand, said, disk = sqlite_stand, tmp_path / "said", tmp_path / "disk"
    # The limit is the largest file this process may write: less than the database, more than the heads.
    code, words = servers.run(
        said, "backup", "--data", stand.data, "--to", disk, file_limit=100_000
    )
    assert code == 1
    assert "Traceback" not in words
    assert "copied" in words or "No copy was made" in words
    assert not [path for path in disk.glob("*") if path.is_dir()]
    assert servers.run(said, "backup", "--data", stand.data, "--to", disk)[0] == 0
