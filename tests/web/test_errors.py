"""Every error becomes a status code and a sentence in one place, as JSON or as a page."""

from __future__ import annotations

import itertools
import sqlite3
from decimal import Decimal
from typing import Annotated, Any

import psycopg
import pytest
from fastapi import FastAPI, HTTPException, Path, Query
from pydantic import BaseModel
from sqlalchemy import Column, Integer, MetaData, String, Table, create_engine, exc, insert
from sqlalchemy.orm.exc import StaleDataError
from starlette.requests import Request
from starlette.testclient import TestClient

from service.core.findings import (
    Invalid,
    NotAllowed,
    NotFound,
    Reading,
    Refused,
    Stale,
    StaleKind,
    Verdict,
    note,
    stop,
    unknown,
)
from service.web import errors, guard, problems, render
from service.web.pages import problems as problem_pages

JSON = {"Accept": "application/json"}


class Thing(BaseModel):
    amount: Decimal
    name: str = "x"


def raising(error: Exception) -> TestClient:
    app = FastAPI()
    errors.install(app)
    ids = itertools.count()
    guard.install(app, guard.GuardSettings(["*"], lambda: f"id{next(ids)}", lambda: 0.0))
    app.include_router(problem_pages.router)

    @app.get("/page")
    @app.get("/api/call")
    def call() -> None:
        raise error

    @app.post("/api/things")
    def things(thing: Thing) -> None: ...

    @app.get("/api/numbered/{number}")
    def numbered(number: Annotated[int, Path(ge=1, le=9)], q: Annotated[int, Query(le=5)] = 1) -> None: ...

    return TestClient(app)


VERDICT = Verdict.of(
    [
        note("n", "A note."),
        stop("rags-overdue", "The <b>rags</b> of job 12 are loose.", "shop profile", "Table top"),
        unknown("u", "Not known when it was opened."),
    ]
)

CASES: list[tuple[Exception, int, str]] = [
    (NotFound("No container has that code."), 404, "not-found"),
    (NotAllowed("Only a keeper may do that."), 403, "not-allowed"),
    (Invalid("Read the amount again.", {"amount": "Enter it."}), 422, "invalid"),
    (Refused(VERDICT), 409, "refused"),
    (Stale("Somebody changed it."), 409, "stale"),
    (Stale("That key was used.", StaleKind.ONCE_REUSED), 409, "once-reused"),
    (HTTPException(429, "Wait a minute.", {"Retry-After": "60"}), 429, "throttled"),
    (HTTPException(418), 418, "unreadable"),
    (OverflowError("Python int too large"), 422, "invalid"),
    (UnicodeEncodeError("utf-8", "\ud800", 0, 1, "surrogates not allowed"), 422, "invalid"),
    (exc.DataError("select", {}, Exception("out of range")), 422, "invalid"),
    (exc.StatementError("no", "select", {}, ValueError("finer than we keep")), 422, "invalid"),
    (exc.StatementError("no", "select", {}, ValueError("naive datetime")), 500, "unexpected"),
    (exc.IntegrityError("insert", {}, Exception("UNIQUE")), 409, "conflict"),
    (StaleDataError("0 rows"), 409, "stale"),
    (exc.OperationalError("x", {}, sqlite3.OperationalError("database is locked")), 503, "busy"),
    (exc.OperationalError("x", {}, sqlite3.OperationalError("database or disk is full")), 503, "disk"),
    (exc.OperationalError("x", {}, sqlite3.OperationalError("disk I/O error")), 503, "disk"),
    (exc.OperationalError("x", {}, psycopg.errors.DiskFull("no room")), 503, "disk"),
    (exc.OperationalError("x", {}, psycopg.errors.LockNotAvailable("lock timeout")), 503, "busy"),
    (exc.OperationalError("x", {}, psycopg.errors.AdminShutdown("shut down")), 503, "away"),
    (exc.InterfaceError("x", {}, psycopg.InterfaceError("the connection is closed")), 503, "away"),
    (exc.InternalError("x", {}, psycopg.errors.InFailedSqlTransaction("aborted")), 500, "unexpected"),
    (exc.OperationalError("x", {}, sqlite3.OperationalError("no such table: t")), 500, "unexpected"),
    (exc.OperationalError("x", {}, psycopg.OperationalError("connection refused")), 503, "away"),
    (exc.TimeoutError("QueuePool limit"), 503, "busy"),
    (OSError(28, "No space left on device"), 503, "disk"),
    (OSError(27, "File too large"), 503, "disk"),
    (OSError(2, "No such file"), 500, "unexpected"),
    (ValueError("our own slip"), 500, "unexpected"),
    (ZeroDivisionError(), 500, "unexpected"),
]


@pytest.mark.parametrize(("error", "status", "name"), CASES, ids=lambda v: str(v)[:30])
def test_each_error_as_a_problem_document(error: Exception, status: int, name: str) -> None:
    answer = raising(error).get("/api/call")
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert body["type"] == f"/problems/{name}" and body["status"] == status
    assert body["title"] == problems.KINDS[name].title and body["detail"]
    if status == 503:
        assert answer.headers["Retry-After"] == "5"


@pytest.mark.parametrize(("error", "status", "name"), CASES, ids=lambda v: str(v)[:30])
def test_each_error_as_a_page(error: Exception, status: int, name: str) -> None:
    answer = raising(error).get("/page")
    assert answer.status_code == status
    assert answer.headers["content-type"].startswith("text/html")
    assert "<h1>" in answer.text and "Spill or fire" in answer.text
    assert raising(error).get("/page", headers=JSON).json()["type"] == f"/problems/{name}"


def test_a_refusal_names_its_findings() -> None:
    body = raising(Refused(VERDICT)).get("/api/call").json()
    assert [f["code"] for f in body["findings"]] == ["rags-overdue", "u", "n"]
    assert body["detail"] == "The <b>rags</b> of job 12 are loose."
    page = raising(Refused(VERDICT)).get("/page").text
    for words in (
        "Stops it",
        "Not known",
        "Note",
        "Source: shop profile",
        "Table top",
        "Nothing was booked",
        'href="/rags"',
        "Put the rags away",
        "icon-stop",
        "icon-unknown",
    ):
        assert words in page
    assert "<b>rags" not in page and "&lt;b&gt;rags" in page


def test_readings_and_errors_are_told() -> None:
    error = Invalid(
        "Say which.", {"amount": "Which one?"}, [Reading("1", "one"), Reading("1000", "a thousand")]
    )
    body = raising(error).get("/api/call").json()
    assert body["readings"] == [{"text": "1", "words": "one"}, {"text": "1000", "words": "a thousand"}]
    assert body["errors"] == {"amount": "Which one?"}
    page = raising(error).get("/page").text
    assert "a thousand" in page and "Which one?" in page


@pytest.mark.parametrize(
    ("body", "where"),
    [
        ('{"amount": NaN}', "amount"),
        ('{"amount": 1e400}', "amount"),
        ('{"amount": "abc"}', "amount"),
        ('{"amount": "\\ud800"}', "amount"),
        ("{", "body"),
        ("[]", "body"),
        ('{"name": 5}', "amount"),
    ],
)
def test_odd_json_is_422_and_not_repeated(body: str, where: str) -> None:
    answer = raising(ValueError()).post(
        "/api/things", content=body.encode(), headers={"Content-Type": "application/json"}
    )
    assert answer.status_code == 422
    told = answer.json()
    assert told["type"] == "/problems/invalid" and where in told["errors"]
    assert "input" not in answer.text and "NaN" not in answer.text and "abc" not in answer.text


def test_paths_and_queries_out_of_range_are_422() -> None:
    client = raising(ValueError())
    for path in (f"{2**63}", "0", "x", "1?q=99999999999999999999999"):
        assert client.get(f"/api/numbered/{path}").status_code == 422
    told = client.get("/api/numbered/1?q=9").json()
    assert told["errors"] == {"q": "Enter a number of 5 or less for “q”."}


def test_what_a_real_driver_raises_over_a_number_is_422() -> None:
    table = Table("t", MetaData(), Column("id", Integer, primary_key=True), Column("name", String))
    engine = create_engine("sqlite://")
    table.create(engine)
    for value in (2**63, 2**200):
        with pytest.raises((OverflowError, exc.SQLAlchemyError)) as caught, engine.begin() as connection:
            connection.execute(insert(table).values(id=value))
        assert isinstance(caught.value, Exception)
        assert raising(caught.value).get("/api/call").status_code == 422
    engine.dispose()


def test_a_method_that_is_not_there_keeps_its_allow_header() -> None:
    answer = raising(ValueError()).delete("/page")
    assert answer.status_code == 405 and "GET" in answer.headers["Allow"]


def test_the_page_of_an_error_survives_a_broken_chrome() -> None:
    def broken(_: Request) -> Any:
        raise RuntimeError("database away")

    render.set_chrome_provider(broken)
    try:
        assert raising(NotFound("No such thing.")).get("/page").status_code == 404
    finally:
        render.set_chrome_provider(None)


def test_the_way_back_stays_on_this_host() -> None:
    client = raising(NotFound("No such thing."))
    near = client.get("/page", headers={"Referer": "http://testserver/store?x=1"}).text
    far = client.get("/page", headers={"Referer": "http://evil.example/store"}).text
    trick = client.get("/page", headers={"Referer": "http://testserver//evil.example"}).text
    assert 'href="/store?x=1"' in near
    assert "evil" not in far and "evil" not in trick


def test_every_kind_has_a_page_and_no_banned_word() -> None:
    client = raising(ValueError())
    for kind in problems.KINDS.values():
        answer = client.get(f"/problems/{kind.name}")
        assert answer.status_code == 200 and kind.title in answer.text
        said = f"{kind.title} {kind.meaning} {kind.todo}".lower()
        assert not any(word in said.split() for word in ("good", "safe", "please", "invalid", "oops"))
    assert client.get("/problems/never").status_code == 404
