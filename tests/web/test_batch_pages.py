"""Start, bench, finish and give-up pages through the client, and refusals with their reasons."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.core.access import Role
from service.records.jobs import JobPerson
from service.records.mixing import Batch
from service.records.stock import Container
from tests.mixing_shop import UNKNOWN_DATES, MixShop, make_mix_shop
from tests.store_builders import job
from tests.web.conftest import Shop


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    made = make_mix_shop(shop.database, shop.cast)
    for name in ("raw umber", "boiled oil", "spirit"):
        made.can(name)
    return made


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    return shop.signed_in(Role.FINISHER)


def start_form(mix: MixShop, **said: Any) -> dict[str, Any]:
    return {"once": "start-page-1", "job": str(mix.job), "when": "about"} | said


def started(client: TestClient, mix: MixShop, amount: str = "1 time") -> str:
    done = client.post(f"/checks/{mix.keep(amount)}/start", data=start_form(mix))
    assert done.status_code == 303, done.text
    return str(done.headers["location"])


def test_starting_asks_for_the_job_and_tells_what_was_drawn(client: TestClient, mix: MixShop) -> None:
    check = mix.keep("2 times")
    page = client.get(f"/checks/{check}/start")
    assert "Evening class" in page.text and "A new job for this" in page.text and "No job" not in page.text
    page = client.post(f"/checks/{check}/start", data=start_form(mix, job=""))
    assert page.status_code == 422 and 'id="e-job"' in page.text
    done = client.post(f"/checks/{check}/start", data=start_form(mix))
    text = client.get(done.headers["location"]).text
    assert "You started batch 1, Walnut stain: drew from 3 containers." in text and "600 ml" in text
    again = client.post(f"/checks/{check}/start", data=start_form(mix))
    assert again.headers["location"] == done.headers["location"] and mix.batch(1).job_id == mix.job


def test_a_new_job_is_opened_when_asked(client: TestClient, mix: MixShop) -> None:
    done = client.post(f"/checks/{mix.keep()}/start", data=start_form(mix, job="new"))
    assert "The job “Shop work, Piet Maas" in client.get(done.headers["location"]).text


def test_a_job_that_is_none_or_over_is_told_beside_the_field(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    check = mix.keep()
    with shop.database.writing() as session:
        over = job(session, shop.actor(Role.FINISHER))
        over.closed_at = over.started_at + timedelta(minutes=1)
        session.add(over)
        ended = str(over.id)
    shop.clock.pass_by(minutes=5)
    typed = {"when": "done", "reason": "The wall tablet was out of power."}
    for number, words in (("999", "There is no job number 999."), (ended, "was not running then")):
        page = client.post(f"/checks/{check}/start", data=start_form(mix, job=number, **typed))
        assert page.status_code == 422 and 'id="e-job"' in page.text and words in page.text
        assert "The wall tablet was out of power." in page.text, "what was typed stays"
    with shop.database.reading() as session:
        assert not session.exec(select(Batch)).all()


def test_what_is_not_known_is_looked_at_first(client: TestClient, mix: MixShop) -> None:
    recipe = mix.write(("drier", "5 ml"), name="Drier only")
    code = mix.can("drier", **UNKNOWN_DATES)
    address = f"/checks/{mix.keep(recipe=recipe)}/start"
    assert "I looked, and it is sound" in client.get(address).text
    page = client.post(address, data=start_form(mix))
    assert page.status_code == 422 and 'id="e-looked"' in page.text
    assert client.post(address, data=start_form(mix, looked=code)).status_code == 303
    assert mix.left(code) == 995_000


def test_a_stale_start_shows_what_changed(client: TestClient, mix: MixShop, shop: Shop) -> None:
    check = mix.keep("3 times")
    first = mix.start(mix.keep("1 time"))
    page = client.post(f"/checks/{check}/start", data=start_form(mix))
    assert page.status_code == 409 and "no longer holds what was set aside" in page.text
    assert first.result["batch"] == 1
    with shop.database.reading() as session:
        assert len(session.exec(select(Batch)).all()) == 1


def test_overdue_rags_refuse_with_a_way_on(client: TestClient, mix: MixShop, shop: Shop) -> None:
    started(client, mix)
    check = mix.keep()
    shop.clock.pass_by(days=1)
    form = start_form(mix, job="new", once="start-page-2")
    page = shop.signed_in(Role.FINISHER).post(f"/checks/{check}/start", data=form)
    assert page.status_code == 409 and "Put the rags away and record it" in page.text


def test_set_aside_release_and_start(client: TestClient, mix: MixShop) -> None:
    done = client.post(f"/checks/{mix.keep()}/set-aside", data={"once": "aside-page-1"})
    text = client.get(done.headers["location"]).text
    assert "promised to the batch and not drawn yet" in text and "Start it" in text
    assert client.post("/bench/1/release", data={"once": "aside-page-2"}).headers["location"] == "/bench"
    assert client.get("/bench/1/start").status_code == 409
    client.post(f"/checks/{mix.keep()}/set-aside", data={"once": "aside-page-3"})
    assert client.post("/bench/2/start", data=start_form(mix)).headers["location"] == "/bench/2"
    assert mix.batch(2).state.value == "running"
    assert client.post(f"/checks/{mix.keep()}/set-aside", data={}).status_code == 303


def test_the_bench_says_what_is_next_and_takes_more(client: TestClient, mix: MixShop) -> None:
    recipe = mix.write(("spirit", "100 ml"), ("drier", "to suit"), ("tap water", "1 l"), name="Glaze")
    drier = mix.can("drier")
    done = client.post(f"/checks/{mix.keep(recipe=recipe)}/start", data=start_form(mix))
    here = done.headers["location"]
    assert "Next, step 2" in client.get(here).text
    more = {"once": "add-page-1", "code": drier.lower(), "amount": "5 ml", "when": "about"}
    assert client.post(f"{here}/add", data=more).status_code == 303
    text = client.get(here).text
    assert "You put in 5 ml of drier" in text and "Something of every line has gone in." in text
    for form, field in (
        ({"amount": ""}, "amount"), ({"amount": "2 pints", "material": str(mix.ids["spirit"])}, "amount"),
        ({"amount": "5 ml"}, "code"), ({"amount": "5 ml", "material": "x"}, "material"),
        ({"amount": "5 ml", "code": drier, "when": "done", "happened": "tomorrow"}, "happened"),
    ):  # fmt: skip
        page = client.post(f"{here}/add", data={"once": "add-page-2"} | form)
        assert page.status_code == 422 and f'id="e-{field}"' in page.text, form
    page = client.post(f"{here}/add", data=more | {"once": "add-page-3", "code": "222222"})
    assert page.status_code == 422 and 'id="e-code"' in page.text and 'value="5 ml"' in page.text
    assert mix.left(drier) == 995_000


def test_an_addition_made_earlier_is_late_and_says_why(client: TestClient, mix: MixShop, shop: Shop) -> None:
    here = started(client, mix)
    shop.clock.pass_by(hours=2)
    late = {"once": "late-page-1", "material": str(mix.ids["spirit"]), "amount": "5 ml", "when": "done",
            "happened": "12 Mar 2026 10:45"}  # fmt: skip
    page = client.post(f"{here}/add", data=late)
    assert page.status_code == 422
    done = client.post(f"{here}/add", data=late | {"reason": "Hands were full.", "once": "late-page-2"})
    assert done.status_code == 303


def test_finishing_fills_jars_with_labels(client: TestClient, mix: MixShop, shop: Shop) -> None:
    here = started(client, mix)
    form = {"once": "finish-page-1", "jar_0": "250 ml", "form": "liquid", "when": "about", "step": "jar"}
    page = client.post(f"{here}/finish", data=form)
    assert page.status_code == 200 and 'value="250 ml"' in page.text and 'name="jar_1"' in page.text
    bad = client.post(f"{here}/finish", data=form | {"jar_1": "some", "step": "save"})
    assert bad.status_code == 422 and 'id="e-jar_1"' in bad.text
    done = client.post(f"{here}/finish", data=form | {"jar_1": "250 ml", "step": "save", "loss_note": "pot"})
    assert done.status_code == 303
    text = client.get(here).text
    with shop.database.reading() as session:
        jars = session.exec(select(Container).where(Container.made_by_batch_id == 1)).all()
    assert len(jars) == 2 and all(f"/C/{jar.code}" in text for jar in jars)
    assert f"/labels/print?c={jars[0].code}&amp;c={jars[1].code}" in text
    assert "Balance" in text and "The density of Walnut stain is not known" in text
    assert (
        client.post(f"{here}/finish", data=form | {"step": "save", "once": "finish-page-2"}).status_code
        == 409
    )


def test_giving_up(client: TestClient, mix: MixShop) -> None:
    here = started(client, mix)
    page = client.post(f"{here}/give-up", data={"once": "give-page-1"})
    assert page.status_code == 422 and 'id="e-reason"' in page.text
    page = client.post(f"{here}/give-up", data={"once": "give-page-1", "reason": "Curdled."})
    assert page.status_code == 422 and 'id="e-went_to"' in page.text
    form = {"once": "give-page-1", "reason": "Curdled.", "went_to": "waste-drum"}
    assert client.post(f"{here}/give-up", data=form).status_code == 303
    text = client.get(here).text
    assert "into the waste drum" in text and "Put something in" not in text
    assert "given up" in client.get("/bench").text


def test_a_student_sees_and_adds_only_in_their_job(client: TestClient, mix: MixShop, shop: Shop) -> None:
    here = started(client, mix)
    student = shop.signed_in(Role.STUDENT)
    more = {"once": "student-page-1", "material": str(mix.ids["spirit"]), "amount": "5 ml"}
    assert student.get(here).status_code == 404 and "/bench/1" not in student.get("/bench").text
    assert student.post(f"{here}/add", data=more).status_code == 403
    with shop.database.writing() as session:
        person = shop.cast.student.id or 0
        session.add(JobPerson(job_id=mix.job, person_id=person, added_at=shop.clock() - timedelta(minutes=1)))
    page = student.get(here)
    assert page.status_code == 200 and "Finish the batch" not in page.text and "Give it up" not in page.text
    assert student.post(f"{here}/add", data=more).status_code == 303
    assert student.get(f"{here}/finish").status_code == 403


@pytest.mark.parametrize(
    "text", ["<script>alert(1)</script>", "' OR 1=1 --", "\x00", "9" * 250, "😀", "\u202e"]
)
def test_hostile_input_is_refused_or_shown_as_text(client: TestClient, mix: MixShop, text: str) -> None:
    here = started(client, mix)
    forms: list[tuple[str, dict[str, Any]]] = [
        ("add", {"once": "hostile-1", "amount": text, "code": text, "material": text, "reason": text}),
        ("finish", {"once": "hostile-2", "jar_0": text, "place_0": text, "made": text, "step": "save"}),
        ("finish", {"once": text, "jar_0": "1 ml", "capacity_0": text, "step": "save", "when": text}),
        ("give-up", {"once": "hostile-3", "reason": text, "went_to": text}),
    ]
    for act, form in forms:
        page = client.post(f"{here}/{act}", data=form)
        assert page.status_code in (303, 404, 422), (act, page.status_code)
        assert "<script>alert" not in page.text
    page = client.post(f"/checks/{mix.keep()}/start", data=start_form(mix, job=text, looked=text))
    assert page.status_code == 422
    assert client.post(f"/checks/{mix.keep()}/set-aside", data={"once": text}).status_code == 303
