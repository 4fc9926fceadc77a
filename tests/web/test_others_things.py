"""A student who is in no job asks for everything by its number: other people's jobs, rags, batches, duties,
entries and names are told nowhere, in no list by any filter, and no post of theirs changes anything.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from sqlalchemy import text
from sqlmodel import col, func, select

from service.actions.sign_in import open_session
from service.core.access import Role
from service.records.duties import Duty
from service.records.engine import Database, open_database
from service.records.jobs import Job
from service.records.mixing import Batch
from service.records.people import ApiToken, Device, Person, WebSession
from service.records.rags import RagLoad
from service.web.api_description import BODIES
from service.web.route_table import ROWS
from service.web.routes.row import RouteRow
from service.web.visitor import PLAIN_COOKIE
from tests.builders import NOW, opening
from tests.conftest import fresh_sqlite
from tests.web.conftest import Shop
from tests.web.demo_shop import codes, demo_shop
from tests.web.hostile import calls, forms, fresh_key, questions
from tests.web.test_doors import role_may
from tests.web.test_methods import everything

MARK: Final = "zqnotforyou"
"""Stands in the name of every job, of its people and in every note: wherever it shows, something leaked."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Iterator[Shop]:
    folder = tmp_path_factory.mktemp("others")
    database = open_database(fresh_sqlite(sqlite_template, folder))
    with demo_shop(database, folder) as shop:
        with database.writing() as session:
            session.execute(text(f"UPDATE job SET name = '{MARK} job ' || id, note = '{MARK}'"))
            session.execute(text(f"UPDATE person SET name = '{MARK} person ' || id, email = '{MARK}'"))
            session.execute(text(f"UPDATE duty SET sentence = '{MARK} duty ' || id"))
        yield shop
    database.dispose()


@pytest.fixture
def stranger(demo: Shop) -> TestClient:
    """A browser of a student who has just come and is in no job."""
    return demo.signed_in_as(new_student(demo.database))


def new_student(database: Database) -> Person:
    with database.writing() as session:
        row = Person(name="Nils Neu", role=Role.STUDENT, created_at=NOW)
        session.add(row)
        session.flush()
        session.refresh(row)
        session.expunge(row)
    return row


def most(database: Database) -> int:
    """The highest number of any job, load, batch or duty."""
    with database.reading() as session:
        return max(
            session.exec(select(func.max(col(table.id)))).one() or 0
            for table in (Job, RagLoad, Batch, Duty, Person, ApiToken, Device, WebSession)
        )


def filled(path: str, number: int, code: str) -> str:
    path = path.replace("{code}", code).replace("{kind}", "solvent").replace("{key}", "tung")
    path = path.replace("{found}", "mould")
    return re.sub(r"\{\w+\}", str(number), path)


def leaks(answer: Response) -> bool:
    """Whether an answer tells something of others. The notice of overdue rags, which names who owes them,
    stands on everybody's page: it is there so that nobody in the house misses it.
    """
    return MARK in re.sub(r'<section class="rag-notice.*?</section>', "", answer.text, flags=re.DOTALL)


def asked_by_a_student(method: str) -> list[RouteRow]:
    return [row for row in ROWS if row.method == method and role_may(Role.STUDENT, row)]


def test_there_is_something_to_keep_from_them(demo: Shop) -> None:
    page = demo.signed_in(Role.KEEPER)
    for path in ("/jobs", "/rags", "/bench", "/alerts", "/records/ledger", "/duties/1"):
        assert MARK in page.get(path).text, path
    assert most(demo.database) >= 4


def test_no_page_or_call_tells_a_student_of_others(demo: Shop, stranger: TestClient) -> None:
    script = demo.api(Role.STUDENT)
    there = codes(demo.database)
    asked = {one.path: one.asked for one in questions(demo.app) if one.method == "GET"}
    told, seen = [], 0
    for row in asked_by_a_student("GET"):
        client = script if row.path.startswith("/api/") else stranger
        for number in range(1, most(demo.database) + 1) if "{" in row.path else (1,):
            plain = filled(row.path, number, there[number % len(there)])
            by_filter = [f"{plain}?{name}={value}" for name in asked.get(row.path, ())
                         for value in (number, "true", MARK)]  # fmt: skip
            for address in [plain, *by_filter]:
                answer = client.get(address)
                seen += answer.status_code == 200
                if answer.status_code >= 500 or (leaks(answer) and f"={MARK}" not in address):
                    told.append(f"{address} {answer.status_code}")
    assert told == []
    assert seen > 50, "there is enough that is theirs to see"


HIDDEN: Final = {
    "page": ("/jobs/{}", "/bench/{}", "/rags/{}", "/rags/{}/step", "/duties/{}/done", "/duties/{}",
             "/movements/{}/correct", "/people/{}", "/receive/done/{}", "/checks/{}", "/places/{}"),
    "call": ("/api/batches/{}", "/api/rag-loads?limit={}", "/api/rag-log?limit={}", "/api/ledger?limit={}",
             "/api/overrides?limit={}", "/api/recipes/{}", "/api/alerts?days={}"),
}  # fmt: skip


@pytest.mark.parametrize("kind", HIDDEN)
def test_by_its_number_it_is_not_there(demo: Shop, stranger: TestClient, kind: str) -> None:
    client = stranger if kind == "page" else demo.api(Role.STUDENT)
    asked = {path.format(n) for path in HIDDEN[kind] for n in range(1, most(demo.database) + 1)}
    answers = {path: client.get(path).status_code for path in sorted(asked)}
    assert {path: status for path, status in answers.items() if status not in (403, 404)} == {}
    assert demo.api(Role.STUDENT).get("/api/jobs?closed=true").json()["jobs"] == []
    assert demo.api(Role.STUDENT).get("/api/batches").json()["items"] == []


SELF = ("/me", "/sign", "/tap", "/untap", "/tablet", "/hazards/mix", "/air")
"""Their own, or what touches no stock: the hazards of a mix are worked out for anybody signed in."""


def test_no_form_of_theirs_changes_what_is_not_theirs(demo: Shop, stranger: TestClient) -> None:
    there = codes(demo.database)
    allowed = {row.path for row in asked_by_a_student("POST")}
    before = everything(demo.database)
    done, tried = [], 0
    for form in forms(demo.app):
        if form.path not in allowed or form.path.startswith(SELF):
            continue
        for number in range(1, most(demo.database) + 1):
            for more in ({}, {"job": str(number), "amount": "1 g", "looked": "yes", "reason": "As it was"}):
                usual = form.usual | more | ({"once": fresh_key()} if "once" in form.usual else {})
                answer = stranger.post(filled(form.path, number, there[number % len(there)]), data=usual)
                tried += 1
                if answer.status_code < 400 or answer.status_code >= 500 or leaks(answer):
                    done.append(f"{form.path} {number} {answer.status_code} {more}")
    assert done == []
    assert tried > 50
    assert everything(demo.database) == before


def test_no_call_of_theirs_changes_what_is_not_theirs(demo: Shop) -> None:
    script = demo.api(Role.STUDENT)
    there = codes(demo.database)
    before = everything(demo.database)
    described = {call.path: call for call in calls(demo.app.openapi(), BODIES)}
    done, tried = [], 0
    for row, number in itertools.product(asked_by_a_student("POST"), range(1, most(demo.database) + 1)):
        if not row.path.startswith("/api/") or row.path.startswith("/api/calc/"):
            continue
        body = described[row.path].fresh()
        if ("job",) in described[row.path].fields:
            body["job"] = number
        body.pop("person", None)
        answer = script.post(filled(row.path, number, there[number % len(there)]), json=body)
        tried += 1
        if answer.status_code < 400 or answer.status_code >= 500 or leaks(answer):
            done.append(f"{row.path} {number} {answer.status_code} {answer.text[:300]}")
    assert done == []
    assert tried > 20
    assert everything(demo.database) == before


def test_what_has_just_been_done_is_told_to_nobody_else(demo: Shop, stranger: TestClient) -> None:
    """The line at the top of the next page, with its way to take the entry back."""
    keeper = demo.signed_in(Role.KEEPER)
    code = codes(demo.database)[0]
    answer = keeper.post(
        f"/containers/{code}/count", data={"amount": "1 g", "once": fresh_key(), "reason": f"{MARK} again"}
    )
    for client in (stranger, demo.signed_in(Role.KEEPER), demo.client()):
        assert "/correct" not in client.get("/").text
    assert answer.status_code in (303, 409, 422)


def test_a_sign_in_of_one_opens_nothing_for_another(demo: Shop) -> None:
    """A number of a session is no token, nor is what is kept of the token."""
    with demo.database.writing() as session:
        row = open_session(session, opening("the real one"), person_id=demo.cast.keeper.id)
        number, kept = row.id, row.token_hash
    for tried in (str(number), kept, "THE REAL ONE", "", "null", "the real one\x00"):
        client = demo.client()
        client.cookies.set(PLAIN_COOKIE, tried.replace("\x00", "%00"))
        assert client.get("/me").status_code == 303, tried
