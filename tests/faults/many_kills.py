"""The long run of killing, by hand or by night; one line of JSON with the figures at the end.

    python -m tests.faults.many_kills [--kills N] [--seed N] [--postgres] [--append FILE]

With `--postgres` it is the PostgreSQL server that is killed, every process of it, and the service lives on.
The exit code is 1 when an acknowledged entry is lost or any invariant does not hold.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

from service.config import read_settings
from service.serving import opened
from tests.faults.kills import Report, kill_rounds
from tests.faults.served import Nursery, Served, nursery
from tests.faults.stand import furnish
from tests.postgres_server import start_postgres


def _told(done: int, kept: int) -> None:
    print(f"{done} kills, {kept} answers kept, nothing lost", file=sys.stderr, flush=True)


def on_sqlite(servers: Nursery, folder: Path, kills: int, seed: int) -> Report:
    """Kill the service on the embedded database."""
    data = folder / "shop"
    opened(read_settings({}, data=str(data))).dispose()
    stand = furnish(data, powders=8, grams=100_000)
    service = Served(servers, stand.data)
    try:
        service.start()
        return kill_rounds(stand, service, kills, seed, service.kill, service.start, _told)
    finally:
        service.stop()


def on_postgres(servers: Nursery, folder: Path, kills: int, seed: int) -> Report:
    """Kill the database server under a service that goes on."""
    server = start_postgres(durable=True)
    service: Served | None = None
    try:
        server.admin("CREATE DATABASE shop")
        env = {"UMBERKEEP_DATABASE_URL": server.url("shop")}
        opened(read_settings(env, data=str(folder / "shop"))).dispose()
        stand = furnish(folder / "shop", server.url("shop"), powders=8, grams=100_000)
        service = Served(servers, stand.data, stand.url)
        service.start()
        there = service

        def recover() -> None:
            server.start()
            there.await_answer()

        return kill_rounds(stand, service, kills, seed, server.kill, recover, _told)
    finally:
        if service is not None:
            service.stop()
        server.stop()


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults.many_kills")
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--postgres", action="store_true", help="kill the PostgreSQL server instead")
    parser.add_argument("--append", type=Path, metavar="FILE", help="write the line to this file too")
    given = parser.parse_args()
    run = on_postgres if given.postgres else on_sqlite
    try:
        with tempfile.TemporaryDirectory(prefix="kills") as folder, nursery() as servers:
            report = run(servers, Path(folder), given.kills, given.seed)
    except AssertionError as error:
        print(error, file=sys.stderr)
        return 1
    line = json.dumps(report.as_dict())
    print(line)
    if given.append:
        with given.append.open("a", encoding="utf-8") as file:
            file.write(line + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
