"""Leaving a kind out of the mail by its secret address: a look does nothing, wrong ones wait."""

from __future__ import annotations

import logging
from typing import Final

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.actions.leave_mail import leave_tokens
from service.core.access import Role
from service.records.notices import DigestChoice
from service.records.people import Throttle
from tests.web.conftest import Shop
from tests.web.test_methods import everything

TOKEN: Final = "leave-this-" + "x" * 32
PATH: Final = f"/mail/leave/{TOKEN}"


@pytest.fixture
def told(shop: Shop) -> Shop:
    with shop.database.writing() as session:
        leave_tokens(session, shop.cast.finisher.id or 0, ["look-first"], shop.clock(), lambda: TOKEN)
    return shop


def one_click(client: TestClient, path: str = PATH) -> tuple[int, str]:
    """As a mail program posts it (RFC 8058)."""
    answer = client.post(path, data={"List-Unsubscribe": "One-Click"})
    return answer.status_code, answer.text


def off(shop: Shop) -> list[str] | None:
    with shop.database.reading() as session:
        row = session.get(DigestChoice, shop.cast.finisher.id)
        return None if row is None else row.kinds_off


def test_a_look_changes_nothing_and_a_post_needs_nobody_signed_in(told: Shop) -> None:
    nobody, before = told.client("203.0.113.7"), everything(told.database)
    page = nobody.get(PATH)
    assert page.status_code == 200 and "Leave it out" in page.text
    assert "Containers to look at first" in page.text
    assert f'action="{PATH}"' in page.text and page.headers["cache-control"] == "no-store"
    assert everything(told.database) == before
    status, text = one_click(nobody)
    assert status == 200 and "Left out of your morning mail" in text, "a page, not a way to another address"
    assert off(told) == ["look-first"]
    assert one_click(nobody)[0] == 200 and off(told) == ["look-first"]
    for kind in ("multipart/form-data; boundary=x", "text/plain", "application/json"):
        answer = nobody.post(PATH, content=b"--x--", headers={"content-type": kind})
        assert answer.status_code == 200, kind
    page = told.signed_in(Role.FINISHER).get("/me/morning").text
    assert "checked" in page


def test_the_button_of_the_page_does_it(told: Shop) -> None:
    assert told.client().post(PATH).status_code == 200
    assert off(told) == ["look-first"]


def test_another_site_cannot_send_it(told: Shop) -> None:
    answer = told.client().post(PATH, headers={"origin": "https://elsewhere.example"})
    assert answer.status_code == 403 and off(told) is None


def test_the_secret_serves_for_nothing_else(told: Shop) -> None:
    nobody = told.client()
    for path in (f"/calendar/{TOKEN}.ics", f"/sign-in/once/{TOKEN}", f"/set-password/{TOKEN}",
                 f"/tablet/{TOKEN}", f"/first-keeper/{TOKEN}"):  # fmt: skip
        assert nobody.get(path).status_code in (403, 404), path
    answer = nobody.get("/api/alerts", headers={"authorization": f"Bearer {TOKEN}"})
    assert answer.status_code == 401
    nobody.cookies.set("umberkeep", TOKEN)
    assert nobody.get("/me").status_code == 303
    assert off(told) is None


def test_wrong_ones_are_answered_plainly_and_wait(told: Shop) -> None:
    nobody = told.client("203.0.113.8")
    assert nobody.get("/mail/leave/wrong").status_code == 404
    seen = [one_click(nobody, f"/mail/leave/wrong{n}")[0] for n in range(12)]
    assert seen[0] == 404 and seen[-1] == 429
    answer = nobody.post("/mail/leave/wrong")
    assert int(answer.headers["retry-after"]) > 0 and "Too many tries" in answer.text
    with told.database.reading() as session:
        assert {row.kind for row in session.exec(select(Throttle)).all()} == {"leave-mail"}
    assert one_click(nobody)[0] == 200, "the right one never waits: a mail firm posts for many people"
    assert one_click(told.client("203.0.113.9"), "/mail/leave/wrong")[0] == 404
    told.clock.now = told.clock.now.replace(year=told.clock.now.year + 2)
    assert one_click(told.client("203.0.113.9"))[0] == 404, "too old"


def test_the_secret_is_in_no_log(told: Shop, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    told.client().get(PATH)
    one_click(told.client())
    ours = [one for one in caplog.records if not one.name.startswith(("httpx", "httpcore"))]
    assert ours and not any(TOKEN in str(vars(one)) for one in ours)
