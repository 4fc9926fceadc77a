"""On the pages of a plan all amounts of one material stand in one unit."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from service.actions.limits_after import LESS, ONE_BY_ONE
from service.actions.look_at_orders import look_at_orders
from service.core.materials import Basis
from service.core.shown_alike import one_unit, shown_alike
from service.records.engine import Database
from service.web.order_view import SEVERAL, _shortly, beside, rows, said_of_several
from service.web.plan_amounts import least_words
from service.web.render import HARD
from service.web.stock_picture import draw_stock
from service.web.term_view import day_rows, need_rows
from tests.actions.test_plan_unsettled import LATER, SOON, wash
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY

LIMITS = "Storage limits after the delivery"


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def units_in(*said: object) -> set[str]:
    words = " ".join(map(str, said)).replace(HARD, " ").replace("\\xa0", " ")
    return set(re.findall(r"[0-9] (l|ml|kg|g|US gal|US pints?)\b", words))


def test_a_recipe_in_litres_and_one_in_millilitres_are_shown_in_one_unit(planned: Planned) -> None:
    planned.mix.can("spirit", 1_500_000)
    planned.mix.can("spirit", 150_000, printed_date=TODAY + timedelta(days=2), is_open=False)
    planned.pack("spirit", "1 l", lead_days=2, supplier="North Yard")
    planned.job(SOON, recipe_id=wash(planned, ("spirit", "0.5 l"), name="Litres"), each="0.725714 times")
    planned.job(LATER, recipe_id=wash(planned, ("spirit", "500 ml"), name="Millilitres"), each="5.7 times")
    look, spirit = planned.look(), planned.mix.ids["spirit"]
    days = day_rows(look, spirit)
    assert days[0]["needed"].replace(HARD, " ") == "362.9 ml" and units_in(days) == {"ml"}
    picture = draw_stock(look, spirit)
    assert picture is not None and units_in(picture.rows, picture.said, picture.top) == {"ml"}
    needed = next(row for row in need_rows(look) if row["name"]["words"] == "spirit")
    assert units_in(needed, least_words(look, spirit)) == {"ml"}
    with planned.mix.database.reading() as session:
        found = look_at_orders(session, look)
    told = [{k: v for k, v in row.items() if k != "buy"} for row in rows(look, found)]
    assert units_in(told, beside(look, found[0])["facts"]) == {"ml"}


def test_the_unit_of_a_page() -> None:
    volume, mass = Basis.VOLUME, Basis.MASS
    assert one_unit(["us-pint"], volume, [2_365_882, 18_927_059]) == "us-pint"
    assert one_unit(["us-pint", "ml"], volume, [2_365_882]) == "", "no measure is turned into another"
    assert one_unit(["drop"], volume, [5_000]) == "ml" and one_unit(["g"], volume, [5_000]) == "ml"
    assert one_unit(["g"], mass, [40_000_000]) == "kg" and one_unit([], mass, []) == ""
    assert one_unit(["kg"], None, [5]) == "" and one_unit(["piece"], Basis.PIECES, [12]) == "piece"


def test_a_need_is_shown_rounded_up_and_what_is_there_down_in_any_unit() -> None:
    for unit in ("l", "ml"):
        up, down = (shown_alike(282_857, Basis.VOLUME, unit, down=down) for down in (False, True))
        assert up.startswith("282.9" if unit == "ml" else "0.2829")
        assert down.startswith("282.8" if unit == "ml" else "0.2828")


def test_what_is_said_of_several_orders_alike_stands_once_under_the_table(planned: Planned) -> None:
    number = {"spirit": "15 US gal", "boiled oil": "15 US gal"}
    for name, much in number.items():
        planned.pack(name, much, lead_days=2, supplier="North Yard")
    planned.job(LATER, recipe_id=wash(planned, *number.items()))
    look = planned.look()
    with planned.mix.database.reading() as session:
        found = look_at_orders(session, look)
    several = said_of_several(found)
    assert LESS not in str(several) and ONE_BY_ONE not in str(several)
    under = {words for _, told in several for words in told["lines"]}
    assert under and any("too much" in words for words in under), several
    assert {of for of, _ in several} <= {"boiled oil, spirit", "spirit, boiled oil"}
    for one in found:
        told = str(beside(look, one, under)["facts"])
        assert SEVERAL in told and not any(words in told for words in under)
        shorter = [words for words in one.limits if _shortly(words, under) != words and words not in under]
        kept = set(dict(beside(look, one)["facts"])[LIMITS]["lines"])
        assert set(one.limits) - set(shorter) <= under | kept


def test_what_a_row_asks_stands_once_and_the_figures_of_each_order_stay() -> None:
    permit = "More than 5 gal of Class I indoors ask for a permit."
    figures = "The building: 12.5 gal counted, 5 gal by this row, so 7.5 gal above this level. "
    line = figures + permit
    assert _shortly(line, set()) == line
    assert _shortly(line, {permit}).startswith(figures)
    assert permit not in _shortly(line, {permit}) and SEVERAL in _shortly(line, {permit})
    assert _shortly("not known: how much comes is not known", {permit}).startswith("not known")
