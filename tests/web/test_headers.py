"""Every class of answer of the service: its protecting headers, its type, and nothing about the server."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest
from httpx2 import Response

from service.core.access import Role
from service.records.engine import open_database
from service.web import guard
from service.web.static_files import static_url
from tests.conftest import fresh_sqlite
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_shop

CROSS: Final = {"sec-fetch-site": "cross-site"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Iterator[Shop]:
    folder = tmp_path_factory.mktemp("headers")
    database = open_database(fresh_sqlite(sqlite_template, folder))
    with demo_shop(database, folder) as shop:
        yield shop
    database.dispose()


def sheet(demo: Shop) -> Response:
    """A safety data sheet handed out: the file of somebody, whatever it holds."""
    page = demo.signed_in(Role.KEEPER)
    form = {"once": "sheet-1", "regime": "eu-clp", "sheet_date": "2026-01-15", "copied_whole": "yes"}
    files = {"sheet": ("<script>.pdf", b"%PDF-1.7\nplain\n%%EOF\n", "text/html")}
    kept = page.post("/materials/1/sheets/new", data=form, files=files)
    assert kept.status_code == 303, kept.text[-3000:]
    where = re.findall(r"/materials/1/sheets/\d+/file", page.get("/materials/1").text)
    return page.get(where[0])


KINDS: Final[dict[str, tuple[int, Callable[[Shop], Response]]]] = {
    "page": (200, lambda s: s.signed_in(Role.KEEPER).get("/store")),
    "public page": (200, lambda s: s.client().get("/spill")),
    "call": (200, lambda s: s.api(Role.KEEPER).get("/api/containers")),
    "made": (201, lambda s: s.api(Role.KEEPER).post("/api/jobs", json={"once": "h1", "name": "Headers"})),
    "description": (200, lambda s: s.client().get("/api/openapi.json")),
    "style": (200, lambda s: s.client().get(static_url("service.css"))),
    "script": (200, lambda s: s.client().get(static_url("service.js"))),
    "paper": (200, lambda s: s.signed_in(Role.KEEPER).get("/labels/page.css")),
    "file": (200, sheet),
    "health": (200, lambda s: s.client().get("/health")),
    "no body": (200, lambda s: s.client().head("/health")),
    "redirect": (303, lambda s: s.client().get("/store")),
    "after a post": (303, lambda s: s.signed_in(Role.KEEPER).post("/me/theme", data={"theme": "dark"})),
    "held post": (401, lambda s: s.client().post("/people/new", data={"name": "x"})),
    "no token": (401, lambda s: s.client().get("/api/ledger")),
    "not allowed": (403, lambda s: s.signed_in(Role.STUDENT).get("/people")),
    "other site": (403, lambda s: s.client().post("/sign-in", data={}, headers=CROSS)),
    "not there": (404, lambda s: s.client().get("/nowhere")),
    "no such call": (404, lambda s: s.client().get("/api/nowhere")),
    "no such file": (404, lambda s: s.client().get("/static/nothing.css")),
    "method": (405, lambda s: s.client().delete("/store")),
    "too large": (413, lambda s: s.client().post("/sign-in", content=b"a" * (guard.MAX_BODY + 1))),
    "unreadable": (422, lambda s: s.api(Role.KEEPER).post("/api/jobs", content=b"{",
                                                        headers={"content-type": "application/json"})),
    "form again": (422, lambda s: s.signed_in(Role.KEEPER).post("/people/new", data={})),
    "other name": (400, lambda s: s.client().get("/store", headers={"host": "evil.example"})),
}  # fmt: skip
OPEN_TO_CACHES: Final = frozenset({"style", "script"})


@pytest.mark.parametrize("name", KINDS)
def test_every_class_of_answer(demo: Shop, name: str) -> None:
    status, ask = KINDS[name]
    answer = ask(demo)
    assert answer.status_code == status, answer.text[:300]
    told = answer.headers
    for header, value in guard.SECURITY_HEADERS.items():
        if header != "Content-Security-Policy" or name != "file":
            assert told.get_list(header) == [value], header
    assert "frame-ancestors 'none'" in told["content-security-policy"] or name == "file"
    assert ("no-store" in told["cache-control"]) is (name not in OPEN_TO_CACHES)
    assert len(told["x-request-id"]) >= 8
    assert not {"server", "x-powered-by", "access-control-allow-origin", "x-aspnet-version"} & set(told)
    if answer.text:
        kind = told["content-type"]
        assert kind.startswith(("application/json", "application/problem+json", "application/pdf")) or (
            kind.startswith("text/") and "charset=utf-8" in kind
        )


def test_a_file_of_somebody_runs_nowhere(demo: Shop) -> None:
    answer = sheet(demo)
    assert answer.headers["content-security-policy"].startswith("sandbox")
    assert answer.headers["content-disposition"].startswith("attachment") and "<" not in str(answer.headers)
    assert answer.headers["content-type"] == "application/pdf"


@pytest.mark.parametrize(
    "odd", ["%0d%0aSet-Cookie:%20a=b", "%0aX: y", "%c4%8d%c4%8a", "%e5%98%8a", "\u010a", "%00", "%ff"]
)
def test_nothing_that_was_sent_makes_a_header_of_its_own(demo: Shop, odd: str) -> None:
    page, nobody = demo.signed_in(Role.KEEPER), demo.client()
    answers = [
        nobody.get(f"/store?next={odd}"),
        nobody.get(f"/people/{odd}"),
        page.get(f"/sign-in?next=/{odd}"),
        page.get(f"/scan?code={odd}"),
        page.get(f"/C/{odd}"),
        nobody.post("/sign-in", data={"sign_in_name": odd, "next": f"/{odd}"}),
    ]
    for answer in answers:
        assert answer.status_code < 500
        assert "set-cookie" not in answer.headers and "x" not in answer.headers
        assert all(value.isascii() and value.isprintable() for value in answer.headers.values())
