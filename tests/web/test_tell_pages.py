"""A student tells a keeper what they saw in a tin, by page, tablet and call."""

from __future__ import annotations

import pytest
from sqlmodel import col, select

from service.actions.run_job import JobAsked, open_job
from service.core.access import Role
from service.records.duties import TOLD_BY_SOMEBODY, Duty
from tests.store_builders import oil, received
from tests.web.conftest import Shop
from tests.web.test_jar_pages import plain


@pytest.fixture
def told(shop: Shop) -> tuple[Shop, str, int]:
    with shop.database.writing() as session:
        code = received(session, shop.actor(Role.KEEPER), oil(session))
        asked = JobAsked("a-job", "Table tops", people=(shop.cast.student.id or 0,))
        job = open_job(session, shop.actor(Role.FINISHER), shop.clock(), asked).result["job"]
    return shop, code, int(job)


def test_a_student_may_not_check_but_may_tell(told: tuple[Shop, str, int]) -> None:
    shop, code, job = told
    student = shop.signed_in(Role.STUDENT)
    assert student.post(f"/containers/{code}/check", data={"once": "a"}).status_code == 403
    assert "Tell a keeper what I saw" in student.get(f"/containers/{code}").text
    form = plain(student.get(f"/containers/{code}/tell").text)
    assert "Thickened" in form and "Sound" not in form and "No date is changed by it" in form
    wrong = student.post(f"/containers/{code}/tell", data={"once": "b", "words": "x!", "when": "about"})
    assert wrong.status_code == 422 and "x!" in wrong.text and "write it in words" in wrong.text
    said = {"once": "c", "found": "thickened", "words": "It draws <b>threads</b>", "when": "about"}
    said["job"] = str(job)
    done = student.post(f"/containers/{code}/tell", data=said)
    assert done.status_code == 303 and done.headers["location"] == f"/containers/{code}"
    page = plain(student.get(f"/containers/{code}").text)
    assert "Orla Brandt owes a look at it. Until then look at it, or try it, before each use." in page
    assert student.post(f"/containers/{code}/tell", data=said).status_code == 303, "the same again is one"
    keeper = shop.signed_in(Role.KEEPER)
    for path in ("/", "/duties"):
        mine = keeper.get(path).text
        assert "thickened" in mine and "&lt;b&gt;threads" in mine and "<b>threads" not in mine
        assert f"/containers/{code}/check" in mine, path
    alerts = plain(keeper.get("/alerts").text)
    assert "look first" in alerts and "thickened" in alerts
    with shop.database.reading() as session:
        (duty,) = session.exec(select(Duty).where(col(Duty.kind) == TOLD_BY_SOMEBODY)).all()
    by_word = keeper.post(f"/duties/{duty.id}/done", data={"once": "d", "answer": "Seen, it is well"})
    assert by_word.status_code == 409 and "Look at it" in by_word.text


def test_by_a_call_and_by_a_tapped_tablet(told: tuple[Shop, str, int]) -> None:
    shop, code, job = told
    said = {"once": "e", "words": "Lumps at the bottom", "job": job}
    assert shop.api(Role.STUDENT).post(f"/api/containers/{code}/told", json=said).status_code == 403
    answer = shop.api(Role.FINISHER).post(f"/api/containers/{code}/told", json=said | {"once": "e2"})
    assert answer.status_code == 201 and answer.json()["standing"] in ("look-first", "not-known")
    assert answer.json()["found"] == "something-odd"
    bad = shop.api(Role.FINISHER).post(f"/api/containers/{code}/told", json={"once": "f", "job": job})
    assert bad.status_code == 422 and set(bad.json()["errors"]) == {"found"}
    assert shop.api(Role.READER).post(f"/api/containers/{code}/told", json={"once": "g"}).status_code == 403
    tablet = shop.tablet(shop.cast.student)
    said = {"once": "h", "words": "It smells foul", "job": str(job), "when": "about"}
    assert tablet.post(f"/containers/{code}/tell", data=said).status_code == 303
    assert shop.tablet().post(f"/containers/{code}/tell", data=said).status_code in (303, 401, 403)
    with shop.database.reading() as session:
        assert len(session.exec(select(Duty).where(col(Duty.kind) == TOLD_BY_SOMEBODY)).all()) == 1
