"""A pot that is thrown away, through forms and calls: its month, the list of what is in no drum, the drum."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from service.records.jobs import Job
from service.records.places import PlaceKind
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import once, place
from tests.web.conftest import Shop

DRUM = {
    "name": "Drum 1", "stream": "Rinsings", "hazards": "Ignitable", "area": "central", "acute": "no",
    "liquid": "yes", "flash": 10, "self_heating": "no", "spent": "no", "ph": 7, "metals": "no",
}  # fmt: skip


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    mix = make_mix_shop(shop.database, shop.cast)
    for name in ("raw umber", "boiled oil", "spirit"):
        mix.can(name)
    return mix


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    return shop.signed_in(Role.KEEPER)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_a_pot_given_up_is_put_into_a_drum_from_the_page(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    mix.start(mix.keep())
    page = client.get("/bench/1/give-up").text
    assert "Back to the supplier" not in page and "Onto the work" not in page
    form = {"once": once(), "reason": "Curdled.", "went_to": "returned-to-supplier"}
    assert client.post("/bench/1/give-up", data=form).status_code == 422
    form |= {"once": once(), "went_to": "waste-drum"}
    assert client.post("/bench/1/give-up", data=form).status_code == 303
    assert "stands in no drum yet" in client.get("/bench/1").text
    api = shop.api(Role.KEEPER)
    loose = api.get("/api/waste-drums").json()["in_no_drum"]
    [month] = api.get("/api/waste").json()["months"]
    assert len(loose) == len(month["lines"]) == 3 and not month["kg_is_at_least"]
    drum = api.post("/api/waste-drums", json=DRUM | {"once": once()}).json()["drum"]
    assert "spirit, mixed in batch 1 (Walnut stain)" in client.get("/waste/drums").text
    sort = {"once": once(), "drum": str(drum), "movements": [str(one) for one in loose]}
    assert client.post("/waste/sort", data=sort).status_code == 303
    assert api.get("/api/waste-drums").json()["in_no_drum"] == []
    whole = api.get(f"/api/waste-drums/{drum}").json()
    assert {one["what"] for one in whole["entries"]} == {"batch 1 given up: into the waste drum"}
    assert whole["kg"] == month["kg"] and whole["codes"][0]["code"] == "D001"
    assert "batch 1 given up" in plain(client.get(f"/waste/drums/{drum}").text)


def test_where_the_rest_went_is_asked_and_told(client: TestClient, mix: MixShop, shop: Shop) -> None:
    mix.start(mix.keep())
    assert "Where did the rest go?" in client.get("/bench/1/finish").text
    form = {"once": once(), "jar_0": "250 ml", "form": "liquid", "when": "about", "step": "save"}
    wrong = client.post("/bench/1/finish", data=form | {"went_to": "drain"})
    assert wrong.status_code == 422 and "250 ml" in wrong.text
    done = client.post("/bench/1/finish", data=form | {"went_to": "evaporated", "loss_note": "left open"})
    assert done.status_code == 303
    assert "left open (evaporated while it was worked with)" in client.get("/bench/1").text
    api = shop.api(Role.KEEPER)
    assert api.get("/api/waste").json()["months"] == []
    mix.start(mix.keep())
    body = {"once": once(), "jars": [{"amount": "250 ml"}], "went_to": "drain"}
    assert api.post("/api/batches/2/finish", json=body).status_code == 422
    body |= {"once": once(), "went_to": "waste-drum"}
    answer = api.post("/api/batches/2/finish", json=body).json()
    assert "waste-in-no-drum" in {one["code"] for one in answer["findings"]}
    assert len(api.get("/api/waste-drums").json()["in_no_drum"]) == 3


def test_where_the_rest_went_is_told_later_from_the_page_and_by_a_call(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    mix.start(mix.keep())
    form = {"once": once(), "jar_0": "250 ml", "form": "liquid", "when": "about", "step": "save"}
    client.post("/bench/1/finish", data=form)
    page = client.get("/bench/1").text
    assert page.count("Nobody said where all of batch 1 that is in no jar went") == 2
    assert "Say where the rest went" in page
    job = f"/jobs/{mix.job}"
    assert 'href="/bench/1/rest"' in client.get(job).text
    assert "action=\"/bench/1/rest\"" in client.get("/bench/1/rest").text
    assert client.post("/bench/1/rest", data={"once": once()}).status_code == 422
    done = client.post("/bench/1/rest", data={"once": once(), "went_to": "on-the-work"})
    assert done.status_code == 303
    assert "Nobody said where" not in client.get("/bench/1").text + client.get(job).text
    assert "<form method=\"post\" action=\"/bench/1/rest\"" not in client.get("/bench/1/rest").text
    assert client.post("/bench/1/rest", data={"once": once(), "went_to": "hauler"}).status_code == 409
    assert "<form" not in client.get("/bench/1/rest").text.partition("<main")[2]
    mix.start(mix.keep())
    api = shop.api(Role.KEEPER)
    assert api.post("/api/batches/2/rest", json={"once": once(), "went_to": "hauler"}).status_code == 409
    api.post("/api/batches/2/finish", json={"once": once(), "jars": [{"amount": "250 ml"}]})
    answer = api.post("/api/batches/2/rest", json={"once": once(), "went_to": "on-the-work"})
    assert answer.status_code == 201 and api.get("/api/waste").json()["months"] == []


def test_a_job_without_a_place_leads_to_the_store_as_long_as_something_of_it_counts(
    client: TestClient, mix: MixShop
) -> None:
    def to_the_store() -> list[bool]:
        pages = [client.get(path).text for path in (f"/jobs/{mix.job}", "/bench/1")]
        return ["Look how full the store is" in page for page in pages]

    assert "No place is named" not in client.get(f"/jobs/{mix.job}").text
    mix.start(mix.keep())
    assert to_the_store() == [True, True]
    with mix.database.writing() as session:
        row = session.get_one(Job, mix.job)
        row.place_id = place(session, "Finishing room", PlaceKind.ROOM).id
        session.add(row)
    assert to_the_store() == [False, False]


def test_the_form_of_a_drum_asks_for_metals_and_the_file_says_what_may_apply(
    client: TestClient, mix: MixShop
) -> None:
    said = {name: str(value) for name, value in DRUM.items()} | {"once": once(), "flash_unit": "C"}
    here = client.post("/waste/drums/new", data=said).headers["location"]
    assert "may apply" not in client.get("/waste/drums/drums.csv").text
    assert "may apply" not in client.get(f"{here}/label").text
    other = said | {"once": once(), "name": "B", "metals": "not-known", "ph": ""}
    here = client.post("/waste/drums/new", data=other).headers["location"]
    assert "D002, D004 to D011" in plain(client.get(f"{here}/label").text)
    assert "D004 to D011 (not known, may apply)" in plain(client.get(here).text)
    assert "D004 to D011 may apply" in client.get("/waste/drums/drums.csv").text
