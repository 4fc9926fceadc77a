"""Every door of the house: the table of routes walked role by role, and a table that must fit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from fastapi import APIRouter
from fastapi.testclient import TestClient
from httpx2 import Response
from sqlmodel import select

from service.actions.sign_in import end_sessions_of
from service.app import create_app
from service.core.access import Permission, Role, may
from service.records.people import ApiToken, WebSession
from service.web import access_gate
from service.web.access_gate import NOT_BY_PIN, DoorsDisagree, check_table
from service.web.doors import ROUTERS
from service.web.route_table import ROWS
from service.web.routes.row import LOOPBACK, OWN_SIGN_IN, PUBLIC, SIGNED_IN, TABLET, RouteRow, row
from service.web.visitor import PLAIN_COOKIE
from tests.builders import FAST_HASHER, NOW
from tests.web.conftest import Shop
from tests.web.sign_in_steps import address, set_person

GATED = [one for one in ROWS if one.needs is not PUBLIC]


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


