"""The bench page of a running batch: the ways to add, what an addition changed, undo, and two people."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from service.records.jobs import JobPerson
from service.records.materials import Material
from tests.mixing_shop import UNKNOWN_DATES, MixShop, make_mix_shop
from tests.web.conftest import Shop


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    made = make_mix_shop(shop.database, shop.cast)
    made.can("spirit")
    with shop.database.writing() as session:
        spirit = session.get_one(Material, made.ids["spirit"])
        spirit.hazards = ["Flam. Liq. 3 H226"]
        session.add(spirit)
    return made


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    mix.start(mix.keep(recipe=mix.write(("spirit", "100 ml"), ("drier", "to suit"), name="Glaze")))
    return shop.signed_in(Role.FINISHER)


def form(way: str, once: str, **said: Any) -> dict[str, Any]:
    return {"once": f"bench-{once}", "way": way, "when": "about"} | said


def test_the_choice_of_ways_stands_first_and_each_asks_only_its_own(client: TestClient) -> None:
    text = client.get("/bench/1").text
    for words in ("Scan", "Material", "Pot on the scale", "All of a container", "Not measured"):
        assert f">{words}</a>" in text
    assert 'name="amount"' in text and 'name="before"' not in text and 'name="material"' not in text
    pot = client.get("/bench/1?way=pot").text
    assert 'name="before"' in pot and 'name="amount"' not in pot and 'aria-current="true"' in pot
    assert 'name="amount"' not in client.get("/bench/1?way=container").text
    assert 'name="code"' not in client.get("/bench/1?way=material").text
    assert client.get("/bench/1?way=spoon").status_code == 422


def test_the_last_pot_is_offered_as_the_next_before(client: TestClient, mix: MixShop) -> None:
    code = mix.can("raw umber")
    done = client.post("/bench/1/add", data=form("pot", "pot-1", code=code, before="400", after="412.5"))
    assert done.headers["location"] == "/bench/1?way=pot" and mix.left(code) == 987_500
    text = client.get("/bench/1?way=pot").text
    assert 'name="before"' in text and 'value="412.5"' in text
    worse = client.post("/bench/1/add", data=form("pot", "pot-2", code=code, before="412.5", after="400"))
    assert worse.status_code == 422 and "12.5 g less after than before" in worse.text
    assert 'value="400"' in worse.text and 'id="e-after"' in worse.text and mix.left(code) == 987_500
    client.post("/bench/1/add", data=form("scan", "pot-3", code=code, amount="1 g"))
    assert 'value="412.5"' not in client.get("/bench/1?way=pot").text


def test_all_of_what_is_not_known_offers_not_measured(client: TestClient, mix: MixShop) -> None:
    code = mix.can("boiled oil", None)
    page = client.post("/bench/1/add", data=form("container", "all-1", code=code))
    assert page.status_code == 422 and "put it in as not measured" in page.text
    assert f'value="{code}"' in page.text
    known = mix.can("boiled oil", 5000)
    assert client.post("/bench/1/add", data=form("container", "all-2", code=known)).status_code == 303
    assert mix.left(known) == 0 and "all that was left in it" in client.get("/bench/1").text


def test_not_measured_owes_a_count_on_bench_and_container(client: TestClient, mix: MixShop) -> None:
    code = mix.can("boiled oil")
    done = client.post("/bench/1/add", data=form("not-measured", "blind-1", code=code))
    assert done.status_code == 303
    bench, container = client.get("/bench/1").text, client.get(f"/containers/{code}").text
    assert f"/containers/{code}/count" in bench and f"/containers/{code}/count" in container
    assert "some boiled oil (not measured)" in bench and "at most 1 l" in bench
    assert "went into <a href=\"/bench/1\">batch 1</a> unmeasured" in container
    count = {"once": "blind-2", "by": "amount", "amount": "600 ml", "when": "about"}
    assert client.post(f"/containers/{code}/count", data=count).status_code == 303
    bench, container = client.get("/bench/1").text, client.get(f"/containers/{code}").text
    assert "Count what is left" not in bench and "400 ml by the count since" in bench
    assert "unmeasured" not in container


def test_a_count_shows_no_more_than_was_there_unless_somebody_says_so(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    code = mix.can("boiled oil", 500_000)
    client.post("/bench/1/add", data=form("not-measured", "above-1", code=code))
    above = {"once": "above-2", "by": "amount", "amount": "700 ml", "when": "about"}
    page = client.post(f"/containers/{code}/count", data=above)
    assert page.status_code == 409 and mix.left(code) is None and 'name="more"' in page.text
    assert "can be in it by the book" in page.text and 'value="700 ml"' in page.text
    api = shop.api(Role.FINISHER)
    asked = {"once": "above-3", "amount": "700 ml"}
    assert api.post(f"/api/containers/{code}/counts", json=asked).status_code == 409
    assert client.post(f"/containers/{code}/count", data=above | {"more": "yes"}).status_code == 303
    assert mix.left(code) == 700_000 and "nobody knows the most" in client.get("/bench/1").text


def test_each_addition_says_what_it_changed(client: TestClient, mix: MixShop) -> None:
    text = client.get("/bench/1").text
    assert "100 ml of spirit changed this" in text and "This addition makes it" in text
    assert "Flam. Liq. 3 H226" in text and "flame" in text and "78 g" in text
    water = form("material", "water-1", material=mix.ids["tap water"], amount="50 ml")
    client.post("/bench/1/add", data=water)
    text = client.get("/bench/1").text
    assert "50 ml of tap water changed this" in text and "before: 78 g" in text
    assert "It changes no hazard class" not in text, "not everything is known of the spirit"
    first = client.get("/bench/1/additions/1").text
    assert "What it changed" in first and "Flam. Liq. 3 H226" in first
    assert client.get("/bench/1/additions/99").status_code == 404


def test_a_look_books_nothing_and_keeps_what_was_typed(client: TestClient, mix: MixShop) -> None:
    code = mix.can("boiled oil")
    asked = form("scan", "look-1", code=code, amount="50 ml", step="look")
    page = client.post("/bench/1/add", data=asked)
    assert page.status_code == 200 and "It would change this; nothing is booked" in page.text
    assert 'value="50 ml"' in page.text and mix.left(code) == 1_000_000
    assert "rags with it can ignite by themselves" in page.text
    bad = client.post("/bench/1/add", data=asked | {"amount": "some"})
    assert bad.status_code == 422 and mix.left(code) == 1_000_000
    assert client.post("/bench/1/add", data=asked | {"step": "add"}).status_code == 303


def test_undo_by_the_page(client: TestClient, mix: MixShop) -> None:
    code = mix.can("boiled oil")
    client.post("/bench/1/add", data=form("scan", "undo-1", code=code, amount="50 ml"))
    page = client.get("/bench/1/additions/2").text
    assert "Take it back" in page and "Rag load 1 stays" in page
    short = client.post("/bench/1/additions/2/undo", data={"once": "undo-2"})
    assert short.status_code == 422 and 'id="e-reason"' in short.text and mix.left(code) == 950_000
    asked = {"once": "undo-3", "reason": "wrong can"}
    short = client.post("/bench/1/additions/2/undo", data=asked)
    assert short.status_code == 422 and 'id="e-was_in"' in short.text and mix.left(code) == 950_000
    kept = client.post("/bench/1/additions/2/undo", data=asked | {"was_in": "went-in"})
    assert kept.status_code == 409 and "boiled oil was in the pot, so it counts on" in kept.text
    assert 'value="wrong can"' in kept.text and mix.left(code) == 950_000
    done = client.post("/bench/1/additions/2/undo", data=asked | {"was_in": "never"})
    assert done.headers["location"] == "/bench/1?undone=2" and mix.left(code) == 1_000_000
    text = client.get("/bench/1?undone=2").text
    assert "Taking back 50 ml of boiled oil changed this" in text and "before: 124.5 g" in text
    assert "Took back 50 ml of boiled oil" in text and "50 ml (taken back)" in text
    assert "100 ml of spirit changed this" in client.get("/bench/1").text, "the newest one that stands"
    page = client.get("/bench/1/additions/2").text
    assert "counts for nothing" in page and "What taking it back changed" in page
    again = client.post("/bench/1/additions/2/undo", data=asked | {"once": "undo-4", "was_in": "never"})
    assert again.status_code == 409


def test_two_people_see_each_other_and_lose_nothing(client: TestClient, mix: MixShop, shop: Shop) -> None:
    keeper, code = shop.signed_in(Role.KEEPER), mix.can("boiled oil")
    seen = client.get("/bench/1").text
    assert 'name="seen" value="1"' in seen
    keeper.post("/bench/1/add", data=form("scan", "two-1", code=code, amount="5 ml"))
    client.post("/bench/1/add", data=form("scan", "two-2", code=code, amount="7 ml", seen="1"))
    text = client.get("/bench/1").text
    assert "Meanwhile Orla Brandt put in 5 ml of boiled oil." in text
    assert "Orla Brandt put in 5 ml of boiled oil, " in text and mix.left(code) == 988_000
    shop.clock.pass_by(minutes=31)
    assert "Orla Brandt put in 5 ml" not in client.get("/bench/1").text


def test_a_stale_page_shows_how_it_stands_and_what_was_typed(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    code = mix.can("boiled oil")
    done = {"once": "stale-1", "step": "save", "when": "about", "made": "", "loss_note": "used up"}
    assert shop.signed_in(Role.KEEPER).post("/bench/1/finish", data=done).status_code == 303
    page = client.post("/bench/1/add", data=form("scan", "stale-2", code=code, amount="5 ml"))
    assert page.status_code == 409 and "Batch 1 is finished" in page.text
    assert f"You had typed: {code}, 5 ml" in page.text and mix.left(code) == 1_000_000


def test_what_a_person_can_answer_is_asked_on_the_form(client: TestClient, mix: MixShop) -> None:
    doubtful = mix.can("spirit", 5000, **UNKNOWN_DATES)
    asked = form("scan", "ask-1", code=doubtful, amount="7 ml")
    page = client.post("/bench/1/add", data=asked)
    assert page.status_code == 409 and "Nothing was booked yet" in page.text and 'value="7 ml"' in page.text
    page = client.post("/bench/1/add", data=asked | {"looked": "yes"})
    assert page.status_code == 409 and 'name="more_than_book"' in page.text
    done = client.post("/bench/1/add", data=asked | {"looked": "yes", "more_than_book": "yes"})
    assert done.status_code == 303 and mix.left(doubtful) == 0


def test_a_student_opens_and_undoes_only_in_their_job(client: TestClient, mix: MixShop, shop: Shop) -> None:
    student = shop.signed_in(Role.STUDENT)
    undo = {"once": "student-undo", "reason": "wrong can", "was_in": "never"}
    assert student.get("/bench/1/additions/1").status_code == 404
    assert student.post("/bench/1/additions/1/undo", data=undo).status_code == 404
    with shop.database.writing() as session:
        person = shop.cast.student.id or 0
        session.add(JobPerson(job_id=mix.job, person_id=person, added_at=shop.clock() - timedelta(minutes=1)))
    page = student.get("/bench/1/additions/1")
    assert page.status_code == 200 and "only your own entries" in page.text
    assert student.post("/bench/1/additions/1/undo", data=undo).status_code == 409


def test_the_call_answers_what_it_changed(client: TestClient, mix: MixShop, shop: Shop) -> None:
    api, code = shop.api(Role.FINISHER), mix.can("boiled oil")
    asked = {"once": "api-add-1", "code": code, "amount": "50 ml"}
    posted = api.post("/api/batches/1/additions", json=asked)
    assert posted.status_code == 201, posted.text
    told = posted.json()
    assert told["changed"]["after"]["rags_heat"] is True and told["changed"]["before"]["rags_heat"] is False
    assert told["changed"]["complete"] is False and told["changed"]["findings"]
    number = told["additions"][0]["id"]
    seen = api.get(f"/api/batches/1/additions/{number}").json()
    assert seen["changed"] == told["changed"] and not seen["taken_back"]
    blind = {"once": "api-add-2", "code": code, "how": "not-measured"}
    row = api.post("/api/batches/1/additions", json=blind).json()["additions"][0]
    assert (row["amount"], row["at_most"], row["how"]) == (None, 950_000, "not-measured")
    undo = {"once": "api-undo-0", "reason": "wrong can"}
    for was_in, status in ((None, 422), ("went-in", 409), ("perhaps", 422)):
        no = api.post(f"/api/batches/1/additions/{number}/undo", json=undo | {"was_in": was_in})
        assert no.status_code == status and ("was_in" in no.text or "counts on" in no.text), no.text
    pot = {"once": "api-add-3", "code": mix.can("raw umber"), "how": "pot", "before": "10", "after": "5"}
    wrong = api.post("/api/batches/1/additions", json=pot)
    assert wrong.status_code == 422 and "after" in wrong.json()["errors"]
    undone = api.post(
        f"/api/batches/1/additions/{number}/undo",
        json={"once": "api-undo-1", "reason": "wrong can", "was_in": "never"},
    )
    assert undone.status_code == 201 and len(undone.json()["reversals"]) == 1
    change = undone.json()["changed"]
    assert change["before"]["mass_mg"]["low"] - change["after"]["mass_mg"]["low"] == 46_500
    assert api.get(f"/api/batches/1/additions/{number}").json()["changed"] is None
    assert api.get("/api/batches/1/additions/77").status_code == 404


def test_what_came_back_is_booked_to_the_batch(client: TestClient, mix: MixShop) -> None:
    code = mix.can("raw umber")
    client.post("/bench/1/add", data=form("scan", "back-1", code=code, amount="50 g"))
    assert f"/containers/{code}/return?batch=1" in client.get("/bench/1/additions/2").text
    page = client.get(f"/containers/{code}/return?batch=1").text
    assert "drawn for batch 1" in page and 'name="batch" value="1"' in page
    form_back = {"once": "back-2", "how": "amount", "amount": "20 g", "batch": "1", "when": "about"}
    assert client.post(f"/containers/{code}/return", data=form_back).status_code == 303
    assert mix.left(code) == 970_000 and "108 g" in client.get("/bench/1").text
