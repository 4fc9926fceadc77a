"""The page of a jar, its label, the balance before saving and the sheet of a batch, through the client."""

from __future__ import annotations

import re
from datetime import date, timedelta
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import col, select

from service.core.access import Role
from service.records.jobs import JobPerson
from service.records.materials import AgeingPolicyRow, Material
from service.records.mixing import Batch
from service.records.stock import Container, Movement
from tests.mixing_shop import MixShop, make_mix_shop
from tests.web.conftest import Shop


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    made = make_mix_shop(shop.database, shop.cast)
    with shop.database.writing() as session:
        session.add(AgeingPolicyRow(kind="made-mix", end="parts", set_at=made.now))
    made.can("raw umber"), made.can("boiled oil")
    made.can("spirit", packed_on=date(2019, 5, 1))
    return made


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    return shop.signed_in(Role.FINISHER)


FORM: dict[str, Any] = {
    "once": "jar-page-1", "jar_0": "500 ml", "capacity_0": "500 ml", "form": "liquid", "when": "about",
    "loss": "20 ml", "loss_note": "strainer", "yield_how": "measured", "strained": "yes",
    "stir_note": "From the bottom", "step": "save",
}  # fmt: skip


def jar(shop: Shop, client: TestClient, mix: MixShop, batch: int | None = None) -> Container:
    number = batch or int(mix.start(mix.keep()).result["batch"])
    assert client.post(f"/bench/{number}/finish", data=FORM).status_code == 303
    with shop.database.reading() as session:
        box = session.exec(select(Container).where(col(Container.made_by_batch_id) == number)).one()
        session.expunge(box)
    return box


def plain(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ").split())


def test_looking_at_the_balance_books_nothing_and_keeps_what_was_typed(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    number = int(mix.start(mix.keep()).result["batch"])
    page = client.post(f"/bench/{number}/finish", data=FORM | {"step": "look"})
    text = plain(page.text)
    assert page.status_code == 200 and "The balance as you typed it" in text
    assert "Nothing is booked yet." in text
    assert "20 ml Walnut stain" in text and 'value="From the bottom"' in page.text
    assert "No clear coat before the next morning; later when it is cold or damp." in text
    with shop.database.reading() as session:
        assert session.get(Batch, number).state == "running"  # type: ignore[union-attr]
        assert not session.exec(select(Movement).where(col(Movement.kind) == "made")).all()
    wrong = client.post(f"/bench/{number}/finish", data=FORM | {"step": "look", "loss": "a bit"})
    assert wrong.status_code == 422 and 'id="e-loss"' in wrong.text


def test_a_jar_says_what_is_in_it_and_never_that_there_is_no_hazard(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    box = jar(shop, client, mix)
    page = client.get(f"/containers/{box.code}").text
    text = plain(page)
    for words in (
        "What is in this jar", "raw umber", "boiled oil", "spirit", "Share by weight",
        "Not complete.", "That does not mean there is none.", "From the bottom", "Strained: yes.",
        "Rags with it can ignite by themselves.", "No clear coat before the next morning",
    ):  # fmt: skip
        assert words in text, words
    # 100 g of 100 + 186 + 234 g.
    assert "19.2" in text
    code = "[A-Z0-9]{3} [A-Z0-9]{3}"
    assert re.search(rf"Packed 1 May 2019: the earliest of what went in, from spirit {code}\.", text)
    assert f'href="/bench/{box.made_by_batch_id}"' in page
    assert f"/containers/{box.code}/jar-label" in page


def test_the_jar_label_is_for_jars_and_sized_by_what_it_holds(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    box = jar(shop, client, mix)
    assert box.capacity_ul == 500_000
    page = client.get(f"/containers/{box.code}/jar-label").text
    assert 'class="hazard-label jar-label"' in page and "there is no short label" in page
    assert "use=workplace" not in page
    assert client.get(f"/containers/{box.code}/jar-label?use=workplace").status_code == 403
    keeper = shop.signed_in(Role.KEEPER)
    refused = keeper.get(f"/containers/{box.code}/jar-label?use=workplace")
    assert "it gets no short label" in refused.text and 'class="hazard-label' not in refused.text
    with shop.database.reading() as session:
        bought = session.exec(select(Container).where(col(Container.made_by_batch_id).is_(None))).first()
        assert bought is not None
        code = bought.code
    onward = client.get(f"/containers/{code}/jar-label")
    assert onward.headers["location"] == f"/containers/{code}/hazard-label"


def test_the_balance_by_a_call(mix: MixShop, shop: Shop) -> None:
    number = int(mix.start(mix.keep()).result["batch"])
    api = shop.api(Role.FINISHER)
    body = {"once": "jar-call-1", "jars": [{"amount": "500 ml"}], "loss": "20 ml", "made_how": "measured"}
    told = api.post(f"/api/batches/{number}/balance", json=body)
    assert told.status_code == 200 and told.json()["lost_words"] == "20 ml Walnut stain"
    assert told.json()["difference"] is None and told.json()["findings"][0]["severity"] == "unknown"
    assert api.get(f"/api/batches/{number}").json()["state"] == "running"
    assert api.post(f"/api/batches/{number}/finish", json=body).status_code == 201
    seen = api.get(f"/api/batches/{number}").json()
    assert seen["made_how"] == "measured" and seen["strained"] is None
    assert seen["after_use"]["clear_coat"].startswith("No clear coat before the next morning")
    with shop.database.writing() as session:
        stain = session.exec(select(Material).where(col(Material.name) == "Walnut stain")).one()
        assert stain.density_g_ml is None
    wrong = api.post(f"/api/batches/{number}/balance", json=body | {"jars": [{"amount": "some"}]})
    assert wrong.status_code == 422


def test_the_sheet_is_seen_by_who_sees_the_batch(client: TestClient, mix: MixShop, shop: Shop) -> None:
    box = jar(shop, client, mix)
    here = f"/bench/{box.made_by_batch_id}/sheet"
    page = client.get(here)
    assert page.status_code == 200 and "static/sheet_a4" in page.text
    assert "static/sheet_letter" in client.get(f"{here}?paper=letter").text
    assert client.get(f"{here}?paper=a3").status_code == 422
    student = shop.signed_in(Role.STUDENT)
    assert student.get(here).status_code == 404
    with shop.database.writing() as session:
        person = shop.cast.student.id or 0
        session.add(JobPerson(job_id=mix.job, person_id=person, added_at=shop.clock() - timedelta(minutes=1)))
    assert student.get(here).status_code == 200
