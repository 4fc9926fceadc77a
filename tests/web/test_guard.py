"""What stands in front of every request: headers, hosts, same origin, sizes, the log line."""

from __future__ import annotations

import itertools
import json
import logging
from typing import Any

import pytest
from fastapi import FastAPI, Request
from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient

from service.core.findings import NotFound
from service.web import errors, guard
from service.web.static_files import static_route, static_url


def make_app(hosts: tuple[str, ...] = ("testserver",), **options: Any) -> FastAPI:
    app = FastAPI(max_body_size=1000, docs_url=None, redoc_url=None)
    errors.install(app)
    ids, ticks = itertools.count(), itertools.count()
    guard.install(
        app, guard.GuardSettings(hosts, lambda: f"id{next(ids)}", lambda: next(ticks) / 1000, **options)
    )
    app.router.routes.append(static_route)

    @app.get("/page")
    def shown(request: Request) -> PlainTextResponse:
        request.state.person_id = 7
        return PlainTextResponse("page")

    @app.post("/page")
    async def taken(request: Request) -> PlainTextResponse:
        return PlainTextResponse(str(len(await request.body())))

    @app.get("/things/{name}")
    def thing(name: str) -> None:
        raise NotFound("No such thing.")

    @app.get("/boom")
    def boom() -> None:
        raise KeyError("a secret in the message")

    @app.api_route("/api/cookies", methods=["GET", "POST"])
    def cookies(request: Request) -> dict[str, str]:
        return dict(request.cookies)

    return app


@pytest.fixture
def client() -> TestClient:
    return TestClient(make_app())


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/page", 200),
        ("GET", "/things/x", 404),
        ("GET", "/nowhere", 404),
        ("GET", "/boom", 500),
        ("DELETE", "/page", 405),
        ("GET", "/static/service.css", 200),
        ("GET", "/static/../x", 404),
        ("GET", "/api/nothing", 404),
    ],
)
def test_every_answer_carries_the_headers(client: TestClient, method: str, path: str, status: int) -> None:
    answer = client.request(method, path)
    assert answer.status_code == status
    for name, value in guard.SECURITY_HEADERS.items():
        assert answer.headers[name] == value
    assert answer.headers["X-Request-ID"].startswith("id")


def test_refusals_of_the_guard_itself_carry_the_headers(client: TestClient) -> None:
    big = client.post("/page", content=b"x" * 1001)
    foreign = client.post("/page", headers={"Sec-Fetch-Site": "cross-site"})
    host = client.get("/page", headers={"Host": "other.example"})
    assert (big.status_code, foreign.status_code, host.status_code) == (413, 403, 400)
    for answer in (big, foreign, host):
        assert answer.headers["Content-Security-Policy"] == guard.CONTENT_SECURITY_POLICY
        assert answer.headers["Cache-Control"] == "no-store"


def test_policy_allows_nothing_inline_and_nothing_from_elsewhere() -> None:
    policy = guard.CONTENT_SECURITY_POLICY
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy and "http" not in policy and "*" not in policy


def test_pages_are_never_kept_and_hashed_files_for_good(client: TestClient) -> None:
    assert client.get("/page").headers["Cache-Control"] == "no-store"
    assert client.get(static_url("service.css")).headers["Cache-Control"].endswith("immutable")
    assert client.get("/static/service.css").headers["Cache-Control"] == "no-cache"
    assert client.get("/static/none.css").headers["Cache-Control"] == "no-store"
    assert client.head(static_url("service.js")).status_code == 200


def test_too_large_is_told_in_our_words_with_and_without_a_length(client: TestClient) -> None:
    def chunks() -> Any:
        for _ in range(20):
            yield b"y" * 100

    for body in (b"x" * 2000, chunks()):
        answer = client.post("/page", content=body, headers={"Accept": "application/json"})
        assert answer.status_code == 413
        assert answer.json()["type"] == "/problems/too-large"
    assert client.post("/page", content=b"x" * 1000).text == "1000"


@pytest.mark.parametrize(
    ("headers", "passes"),
    [
        ({"sec-fetch-site": "same-origin"}, True),
        ({"sec-fetch-site": "none"}, True),
        ({"sec-fetch-site": "same-site"}, False),
        ({"sec-fetch-site": "cross-site", "origin": "http://testserver"}, False),
        ({"origin": "http://testserver"}, True),
        ({"origin": "HTTP://TestServer"}, True),
        ({"origin": "http://testserver:8080"}, False),
        ({"origin": "http://testserver.evil.example"}, False),
        ({"origin": "null"}, False),
        ({"origin": ""}, False),
        ({"origin": "file://"}, False),
        ({}, True),
    ],
)
def test_same_origin(client: TestClient, headers: dict[str, str], passes: bool) -> None:
    assert (client.post("/page", headers=headers).status_code == 200) is passes
    assert client.get("/page", headers=headers).status_code == 200


def test_two_headers_of_one_name_must_both_pass() -> None:
    raw = [(b"host", b"a"), (b"sec-fetch-site", b"same-origin"), (b"sec-fetch-site", b"cross-site")]
    assert not guard.same_origin(Headers(raw=raw))
    raw = [(b"host", b"a"), (b"origin", b"http://a"), (b"origin", b"http://b")]
    assert not guard.same_origin(Headers(raw=raw))


def test_a_token_call_has_no_cookies_and_needs_no_origin(client: TestClient) -> None:
    bearer = {"Authorization": "Bearer abc", "Cookie": "session=stolen", "Sec-Fetch-Site": "cross-site"}
    assert client.post("/api/cookies", headers=bearer).json() == {}
    plain = {"Cookie": "session=mine"}
    assert client.post("/api/cookies", headers=plain).json() == {"session": "mine"}
    assert client.post("/api/cookies", headers=plain | {"Origin": "http://evil"}).status_code == 403
    # Outside /api the word Bearer opens nothing.
    assert client.post("/page", headers=bearer).status_code == 403


@pytest.mark.parametrize(
    ("allowed", "host", "known"),
    [
        (("shop.local",), "shop.local", True),
        (("shop.local",), "SHOP.local:8000", True),
        (("shop.local",), "shop.local.evil.example", False),
        (("*.example.org",), "a.example.org", True),
        (("*.example.org",), "example.org", False),
        (("*.example.org",), "evilexample.org", False),
        (("[::1]",), "[::1]:8000", True),
        (("*",), "anything", True),
        (("*",), "any thing", False),
        (("*",), "evil@shop", False),
        (("*",), "", False),
    ],
)
def test_hosts(allowed: tuple[str, ...], host: str, known: bool) -> None:
    layer = guard.Hosts(FastAPI(), allowed)
    assert layer.known(Headers({"host": host})) is known


def test_no_host_or_two_hosts_are_refused() -> None:
    layer = guard.Hosts(FastAPI(), ("*",))
    assert not layer.known(Headers(raw=[]))
    assert not layer.known(Headers(raw=[(b"host", b"a"), (b"host", b"b")]))


def lines_of(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [
        r.getMessage() for r in caplog.records if r.name == "umberkeep.requests" and r.levelno == logging.INFO
    ]


def test_one_line_per_request_with_the_route_not_the_path(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO, "umberkeep.requests")
    client = TestClient(make_app())
    client.get("/page?secret=1")
    client.get("/things/private-name")
    client.get("/nowhere%0d%0a%1b[2J")
    client.post("/page", content=b"body text")
    lines = lines_of(caplog)
    assert len(lines) == 4
    first, second, third, _ = (json.loads(line) for line in lines)
    assert first == {
        "method": "GET",
        "route": "/page",
        "status": 200,
        "ms": 1.0,
        "person": 7,
        "request_id": "id0",
    }
    assert second["route"] == "/things/{name}" and second["status"] == 404
    assert third["route"] == "(none)"
    assert not any(word in "".join(lines) for word in ("secret", "private-name", "body text", "nowhere"))


def test_nothing_odd_can_break_a_log_line() -> None:
    scope = {"method": "GET\r\n\x1b[31m", "state": {"request_id": "a\u2028\nb", "person_id": "x\ny"}}
    line = guard.log_line(scope, 200, 1.0)
    assert line.isascii() and line.isprintable()
    assert json.loads(line)["person"] is None


def test_an_unforeseen_error_is_logged_once_and_tells_a_reference(caplog: pytest.LogCaptureFixture) -> None:
    answer = TestClient(make_app()).get("/boom")
    failures = [r for r in caplog.records if r.levelno >= logging.ERROR]
    assert len(failures) == 1 and failures[0].exc_info is not None
    assert answer.status_code == 500
    assert "id0" in answer.text and "Nothing" in answer.text and "saved" in answer.text
    assert "id0" in failures[0].getMessage()
    assert "secret" not in answer.text


def test_reraise_lets_the_error_through() -> None:
    with pytest.raises(KeyError):
        TestClient(make_app(reraise=True)).get("/boom")
