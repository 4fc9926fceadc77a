"""A mistake of ours in any route: told without a trace, with a reference, logged once, nothing kept. And what
is never in a log: secrets, and signs that would break a line.
"""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Callable, Iterator
from typing import Any, Final
from urllib.parse import quote

import fastapi.routing
import pytest
from fastapi.testclient import TestClient
from sqlalchemy import exc, text
from sqlmodel import select

from service.actions.sign_in_links import make_link
from service.core.access import Role
from service.records.people import LinkPurpose, Person
from service.web import guard
from service.web.api_description import BODIES
from service.web.route_table import ROWS
from service.web.visitor import PLAIN_COOKIE
from tests.builders import PINS, password_of
from tests.web.conftest import Shop
from tests.web.hostile import calls
from tests.web.sign_in_steps import address, printed
from tests.web.test_methods import PLAIN, everything

INSIDE: Final = "zq-inside-the-service"
JSON: Final = {"accept": "application/json"}


class OurMistakeError(Exception):
    """What nobody foresaw."""


def break_every_route(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every endpoint write something and then fail in the middle of its transaction."""

    async def broken(**_: Any) -> None:
        with shop.database.writing() as session:
            session.add(Person(name="Half written", role=Role.KEEPER, created_at=shop.clock.now))
            session.flush()
            raise OurMistakeError(INSIDE)

    # Where the framework calls whatever function a route has.
    monkeypatch.setattr(fastapi.routing, "run_endpoint_function", broken)


def by_somebody(shop: Shop, path: str) -> TestClient:
    if path.startswith("/api/"):
        return shop.api(Role.KEEPER)
    if path.startswith(("/sign-in/once", "/first-keeper")):
        return shop.client("127.0.0.1")
    if path.startswith(("/tap", "/untap")):
        return shop.tablet(shop.cast.keeper)
    return shop.signed_in(Role.KEEPER)


def test_a_mistake_in_any_route(
    shop: Shop, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG)
    break_every_route(shop, monkeypatch)
    described = {call.path: call for call in calls(shop.app.openapi(), BODIES)}
    clients: dict[str, TestClient] = {}
    wrong, asked = [], 0
    for number, row in enumerate(row for row in ROWS if row.path not in PLAIN):
        key = row.path.split("/")[1] + ("/once" if "once" in row.path else "")
        client = clients.setdefault(key, by_somebody(shop, row.path))
        sent: dict[str, Any] = {"data": {}} if row.method == "POST" else {}
        if row.path in described:
            sent = {"json": described[row.path].fresh()}
        path = row.path.replace("{kind}", "solvent").replace("{key}", "tung").replace("{shows}", "board")
        path = path.replace("{found}", "mould")
        where = address(path)
        if row.path == "/api/materials/published":
            where += "?q=oil"
        caplog.clear()
        before = everything(shop.database) if number % 20 == 0 else None
        answer = client.request(row.method, where, headers=JSON if number % 2 else {}, **sent)
        asked += 1
        reference = answer.headers["x-request-id"]
        errors = [r for r in caplog.records if r.levelno >= logging.WARNING]
        told = row.method == "HEAD" or reference in answer.text
        clean = not any(word in answer.text for word in (INSIDE, "Traceback", "OurMistake", "File "))
        logged = len(errors) == 1 and reference in errors[0].getMessage() and errors[0].exc_info is not None
        if answer.status_code != 500 or not (told and clean and logged):
            wrong.append(f"{row.method} {row.path}: {answer.status_code} {told} {clean} {len(errors)}")
        for name, value in guard.SECURITY_HEADERS.items():
            assert answer.headers[name] == value
        if answer.status_code == 500 and row.method != "HEAD" and "json" in answer.headers["content-type"]:
            assert answer.headers["content-type"] == "application/problem+json"
            assert answer.json()["reference"] == reference and answer.json()["type"] == "/problems/unexpected"
        if before is not None:
            assert everything(shop.database) == before, row.path
    assert wrong == [], "\n".join(wrong)
    assert asked > 200
    with shop.database.reading() as session:
        assert session.exec(select(Person).where(Person.name == "Half written")).all() == []


def test_a_mistake_holds_up_nobody_afterwards(shop: Shop) -> None:
    """The writer's turn is given back, and the next act goes through."""
    client = shop.signed_in(Role.KEEPER)
    with pytest.MonkeyPatch.context() as patched:
        break_every_route(shop, patched)
        for _ in range(20):
            assert client.post("/me/theme", data={"theme": "dark"}).status_code == 500
    assert client.post("/me/theme", data={"theme": "dark"}).status_code == 303


def test_an_error_of_the_database_is_logged_without_what_people_wrote(shop: Shop) -> None:
    for statement in ("insert into nowhere values (:a)", "insert into person (name) values (:a)"):
        with pytest.raises(exc.DBAPIError) as caught, shop.database.writing() as session:
            session.execute(text(statement), {"a": INSIDE})
        assert INSIDE not in str(caught.value) and statement.split()[2] in str(caught.value)


# --- what is never in a log ---------------------------------------------------------------------------

CANARY: Final = "zqcanary"


@pytest.fixture
def everything_logged(caplog: pytest.LogCaptureFixture) -> Iterator[Callable[[], list[str]]]:
    """Every line that anybody logged so far, at every level, with its trace."""
    caplog.set_level(logging.DEBUG)
    shown = logging.Formatter("%(name)s %(levelname)s %(message)s")
    ours = ("umberkeep", "uvicorn", "service", "sqlalchemy", "alembic", "python_multipart", "root")
    yield lambda: [shown.format(r) for r in caplog.records if r.name.startswith(ours)]


def test_no_secret_is_ever_logged(
    shop: Shop, everything_logged: Callable[[], list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    tablet = shop.tablet()
    script = shop.api(Role.KEEPER)
    cookie, bearer = keeper.cookies[PLAIN_COOKIE], script.headers["authorization"].split()[1]
    where = printed(shop)
    with shop.database.writing() as session:
        student = shop.cast.student.id
        make_link(session, LinkPurpose.PASSWORD, f"{CANARY}-link", shop.clock(), person_id=student)
    secrets = {cookie, bearer, where.rsplit("/", 1)[1], PINS["piet"], password_of(shop.cast.keeper), CANARY}

    def whole_walk() -> None:
        nobody = shop.client("127.0.0.1")
        nobody.post("/sign-in", data={"sign_in_name": "orla", "password": f"{CANARY} wrong"})
        nobody.post("/sign-in", data={"sign_in_name": "orla", "password": password_of(shop.cast.keeper)})
        nobody.post("/sign-in", data={"sign_in_name": f"{CANARY}\x00", "password": f"{CANARY}\ud800".encode(
            "utf-8", "surrogatepass")})  # fmt: skip
        nobody.post("/sign-in", content=f"{CANARY}".encode(), headers={"content-type": "application/json"})
        nobody.post("/people/new", data={"name": CANARY, "password": CANARY})
        nobody.get(where)
        nobody.post(where)
        nobody.get(f"/set-password/{CANARY}-link")
        nobody.post(f"/set-password/{CANARY}-link", data={"password": f"{CANARY} short"[:11]})
        nobody.post(f"/set-password/{CANARY}-link", data={"password": f"{CANARY} long enough"})
        nobody.get(f"/tablet/{CANARY}")
        keeper.post("/me/password", data={"present_password": CANARY, "new_password": f"{CANARY} new one"})
        keeper.post("/me/pin", data={"present_password": password_of(shop.cast.keeper), "pin": "8264"})
        keeper.post(f"/people/{shop.cast.student.id}/pin", data={"pin": "9463"})
        keeper.post("/tokens", data={"label": "a script", "role": "keeper"})
        tablet.post(f"/tap/{shop.cast.finisher.id}", data={"sent": "yes", "pin": PINS["piet"]})
        tablet.post(f"/tap/{shop.cast.finisher.id}", data={"sent": "yes", "pin": "9463"})
        script.get(f"/api/containers/{CANARY}?q={CANARY}", headers={"referer": f"http://testserver/{CANARY}"})
        script.post("/api/places", json={"once": CANARY, "name": f"{CANARY}\x00", "kind": CANARY})
        torn = f'{{"{CANARY}'.encode()
        script.post("/api/jobs", content=torn, headers={"content-type": "application/json"})
        shop.client().get(f"/{CANARY}", headers={"cookie": f"{PLAIN_COOKIE}={CANARY}", "host": CANARY})
        shop.client().get("/api/ledger", headers={"authorization": f"Bearer {CANARY}", "user-agent": CANARY})

    whole_walk()
    foreseen = everything_logged()
    break_every_route(shop, monkeypatch)
    whole_walk()
    lines = everything_logged()
    assert len(lines) > 1.5 * len(foreseen) and len(foreseen) > 20
    assert any("OurMistake" in line for line in lines)
    # Four figures may stand in a random number of a request by chance.
    bare = [re.sub(r'"request_id": "[0-9a-f]+"|reference [0-9a-f]+', "", line) for line in lines]
    found = {secret: line for secret in {*secrets, "8264", "9463"} for line in bare if secret in line}
    assert found == {}


ODD: Final = ("\r\nforged line", "\x1b[2J\x1b[31m", "\u2028forged",
              "\x85forged", "\u202eforged", "\x00", "a\tb")  # fmt: skip


@pytest.mark.parametrize("odd", ODD)
def test_one_line_of_plain_letters_for_every_request(
    shop: Shop, everything_logged: Callable[[], list[str]], odd: str
) -> None:
    typed = quote(odd)
    client, script = shop.signed_in(Role.KEEPER), shop.api(Role.KEEPER)
    begin = len(everything_logged())
    client.get(f"/x{typed}")
    client.get(f"/containers/{typed}?q={typed}")
    client.post("/people/new", data={"name": odd, "role": odd, "sign_in_name": odd})
    client.post("/me/theme", data={"theme": odd, odd: odd})
    script.post("/api/places", json={"once": odd, odd: odd})
    script.get("/api/ledger", headers={"user-agent": typed, "x-request-id": typed, "referer": typed})
    lines = everything_logged()[begin:]
    assert len(lines) == 6
    for line in lines:
        assert line.isprintable() and line.isascii() and "forged" not in line
        said = json.loads(line.removeprefix("umberkeep.requests INFO "))
        assert set(said) == {"method", "route", "status", "ms", "person", "request_id"}
        assert 300 <= said["status"] < 500 or said["status"] == 200
