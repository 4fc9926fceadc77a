"""Every address with every method, for every kind of caller: what the table of routes does not name is 405
and changes nothing, whoever asks; and what another site sends is 403 and changes nothing.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Final

import pytest
from fastapi.testclient import TestClient
from sqlmodel import SQLModel, select

from service.core.access import Role
from service.records.engine import Database
from service.web.access_gate import flat
from service.web.route_table import ROWS
from service.web.routes.row import PUBLIC, RouteRow
from tests.web.conftest import Shop
from tests.web.sign_in_steps import address
from tests.web.test_doors import cookie_as_token, over_time, revoked, send, switched_off

METHODS: Final = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE")
NAMED: Final = {row.key for row in ROWS}
PATHS: Final = sorted({row.path for row in ROWS})
PLAIN: Final = ("/api/openapi.json", "/static/{name}")
CALLERS: Final[dict[str, Callable[[Shop], TestClient]]] = {
    "nobody": lambda shop: shop.client(),
    **{f"browser of a {role}": lambda shop, role=role: shop.signed_in(role) for role in Role},  # type: ignore[misc]
    **{f"script of a {role}": lambda shop, role=role: shop.api(role) for role in Role},  # type: ignore[misc]
    "tablet": lambda shop: shop.tablet(),
    "tapped keeper": lambda shop: shop.tablet(shop.cast.keeper),
    "switched off": switched_off,
    "over time": over_time,
    "revoked": revoked,
    "cookie as token": cookie_as_token,
}
ALWAYS: Final = ("nobody", "browser of a keeper", "script of a keeper")
"""Asked at every address; the others take turns, each at every fourth."""


def everything(database: Database) -> dict[str, list[str]]:
    """Every row of every table but when somebody was last seen, as text: to tell that nothing has changed."""
    found = {}
    with database.reading() as session:
        for table in SQLModel.metadata.sorted_tables:
            kept = [column for column in table.columns if column.name not in ("last_seen_at", "last_used_at")]
            found[table.name] = sorted(map(repr, session.exec(select(*kept)).all()))
    return found


def methods_at(path: str) -> set[str]:
    """The methods of the lines of an address; the framework's own plain routes answer HEAD as well."""
    own = {method for method in METHODS if (method, path) in NAMED}
    return own | ({"HEAD"} if path in PLAIN else set())


@pytest.mark.parametrize("name", CALLERS)
def test_a_method_without_a_line_in_the_table_is_405_and_does_nothing(shop: Shop, name: str) -> None:
    client = CALLERS[name](shop)
    client.headers["accept"] = "application/json"
    before = everything(shop.database)
    turn = list(CALLERS).index(name)
    wrong, asked = [], 0
    for number, path in enumerate(PATHS):
        if name not in ALWAYS and number % 4 != turn % 4:
            continue
        for method in METHODS:
            if method in methods_at(path):
                continue
            asked += 1
            answer = client.request(method, address(path), content=b"" if method == "TRACE" else b"{}")
            allowed = {one.strip() for one in answer.headers.get("allow", "").split(",")}
            if answer.status_code != 405 or not allowed <= set(METHODS) or not allowed & methods_at(path):
                wrong.append(f"{method} {path}: {answer.status_code} {answer.headers.get('allow')}")
    assert wrong == []
    assert asked > 200
    assert everything(shop.database) == before


@pytest.mark.parametrize("header", ["x-http-method-override", "x-http-method", "x-method-override"])
def test_no_header_or_field_makes_one_method_another(shop: Shop, header: str) -> None:
    client = shop.signed_in(Role.KEEPER)
    before = everything(shop.database)
    wrong = []
    for row in ROWS:
        if row.method == "POST" and ("GET", row.path) in NAMED and row.needs is not PUBLIC:
            asked = client.get(f"{address(row.path)}?_method=POST", headers={header: "POST"})
            plain = client.get(address(row.path))
            if asked.status_code != plain.status_code:
                wrong.append(f"{row.path}: {asked.status_code}, without {plain.status_code}")
    assert wrong == []
    for path in ("/people/new", "/shop", "/me/theme"):
        for wanted in ("DELETE", "PUT", "PATCH", "GET"):
            answer = client.post(path, data={"_method": wanted}, headers={header: wanted})
            assert answer.status_code == 422, "read as the post that it is"
    assert everything(shop.database) == before


FOREIGN: Final[dict[str, dict[str, str]]] = {
    "foreign origin": {"origin": "https://evil.example"},
    "another port": {"origin": "http://testserver:8001"},
    "nobody's origin": {"origin": "null"},
    "no origin, cross-site": {"sec-fetch-site": "cross-site"},
    "own origin, cross-site": {"sec-fetch-site": "cross-site", "origin": "http://testserver"},
    "a neighbour": {"sec-fetch-site": "same-site", "origin": "http://other.testserver"},
    "nonsense": {"sec-fetch-site": "same-origin, cross-site"},
}
CHANGING: Final = [row for row in ROWS if row.method not in ("GET", "HEAD")]
KINDS: Final = itertools.cycle(
    ("application/x-www-form-urlencoded", "multipart/form-data; boundary=b", "text/plain", "application/json")
)


@pytest.mark.parametrize("name", FOREIGN)
def test_what_another_site_sends_is_refused_at_every_address(shop: Shop, name: str) -> None:
    """With a keeper's cookie; also under /api, where the cookie counts for nothing anyway."""
    client = shop.signed_in(Role.KEEPER)
    before = everything(shop.database)
    wrong = []
    for row, kind in zip(CHANGING, KINDS, strict=False):
        answer = client.post(
            address(row.path), content=b'{"once": "k", "theme": "dark", "a=b',
            headers={**FOREIGN[name], "content-type": kind, "accept": "application/json"},
        )  # fmt: skip
        if answer.status_code != 403 or answer.json()["type"] != "/problems/cross-site":
            wrong.append(f"{row.path} {answer.status_code}")
    assert wrong == []
    assert len(CHANGING) > 100
    assert everything(shop.database) == before


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""]
)
def test_a_call_takes_only_what_says_that_it_is_json(shop: Shop, kind: str) -> None:
    """The bodies that a page of another site can send without being asked are never read as JSON."""
    client = shop.api(Role.KEEPER)
    before = everything(shop.database)
    wrong = []
    for row in CHANGING:
        if row.path.startswith("/api/"):
            body = b'{"once": "k1", "name": "Smuggled", "kind": "room", "reason": "As it was seen", "x":"="}'
            answer = client.post(address(row.path), content=body, headers={"content-type": kind})
            if answer.status_code not in (400, 415, 422):
                wrong.append(f"{row.path} {answer.status_code}")
    assert wrong == []
    assert everything(shop.database) == before


def test_every_route_of_the_application_is_asked(shop: Shop) -> None:
    """The walks above go by the table; the table goes by the routes (and the service starts only if so)."""
    there = {(method, path) for method, path, _ in flat(shop.app.routes)}
    assert there == NAMED
    mine: list[RouteRow] = [row for row in ROWS if row.method not in METHODS]
    assert mine == []


def test_an_address_that_is_not_there_is_404_for_every_method_and_caller(shop: Shop) -> None:
    for make in CALLERS.values():
        client = make(shop)
        for method in METHODS:
            for path in ("/nowhere", "/api/nowhere", "/people/1/2/3/4", "/api", "/static/"):
                answer = client.request(method, path)
                assert answer.status_code == 404, (method, path, answer.status_code)


def test_own_addresses_are_reached_by_their_own_spelling_only(shop: Shop) -> None:
    """No other spelling of an address passes a door that its own spelling keeps closed."""
    student, nobody = shop.signed_in(Role.STUDENT), shop.client()
    for client in (student, nobody):
        client.headers["accept"] = "application/json"
    wrong = []
    for row in ROWS:
        if row.method != "GET" or row.needs is PUBLIC or row.path == "/":
            continue
        plain = address(row.path)
        asked = send(student, row).status_code, send(nobody, row).status_code
        for odd in (f"{plain}/", plain.upper(), f"/.{plain}", f"/x/..{plain}", f"{plain}%00",
                    f"{plain};x", f"{plain}%20", plain.replace("/", "%2f", 1), f"{plain}/."):  # fmt: skip
            for client, direct in zip((student, nobody), asked, strict=True):
                if direct != 200 and client.get(odd).status_code == 200:
                    wrong.append(odd)
    assert wrong == []
