"""While rags are overdue, every way to oil at the same instant over HTTP, on both databases.

None gets any, but what has happened already: that is written down, marked late, and a violation where it was
done during the block. With one override in the book exactly one gets through, however many try.
"""

from __future__ import annotations

import json
import socket
import threading
import uuid
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
import uvicorn
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import col, select

from service.core.access import Role
from service.core.ledger import MovementKind
from service.core.rags import RagStep
from service.records.engine import Database
from service.records.rags import OverrideUse, RagLogRow
from service.records.stock import Movement, Posting
from tests.rag_shop import ENDS, once
from tests.web.conftest import Shop
from tests.web.overdue_scene import Scene, overdue_scene

WHY = "The bench was wet already and nobody looked at the header."


@pytest.fixture
def scene(database: Database, tmp_path: Path) -> Iterator[Scene]:
    with overdue_scene(database, tmp_path) as made:
        yield made


@contextmanager
def served(app: FastAPI) -> Iterator[int]:
    """The application behind a real socket of this machine; its port."""
    listening = socket.create_server(("127.0.0.1", 0), backlog=128)
    server = uvicorn.Server(uvicorn.Config(app, log_level="error"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    try:
        yield listening.getsockname()[1]
    finally:
        server.should_exit = True
        thread.join(timeout=20)
        listening.close()


@dataclass(frozen=True)
class Way:
    """One try: who (a browser or a script, signed in beforehand), where, what is sent."""

    name: str
    who: TestClient
    path: str
    body: dict[str, Any]

    def go(self, port: int) -> tuple[int, str]:
        """Send it; the status and the text of the answer."""
        said = self.body | {"once": once()}
        headers = {"Host": "testserver", "Accept": self.who.headers.get("accept", "*/*")}
        if "authorization" in self.who.headers:
            headers["Authorization"] = self.who.headers["authorization"]
            headers["Content-Type"] = "application/json"
            sent = json.dumps(said)
        else:
            headers["Cookie"] = "; ".join(f"{name}={value}" for name, value in self.who.cookies.items())
            headers["Content-Type"] = "application/x-www-form-urlencoded"
            sent = urlencode({k: "yes" if v is True else str(v) for k, v in said.items()})
        line = HTTPConnection("127.0.0.1", port, timeout=60)
        line.request("POST", self.path, sent, headers)
        answer = line.getresponse()
        text = answer.read().decode()
        line.close()
        return answer.status, text


def at_once(port: int, ways: list[Way]) -> list[tuple[Way, int, str]]:
    """Every way in a thread of its own, let go together."""
    start, told = threading.Barrier(len(ways)), []

    def run(way: Way) -> None:
        start.wait(timeout=30)
        told.append((way, *way.go(port)))

    threads = [threading.Thread(target=run, args=(way,)) for way in ways]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=90)
    assert len(told) == len(ways), "a request was never answered"
    return told


def ways_to_oil(s: Scene) -> list[Way]:
    """Thirty-two ways to get oil out of a container, each by somebody who may use that door on other days."""
    d: Shop = s.doors
    finisher, keeper, other = (d.signed_in(role) for role in (Role.FINISHER, Role.KEEPER, Role.FINISHER))
    student, tablet = d.signed_in(Role.STUDENT), d.tablet(d.cast.person(Role.STUDENT))
    script = {role: d.api(role) for role in (Role.FINISHER, Role.KEEPER)}
    oil, sealed, job = s.rags.oil, s.sealed, s.rags.job
    page, call = f"/containers/{oil}/", f"/api/containers/{oil}/"
    ten = {"amount": "10 ml", "looked": True}
    here = ten | {"job": job}
    pour = {"amount": "100 ml", "looked": True, "job": job}
    gone_by = {"happened_at": (s.rags.now - timedelta(minutes=10)).isoformat()}
    weights = {"before": "1000", "after": "990", "job": job, "looked": True}
    add = {"looked": True, "amount": "10 ml"}
    return [
        Way("draw, finisher's page", finisher, page + "draw", here),
        Way("draw, keeper's page", keeper, page + "draw", here),
        Way("draw, student's page", student, page + "draw", here),
        Way("draw, tablet", tablet, page + "draw", here),
        Way("draw, a second browser", other, page + "draw", here),
        Way("draw for no job", finisher, page + "draw", ten),
        Way("draw from another can", finisher, f"/containers/{s.jar}/draw", here),
        Way("draw by the pot's weight", finisher, page + "draw",
            weights | {"how": "pot", "before": "990", "after": "1000"}),
        Way("draw by the can's weight", keeper, page + "draw", weights | {"how": "container"}),
        Way("draw, more than the book says", keeper, page + "draw", here | {"amount": "2 l", "more": True}),
        Way("draw in a student's name", script[Role.KEEPER], call + "draws",
            here | {"person": d.cast.person(Role.STUDENT).id}),
        Way("draw, finisher's script", script[Role.FINISHER], call + "draws", here),
        Way("draw, keeper's script", script[Role.KEEPER], call + "draws", here),
        Way("draw in another's name", script[Role.KEEPER], call + "draws",
            here | {"person": d.cast.person(Role.KEEPER).id}),
        Way("draw, ten minutes ago", script[Role.KEEPER], call + "draws", here | gone_by),
        Way("draw down to a weight", script[Role.FINISHER], call + "draws", weights | {"how": "container"}),
        Way("draw of a sealed can", script[Role.KEEPER], f"/api/containers/{sealed}/draws", here),
        Way("open", finisher, page + "open", {}),
        Way("open a sealed can", script[Role.KEEPER], f"/api/containers/{sealed}/opened", {}),
        Way("to a bench", keeper, page + "move", {"place": s.bench}),
        Way("handed out", script[Role.FINISHER], call + "moves", {"handed_to": "Ms Winter"}),
        Way("into a new jar", finisher, page + "decant", pour),
        Way("into another jar", script[Role.KEEPER], call + "decants", pour | {"into": s.jar}),
        Way("thrown into a rag can", keeper, page + "discard",
            {"destination": "rag-can", "amount": "100 ml", "place": s.rags.can}),
        Way("strained with a skin", finisher, page + "check",
            {"found": "skin", "strained": "5 ml", "job": job}),
        Way("a batch from its check", finisher, f"/checks/{s.check}/start", {"job": job}),
        Way("a batch set aside", keeper, f"/bench/{s.aside}/start", {"job": job}),
        Way("a batch by script", script[Role.KEEPER], "/api/batches",
            {"fingerprint": s.fingerprint, "job": job}),
        Way("more for a batch", student, f"/bench/{s.batch}/add", add | {"code": oil}),
        Way("more by script", script[Role.FINISHER], f"/api/batches/{s.batch}/additions",
            add | {"code": oil}),
        Way("more from any can", script[Role.KEEPER], f"/api/batches/{s.batch}/additions",
            add | {"material": s.material}),
        Way("brought back and drawn again", other, page + "draw", here | {"amount": "60 ml"}),
    ]  # fmt: skip


def news_of(s: Scene) -> list[Way]:
    """What has happened: before the block, and during it."""
    script, keeper = s.doors.api(Role.KEEPER), s.doors.signed_in(Role.KEEPER)
    done = {"amount": "10 ml", "looked": True, "late_reason": WHY}
    before = {"happened_at": (ENDS - timedelta(minutes=30)).isoformat(), "already_done": True}
    call = f"/api/containers/{s.rags.oil}/draws"
    return [
        Way("before the block", script, call, done | before | {"job": 1}),
        Way("during it", script, call, done | {"already_done": True, "job": s.rags.job}),
        Way("during it, by page", keeper, f"/containers/{s.rags.oil}/draw",
            done | {"when": "done", "job": s.rags.job}),
        Way("brought back", script, f"/api/containers/{s.rags.oil}/returns",
            {"amount": "5 ml", "job": s.rags.job}),
    ]  # fmt: skip


def out_since(database: Database, seen: int) -> list[Movement]:
    """What left a container of something self-heating after the movement with this number."""
    with database.reading() as session:
        rows = session.exec(select(Movement).where(col(Movement.id) > seen)).all()
        assert not [row for row in rows if row.kind in (MovementKind.DECANT_OUT, MovementKind.DECANT_IN)]
        return [row for row in rows if row.change is None or row.change < 0]


def last_movement(database: Database) -> int:
    with database.reading() as session:
        return max(session.exec(select(Movement.id)).all() or [0], key=lambda n: n or 0) or 0


def test_thirty_two_ways_at_once_and_not_a_drop(scene: Scene) -> None:
    ways, news = ways_to_oil(scene), news_of(scene)
    assert len(ways) == 32 and len({way.name for way in ways}) == 32
    database = scene.rags.database
    seen = last_movement(database)
    with served(scene.doors.app) as port:
        told = at_once(port, ways + news)
    tried = [(way.name, status, text) for way, status, text in told if way in ways]
    wrong = [(name, status, text[:300]) for name, status, text in tried if status != 409]
    assert not wrong
    # It is the rags that stop each of them: refused for anything else it would prove nothing.
    for name, _, text in tried:
        assert "rags-overdue" in text or "Until then nothing self-heating may be drawn" in text, name
    assert sorted(status for way, status, _ in told if way in news) == [201, 201, 201, 303]
    out = out_since(database, seen)
    assert [row.change for row in out] == [-10_000] * 3 and {row.kind for row in out} == {MovementKind.DRAW}
    with database.reading() as session:
        postings = {row.id: session.get_one(Posting, row.posting_id) for row in out}
        assert all(posting.late_reason == WHY for posting in postings.values())
        late = [row for row in out if row.late]
        assert [row.happened_at for row in late] == [ENDS - timedelta(minutes=30)]
        marked = session.exec(select(RagLogRow).where(col(RagLogRow.kind) == "violation")).all()
        during = {row.posting_id for row in out if not row.late}
        assert during <= {row.posting_id for row in marked}
        assert late[0].posting_id not in {row.posting_id for row in marked}
        assert not session.exec(select(OverrideUse)).all()


def test_one_override_lets_one_of_thirty_two_through(scene: Scene) -> None:
    rags, database = scene.rags, scene.rags.database
    # Nothing is let through while rags lie loose past their time.
    rags.step(RagStep.IN_CAN, can_id=rags.can, loads=(1,))
    keeper = scene.doors.api(Role.KEEPER)
    asked = {"for": f"draw of {rags.oil}", "job": rags.job, "reason": WHY,
             "person": scene.doors.cast.person(Role.KEEPER).id, "once": uuid.uuid4().hex}  # fmt: skip
    given = keeper.post("/api/overrides", json=asked)
    assert given.status_code == 201, given.text
    seen = last_movement(database)
    body = {"amount": "10 ml", "looked": True, "job": rags.job}
    people = [scene.doors.api(role) for role in (Role.FINISHER, Role.KEEPER)]
    ways = [
        Way(f"draw {n}", people[n % 2], f"/api/containers/{rags.oil}/draws", body) for n in range(32)
    ]
    with served(scene.doors.app) as port:
        told = at_once(port, ways)
    assert Counter(status for _, status, _ in told) == {201: 1, 409: 31}
    assert [row.change for row in out_since(database, seen)] == [-10_000]
    with database.reading() as session:
        assert len(session.exec(select(OverrideUse)).all()) == 1
        used = session.exec(select(RagLogRow).where(col(RagLogRow.kind) == "override-used")).all()
        assert len(used) == 1


def test_eight_keepers_give_the_same_override_at_once(scene: Scene) -> None:
    scene.rags.step(RagStep.IN_CAN, can_id=scene.rags.can, loads=(1,))
    keeper, person = scene.doors.api(Role.KEEPER), scene.doors.cast.person(Role.KEEPER).id
    asked = {"for": f"draw of {scene.rags.oil}", "job": scene.rags.job, "reason": WHY, "person": person}
    with served(scene.doors.app) as port:
        told = at_once(port, [Way(f"give {n}", keeper, "/api/overrides", asked) for n in range(8)])
    assert Counter(status for _, status, _ in told) == {201: 1, 409: 7}
    assert all("override-waits" in text for _, status, text in told if status == 409)
