"""Addresses that leave the house are built from the setting BASE_URL, whatever a request says of itself."""

from __future__ import annotations

import dataclasses
import re

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.app import create_app
from service.core.access import Role
from tests.builders import FAST_HASHER
from tests.web.conftest import Shop

BASE = "https://stains.example"
EVIL = "evil.example"
OTHER = "https://other.example"
FORGED: dict[str, dict[str, str]] = {
    "nothing": {},
    "another name of this service": {"host": "testserver"},
    "a proxy that nobody named": {
        "x-forwarded-host": EVIL, "x-forwarded-proto": "http", "x-forwarded-for": EVIL,
        "x-forwarded-prefix": "/evil", "x-forwarded-port": "81",
    },
    "the standard header of a proxy": {"forwarded": f"host={EVIL};proto=http"},
    "what some servers rewrite by": {
        "x-original-url": f"//{EVIL}/", "x-rewrite-url": f"//{EVIL}/", "x-host": EVIL, "base-url": EVIL,
    },
}  # fmt: skip
PAGES = ("/store", "/people", "/devices", "/labels", "/rags", "/alerts", "/shop", "/recipes", "/jobs")
OWN_PATH = re.compile(r"/(?![/\\])")


def at(shop: Shop, base: str) -> FastAPI:
    """The same shop under a base address; its secrets are the same at each start."""
    settings = dataclasses.replace(shop.app.state.settings, base_url=base)
    number = iter(range(10**6))
    return create_app(
        settings, shop.database, shop.clock, hasher=FAST_HASHER, secret=lambda: f"secret-{next(number):040}"
    )


def keeper(shop: Shop, app: FastAPI) -> TestClient:
    signed = shop.signed_in(Role.KEEPER)
    client = TestClient(app, base_url=BASE, follow_redirects=False, headers={"accept": "text/html"})
    # Over https the cookie has the prefix that ties it to this host.
    client.cookies.set("__Host-umberkeep", next(iter(signed.cookies.values())))
    shop.clients.append(client)
    return client


@pytest.mark.parametrize("name", list(FORGED))
def test_one_time_addresses(shop: Shop, name: str) -> None:
    client, sent = keeper(shop, at(shop, BASE)), FORGED[name] | {"origin": BASE}
    if sent.get("host"):
        sent["origin"] = "https://testserver"
    shop.tablet()
    person = shop.cast.person(Role.FINISHER).id
    for path, kind in ((f"/people/{person}/password-link", "set-password"), ("/devices/1/link", "tablet")):
        answer = client.post(path, headers=sent)
        assert answer.status_code == 200, answer.text
        found = re.findall(rf"[^\s\"'<>]*/{kind}/[^\s\"'<>]+", answer.text.replace("<wbr>", ""))
        assert found
        assert all(address.startswith(f"{BASE}/{kind}/secret-") for address in found)
        assert EVIL not in answer.text


@pytest.mark.parametrize("name", list(FORGED))
def test_the_square_on_a_label(shop: Shop, name: str) -> None:
    """Drawn from the setting alone: the same as without such headers, and another under another base."""
    pages = [
        keeper(shop, at(shop, base)).get("/labels/ahead?count=1", headers=sent)
        for base, sent in ((BASE, {}), (BASE, FORGED[name]), (OTHER, {"host": "testserver"}))
    ]
    squares = [re.findall(r' d="([^"]{200,})"', one.text) for one in pages]
    assert [one.status_code for one in pages] == [200] * 3 and len(squares[0]) == 1
    assert squares[0] == squares[1] != squares[2]


@pytest.mark.parametrize("name", list(FORGED))
def test_no_redirect_leads_elsewhere(shop: Shop, name: str) -> None:
    """Every page without an id, by nobody and by a keeper, with and without a slash too many."""
    app, seen = at(shop, BASE), 0
    nobody = TestClient(app, base_url=BASE, follow_redirects=False, headers={"accept": "text/html"})
    shop.clients.append(nobody)
    paths = [path for path in ("/", *app.openapi()["paths"], *PAGES) if "{" not in path]
    for client in (nobody, keeper(shop, app)):
        for path in paths:
            for one in (path, path.rstrip("/") + "/"):
                place = client.get(one, headers=FORGED[name]).headers.get("location")
                if place is not None:
                    seen += 1
                    # A name that the settings allow may stay what the browser goes by.
                    own = place.startswith((BASE + "/", "https://testserver/")) or OWN_PATH.match(place)
                    assert own, f"{one} leads to {place}"
    assert seen > len(PAGES)


@pytest.mark.parametrize("host", [EVIL, f"{EVIL}:443", f"stains.example.{EVIL}", f"me@{EVIL}", ""])
def test_a_name_that_is_not_ours_gets_no_page(shop: Shop, host: str) -> None:
    answer = keeper(shop, at(shop, BASE)).get("/store", headers={"host": host})
    assert answer.status_code == 400
    assert EVIL not in answer.text and "location" not in answer.headers
