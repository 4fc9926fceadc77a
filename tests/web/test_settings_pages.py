"""Account, people, tokens, the shop, spill or fire, health, and what stands around every page."""

from __future__ import annotations

import pytest
from sqlmodel import select

from service.core.access import Role
from service.records.people import ApiToken, WebSession
from service.web.render import Notice
from service.web.routes import doors
from tests.builders import NOW, TODAY, password_of
from tests.web.conftest import Shop
from tests.web.sign_in_steps import address, set_person


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
