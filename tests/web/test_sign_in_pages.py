"""Signing in by the page: cookies, throttle, carried posts, other sites, time limits."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.app import create_app
from service.core.access import Role
from service.records.people import Person, WebSession
from service.web.visitor import PLAIN_COOKIE, SECURE_COOKIE
from tests.builders import FAST_HASHER, NOW, password_of
from tests.web.conftest import Shop
from tests.web.sign_in_steps import enter, hidden, set_person


def test_sign_in_and_out(shop: Shop) -> None:
    client = shop.client()
    assert client.get("/people").headers["location"] == "/sign-in?next=%2Fpeople"
    answer = enter(client, next="/people")
    assert (answer.status_code, answer.headers["location"]) == (303, "/people")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=lax" in cookie and "path=/" in cookie and "secure" not in cookie
    assert client.get("/people").status_code == 200
    kept = client.cookies[PLAIN_COOKIE]
    assert client.post("/sign-out").status_code == 303
    client.cookies.set(PLAIN_COOKIE, kept)
    assert client.get("/people").status_code == 303, "a kept copy of the cookie opens nothing after sign-out"


def test_signing_in_changes_the_token_and_ends_the_former_one(shop: Shop) -> None:
    client = shop.signed_in(Role.STUDENT)
    old = client.cookies[PLAIN_COOKIE]
    new = enter(client).cookies[PLAIN_COOKIE]
    assert new != old and len(new) >= 43
    other = shop.client()
    other.cookies.set(PLAIN_COOKIE, old)
    assert other.get("/me").status_code == 303


def test_https_gives_the_cookie_its_prefix(shop: Shop, tmp_path: Path) -> None:
    import dataclasses

    settings = dataclasses.replace(shop.app.state.settings, base_url="https://testserver")
    app = create_app(settings, shop.database, shop.clock, hasher=FAST_HASHER)
    client = TestClient(app, base_url="https://testserver", follow_redirects=False)
    cookie = enter(client).headers["set-cookie"]
    assert cookie.startswith(f"{SECURE_COOKIE}=") and "Secure" in cookie and "domain" not in cookie.lower()
    assert client.get("/people").status_code == 200


def test_a_wrong_password_and_an_unknown_name_get_the_same_page(shop: Shop) -> None:
    wrong, unknown = enter(shop.client(), password="guessed guess"), enter(shop.client(), "orlx")
    assert wrong.status_code == unknown.status_code == 422
    assert wrong.text.replace("orla", "orlx") == unknown.text
    set_person(shop, shop.cast.student, active=False)
    off = enter(shop.client(), "sanne", password_of(shop.cast.student))
    assert off.text.replace("sanne", "orlx") == unknown.text
    assert "the password of" not in off.text


def test_the_sixth_wrong_try_waits_with_429(shop: Shop) -> None:
    client = shop.client()
    for _ in range(6):
        assert enter(client, password="guessed guess").status_code == 422
    answer = enter(client)
    assert answer.status_code == 429 and answer.headers["retry-after"] == "2"
    shop.clock.pass_by(seconds=2)
    assert enter(client).status_code == 303


@pytest.mark.parametrize(
    "target",
    ["//evil.example", "https://evil.example/", "/\\evil.example", "\\\\evil.example", "/%0d%0aX: y\r\nX: y",
     "javascript:alert(1)", "/sign-in?next=/x", "", "people", "/a b", "/" + "x" * 3000],
)
def test_nobody_is_sent_to_another_host(shop: Shop, target: str) -> None:
    answer = enter(shop.client(), next=target)
    assert answer.status_code == 303 and answer.headers["location"] == "/"
    look = shop.signed_in(Role.KEEPER).get("/sign-in", params={"next": target})
    assert look.headers["location"] == "/"


def test_a_post_without_sign_in_keeps_what_was_typed_but_no_secret(shop: Shop) -> None:
    client = shop.client()
    typed = {"name": 'Noor "<b>', "role": "student", "once": "k" * 9}
    typed |= {"new_password": "topsecret words", "pin": "4455"}
    held = client.post("/people/new", data=typed)
    assert held.status_code == 401 and held.headers["www-authenticate"]
    assert "topsecret" not in held.text and "4455" not in held.text
    fields = hidden(held.text)
    assert fields["post_to"] == "/people/new" and fields["kept.name"] == 'Noor "<b>'
    shown = enter(client, **fields)
    assert shown.status_code == 200 and "Send it as Orla Brandt" in shown.text
    assert 'action="/people/new"' in shown.text
    sent = client.post("/people/new", data=hidden(shown.text))
    assert sent.status_code == 303
    with shop.database.reading() as session:
        assert session.get_one(Person, int(sent.headers["location"].rsplit("/", 1)[1])).name == 'Noor "<b>'


def test_carried_fields_go_to_this_host_only(shop: Shop) -> None:
    answer = enter(shop.client(), post_to="https://evil.example/", **{"kept.name": "x"})
    assert answer.status_code == 303 and answer.headers["location"] == "/"


@pytest.mark.parametrize(
    ("headers", "passes"),
    [
        ({"sec-fetch-site": "same-origin"}, True), ({"sec-fetch-site": "none"}, True),
        ({"sec-fetch-site": "cross-site"}, False), ({"sec-fetch-site": "same-site"}, False),
        ({"origin": "http://testserver"}, True), ({"origin": "http://evil.example"}, False),
        ({"origin": "null"}, False), ({}, True),
        ({"sec-fetch-site": "cross-site", "origin": "http://testserver"}, False),
    ],
)
def test_a_form_of_another_site_is_not_carried_out(shop: Shop, headers: dict[str, str], passes: bool) -> None:
    client = shop.signed_in(Role.KEEPER)
    answer = client.post("/me/theme", data={"theme": "dark"}, headers=headers)
    assert answer.status_code == (303 if passes else 403)
    with shop.database.reading() as session:
        assert session.get_one(Person, shop.cast.keeper.id).theme == ("dark" if passes else "auto")


def test_last_use_is_written_down_at_most_every_five_minutes(shop: Shop) -> None:
    client = shop.signed_in(Role.KEEPER)

    def seen() -> timedelta:
        with shop.database.reading() as session:
            return session.exec(select(WebSession)).one().last_seen_at - NOW

    shop.clock.pass_by(minutes=4)
    client.get("/me")
    assert seen() == timedelta(0)
    shop.clock.pass_by(minutes=2)
    client.get("/me")
    assert seen() == timedelta(minutes=6)
    shop.clock.pass_by(hours=9, minutes=59)
    assert client.get("/me").status_code == 200
    shop.clock.pass_by(hours=10)
    assert client.get("/me").status_code == 303


def test_however_busy_a_sign_in_ends_after_seven_days(shop: Shop) -> None:
    client = shop.signed_in(Role.KEEPER)
    for _ in range(27):
        shop.clock.pass_by(hours=6)
        assert client.get("/me").status_code == 200
    shop.clock.pass_by(hours=6)
    assert client.get("/me").status_code == 303


