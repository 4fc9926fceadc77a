"""The same order written down by two people is asked about, and counted twice only if it was placed twice."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from service.actions.place_order import LineAsked, LineChange, OrderAsked, change_line, place_order
from service.core.findings import Invalid
from service.records.engine import Database
from service.records.orders import LineState
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import once


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def ordered(planned: Planned, *packs: int, **more: Any) -> dict[str, Any]:
    lines = tuple(LineAsked(pack, 2, TODAY + timedelta(days=5)) for pack in packs)
    return planned.act(place_order, OrderAsked(**{"once": once(), "lines": lines} | more))


def test_the_same_packs_on_the_same_days_are_asked_about(planned: Planned) -> None:
    litre = planned.pack("spirit", "1 l", supplier="Supplier One")
    first = ordered(planned, litre)
    for day in (None, TODAY - timedelta(days=3)):
        with pytest.raises(Invalid) as wrong:
            ordered(planned, litre, placed_on=day)
        assert set(wrong.value.errors) == {"again"}
        assert f"Order {first['order']} of " in wrong.value.sentence and "2 × 1" in wrong.value.sentence
    assert ordered(planned, litre, again=True)["order"] != first["order"]
    assert ordered(planned, litre, placed_on=TODAY - timedelta(days=9))["order"]


def test_a_pack_written_anew_is_the_same_pack(planned: Planned) -> None:
    ordered(planned, planned.pack("spirit", "1 l", supplier="Supplier One"))
    dearer = planned.pack("spirit", "1 l", supplier="Supplier One", lead_days=4)
    with pytest.raises(Invalid, match="already"):
        ordered(planned, dearer)


def test_another_pack_another_supplier_or_a_cancelled_line_is_not_the_same(planned: Planned) -> None:
    litre = planned.pack("spirit", "1 l", supplier="Supplier One")
    (line,) = ordered(planned, litre)["lines"]
    assert ordered(planned, planned.pack("spirit", "500 ml", supplier="Supplier One"))["order"]
    assert ordered(planned, planned.pack("spirit", "1 l", supplier="Supplier Two"))["order"]
    planned.act(change_line, LineChange(once=once(), line_id=line, version=1, state=LineState.CANCELLED))
    assert ordered(planned, litre)["order"]


def test_a_repeat_of_one_press_is_one_order(planned: Planned) -> None:
    litre = planned.pack("spirit", "1 l")
    key = once()
    assert ordered(planned, litre, once=key)["order"] == ordered(planned, litre, once=key)["order"]
