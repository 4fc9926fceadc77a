"""The job pages: open with an end, add people, the short list before closing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from service.core.access import Role
from service.records.engine import Database
from service.records.job_queries import people_of, the_job
from tests.rag_shop import ENDS, RagShop, once, open_a_job
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def _form(rags: RagShop, **said: Any) -> dict[str, Any]:
    return {
        "name": "Evening class", "kind": "class", "ends": "shift", "once": once(),
        "people": [str(rags.people.finisher.id), str(rags.people.student.id)],
    } | said  # fmt: skip


def test_opened_till_the_shift_ends_or_at_a_time(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    client = doors.signed_in(Role.FINISHER)
    assert "When the shift ends, 17:00" in client.get("/jobs/new").text
    answer = client.post("/jobs/new", data=_form(rags))
    assert answer.status_code == 303
    page = client.get(answer.headers["location"]).text
    assert "12 Mar 2026, 17:00" in page.replace("\u00a0", " ") and "Sanne Vos" in page
    answer = client.post("/jobs/new", data=_form(rags, ends="at", at="14.15"))
    page = client.get(answer.headers["location"]).text
    assert "14:15" in page and "It ends at 14:15" in page


@pytest.mark.parametrize(("at", "taken"), [("08:59", False), ("00:00", True), ("16:59", True)])
def test_a_time_that_has_passed_is_not_taken_for_tomorrow(
    made: tuple[RagShop, Shop], at: str, taken: bool
) -> None:
    """Cut to 24:00 it would give the rags a later end than asked for. The shop's clock shows 09:00."""
    rags, doors = made
    answer = doors.signed_in(Role.FINISHER).post("/jobs/new", data=_form(rags, ends="at", at=at))
    assert answer.status_code == (303 if taken else 422)
    assert taken or f"{at} has passed today" in answer.text


@pytest.mark.parametrize(("said", "words"), [
    ({"name": ""}, "Give the job a name"), ({"ends": "at"}, "Enter the time it ends"),
    ({"ends": "at", "at": "25:00"}, "between 00:00 and 23:59"), ({"people": ["4711"]}, "not in the books"),
    ({"place": "4711"}, "no such place"), ({"kind": "party"}, "kind of work"),
])  # fmt: skip
def test_what_is_wrong_is_said_and_what_was_typed_is_kept(
    made: tuple[RagShop, Shop], said: dict[str, Any], words: str
) -> None:
    rags, doors = made
    form = _form(rags, note="Kept all the same", **said)
    answer = doors.signed_in(Role.FINISHER).post("/jobs/new", data=form)
    assert answer.status_code == 422 and "Kept all the same" in answer.text
    assert words.lower() in answer.text.lower()


def test_the_same_form_twice_opens_one_job(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    client = doors.signed_in(Role.FINISHER)
    form = _form(rags)
    first, again = client.post("/jobs/new", data=form), client.post("/jobs/new", data=form)
    assert first.headers["location"] == again.headers["location"]


def test_students_open_none_and_see_their_own(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    open_a_job(rags, "Without the student", people=())
    client = doors.signed_in(Role.STUDENT)
    assert client.get("/jobs/new").status_code == 403
    text = client.get("/jobs").text
    assert "Table tops" in text and "Without the student" not in text
    assert "Close this job" not in client.get("/jobs/1").text


def test_people_are_added_on_the_page(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    client = doors.signed_in(Role.FINISHER)
    assert client.post("/jobs/1/people", data={}).status_code == 422
    said = {"people": [str(rags.people.reader.id)]}
    assert client.post("/jobs/1/people", data=said).status_code == 303
    with rags.database.reading() as session:
        assert "Ines Roth" in [p.name for p in people_of(session, the_job(session, 1))]


def test_who_was_named_by_mistake_is_taken_out_and_it_stands_in_the_book(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    leader, student = doors.signed_in(Role.FINISHER), rags.people.student
    said = {"person": str(student.id), "reason": "She is in the other class"}
    assert "Take somebody out" not in doors.signed_in(Role.STUDENT).get("/jobs/1").text
    assert doors.signed_in(Role.STUDENT).post("/jobs/1/leave", data=said).status_code == 403
    for odd in ({"reason": "x"}, {"reason": ""}, {"person": "4711"}, {"person": ""}):
        assert leader.post("/jobs/1/leave", data=said | odd).status_code == 422
    its_leader = said | {"person": str(rags.people.finisher.id)}
    assert leader.post("/jobs/1/leave", data=its_leader).status_code == 409
    assert leader.post("/jobs/1/leave", data=said).status_code == 303
    assert leader.post("/jobs/1/leave", data=said).status_code == 422
    text = leader.get("/jobs/1").text
    assert f"{student.name} was taken out by {rags.people.finisher.name}" in text
    assert "She is in the other class" in text
    draw = {"amount": "10 ml", "when": "about", "looked": "yes", "job": "1", "once": once()}
    refused = doors.signed_in(Role.STUDENT).post(f"/containers/{rags.oil}/draw", data=draw)
    assert refused.status_code == 403


def test_who_booked_something_stays_in_the_job(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw(role=Role.STUDENT)
    said = {"person": str(rags.people.student.id), "reason": "She is in the other class"}
    for role in (Role.FINISHER, Role.KEEPER):
        answer = doors.signed_in(role).post("/jobs/1/leave", data=said)
        assert answer.status_code == 409 and "goes on naming them" in answer.text
    with rags.database.reading() as session:
        assert rags.people.student.id in [p.id for p in people_of(session, the_job(session, 1))]


def test_the_short_list_stands_before_closing(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    client = doors.signed_in(Role.FINISHER)
    text = client.get("/jobs/1/close").text
    assert "Rag load 1 is not contained" in text and "Close the job" not in text
    assert client.post("/jobs/1/close", data={"once": once()}).status_code == 409
    rags.pass_by(minutes=1)
    rags.into_can()
    rags.pass_by(minutes=1)
    assert "Close the job" in client.get("/jobs/1/close").text
    assert client.post("/jobs/1/close", data={"once": once()}).status_code == 303
    text = client.get("/jobs/1").text
    assert "1 rag load still to leave the building" in text
    assert "closed already" in client.get("/jobs/1/close").text
    assert "Table tops" in client.get("/jobs").text.split("Closed")[-1]


def test_a_job_past_its_end_says_so(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.now = ENDS + timedelta(minutes=1)
    client = doors.signed_in(Role.FINISHER)
    assert "Past their end, not closed" in client.get("/jobs").text
    assert "nothing is drawn for it any more" in client.get("/jobs/1").text


def test_what_was_drawn_is_listed(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    text = doors.signed_in(Role.READER).get("/jobs/1").text.replace("\u00a0", " ")
    assert "Linseed oil, boiled" in text and "10 ml" in text and "Rag load 1" in text
