"""A sign-in from beginning to end: no token that somebody else chose, none that outlives its reason."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from datetime import timedelta
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Final

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from sqlmodel import select

from service.actions.sign_in_links import make_link
from service.app import create_app
from service.core.access import Role
from service.records.people import LinkPurpose, Person, WebSession
from service.web.visitor import PLAIN_COOKIE, SECURE_COOKIE
from tests.builders import FAST_HASHER, PINS, password_of
from tests.web.conftest import Shop
from tests.web.sign_in_steps import enter, printed, set_person

NEW_PASSWORD: Final = "seven cherry planks"


def version_of(shop: Shop, person: Person) -> int:
    with shop.database.reading() as session:
        return session.get_one(Person, person.id).version


def kept_alive(client: TestClient) -> bool:
    """Whether the browser's cookie, replayed as it is, opens anything."""
    return client.get("/me").status_code == 200


def as_keeper(shop: Shop, path: str, **typed: object) -> Response:
    who = shop.cast.student
    typed = {"version": version_of(shop, who)} | typed
    answer = shop.signed_in(Role.KEEPER).post(f"/people/{who.id}{path}", data=typed)
    assert answer.status_code in (200, 303), answer.text
    return answer


def other_role(shop: Shop) -> None:
    as_keeper(shop, "", name="Sanne Vos", sign_in_name="sanne", role="finisher")


def own_password(shop: Shop) -> None:
    present = password_of(shop.cast.student)
    typed = {"present_password": present, "new_password": NEW_PASSWORD}
    assert shop.signed_in(Role.STUDENT).post("/me/password", data=typed).status_code == 303


def password_by_address(shop: Shop) -> None:
    page = as_keeper(shop, "/password-link").text.replace("<wbr>", "")
    where = re.search(r"(/set-password/[\w-]+)", page)
    assert where is not None
    assert shop.client().post(where[1], data={"password": NEW_PASSWORD}).status_code == 303


ENDS: Final[dict[str, Callable[[Shop], object]]] = {
    "another role": other_role,
    "switched off": lambda shop: as_keeper(shop, "/active", active=""),
    "own new password": own_password,
    "new password by address": password_by_address,
    "account run out": lambda shop: set_person(shop, shop.cast.student, expires_on=shop.clock.now.date()
                                               - timedelta(days=1)),
    "idle": lambda shop: shop.clock.pass_by(hours=10),
}  # fmt: skip


@pytest.mark.parametrize("name", ENDS)
def test_every_sign_in_of_a_person_ends_and_no_other(shop: Shop, name: str) -> None:
    theirs = [shop.signed_in(Role.STUDENT) for _ in range(3)]
    on_tablet = shop.tablet(shop.cast.student)
    assert all(map(kept_alive, [*theirs, on_tablet]))
    ENDS[name](shop)
    others = shop.signed_in(Role.FINISHER)
    assert not any(map(kept_alive, [*theirs, on_tablet]))
    assert kept_alive(others)
    for client in theirs:
        held = client.post("/me/theme", data={"theme": "dark"})
        assert held.status_code == 401
    with shop.database.reading() as session:
        assert session.get_one(Person, shop.cast.student.id).theme == "auto"


def test_a_role_taken_away_acts_at_once_and_a_new_one_only_after_signing_in(shop: Shop) -> None:
    before = shop.signed_in(Role.STUDENT)
    assert before.get("/store").status_code == 403
    other_role(shop)
    assert before.get("/store").status_code == 303
    assert enter(before, "sanne", password_of(shop.cast.student)).status_code == 303
    assert before.get("/store").status_code == 200


@pytest.mark.parametrize("hours", [9, 20, 100])
def test_switched_on_again_revives_nothing(shop: Shop, hours: int) -> None:
    before = shop.signed_in(Role.STUDENT)
    as_keeper(shop, "/active", active="")
    as_keeper(shop, "/active", active="yes")
    assert not kept_alive(before)
    shop.clock.pass_by(hours=hours)
    assert not kept_alive(before)


def test_a_clock_that_went_back_makes_no_sign_in_last_longer(shop: Shop) -> None:
    client = shop.signed_in(Role.KEEPER)
    start = shop.clock.now
    shop.clock.now = start - timedelta(days=400)
    client.get("/me")
    shop.clock.now = start + timedelta(days=7)
    assert not kept_alive(client)


CHOSEN: Final = ("a" * 43, "session-1", "0", "", "../../x", "%00", "null", "x" * 4000)


@pytest.mark.parametrize("token", CHOSEN)
def test_a_token_that_somebody_else_chose_is_never_taken_over(shop: Shop, token: str) -> None:
    """Fixation: put into the browser before, it is worth nothing after the sign-in, by whatever door."""
    client = shop.client("127.0.0.1")
    client.cookies.set(PLAIN_COOKIE, token)
    with shop.database.writing() as session:
        make_link(session, LinkPurpose.SIGN_IN, "spare", shop.clock(), person_id=shop.cast.keeper.id)
    for door in (lambda: enter(client), lambda: client.post(printed(shop))):
        answer = door()
        assert answer.status_code == 303
        given = SimpleCookie(answer.headers["set-cookie"])[PLAIN_COOKIE].value
        assert given != token and len(given) >= 43
        thief = shop.client()
        thief.cookies.set(PLAIN_COOKIE, token)
        assert not kept_alive(thief)
        client.cookies.clear()
        client.cookies.set(PLAIN_COOKIE, token)


def test_tokens_are_long_and_only_their_hashes_are_kept(shop: Shop) -> None:
    tokens = {enter(shop.client()).cookies[PLAIN_COOKIE] for _ in range(20)}
    assert len(tokens) == 20 and all(len(token) >= 43 for token in tokens)
    with shop.database.reading() as session:
        kept = " ".join(repr(row) for row in session.exec(select(WebSession)))
    assert not any(token in kept for token in tokens)


def test_a_tablet_ends_with_its_device_and_a_tap_with_its_pin(shop: Shop) -> None:
    tablet = shop.tablet(shop.cast.finisher)
    assert kept_alive(tablet)
    assert shop.signed_in(Role.KEEPER).post(
        f"/people/{shop.cast.finisher.id}/pin", data={"pin": "8264"}
    ).status_code == 303  # fmt: skip
    assert not kept_alive(tablet), "tapped with a PIN that is not theirs any more"
    piet = f"/tap/{shop.cast.finisher.id}"
    assert tablet.post(piet, data={"sent": "yes", "pin": PINS["piet"]}).status_code == 422
    assert tablet.post(piet, data={"sent": "yes", "pin": "8264", "next": "/me"}).status_code == 303
    keeper = shop.signed_in(Role.KEEPER)
    assert keeper.post("/devices/1/active", data={"version": "1", "active": ""}).status_code == 303
    assert not kept_alive(tablet) and tablet.get("/tap").status_code == 303
    assert keeper.post("/devices/1/active", data={"version": "2", "active": "yes"}).status_code == 303
    assert tablet.get("/tap").status_code == 303, "switched on again it needs a new address"


@pytest.mark.parametrize("act", ["switched off and on", "another password"])
def test_addresses_made_before_are_over(shop: Shop, act: str) -> None:
    with shop.database.writing() as session:
        make_link(session, LinkPurpose.PASSWORD, "made-before", shop.clock(), person_id=shop.cast.student.id)
    assert shop.client().get("/set-password/made-before").status_code == 200
    if act == "another password":
        own_password(shop)
    else:
        as_keeper(shop, "/active", active="")
        as_keeper(shop, "/active", active="yes")
    assert shop.client().post("/set-password/made-before", data={"password": NEW_PASSWORD}).status_code == 404


def attributes(answer: Response) -> tuple[str, dict[str, str]]:
    (name, one), *rest = SimpleCookie(answer.headers["set-cookie"]).items()
    assert not rest and len(answer.headers.get_list("set-cookie")) == 1
    return name, {key: value for key, value in one.items() if value}


@pytest.mark.parametrize("https", [False, True])
def test_every_cookie_ever_set_has_all_its_attributes(shop: Shop, tmp_path: Path, https: bool) -> None:
    base = "https://testserver" if https else "http://testserver"
    settings = dataclasses.replace(shop.app.state.settings, base_url=base)
    app = create_app(settings, shop.database, shop.clock, hasher=FAST_HASHER)
    client = TestClient(app, base_url=base, follow_redirects=False, client=("127.0.0.1", 9))
    with shop.database.writing() as session:
        session.add(Person(name="Nobody", role=Role.STUDENT, created_at=shop.clock.now))
        device = 1
    shop.tablet()
    with shop.database.writing() as session:
        make_link(session, LinkPurpose.DEVICE, "for-a-tablet", shop.clock(), device_id=device)
    signed = enter(client)
    present = {"present_password": password_of(shop.cast.keeper), "new_password": NEW_PASSWORD}
    answers = {
        "sign-in": signed,
        "password": client.post("/me/password", data=present),
        "printed": client.post(printed(shop)),
        "sign-out": client.post("/sign-out"),
        "tablet": client.post("/tablet/for-a-tablet"),
    }
    for where, answer in answers.items():
        assert answer.status_code == 303, where
        name, found = attributes(answer)
        assert name == (SECURE_COOKIE if https else PLAIN_COOKIE), where
        assert found["httponly"] and found["path"] == "/" and found["samesite"] == "lax", where
        assert ("secure" in found) is https and "domain" not in found, where
        assert int(found["max-age"]) == (0 if where == "sign-out" else 5 * 365 * 86_400 if where == "tablet"
                                         else 7 * 86_400), where  # fmt: skip
    for path in ("/", "/me", "/sign-in", "/spill", "/static/service.css", "/nowhere"):
        assert "set-cookie" not in client.get(path).headers, path
