"""More on one day than a shop mixes is asked about once; a figure out of its bounds says what may be."""

from __future__ import annotations

from fastapi.testclient import TestClient

from service.core.access import Role
from tests.mixing_shop import MixShop
from tests.store_builders import once
from tests.web.conftest import Shop
from tests.web.test_jar_pages import plain
from tests.web.test_term_pages import JOB, client, mix, new_job, new_term, shop

__all__ = ["client", "mix", "shop"]

BODY = {"name": "class", "heads": 10_000, "each": "60 ml", "first": "2026-03-16"}


def test_the_page_asks_whether_so_much_is_meant_and_loses_nothing(client: TestClient, mix: MixShop) -> None:
    term = new_term(client)
    said = JOB | {"once": once(), "recipe_id": str(mix.recipe), "heads": "6000", "each": "100 ml"}
    asked = client.post(f"{term}/jobs/new", data=said)
    assert asked.status_code == 422 and "660 l on one day. Is that meant?" in plain(asked.text)
    assert 'name="meant"' in asked.text and 'value="6000"' in asked.text
    assert 'name="meant"' not in client.get(f"{term}/jobs/new").text
    done = client.post(f"{term}/jobs/new", data=said | {"meant": "yes", "once": once()})
    assert done.status_code == 303
    whole = said | {"heads": "10000", "each": "1000000 l", "meant": "yes", "once": once()}
    over = client.post(f"{term}/jobs/new", data=whole)
    assert over.status_code == 422 and "than the book can keep" in plain(over.text)


def test_a_change_asks_too_and_times_count_by_what_goes_in(client: TestClient, mix: MixShop) -> None:
    job = new_job(client, mix, new_term(client), last="23 Mar 2026")
    said = {
        "once": once(), "version": "1", "name": "Second year", "heads": "1000", "each": "1.5 times",
        "spare_percent": "0", "recipe_id": str(mix.recipe), "which": "as-kept",
    }  # fmt: skip
    asked = client.post(f"{job}/edit", data=said)
    assert asked.status_code == 422 and "on one day. Is that meant?" in plain(asked.text)
    assert client.post(f"{job}/edit", data=said | {"meant": "yes"}).status_code == 303


def test_a_call_is_asked_and_told_where_to_answer(client: TestClient, mix: MixShop, shop: Shop) -> None:
    new_term(client)
    api, body = shop.api(Role.FINISHER), BODY | {"recipe": mix.recipe}
    asked = api.post("/api/terms/1/jobs", json=body | {"once": once()})
    assert asked.status_code == 422 and "Is that meant?" in asked.json()["errors"]["meant"]
    done = api.post("/api/terms/1/jobs", json=body | {"once": once(), "meant": True})
    assert done.status_code == 201, done.text
    for wrong, words in (
        ({"spare_percent": 501}, "Enter a spare between 0 and 500 per cent."),
        ({"spare_percent": -1}, "Enter a spare between 0 and 500 per cent."),
        ({"heads": 0}, "Enter for how many people: from 1 to 10000."),
    ):
        for path, more in (("terms/1/jobs", {}), ("planned-jobs/1", {"version": 1})):
            left = {"first"} if more else set[str]()
            sent = {name: value for name, value in body.items() if name not in left} | more | wrong
            answer = api.post(f"/api/{path}", json=sent | {"once": once()})
            assert answer.status_code == 422 and words in answer.json()["errors"].values(), answer.text
