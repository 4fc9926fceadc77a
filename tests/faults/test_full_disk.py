"""The disk is full: a write is refused in plain words, reading goes on, and room alone mends it."""

from __future__ import annotations

import json
import resource
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from service.app import create_app
from service.config import Settings
from service.records.engine import Database, open_database
from tests.builders import FAST_HASHER
from tests.faults.invariants import holds, nothing_lost
from tests.faults.served import Served
from tests.faults.stand import AUTH, BROWSER, Stand
from tests.faults.writers import crew

JSON = {"content-type": "application/json", **AUTH}
FORM = {"content-type": "application/x-www-form-urlencoded", **BROWSER}


def limit(service: Served, size: int) -> None:
    """No file of this process may grow past so many bytes; -1 lifts it. It stands for a full disk."""
    resource.prlimit(service.pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))


def draw(stand: Stand, once: str) -> tuple[str, dict[str, str]]:
    return f"/api/containers/{stand.powders[0]}/draws", {"once": once, "amount": "1 g"}


def post(service: Served, path: str, body: dict[str, Any]) -> tuple[int, dict[str, Any], str]:
    status, headers, read = service.ask("POST", path, JSON, json.dumps(body))
    return status, json.loads(read), headers["content-type"] + headers.get("retry-after", "")


def test_a_full_disk_refuses_in_words_and_room_mends_it(
    sqlite_stand: Stand, serving: Callable[..., Served]
) -> None:
    stand, service = sqlite_stand, serving(sqlite_stand)
    client = crew(stand, [service.port], 1, 5)[0]
    assert client.send(draw(stand, "before")) == 201
    limit(service, 1)
    for number in range(6):  # every pooled connection meets it, and more than once
        status, body, kind = post(service, *draw(stand, f"full-{number}"))
        assert (status, body["type"], kind) == (503, "/problems/disk", "application/problem+json5")
        assert "disk" in body["detail"] and "send the same" in body["detail"].lower()
    assert service.get(f"/api/containers/{stand.powders[0]}", AUTH)[0] == 200
    for page in ("/", "/store", f"/containers/{stand.powders[0]}", "/rags", "/alerts"):
        status, _, text = service.get(page, BROWSER)
        assert status == 200, (page, text[:300])
    fields = {"once": "full-page", "how": "amount", "amount": "1 g"}
    status, _, page = service.ask("POST", f"/containers/{stand.powders[0]}/draw", FORM, urlencode(fields))
    assert status == 503
    assert b"<h1>The disk is full or refuses to write</h1>" in page
    assert service.get("/problems/disk", BROWSER)[0] == 200
    pid = service.pid
    limit(service, -1)
    for number in range(6):
        assert client.send(draw(stand, f"full-{number}")) == 201
    assert service.pid == pid
    assert nothing_lost(stand, [client]) == 7


@pytest.fixture
def tight(sqlite_stand: Stand) -> tuple[TestClient, Database, list[int]]:
    """The application on connections that may use so many pages, the last of the list."""
    pages = [2**30]
    database = open_database(sqlite_stand.address)

    @event.listens_for(database.engine, "checkout")
    def _narrow(connection: Any, *_: object) -> None:
        connection.execute(f"PRAGMA max_page_count={pages[-1]}")

    settings = Settings(sqlite_stand.data, sqlite_stand.address, trusted_hosts=("testserver",))
    return TestClient(create_app(settings, database, hasher=FAST_HASHER)), database, pages


def test_a_database_without_a_free_page_says_full(
    sqlite_stand: Stand, tight: tuple[TestClient, Database, list[int]]
) -> None:
    client, database, pages = tight
    pages.append(1)  # the engine takes the present size where less is asked

    def take(number: int) -> Any:
        path, body = draw(sqlite_stand, f"page-{number}")
        return client.post(path, json=body, headers=AUTH)

    answers = [take(number) for number in range(60)]
    full = [number for number, answer in enumerate(answers) if answer.status_code != 201]
    assert full, "the pages did not run out"
    assert {answers[n].status_code for n in full} == {503}
    assert answers[full[0]].json()["detail"].startswith("The disk is full, so nothing can be written.")
    assert client.get(f"/api/containers/{sqlite_stand.powders[0]}", headers=AUTH).status_code == 200
    pages.append(2**30)
    assert take(full[0]).status_code == 201
    holds(database)
    database.dispose()


def multipart(once: str, content: bytes) -> tuple[dict[str, str], bytes]:
    parts = {"regime": "eu-clp", "sheet_date": "3 Mar 2025", "once": once}
    lines = [f'--x\r\nContent-Disposition: form-data; name="{k}"\r\n\r\n{v}\r\n' for k, v in parts.items()]
    lines.append(
        '--x\r\nContent-Disposition: form-data; name="sheet"; filename="sheet.pdf"\r\n'
        "Content-Type: application/pdf\r\n\r\n"
    )
    body = "".join(lines).encode() + content + b"\r\n--x--\r\n"
    return {"content-type": "multipart/form-data; boundary=x", **BROWSER}, body


def largest(folder: Path) -> int:
    return max(path.stat().st_size for path in folder.glob("umberkeep.sqlite*"))


def test_a_sheet_that_finds_no_room_leaves_no_half(
    sqlite_stand: Stand, serving: Callable[..., Served]
) -> None:
    stand, service = sqlite_stand, serving(sqlite_stand)
    client, page = crew(stand, [service.port], 1, 6)[0], f"/materials/{stand.powder}/sheets/new"
    limit(service, largest(stand.data) + 1_000_000)
    # One that is kept in memory until it is stored, and one that goes through a file of its own on the way.
    for size in (largest(stand.data) + 1_100_000, 9_000_000):
        headers, body = multipart(f"sheet-{size}", b"%PDF-1.7\n" + b"x" * size + b"\n%%EOF\n")
        status, _, read = service.ask("POST", page, headers, body)
        assert status == 503, read[:2000]
        assert b"The disk is full or refuses to write" in read
        assert client.send(draw(stand, f"while-{size}")) == 201, "the book itself has room"
        assert not [path for path in (stand.data / "files").rglob("*") if path.is_file()]
    limit(service, -1)
    status, answered, _ = service.ask("POST", page, headers, body)
    assert (status, answered["location"]) == (303, f"/materials/{stand.powder}")
    assert nothing_lost(stand, [client]) == 2
