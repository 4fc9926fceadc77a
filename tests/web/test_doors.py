"""Every door of the house: the table of routes walked role by role, and the ways around it."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi import APIRouter
from fastapi.testclient import TestClient
from httpx2 import Response
from sqlmodel import select

from service.actions.sign_in import end_sessions_of
from service.actions.sign_in_links import make_link, printed_link
from service.app import create_app
from service.core.access import Permission, Role, may
from service.records.engine import Database
from service.records.people import ApiToken, LinkPurpose, Person, WebSession
from service.web import access_gate
from service.web.access_gate import NOT_BY_PIN, DoorsDisagree, check_table
from service.web.doors import ROUTERS
from service.web.render import Notice
from service.web.route_table import ROWS
from service.web.routes import doors
from service.web.routes.row import LOOPBACK, OWN_SIGN_IN, PUBLIC, SIGNED_IN, TABLET, RouteRow, row
from service.web.visitor import PLAIN_COOKIE, SECURE_COOKIE
from tests.builders import FAST_HASHER, NOW, PINS, TODAY, password_of
from tests.web.conftest import Clock, Shop, shop_settings

_numbers = itertools.count(1)
GATED = [one for one in ROWS if one.needs is not PUBLIC]


def address(path: str) -> str:
    """A path of the template with something in every gap; nothing in the shop has that number."""
    return re.sub(r"\{[^}]+\}", "987654", path)


def send(client: TestClient, one: RouteRow) -> Response:
    if one.method in ("GET", "HEAD"):
        return client.request(one.method, address(one.path))
    if one.path.startswith("/api/"):
        return client.request(one.method, address(one.path), json={})
    return client.request(one.method, address(one.path), data={})


def refused(response: Response) -> bool:
    """Turned away at the door: 401, 403, or sent to the sign-in page or to the names of a tablet."""
    away = response.headers.get("location", "").startswith(("/sign-in?next=", "/tap?next="))
    return response.status_code in (401, 403) or (response.status_code == 303 and away)


def is_api(one: RouteRow) -> bool:
    return one.path.startswith("/api/")


def role_may(role: Role, one: RouteRow, *, by_pin: bool = False) -> bool:
    if one.needs is OWN_SIGN_IN:
        return not by_pin
    if not isinstance(one.needs, tuple):
        return one.needs in (SIGNED_IN, TABLET)
    if by_pin and set(one.needs) <= NOT_BY_PIN:
        return False
    return any(may(role, permission) for permission in one.needs)


def walk(make: Callable[[], TestClient], allowed: Callable[[RouteRow], bool]) -> list[str]:
    """Every gated row by a fresh caller each (a sign-out must not spoil the rest); the rows that differ."""
    wrong = []
    for one in GATED:
        got = send(make(), one)
        if refused(got) == allowed(one) or got.status_code >= 500:
            wrong.append(f"{one.method} {one.path} answered {got.status_code}")
    return wrong


def open_here(one: RouteRow) -> bool:
    return one.needs is not LOOPBACK


@pytest.mark.parametrize("role", list(Role))
def test_a_signed_in_person_passes_what_the_role_covers(shop: Shop, role: Role) -> None:
    assert walk(lambda: shop.signed_in(role), lambda one: not is_api(one) and role_may(role, one)) == []


@pytest.mark.parametrize("role", list(Role))
def test_a_token_passes_under_api_only(shop: Shop, role: Role) -> None:
    assert walk(lambda: shop.api(role), lambda one: is_api(one) and role_may(role, one)) == []


@pytest.mark.parametrize("role", [Role.STUDENT, Role.FINISHER, Role.KEEPER])
def test_a_tapped_person_passes_but_a_pin_opens_no_settings(shop: Shop, role: Role) -> None:
    who = shop.cast.person(role)
    allowed = lambda one: not is_api(one) and role_may(role, one, by_pin=True)  # noqa: E731
    assert walk(lambda: shop.tablet(who), allowed) == []


def test_a_tablet_alone_sees_only_whose_turn_it_is(shop: Shop) -> None:
    assert walk(shop.tablet, lambda one: one.needs is TABLET) == []


def nobody(shop: Shop) -> TestClient:
    return shop.client()


def signed_out(shop: Shop) -> TestClient:
    client = shop.signed_in(Role.KEEPER)
    with shop.database.writing() as session:
        end_sessions_of(session, shop.cast.keeper.id or 0, shop.clock())
    return client


def switched_off(shop: Shop) -> TestClient:
    client = shop.signed_in(Role.KEEPER)
    set_person(shop, shop.cast.keeper, active=False)
    return client


def run_out(shop: Shop) -> TestClient:
    client = shop.signed_in(Role.READER)
    shop.clock.now = NOW + timedelta(days=20)
    with shop.database.writing() as session:  # the sign-in itself would still hold
        for row_ in session.exec(select(WebSession)):
            row_.last_seen_at, row_.expires_at = shop.clock.now, shop.clock.now + timedelta(days=1)
            row_.created_at = shop.clock.now
            session.add(row_)
    return client


def over_time(shop: Shop) -> TestClient:
    client = shop.signed_in(Role.KEEPER)
    with shop.database.writing() as session:
        for row_ in session.exec(select(WebSession)):
            row_.last_seen_at = shop.clock() - timedelta(hours=10)
            session.add(row_)
    return client


def forged(shop: Shop) -> TestClient:
    client = shop.client()
    client.cookies.set(PLAIN_COOKIE, "made up")
    return client


def revoked(shop: Shop) -> TestClient:
    client = shop.api(Role.KEEPER)
    with shop.database.writing() as session:
        for row_ in session.exec(select(ApiToken)):
            row_.ended_at = shop.clock()
            session.add(row_)
    return client


def cookie_as_token(shop: Shop) -> TestClient:
    """A browser's cookie sent to the API as well as a session token in the header: neither is a token."""
    client = shop.signed_in(Role.KEEPER)
    token = client.cookies[PLAIN_COOKIE]
    client.cookies.clear()
    client.headers["authorization"] = f"Bearer {token}"
    return client


def set_person(shop: Shop, person: Person, **values: object) -> None:
    with shop.database.writing() as session:
        row_ = session.get_one(Person, person.id)
        for name, value in values.items():
            setattr(row_, name, value)
        session.add(row_)


@pytest.mark.parametrize(
    "make",
    [nobody, signed_out, switched_off, run_out, over_time, forged, revoked, cookie_as_token],
    ids=lambda make: make.__name__,
)
def test_who_is_nobody_passes_nothing(shop: Shop, make: Callable[[Shop], TestClient]) -> None:
    assert walk(lambda: make(shop), lambda one: False) == []


def test_public_rows_ask_nobody(shop: Shop) -> None:
    wrong = [one.path for one in ROWS if one.needs is PUBLIC and refused(send(shop.client(), one))]
    assert wrong == []


@pytest.mark.parametrize("host", ["127.0.0.1", "::1", "192.0.2.9"])
@pytest.mark.parametrize("header", ["", "x-forwarded-for", "forwarded", "x-real-ip"])
def test_loopback_rows_want_this_machine_and_no_proxy(shop: Shop, host: str, header: str) -> None:
    rows = [one for one in ROWS if one.needs is LOOPBACK]
    assert rows
    for one in rows:
        client = shop.client(host)
        if header:
            client.headers[header] = "127.0.0.1"
        turned_away = host == "192.0.2.9" or header
        assert send(client, one).status_code == (403 if turned_away else 404), one.path


def test_a_token_on_a_page_and_a_cookie_under_api_count_for_nothing(shop: Shop) -> None:
    script = shop.api(Role.KEEPER)
    assert script.get("/people").headers["location"].startswith("/sign-in")
    probe = APIRouter()
    probe.add_api_route("/api/probe", lambda: {"ok": True}, methods=["GET"])
    extra = (*ROWS, row("GET", "/api/probe", SIGNED_IN, "a test"))
    app = app_with(shop, (*ROUTERS, probe), extra)
    browser = TestClient(app, follow_redirects=False, cookies=dict(shop.signed_in(Role.KEEPER).cookies))
    answer = browser.get("/api/probe")
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"].startswith("Bearer")
    assert answer.json()["type"] == "/problems/sign-in"
    assert TestClient(app, headers=dict(script.headers)).get("/api/probe").json() == {"ok": True}


def app_with(shop: Shop, routers, rows):  # type: ignore[no-untyped-def]
    """The application with other routers and another table."""
    kept = access_gate.BY_KEY.copy(), access_gate.check_table.__defaults__
    access_gate.BY_KEY.update({one.key: one for one in rows})
    access_gate.check_table.__defaults__ = (rows,)
    try:
        app = create_app(
            shop.app.state.settings, shop.database, shop.clock, hasher=FAST_HASHER, routers=routers
        )
    finally:
        access_gate.check_table.__defaults__ = kept[1]
    return app


@pytest.fixture(autouse=True)
def same_table_afterwards() -> Iterator[None]:
    kept = dict(access_gate.BY_KEY)
    yield
    access_gate.BY_KEY.clear()
    access_gate.BY_KEY.update(kept)


def test_a_route_without_a_line_keeps_the_service_from_starting(shop: Shop) -> None:
    stray = APIRouter()
    stray.add_api_route("/back-door", lambda: "in", methods=["GET"])
    with pytest.raises(DoorsDisagree, match="no line for GET /back-door"):
        create_app(shop.app.state.settings, shop.database, hasher=FAST_HASHER, routers=(*ROUTERS, stray))
    deeper = APIRouter()
    deeper.include_router(stray, prefix="/deep")
    with pytest.raises(DoorsDisagree, match="no line for GET /deep/back-door"):
        create_app(shop.app.state.settings, shop.database, hasher=FAST_HASHER, routers=(*ROUTERS, deeper))


def test_a_line_without_a_route_two_lines_and_a_mount_do_too(shop: Shop) -> None:
    with pytest.raises(DoorsDisagree, match="no route for GET /nowhere"):
        check_table(shop.app, (*ROWS, row("GET", "/nowhere", SIGNED_IN, "a test")))
    with pytest.raises(DoorsDisagree, match="two lines for GET /people"):
        check_table(shop.app, (*ROWS, row("GET", "/people", PUBLIC, "a test")))
    static = tuple(
        row("GET", one.path, SIGNED_IN, "a test") if one.path.startswith("/static") else one for one in ROWS
    )
    with pytest.raises(DoorsDisagree, match="can only be public"):
        check_table(shop.app, static)


def test_a_prefix_at_inclusion_is_refused_because_the_gate_would_not_see_it(shop: Shop) -> None:
    inner, outer = APIRouter(), APIRouter()
    inner.add_api_route("/probe", lambda: "in", methods=["GET"])
    outer.include_router(inner, prefix="/people")
    rows = (*ROWS, row("GET", "/people/probe", Permission.PEOPLE, "a test"))
    with pytest.raises(DoorsDisagree, match="full path"):
        app_with(shop, (*ROUTERS, outer), rows)


def test_every_line_says_why() -> None:
    assert all(len(one.why) > 8 for one in ROWS)


# Signing in through the page


def enter(
    client: TestClient, name: str = "orla", password: str = "the password of orla", **more: str
) -> Response:
    return client.post("/sign-in", data={"sign_in_name": name, "password": password, **more})


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


def hidden(page: str) -> dict[str, str]:
    import html

    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', page)
    return {html.unescape(name): html.unescape(value) for name, value in found}


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


# One-time addresses


def printed(shop: Shop) -> str:
    token = f"printed-{next(_numbers)}"
    with shop.database.writing() as session:
        printed_link(session, token, shop.clock())
    return f"/sign-in/once/{token}"


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
    page = keeper.post(f"/people/{shop.cast.student.id}/password-link").text
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
    page = keeper.post("/devices/1/link").text
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


# Settings pages, health, chrome


def test_own_password_needs_the_present_one_and_ends_other_sign_ins(shop: Shop) -> None:
    here, there = shop.signed_in(Role.FINISHER), shop.signed_in(Role.FINISHER)
    wrong = here.post("/me/password", data={"present_password": "x", "new_password": "five oak boards long"})
    assert wrong.status_code == 422 and there.get("/me").status_code == 200
    right = {"present_password": password_of(shop.cast.finisher), "new_password": "five oak boards long"}
    assert here.post("/me/password", data=right).status_code == 303
    assert here.get("/me").status_code == 200 and there.get("/me").status_code == 303


def test_a_keeper_adds_changes_and_switches_off(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    made = keeper.post("/people/new", data={"name": "Noor", "role": "reader", "expires_on": "31.3.2026"})
    where = made.headers["location"]
    assert "Noor is in the books" in keeper.get(where).text
    assert "Noor is in the books" not in keeper.get(where).text, "told once"
    changed = {"name": "Noor", "role": "student", "sign_in_name": "noor", "version": "1"}
    assert keeper.post(where, data=changed).status_code == 303
    assert keeper.post(where, data=changed).status_code == 409
    assert keeper.post(f"{where}/pin", data={"pin": "1234"}).status_code == 422
    assert keeper.post(f"{where}/pin", data={"pin": "8305"}).status_code == 303
    assert keeper.post(f"{where}/active", data={"version": "2"}).status_code == 303
    assert "switched off" in keeper.get("/people").text
    last = keeper.post(f"/people/{shop.cast.keeper.id}/active", data={"version": "1"})
    assert last.status_code == 422 and "last keeper" in last.text
    assert keeper.get(f"/people/{2**31}").status_code == 422


def test_the_shop_page_keeps_profile_emergency_text_numbers_and_shifts(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    assert "has not written down what to do here" in shop.client().get("/spill").text
    profile = {"name": "Lane", "time_zone": "Europe/Paris", "regime": "eu-clp", "version": "1"}
    profile["rag_grace_min"] = "10"
    assert keeper.post("/shop", data=profile).status_code == 303
    assert keeper.post("/shop", data=profile).status_code == 409
    text = {"emergency_text": "Out by the yard.\r\nMeet at the gate <script>", "version": "2"}
    assert keeper.post("/shop/emergency", data=text).status_code == 303
    assert keeper.post("/shop/numbers", data={"who": "Fire brigade", "number": "112"}).status_code == 303
    assert keeper.post("/shop/numbers", data={"who": "Fire brigade", "number": "none"}).status_code == 422
    shown = shop.client().get("/spill").text
    assert "Meet at the gate &lt;script&gt;" in shown and 'href="tel:112"' in shown
    week = {"shift_name": "Day", "weekdays": ["0", "1"], "starts": "8", "ends": "16:30"}
    assert keeper.post("/shop/shifts", data=week).status_code == 303
    assert "Tuesday 08:00 to 16:30, Day" in keeper.get("/shop").text
    assert keeper.post("/shop/shifts", data={**week, "ends": "25:00"}).status_code == 422


def test_a_token_is_shown_once_and_can_be_ended(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    page = keeper.post("/tokens", data={"label": "scale", "role": "finisher"}).text
    with shop.database.reading() as session:
        row_ = session.exec(select(ApiToken)).one()
    assert row_.token_hash not in page
    assert keeper.post(f"/tokens/{row_.id}/revoke").status_code == 303
    assert "opens nothing any more" in keeper.get("/devices").text


def test_health_for_anybody_and_503_without_a_database(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    answer = shop.client().get("/health")
    assert answer.status_code == 200
    told = {"ok", "program", "engine", "version", "journal", "revision", "wanted_revision"}
    assert set(answer.json()) == told
    head = shop.client().head("/health")
    assert head.status_code == 200 and head.content == b""
    monkeypatch.setattr("service.web.pages.health._facts", lambda _: 1 / 0)
    down = shop.client().get("/health")
    assert down.status_code == 503 and down.json()["ok"] is False and down.headers["retry-after"]


def test_the_menu_shows_what_the_role_may_open(shop: Shop) -> None:
    keeper, student, anybody = shop.signed_in(Role.KEEPER), shop.signed_in(Role.STUDENT), shop.client()
    assert 'href="/people"' in keeper.get("/words").text
    assert 'href="/people"' not in student.get("/words").text
    assert 'href="/me"' in student.get("/words").text and 'href="/spill"' in anybody.get("/words").text


def test_notices_stand_on_every_page(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    from service.web import chrome

    monkeypatch.setattr(chrome, "_notice_providers", [])
    due = Notice("Rags of the class are due", 12, "/rags", "Go")
    chrome.add_notice_provider(lambda session, actor, now: [due])
    client = shop.signed_in(Role.STUDENT)
    for path in ("/", "/words", "/me", "/no-such-page"):
        assert "Rags of the class are due" in client.get(path).text


def test_a_locked_database_is_busy_not_broken(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.records.engine.WRITE_WAIT_S", 0.05)
    client = shop.signed_in(Role.KEEPER)
    assert shop.database.lock is not None and shop.database.lock.acquire(1)
    try:
        answer = client.post("/me/theme", data={"theme": "dark"})
    finally:
        shop.database.lock.release()
    assert answer.status_code == 503 and answer.headers["retry-after"]


HOSTILE = [
    "", "\x00", "a\x00b", "\u202eabc", "9" * 400, "-1", "1e999", "<script>", "' or 1=1 --", "x" * 5000,
]


def test_no_form_of_the_doors_breaks(shop: Shop) -> None:
    names = [
        "name", "role", "sign_in_name", "expires_on", "email", "version", "pin", "password", "active",
        "label", "device_name", "theme", "time_zone", "regime", "rag_grace_min", "emergency_text", "who",
        "number", "shift_name", "weekdays", "starts", "ends", "present_password", "new_password", "next",
        "post_to", "sent",
    ]
    posts = [one for one in doors.ROWS if one.method == "POST" and one.path != "/sign-out"]
    for one in posts:
        for value in HOSTILE:
            client = shop.signed_in(Role.KEEPER, "127.0.0.1")
            answer = client.post(address(one.path), data=dict.fromkeys(names, value))
            assert answer.status_code < 500, (one.path, value)
            assert answer.status_code in (200, 303, 403, 404, 409, 422, 429), (one.path, value)


def test_the_day_of_expiry_is_the_shops_own(shop: Shop) -> None:
    client = shop.signed_in(Role.READER)
    set_person(shop, shop.cast.reader, expires_on=TODAY)
    shop.clock.now = NOW.replace(hour=22, minute=59)  # 23:59 in Berlin
    with shop.database.writing() as session:
        row_ = session.exec(select(WebSession)).one()
        row_.last_seen_at = shop.clock.now
        session.add(row_)
    assert client.get("/me").status_code == 200
    shop.clock.pass_by(minutes=1)
    assert client.get("/me").status_code == 303
