"""The rag pages as a browser without script meets them: who sees what, what is asked, the notice."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlmodel import select

from service.actions.witness import FILE_NAME
from service.core.access import Role
from service.core.rags import RagStep
from service.core.shelf_codes import show_code
from service.records.duties import Duty
from service.records.engine import Database
from service.records.rag_queries import log_rows
from service.records.rags import Override
from tests.rag_shop import ENDS, RagShop, once, open_a_job
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client

REASON = "The last coat must go on while the first is wet"


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


PAGES = ["/", "/jobs", "/jobs/new", "/rags", "/rags/hand-over", "/rags/log", "/rags/day-sheet",
         "/rags/violations", "/rags/overrides", "/duties", "/jobs/1", "/jobs/1/close", "/rags/1",
         "/rags/1/step", "/rags/1/step?step=in-can", "/rags/1/step?step=removed",
         "/rags/1/step?step=none-made",
         "/rags/1/step?step=outside-drum&can=3", "/rags/1/step?step=under-water&can=2"]  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_every_page_in_every_state(made: tuple[RagShop, Shop], path: str) -> None:
    rags, doors = made
    rags.draw()
    client = doors.signed_in(Role.KEEPER)
    assert client.get(path).status_code == 200
    rags.now = ENDS + timedelta(minutes=30)
    late = client.get(path)
    assert late.status_code == 200
    assert "rag-notice late" in late.text and "overdue 30" in late.text.replace("\u00a0", " ")
    rags.into_can()
    assert client.get(path).status_code == 200


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER])
def test_every_page_for_every_role_is_a_page_or_a_refusal(made: tuple[RagShop, Shop], role: Role) -> None:
    rags, doors = made
    rags.overdue()
    client = doors.signed_in(role)
    for path in PAGES:
        assert client.get(path).status_code in (200, 403), path


def test_one_button_puts_them_in_the_can(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=5)
    client = doors.signed_in(Role.STUDENT)
    assert "In the rag can now" in client.get("/rags").text
    assert "Water can" not in client.get("/rags").text  # nobody recorded that it is listed: no button for it
    answer = client.post("/rags/1/step", data={"step": "in-can", "can": rags.can, "once": once()})
    assert answer.status_code == 303 and answer.headers["location"] == "/rags/1"
    assert "put away, still here" in client.get("/rags/1").text
    assert rags.load().state.contained


def test_a_can_that_is_none_is_refused_with_what_is_missing(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=5)
    client = doors.signed_in(Role.FINISHER)
    answer = client.post("/rags/1/step", data={"step": "in-can", "can": rags.bucket, "once": once()})
    assert answer.status_code == 409 and "Read its mark" in answer.text
    assert not rags.load().state.contained


def test_a_step_that_lacks_an_answer_is_asked_again_with_what_was_said(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=5)
    client = doors.signed_in(Role.FINISHER)
    said = {"step": "removed", "note": "fetched by the gate", "once": once()}
    answer = client.post("/rags/1/step", data=said)
    assert answer.status_code in (409, 422)
    assert "Who took them?" in answer.text and "fetched by the gate" in answer.text
    assert "Why it was not written down" in answer.text
    assert not rags.load().state.remove_met


def test_the_draws_that_left_no_rags_are_named_and_nobody_is_their_own_witness(
    made: tuple[RagShop, Shop]
) -> None:
    rags, doors = made
    rags.draw()
    text = doors.signed_in(Role.FINISHER).get("/rags/1/step?step=none-made").text
    assert show_code(rags.oil) in text.split("Which draws left no rags?")[1]
    assert f'name="witness" value="{rags.people.finisher.name}"' not in text


def test_the_day_sheet_does_not_call_the_book_empty_while_a_load_is_overdue(
    made: tuple[RagShop, Shop]
) -> None:
    rags, doors = made
    rags.overdue_in_can()
    text = doors.signed_in(Role.KEEPER).get("/rags/day-sheet").text
    part = text.split("<h2>Violations</h2>")[1].split("<h2>Overrides</h2>")[0]
    assert "overdue" in part and "None in the book" not in part


def test_the_shop_does_not_launder(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=5)
    client = doors.signed_in(Role.FINISHER)
    answer = client.post("/rags/1/step", data={"step": "removed", "how": "washed-here", "once": once()})
    assert answer.status_code == 409 and "Washing here is no end" in answer.text
    text = client.get("/rags").text
    assert "does not wash or tumble-dry" in text and "local fire code" in text


def test_earlier_asks_when_and_why(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(hours=1)
    client = doors.signed_in(Role.FINISHER)
    form = {"step": "in-can", "can": str(rags.can), "once": once(), "when": "earlier"}
    answer = client.post("/rags/1/step", data=form)
    assert answer.status_code == 422 and "Enter when it was done" in answer.text
    answer = client.post("/rags/1/step", data=form | {"happened": "12 Mar 2026 11:00"})
    assert answer.status_code == 422 and "Write a real sentence" in answer.text
    said = form | {"happened": "12 Mar 2026 11:00", "reason": "The tablet had no power then"}
    assert client.post("/rags/1/step", data=said).status_code == 303
    assert "written down" in client.get("/rags/1").text


def test_a_student_sees_own_loads_only(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.job = open_a_job(rags, "Without the student", people=())
    rags.draw()
    client = doors.signed_in(Role.STUDENT)
    assert "Without the student" not in client.get("/rags").text
    assert client.get("/rags/1").status_code == 403
    assert client.get("/rags/1/step").status_code == 403
    assert client.get(f"/jobs/{rags.job}").status_code == 403


def test_the_notice_stands_from_an_hour_before_until_they_have_left(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    client = doors.signed_in(Role.FINISHER)
    rags.now = ENDS - timedelta(minutes=61)
    assert "rag-notice" not in client.get("/words").text
    rags.now = ENDS - timedelta(minutes=60)
    for path in ("/words", "/jobs", "/me", "/spill"):
        text = client.get(path).text
        assert 'class="rag-notice"' in text and 'data-minutes="60"' in text and 'href="/rags/1"' in text, path
    rags.into_can()
    assert "Record who took them" in client.get("/words").text
    client.post("/rags/1/step", data={
        "step": "removed", "how": "hauler", "named": "County waste service", "once": once(), "when": "now",
    })  # fmt: skip
    rags.pass_by(minutes=1)
    assert "rag-notice" not in client.get("/words").text


def test_strangers_are_told_without_names(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.overdue()
    text = doors.client().get("/sign-in").text
    assert "Oily rags are overdue" in text
    assert "Piet" not in text and "Table tops" not in text


def test_a_clock_that_went_back_hides_no_notice(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.overdue()
    rags.step(RagStep.LOOSE)
    rags.now -= timedelta(days=2)
    assert "rag-notice late" in doors.signed_in(Role.FINISHER).get("/words").text


def test_witness_and_proof(made: tuple[RagShop, Shop], tmp_path: Path) -> None:
    rags, doors = made
    rags.draw()
    client = doors.signed_in(Role.FINISHER)
    assert "no outside witness yet" in client.get("/rags/log").text
    answer = client.post("/rags/day-sheet", data={"on": "2026-03-12"})
    assert answer.status_code == 303 and answer.headers["location"].endswith("&head=1")
    sheet = client.get(answer.headers["location"]).text
    with rags.database.reading() as session:
        head = log_rows(session)[-1].hash
    assert " ".join(head[i : i + 4] for i in range(0, 64, 4)) in sheet and "Piet Maas" in sheet
    assert head in (tmp_path / FILE_NAME).read_text()
    assert "day sheet of 12 March 2026" in client.get("/rags/log").text
    assert "Unbroken" in client.get(f"/rags/log?count=2&digits={head[:12]}").text
    assert "written anew" in client.get(f"/rags/log?count=2&digits={'0' * 12}").text
    assert client.get("/rags/log?count=2&digits=abc").status_code == 422
    assert client.get("/rags/log?count=x&digits=").status_code == 422


def test_the_day_sheet_names_all_of_the_day(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.overdue_in_can()
    rags.job = open_a_job(rags, "Second job", ends_at=None)
    client = doors.signed_in(Role.KEEPER)
    form = {"kind": "draw", "code": rags.oil, "job": rags.job, "reason": REASON} | {
        "ends": "job", "once": once(),
    }  # fmt: skip
    assert client.post("/rags/overrides", data=form).status_code == 303
    rags.pass_by(minutes=1)
    rags.draw()
    rags.draw(already_done=True, late_reason="Done before anybody looked")
    rags.pass_by(minutes=30)
    rags.draw(happened_at=rags.now - timedelta(minutes=25), late_reason="Written up after the class")
    text = client.get("/rags/day-sheet").text
    stopped, late = "although it was stopped", "Written up after the class"
    for words in ("Table tops", "Second job", REASON, stopped, late):
        assert words in text, words
    assert "Table tops" not in client.get("/rags/day-sheet?on=2026-03-10").text.split("<main")[1]


def test_an_override_by_a_keeper_only_and_listed(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.overdue_in_can()
    rags.job = open_a_job(rags, "Second job", ends_at=None)
    form = {"kind": "draw", "code": rags.oil, "job": rags.job, "reason": REASON} | {
        "ends": "job", "once": once(),
    }  # fmt: skip
    assert doors.signed_in(Role.FINISHER).post("/rags/overrides", data=form).status_code == 403
    client = doors.signed_in(Role.KEEPER)
    assert client.post("/rags/overrides", data=form | {"code": ""}).status_code == 422
    assert client.post("/rags/overrides", data=form | {"ends": "at"}).status_code == 422
    assert client.post("/rags/overrides", data=form | {"reason": "so"}).status_code == 409
    assert client.post("/rags/overrides", data=form).status_code == 303
    assert REASON in client.get("/rags/overrides").text
    with rags.database.reading() as session:
        assert len(session.exec(select(Override)).all()) == 1


def test_a_violation_is_answered_on_its_page(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.overdue()
    rags.into_can()
    client = doors.signed_in(Role.KEEPER)
    assert "Contained 30 min late" in client.get("/rags/violations").text
    assert client.post("/rags/violations/1", data={"once": once(), "answer": "ok"}).status_code == 422
    said = {"once": once(), "answer": "Spoken with everybody about the can"}
    assert doors.signed_in(Role.FINISHER).post("/rags/violations/1", data=said).status_code == 403
    assert client.post("/rags/violations/1", data=said).status_code == 303
    assert said["answer"] in client.get("/rags/violations").text
    with rags.database.reading() as session:
        assert session.exec(select(Duty)).one().done_at == rags.now


def test_giving_and_counting(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=1)
    client = doors.signed_in(Role.KEEPER)
    keeper = rags.people.keeper.id
    assert client.post("/rags/1/give", data={"person": keeper, "once": once()}).status_code == 422
    said = {"person": keeper, "reason": "Piet has gone home ill", "once": once()}
    assert client.post("/rags/1/give", data=said).status_code == 303
    assert rags.load().row.owed_by == keeper
    assert client.post("/rags/1/count", data={"count": "0", "once": once()}).status_code == 422
    assert client.post("/rags/1/count", data={"count": "4", "once": once()}).status_code == 303
    assert "4 pieces counted" in client.get("/rags/1").text
    assert "Rag load 1" in client.get("/duties").text


@pytest.mark.parametrize("odd", ["abc", "0", "99999999999", "-1", "1.5"])
def test_odd_numbers_in_addresses(made: tuple[RagShop, Shop], odd: str) -> None:
    _, doors = made
    client = doors.signed_in(Role.KEEPER)
    for path in ("/rags/{}", "/rags/{}/step", "/jobs/{}", "/jobs/{}/close", "/duties/{}"):
        assert client.get(path.format(odd)).status_code in (404, 422), path


def test_odd_forms_are_answered(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    client = doors.signed_in(Role.KEEPER)
    no_can = {"step": "in-can", "once": once()}
    for data in ({}, {"step": "fly"}, {"step": "in-can", "can": "x", "once": "1"}, no_can):
        assert client.post("/rags/1/step", data=data).status_code == 422, data
    for path in ("/rags/1/give", "/rags/1/count", "/rags/overrides", "/rags/hand-over", "/rags/violations/1"):
        assert client.post(path, data={}).status_code == 422, path
