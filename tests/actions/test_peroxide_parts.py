"""Peroxide formers that a composition names, and a strip over the limit in one jar of many.

Months: Cornell University, Appendix J (opened 12, severe class 3). Diisopropyl ether 108-20-3 is severe,
tetrahydrofuran 109-99-9 is not.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.draw_stock import DrawAsked, draw
from service.actions.revise_material import Revision, facts_held, revise_material
from service.actions.write_components import ComponentsAsked, write_components
from service.core.access import Role
from service.core.component_lines import Component
from service.core.conditions import Found
from service.core.containers import Standing
from service.core.findings import Invalid, Refused
from service.core.months import add_months
from service.records.engine import Database
from service.records.materials import Material
from service.records.settle_dates import settle_dates_of_materials
from service.records.stock import Container
from tests.builders import TODAY
from tests.jar_acts import TRIED, ends, jar_of, look, pour, solution_shop, stands
from tests.mixing_shop import MixShop
from tests.store_builders import holds, once

ETHER = Component("Diisopropyl ether", "108-20-3", Decimal(60), Decimal(80))
THF = Component("Tetrahydrofuran", "", Decimal(1), Decimal(5))
XYLENE = Component("Xylene", "1330-20-7", Decimal(10), Decimal(20))


@pytest.fixture
def shop(database: Database) -> MixShop:
    made = solution_shop(database)
    made.can("boiled oil")
    return made


def can_of(shop: MixShop, name: str) -> str:
    """The first can of it that the shop has."""
    with shop.database.reading() as session:
        of_it = col(Container.material_id) == shop.ids[name]
        return session.exec(select(Container.code).where(of_it).order_by(col(Container.id))).all()[0]


def family(shop: MixShop) -> list[str]:
    """The can of spirit, a jar of it, a mix of it with boiled oil, and a jar of the mix."""
    tin = can_of(shop, "spirit")
    mixed = jar_of(shop, ("spirit", "100 ml"), ("boiled oil", "50 ml"))
    return [tin, pour(shop, tin), mixed, pour(shop, mixed)]


def compose(shop: MixShop, name: str, *lines: Component) -> None:
    with shop.database.writing() as session:
        stuff = session.get_one(Material, shop.ids[name])
        asked = ComponentsAsked(once(), stuff.version, lines, "Its sheet of 2026", "Copied today")
        write_components(session, shop.actor(Role.KEEPER), shop.now, stuff.id or 0, asked)


def strip(shop: MixShop, code: str, shows: int, **said: Any) -> dict[str, Any]:
    with shop.database.writing() as session:
        asked = CheckAsked(once=once(), code=code, peroxide_mg_l=Decimal(shows), **said)
        return check_condition(session, shop.actor(Role.KEEPER), shop.now, asked).result


@pytest.mark.parametrize(
    ("line", "months"),
    [
        (ETHER, 3),
        (THF, 12),
        (Component("Ether of the trade", "108-20-3"), 3),
        (Component("Compound 7", "", Decimal(2), Decimal(5), ("EUH019",)), 3),
    ],
)
def test_a_composition_that_names_a_former_makes_one_of_all_that_holds_it(
    shop: MixShop, line: Component, months: int
) -> None:
    codes = family(shop)
    assert all((ends(shop, code) or date.max) > add_months(TODAY, 30) for code in codes)
    compose(shop, "spirit", XYLENE, line)
    assert [ends(shop, code) for code in codes] == [add_months(TODAY, months)] * 4
    assert ends(shop, jar_of(shop, ("spirit", "100 ml"))) == add_months(TODAY, months)
    with shop.database.writing() as session:
        settle_dates_of_materials(session, [shop.ids["spirit"]], TODAY)
    assert ends(shop, codes[0]) == add_months(TODAY, months)
    holds(shop.database)


def test_a_trace_or_another_substance_makes_no_former(shop: MixShop) -> None:
    tin = can_of(shop, "spirit")
    before = ends(shop, tin)
    compose(shop, "spirit", XYLENE, Component("Tetrahydrofuran", "", None, Decimal("0.9")))
    assert ends(shop, tin) == before
    look(shop, tin, Found.SOUND)


def test_a_composition_put_right_gives_back_what_it_took(shop: MixShop) -> None:
    codes = family(shop)
    before = [ends(shop, code) for code in codes]
    compose(shop, "spirit", ETHER)
    compose(shop, "spirit", XYLENE)
    assert [ends(shop, code) for code in codes] == before


def test_a_told_former_is_not_called_sound_by_a_look(shop: MixShop) -> None:
    tin = can_of(shop, "spirit")
    compose(shop, "spirit", ETHER)
    with pytest.raises(Invalid, match="a peroxide strip tells it"):
        look(shop, tin, Found.SOUND)
    strip(shop, tin, 5)


def test_euh019_of_no_known_class_is_the_strictest(shop: MixShop) -> None:
    """A known class stays what its table says, whatever its sheet says besides."""
    tin = can_of(shop, "spirit")
    for name, months in (("spirit", 3), ("Tetrahydrofuran", 12)):
        with shop.database.writing() as session:
            stuff = session.get_one(Material, shop.ids["spirit"])
            stuff.name, stuff.hazards = name, []
            session.flush()
            why = "Nothing in it that only a keeper may handle"
            facts = replace(facts_held(stuff), hazards=("EUH019",), keeper_only_reason=why)
            asked = Revision(once(), stuff.version, facts=facts, reason="Read the sheet again")
            revise_material(session, shop.actor(Role.KEEPER), shop.now, stuff.id or 0, asked)
        assert ends(shop, tin) == add_months(TODAY, months)


def test_a_strip_over_the_limit_in_a_jar_doubts_the_tin_its_sisters_and_their_mixes(shop: MixShop) -> None:
    tin, jar, mixed, of_mix = family(shop)
    sister, of_jar = pour(shop, tin), pour(shop, jar, amount="10 ml")
    other = shop.can("boiled oil")
    shop.now += timedelta(minutes=1)
    told = strip(shop, jar, 150)
    assert (stands(shop, jar), stands(shop, of_jar)) == (Standing.PAST, Standing.PAST)
    assert [stands(shop, code) for code in (tin, mixed, of_mix, sister)] == [Standing.LOOK_FIRST] * 4
    assert stands(shop, other) is Standing.IN_DATE
    assert "peroxides-near" in {one["code"] for one in told["findings"]}
    with pytest.raises(Refused, match="peroxides at the limit"), shop.database.writing() as session:
        asked = DrawAsked(once=once(), code=tin, amount="5 ml", job_id=shop.job)
        draw(session, shop.actor(), shop.now, asked)
    holds(shop.database)


def test_only_a_strip_lifts_a_doubt_of_peroxides(shop: MixShop) -> None:
    tin, jar, mixed, _ = family(shop)
    shop.now += timedelta(minutes=1)
    strip(shop, jar, 150)
    shop.now += timedelta(minutes=1)
    for code in (tin, mixed):
        with pytest.raises(Invalid, match="strip"):
            look(shop, code, Found.SOUND, TRIED)
        with pytest.raises(Invalid, match="what you tried"):
            strip(shop, code, 5)
        strip(shop, code, 5, note=TRIED)
        assert stands(shop, code) is Standing.IN_DATE


def test_a_strip_over_the_limit_in_a_mix_doubts_the_former_it_was_made_with(shop: MixShop) -> None:
    oil = can_of(shop, "boiled oil")
    compose(shop, "spirit", THF)
    tin, jar, mixed, _ = family(shop)
    shop.now += timedelta(minutes=1)
    strip(shop, mixed, 100)
    assert stands(shop, mixed) is Standing.PAST
    assert [stands(shop, code) for code in (tin, jar, oil)] == [
        Standing.LOOK_FIRST, Standing.LOOK_FIRST, Standing.IN_DATE,
    ]  # fmt: skip


def test_of_a_mix_with_a_former_a_strip_tells_and_no_look(shop: MixShop) -> None:
    compose(shop, "spirit", THF)
    _, _, mixed, of_mix = family(shop)
    for code in (mixed, of_mix):
        with pytest.raises(Invalid, match="a peroxide strip tells it"):
            look(shop, code, Found.SOUND)
        assert strip(shop, code, 50)["outcome"] == "passed"


def test_a_drop_on_glass_lifts_no_doubt_of_peroxides(shop: MixShop) -> None:
    tin = can_of(shop, "spirit")
    cut, jar = jar_of(shop, ("flakes", "20 g"), ("spirit", "100 ml")), pour(shop, tin)
    shop.now += timedelta(minutes=1)
    strip(shop, jar, 200)
    shop.now += timedelta(minutes=1)
    with pytest.raises(Invalid, match="only a strip"):
        look(shop, cut, Found.DROP_HARD, TRIED)
    strip(shop, cut, 5, note=TRIED)
    look(shop, cut, Found.DROP_HARD)
