"""The page of alerts: worst first, filters, one button each, and none for those who only look."""

from __future__ import annotations

import re
from datetime import date

import pytest

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.begin_shop import begin_shop
from service.actions.container_events import OpenAsked, open_container
from service.actions.receive_stock import receive
from service.core.materials import Form, MaterialKind
from service.records.materials import Material
from tests.warned_shop import in_reach
from tests.web.conftest import Shop


@pytest.fixture(autouse=True)
def reached(shop: Shop) -> None:
    """Warnings can reach the keeper: nothing about channels stands among these alerts."""
    in_reach(shop.database, shop.actor("keeper"), shop.clock())


@pytest.fixture
def codes(shop: Shop) -> dict[str, str]:
    """A past, a look-first and a not-known container of a material that lacks most facts."""
    with shop.database.writing() as session:
        begin_shop(session, shop.clock())
        row = Material(
            name="Japan <drier>", kind=MaterialKind.DRIER, form=Form.LIQUID, created_at=shop.clock()
        )
        session.add(row)
        session.flush()
        assert row.id is not None
        made = {}
        for n, (name, packed) in enumerate(
            {"past": date(2024, 3, 1), "look": date(2024, 6, 1), "nobody": None}.items()
        ):
            origin = Origin.SUPPLIER if packed else Origin.STOCK_TAKE
            said = ReceiveAsked(f"page-{n:06}", row.id, amount="200 ml", packed_on=packed, origin=origin)
            answer = receive(session, shop.actor("finisher"), shop.clock(), said, lambda n=n: f"chance {n}")
            made[name] = answer.result["containers"][0]["code"]
    return made


def test_an_empty_page_promises_nothing(shop: Shop) -> None:
    page = shop.signed_in("keeper").get("/alerts")
    assert page.status_code == 200
    assert "No rule of the shop asks for anything in the next 14 days." in page.text
    assert "does not mean that all is well" in page.text


def test_worst_first_each_with_one_button(shop: Shop, codes: dict[str, str]) -> None:
    text = shop.signed_in("keeper").get("/alerts").text
    spots = [text.index(code[:3]) for code in (codes["past"], codes["nobody"], codes["look"])]
    assert spots == sorted(spots)
    items = re.findall(r'<li class="finding.*?</li>', text, re.S)
    assert len(items) == 4
    assert all(item.count('class="button') == 1 for item in items)
    assert f"/containers/{codes['past']}/check" in items[0], "a look that passes could still give it time"
    assert "Look and record it" in items[0] and "Discard it" not in items[0]
    assert f"/containers/{codes['nobody']}/check" in items[1]
    assert "Who: Orla Brandt" in items[0]
    assert "Japan &lt;drier&gt;" in text
    assert "<drier>" not in text


def test_filters(shop: Shop, codes: dict[str, str]) -> None:
    keeper = shop.signed_in("keeper")
    facts = keeper.get("/alerts?show=facts&days=30").text
    assert codes["past"][:3] not in facts
    assert "are not known." in facts
    assert "3 more that are not shown" in facts
    duties = keeper.get("/alerts?show=duties").text
    assert "4 more that are not shown" in duties
    for odd in ("show=nothing", "days=367", "days=x", "days=-1"):
        assert keeper.get(f"/alerts?{odd}").status_code == 422


def test_what_one_sees_to_oneself(shop: Shop, codes: dict[str, str]) -> None:
    finisher, mine = shop.signed_in("finisher"), "/alerts?show=mine"
    assert "No rule of the shop asks" in finisher.get(mine).text, "they are the keepers'"
    with shop.database.writing() as session:
        asked = OpenAsked(once="opened-by-piet", code=codes["look"])
        open_container(session, shop.actor("finisher"), shop.clock(), asked)
    text = finisher.get(mine).text
    assert codes["look"][:3] in text and codes["past"][:3] not in text and "3 more that are not shown" in text
    keeper = shop.signed_in("keeper").get(mine).text
    assert codes["past"][:3] in keeper and codes["look"][:3] not in keeper


def test_a_reader_has_no_buttons(shop: Shop, codes: dict[str, str]) -> None:
    text = shop.signed_in("reader").get("/alerts").text
    assert codes["past"][:3] in text
    assert not re.search(r'<li class="finding(?:(?!</li>).)*class="button', text, re.S)


def test_a_student_does_not_see_the_store(shop: Shop) -> None:
    assert shop.signed_in("student").get("/alerts").status_code == 403
