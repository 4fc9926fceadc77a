"""The other side of each ratio: as small an application as does the same thing, with no shop rules in it.

`python -m tests.bench.plain_app --port N` with the database's address in PLAIN_URL. It has the same levers as
the service: as many pool threads as cores, a fair lock before SQLite's writer, the collector frozen.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import os
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import anyio.to_thread
import uvicorn
from fastapi import FastAPI
from pydantic import BaseModel
from sqlalchemy import MetaData, Table, text
from sqlmodel import Session, select

from service.records.engine import open_database
from tests.bench.plain_statements import driver, enough

database = open_database(os.environ.get("PLAIN_URL", "sqlite:////tmp/plain.sqlite"), 2)
container = Table("container", MetaData(), autoload_with=database.engine)
NUMBER = "id integer primary key" if database.sqlite else "id bigserial primary key"
_local = threading.local()


@asynccontextmanager
async def life(app: FastAPI) -> AsyncIterator[None]:
    anyio.to_thread.current_default_thread_limiter().total_tokens = 2
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 50, 100)
    with database.writing() as session:
        session.execute(
            text(f"create table if not exists plain_ledger ({NUMBER}, box integer, taken integer, hash text)")
        )
    yield


app = FastAPI(lifespan=life)


@app.get("/nothing")
def nothing() -> dict[str, bool]:
    return {}


@app.get("/health")
def health() -> dict[str, bool]:
    with Session(database.engine) as session:
        session.execute(text("select 1"))
    return {"ok": True}


@app.get("/list")
def list_of_20(material: int) -> list[dict[str, Any]]:
    """20 containers by index, through Core, for anybody."""
    columns = [container.c[name] for name in LISTED]
    wanted = select(*columns).where(container.c.material_id == material).order_by(container.c.code).limit(20)
    with database.engine.connect() as connection:
        return [dict(row._mapping) for row in connection.execute(wanted)]


LISTED = ("id", "code", "state", "balance", "balance_known", "standing", "in_date_until")


@app.get("/stock")
def stock(materials: str) -> list[Any]:
    """What is there of some materials, by the driver's own statement."""
    return enough(_driver().execute, [int(n) for n in materials.split(",")])


def _driver() -> Any:
    if not hasattr(_local, "connection"):
        _local.connection = driver(database)
    return _local.connection


class DrawIn(BaseModel):
    once: str
    box: int
    taken: int


@app.post("/draw", status_code=201)
def draw(asked: DrawIn) -> dict[str, Any]:
    """The throwaway draw: the last hash, a balance that never falls below nothing, one chained row."""
    with database.writing() as session:
        run = session.connection().execute
        if not database.sqlite:
            run(text("select pg_advisory_xact_lock(7)"))
        last = run(text("select hash from plain_ledger order by id desc limit 1")).scalar() or ""
        done = run(
            text("update container set balance = balance - :taken where id = :box and balance >= :taken"),
            {"taken": asked.taken, "box": asked.box},
        )
        assert done.rowcount == 1  # type: ignore[attr-defined]
        digest = hashlib.sha256(f"{last}{asked.box}{asked.taken}{asked.once}".encode()).hexdigest()
        run(
            text("insert into plain_ledger (box, taken, hash) values (:box, :taken, :hash)"),
            {"box": asked.box, "taken": asked.taken, "hash": digest},
        )
    return {"hash": digest}


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--port", type=int, required=True)
    uvicorn.run(app, port=parser.parse_args().port, access_log=False, log_level="warning")


if __name__ == "__main__":
    main()
