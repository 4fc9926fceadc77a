"""A term changed by call, and two suppliers joined on the page and by call."""

from __future__ import annotations

from fastapi.testclient import TestClient

from service.core.access import Role
from tests.mixing_shop import MixShop
from tests.store_builders import once
from tests.web.conftest import Shop
from tests.web.test_jar_pages import plain
from tests.web.test_order_form import shown
from tests.web.test_term_api import post
from tests.web.test_term_pages import client, mix, new_job, new_pack, new_term, shop

__all__ = ["client", "mix", "shop"]


def test_a_term_is_changed_by_what_was_read_of_it(client: TestClient, mix: MixShop, shop: Shop) -> None:
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="30 Jun 2026", last="")
    api = shop.api(Role.FINISHER)
    read = api.get("/api/terms/1").json()
    assert read["free"] == [{"first": "2026-05-08", "last": "2026-05-08", "name": "works day"}]
    assert read["extra"] == ["2026-03-14"]
    body = {name: value for name, value in read.items() if name not in ("id", "jobs")}
    changed = post(api, "/api/terms/1", **body | {"last_day": "2026-06-26", "name": "Spring, shorter"})
    assert changed == {**body, "id": 1, "last_day": "2026-06-26", "name": "Spring, shorter", "version": 2}
    assert "outside the term" in plain(client.get(term).text), "what was planned stays, and is said"
    assert api.get("/api/terms").json()["items"] == [changed]
    post(api, "/api/terms/1", 409, **body)
    post(api, "/api/terms/9", 404, **body)
    for missing in ("free", "extra", "weekdays", "country", "breaks", "version"):
        rest = {name: value for name, value in body.items() if name != missing}
        assert missing in str(post(api, "/api/terms/1", 422, **rest)["errors"])
    wrong = post(api, "/api/terms/1", 422, **body | {"version": 2, "last_day": "2025-06-26"})
    assert "last_day" in wrong["errors"]
    student = shop.api(Role.STUDENT)
    assert student.post("/api/terms/1", json=body | {"once": once()}).status_code == 403


def test_two_names_of_one_supplier_are_joined_on_its_page(client: TestClient, mix: MixShop) -> None:
    new_pack(client, mix.ids["spirit"], amount="1 l", supplier="North Yard")
    new_pack(client, mix.ids["spirit"], amount="250 ml", supplier="North Yard Ltd")
    page = client.get("/suppliers/2")
    assert 'name="join"' not in page.text
    fields = shown(page.text) | {"supplier": "North Yard"}
    asked = client.post("/suppliers/2", data=fields)
    assert asked.status_code == 422 and 'name="join"' in asked.text and 'value="North Yard"' in asked.text
    done = client.post("/suppliers/2", data=fields | {"join": "yes"})
    assert (done.status_code, done.headers["location"]) == (303, "/suppliers/1")
    left = plain(client.get("/suppliers/1").text)
    assert "North Yard Ltd is joined to North Yard" in left
    assert "12 Mar 2026: North Yard Ltd was joined to it. 1 pack size and 0 orders came with it." in left
    assert client.get("/suppliers/2").status_code == 404
    assert "North Yard Ltd" not in client.get("/suppliers").text


def test_and_by_call(client: TestClient, mix: MixShop, shop: Shop) -> None:
    new_pack(client, mix.ids["spirit"], amount="1 l", supplier="North Yard")
    new_pack(client, mix.ids["spirit"], amount="250 ml", supplier="North Yard Ltd")
    api = shop.api(Role.FINISHER)
    body = {"before": "North Yard Ltd", "name": "North Yard"}
    assert "join" in post(api, "/api/suppliers/2", 422, **body)["errors"]
    assert post(api, "/api/suppliers/2", **body, join=True) == {"id": 1, "name": "North Yard"}
    assert api.get("/api/suppliers").json()["items"] == [{"id": 1, "name": "North Yard"}]
