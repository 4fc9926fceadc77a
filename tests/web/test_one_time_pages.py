"""Printed addresses, the first keeper, setting a password, and a tablet from its address to an act."""

from __future__ import annotations

import re
from pathlib import Path

from fastapi.testclient import TestClient

from service.actions.sign_in_links import make_link, printed_link
from service.app import create_app
from service.core.access import Role
from service.records.engine import Database
from service.records.people import LinkPurpose
from tests.builders import FAST_HASHER, NOW, PINS
from tests.web.conftest import Clock, Shop, shop_settings
from tests.web.sign_in_steps import enter, hidden, printed, set_person


def test_a_printed_address_is_spent_by_the_button_only(shop: Shop) -> None:
    where, client = printed(shop), shop.client("127.0.0.1")
    assert client.get(where).status_code == 200
    assert client.get(where).status_code == 200
    assert shop.client("192.0.2.9").post(where).status_code == 403
    assert client.post(where).headers["location"] == "/"
    assert client.get("/people").status_code == 200
    assert client.post(where).status_code == 404 and client.get(where).status_code == 404


def test_a_printed_address_is_over_after_ten_minutes_and_for_the_switched_off(shop: Shop) -> None:
    where = printed(shop)
    set_person(shop, shop.cast.keeper, active=False)
    assert shop.client("127.0.0.1").post(where).status_code == 404
    set_person(shop, shop.cast.keeper, active=True)
    where = printed(shop)
    shop.clock.pass_by(minutes=10)
    assert shop.client("127.0.0.1").post(where).status_code == 404


def test_an_empty_shop_is_set_up_once(sqlite_database: Database, tmp_path: Path) -> None:
    app = create_app(shop_settings(tmp_path, sqlite_database), sqlite_database, Clock(), hasher=FAST_HASHER)
    client = TestClient(app, follow_redirects=False, client=("127.0.0.1", 1))
    with sqlite_database.writing() as session:
        printed_link(session, "one", NOW)
    where = client.post("/sign-in/once/one").headers["location"]
    assert where.startswith("/first-keeper/")
    assert client.get(where).status_code == 200
    typed = {"name": "Orla", "sign_in_name": "orla", "password": "short", "shop_name": "Lane"}
    typed["time_zone"] = "UTC"
    again = client.post(where, data=typed)
    assert again.status_code == 422 and "at least 12 signs" in again.text and "short" not in again.text
    zone = client.post(where, data={**typed, "password": "four walnut drawers", "time_zone": "Mars/Base"})
    assert zone.status_code == 422 and "time zone" in zone.text
    done = client.post(where, data={**typed, "password": "four walnut drawers", "time_zone": "Europe/Berlin"})
    assert done.headers["location"] == "/shop" and client.get("/shop").status_code == 200
    assert client.post(where, data={**typed, "password": "four walnut drawers"}).status_code == 404
    with sqlite_database.writing() as session:
        make_link(session, LinkPurpose.FIRST_KEEPER, "late", NOW)
    assert client.get("/first-keeper/late").status_code == 404
    late = {**typed, "password": "four walnut drawers", "sign_in_name": "x", "time_zone": "UTC"}
    assert client.post("/first-keeper/late", data=late).status_code == 403


def test_a_person_sets_their_password_with_the_keepers_address(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    page = keeper.post(f"/people/{shop.cast.student.id}/password-link").text.replace("<wbr>", "")
    where = re.search(r"http://testserver(/set-password/[\w-]+)", page)
    assert where is not None
    before, client = shop.signed_in(Role.STUDENT), shop.client()
    assert "Sanne Vos" in client.get(where[1]).text
    assert client.post(where[1], data={"password": "short"}).status_code == 422
    assert client.post(where[1], data={"password": "five oak boards long"}).headers["location"] == "/sign-in"
    assert before.get("/me").status_code == 303
    assert client.post(where[1], data={"password": "another one here"}).status_code == 404
    assert enter(client, "sanne", "five oak boards long").status_code == 303


def test_a_tablet_from_its_address_to_an_act(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    assert keeper.post("/devices", data={"device_name": "Window bench"}).status_code == 303
    page = keeper.post("/devices/1/link").text.replace("<wbr>", "")
    where = re.search(r"http://testserver(/tablet/[\w-]+)", page)
    assert where is not None
    tablet = shop.client("192.0.2.30")
    assert "Window bench" in tablet.get(where[1]).text
    assert tablet.post(where[1]).headers["location"] == "/tap"
    assert tablet.post(where[1]).status_code == 404
    names = tablet.get("/tap").text
    assert "Piet Maas" in names and "Sanne Vos" not in names and "Ines" not in names
    assert tablet.get("/me").headers["location"] == "/tap?next=%2Fme"
    piet = f"/tap/{shop.cast.finisher.id}"
    assert tablet.post(piet, data={"sent": "yes", "pin": "0000"}).status_code == 422
    right = {"sent": "yes", "pin": PINS["piet"], "next": "/me"}
    assert tablet.post(piet, data=right).headers["location"] == "/me"
    assert "Piet Maas" in tablet.get("/me").text
    assert tablet.post("/me/pin", data={"present_password": "x", "pin": "8421"}).status_code == 403
    shop.clock.pass_by(minutes=2)
    held = tablet.post("/me/theme", data={"theme": "dark"})
    assert held.status_code == 401 and "What was entered is kept" in held.text
    asked = tablet.post(piet, data=hidden(held.text))
    assert asked.status_code == 200 and "theme" not in asked.request.url.query.decode()
    again = tablet.post(piet, data={**hidden(asked.text), "pin": PINS["piet"]})
    assert "Send it as Piet Maas" in again.text
    assert tablet.post("/me/theme", data=hidden(again.text)).status_code == 303
    assert tablet.post("/untap").headers["location"] == "/tap"
    assert tablet.get("/me").status_code == 303


def test_the_pin_is_throttled_on_the_page(shop: Shop) -> None:
    tablet = shop.tablet()
    piet = f"/tap/{shop.cast.finisher.id}"
    for _ in range(6):
        assert tablet.post(piet, data={"sent": "yes", "pin": "0000"}).status_code == 422
    answer = tablet.post(piet, data={"sent": "yes", "pin": PINS["piet"]})
    assert answer.status_code == 429 and answer.headers["retry-after"] == "2"


