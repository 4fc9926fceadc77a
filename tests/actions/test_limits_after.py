"""The order list against the storage limits: all that is ordered counts together, and what is on its way."""

from __future__ import annotations

from datetime import date

from service.actions.limits_after import _placed, limits_after
from service.core.materials import Basis
from service.core.order_list import MaterialOrder, OrderLine
from service.core.pack_choice import PackSize
from service.records.engine import Database
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY

GALLON = 3_785_412
TOGETHER = "with all else that is on the list or on its way"


def order(planned: Planned, name: str, gallons: int) -> MaterialOrder:
    pack = PackSize(1, GALLON * gallons)
    line = OrderLine(pack, 1, TODAY, None, TODAY, TODAY, 0, None)
    return MaterialOrder(
        planned.mix.ids[name], name, Basis.VOLUME, GALLON * gallons, (line,), (), True, True
    )


def told(planned: Planned, *orders: MaterialOrder) -> dict[str, str]:
    with planned.mix.database.reading() as session:
        found = limits_after(session, orders)
    return {one.name: " | ".join(found[one.material_id]) for one in orders}


def test_two_orders_that_are_within_alone_are_over_together(database: Database) -> None:
    """Nobody told their flash points: they count in each row; one allows 25 gal outside a cabinet."""
    planned = make_planned(database)
    spirit, oil = order(planned, "spirit", 15), order(planned, "boiled oil", 15)
    assert TOGETHER not in told(planned, spirit)["spirit"]
    both = told(planned, spirit, oil)
    for words in both.values():
        assert TOGETHER in words and "30" in words and "no row comes to be over" not in words
        assert "order less" in words


def test_what_is_on_its_way_counts_with_the_list(database: Database) -> None:
    planned = make_planned(database)
    pack = planned.pack("boiled oil", "56 l")
    planned.order(pack, 1, date(2026, 4, 20))
    words = told(planned, order(planned, "spirit", 15))["spirit"]
    assert TOGETHER in words and "29.8 gal" in words


def test_the_place_is_said_once() -> None:
    said = _placed("at Shelf", "Shelf", "Store room / Cabinet: 5 of 6 gal.")
    assert said == "at Shelf: Store room / Cabinet: 5 of 6 gal."
    for name in ("Cabinet", "Store room / Cabinet"):
        assert _placed(f"at {name}", name, "Store room / Cabinet: 5 of 6 gal.").startswith("Store room / Cab")
    asked = "where it will stand is not known, so as one room"
    assert _placed(asked, "", "The building: 5 of 6 gal.").startswith(asked)
