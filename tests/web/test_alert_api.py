"""GET /api/alerts: who may ask, what it answers, and what it refuses."""

from __future__ import annotations

from datetime import date

import pytest

from service.actions.arrivals import ReceiveAsked
from service.actions.begin_shop import begin_shop
from service.actions.receive_stock import receive
from service.core.access import Role
from service.core.materials import Form, MaterialKind
from service.records.materials import Material
from tests.warned_shop import in_reach
from tests.web.conftest import Shop


@pytest.fixture(autouse=True)
def reached(shop: Shop) -> None:
    """Warnings can reach the keeper: nothing about channels stands among these alerts."""
    in_reach(shop.database, shop.actor("keeper"), shop.clock())


@pytest.fixture
def code(shop: Shop) -> str:
    """An old drier, past since 2 March 2026."""
    with shop.database.writing() as session:
        begin_shop(session, shop.clock())
        row = Material(
            name="Japan drier", kind=MaterialKind.DRIER, form=Form.LIQUID, created_at=shop.clock()
        )
        session.add(row)
        session.flush()
        assert row.id is not None
        said = ReceiveAsked("alert-api-1", row.id, amount="200 ml", packed_on=date(2024, 3, 1))
        answer = receive(session, shop.actor("finisher"), shop.clock(), said, lambda: "a chance")
    found: str = answer.result["containers"][0]["code"]
    return found


def test_the_alerts_of_a_moment(shop: Shop, code: str) -> None:
    answer = shop.api("finisher").get("/api/alerts")
    assert answer.status_code == 200
    told = answer.json()
    assert (told["today"], told["days"], told["as_of"]) == ("2026-03-12", 14, "2026-03-12T09:30:00Z")
    first = told["alerts"][0]
    assert (first["kind"], first["severity"], first["due"]) == ("past", "stop", "2026-03-02")
    assert (first["about"], first["ref"], first["owner"]) == (code, f"container {code}", "Orla Brandt")
    assert [one["kind"] for one in told["alerts"]] == ["past", "missing-fact"]


def test_days_ahead(shop: Shop, code: str) -> None:
    reader = shop.api("reader")
    assert reader.get("/api/alerts", params={"days": 366}).json()["days"] == 366
    for odd in ("367", "-1", "x", "1.5", "", "9" * 400, "NaN"):
        answer = reader.get("/api/alerts", params={"days": odd})
        assert answer.status_code == 422, odd
        assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(("role", "status"), [("reader", 200), ("student", 403), ("keeper", 200)])
def test_who_may_ask(shop: Shop, role: str, status: int) -> None:
    assert shop.api(role).get("/api/alerts").status_code == status


def test_nobody_may(shop: Shop) -> None:
    assert shop.client().get("/api/alerts").status_code == 401
    assert shop.signed_in(Role.KEEPER).get("/api/alerts").status_code == 401
