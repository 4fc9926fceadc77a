"""The stock check before mixing, from the records: what may be used, in which order, what is short.

The order (opened first, soonest to go first, not known last) is the house's own rule, stated in the design.
"""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from service.core.access import Role
from service.core.containers import Condition
from service.core.findings import Invalid, NotAllowed, NotFound, Severity
from service.core.materials import Basis, SelfHeating
from service.records.engine import Database
from service.records.materials import Material
from tests.mixing_shop import PAST, UNKNOWN_DATES, MixShop, codes, make_mix_shop

STOP, UNKNOWN, WARN = Severity.STOP, Severity.UNKNOWN, Severity.WARN


def filled(database: Database) -> MixShop:
    """A shop with enough of everything."""
    shop = make_mix_shop(database)
    for name in ("raw umber", "boiled oil", "spirit"):
        shop.can(name)
    return shop


def taken(shop: MixShop, amount: str = "1 times", recipe: int = 0) -> list[tuple[str, int]]:
    return [(a.code, a.amount) for a in shop.look(amount, recipe=recipe).check.allocations]


def only(shop: MixShop, name: str, amount: str) -> int:
    return shop.write((name, amount), name=f"Only {name}")


def test_enough_of_everything_and_the_duty_that_will_start(database: Database) -> None:
    mix = filled(database).look("2.5 times")
    assert [(a.amount) for a in mix.check.allocations] == [250_000, 500_000, 750_000]
    assert mix.heats and not mix.check.shortages and not mix.check.verdict.blocking
    assert ("rag-duty-starts", "") in codes(mix.check.verdict, WARN)


def test_two_open_cans_of_which_one_is_not_known(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "500 ml")
    doubtful = shop.can("spirit", 800_000, **UNKNOWN_DATES)
    known = shop.can("spirit", 300_000)
    mix = shop.look(recipe=recipe)
    assert [(a.code, a.amount) for a in mix.check.allocations] == [(known, 300_000), (doubtful, 200_000)]
    assert ("not-known", doubtful) in codes(mix.check.verdict, UNKNOWN)
    assert not mix.check.verdict.complete and not mix.check.verdict.blocking


def test_a_can_past_its_date_is_left_out_and_named(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "500 ml")
    old = shop.can("spirit", 900_000, **PAST)
    mix = shop.look(recipe=recipe)
    assert not mix.check.allocations and mix.check.shortages[0].missing == 500_000
    assert ("past", old) in codes(mix.check.verdict, WARN)
    assert ("short", "spirit") in codes(mix.check.verdict, STOP)


def test_what_is_promised_to_another_batch_does_not_count(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "300 ml")
    first, second = shop.can("spirit", 400_000), shop.can("spirit", 400_000, is_open=False)
    batch = shop.set_aside(shop.keep(recipe=recipe))
    assert taken(shop, "1 times", recipe) == [(first, 100_000), (second, 200_000)]
    assert shop.left(first) == 400_000 and shop.batch(batch).state.value == "set-aside"


def test_a_need_split_over_three_opened_and_soonest_first(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "700 ml")
    sealed = shop.can("spirit", 500_000, is_open=False)
    later = shop.can("spirit", 300_000, printed_date=None)
    sooner = shop.can("spirit", 200_000, printed_date=PAST["printed_date"].replace(year=2027))
    assert taken(shop, recipe=recipe) == [(sooner, 200_000), (later, 300_000), (sealed, 200_000)]


def test_keeper_only_material_is_named_to_those_who_may(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "drier", "10 ml")
    shop.can("drier")
    assert ("keeper-only-material", "drier") in codes(shop.look(recipe=recipe).check.verdict)
    for role in (Role.STUDENT, Role.READER):
        with pytest.raises(NotAllowed):
            shop.look(role=role)


def test_keeper_only_is_inherited(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "10 ml")
    shop.can("spirit", inherited_keeper_only=True)
    assert ("keeper-only-material", "spirit") in codes(shop.look(recipe=recipe).check.verdict)


def test_an_amount_nobody_knows_is_never_enough(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "10 ml")
    code = shop.can("spirit", None)
    mix = shop.look(recipe=recipe)
    assert not mix.check.allocations
    assert codes(mix.check.verdict) >= {("short", "spirit"), ("amount-not-known", code)}


def test_a_leaking_can_is_left_out_and_a_damaged_one_looked_at(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "10 ml")
    leaking = shop.can("spirit", condition=Condition.LEAKING)
    damaged = shop.can("spirit", condition=Condition.DAMAGED)
    mix = shop.look(recipe=recipe)
    assert [a.code for a in mix.check.allocations] == [damaged]
    assert codes(mix.check.verdict, WARN) >= {("leaking", leaking), ("damaged", damaged)}


def test_a_density_nobody_knows_is_a_finding_and_no_amount(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = shop.write(("raw umber", "2 metric tsp"), ("spirit", "10 ml"), name="Spoons")
    shop.can("raw umber"), shop.can("spirit")
    mix = shop.look(recipe=recipe)
    umber = next(n for n in mix.check.needs if n.name == "raw umber")
    assert (umber.high, umber.at_start) == (None, 0) and "level spoonful" in umber.why
    assert codes(mix.check.verdict, UNKNOWN) == {("bulk-density-not-known", "raw umber")}
    assert [(one.position, one.words) for one in mix.check.by_hand] == [(1, "2 metric tsp")]
    with database.writing() as session:
        umber = session.get(Material, shop.ids["raw umber"])
        assert umber is not None
        umber.bulk_low_g_ml, umber.bulk_high_g_ml = Decimal("0.5"), Decimal("0.8")
        session.add(umber)
    # 10 ml of loose powder at 0.5 to 0.8 g/ml: 5 to 8 g, and the upper end is what has to be there.
    need = next(n for n in shop.look(recipe=recipe).check.needs if n.name == "raw umber")
    assert (need.low, need.high, need.basis) == (5000, 8000, Basis.MASS)


def test_to_suit_is_unknown_without_an_upper_amount_and_counted_with_one(database: Database) -> None:
    shop = make_mix_shop(database)
    shop.can("drier"), shop.can("spirit")
    open_end = shop.write(("spirit", "10 ml"), ("drier", "to suit"), name="Open end")
    assert ("no-upper-amount", "drier") in codes(shop.look(recipe=open_end).check.verdict, UNKNOWN)
    bounded = shop.write(("spirit", "10 ml"), ("drier", "to suit, at most 2 ml"), name="Bounded")
    needs = {n.name: (n.low, n.high) for n in shop.look("3 times", recipe=bounded).check.needs}
    assert needs == {"spirit": (30_000, 30_000), "drier": (None, 6000)}


def test_parts_become_amounts_of_a_wanted_total(database: Database) -> None:
    shop = filled(database)
    recipe = shop.write(
        ("boiled oil", "1 part"), ("spirit", "3 parts"), name="Thin oil", shares_by=Basis.VOLUME
    )
    assert [n.high for n in shop.look("20 heads x 60 ml + 10 %", recipe=recipe).check.needs] == [
        330_000, 990_000,
    ]  # fmt: skip
    # 100 ml and 300 ml weigh 93 g and 234 g: 500 g are 611.6 ml, by the density of both.
    by_weight = [n.high for n in shop.look("500 g", recipe=recipe).check.needs]
    assert by_weight == [152_905, 458_716]
    for amount in ("2 times", "500 pieces"):
        with pytest.raises(Invalid) as caught:
            shop.look(amount, recipe=recipe)
        assert "amount" in caught.value.errors


def test_parts_by_weight_of_liquids_counted_by_volume_meet_by_density(database: Database) -> None:
    shop = filled(database)
    recipe = shop.write(("spirit", "1 part"), ("raw umber", "1 part"), name="By weight", shares_by=Basis.MASS)
    # 78 g of a spirit of 0.78 g/ml are 100 ml.
    assert [n.high for n in shop.look("156 g", recipe=recipe).check.needs] == [100_000, 78_000]
    with shop.database.writing() as session:
        spirit = session.get(Material, shop.ids["spirit"])
        assert spirit is not None
        spirit.density_g_ml = None
        session.add(spirit)
    mix = shop.look("156 g", recipe=recipe)
    assert ("density-not-known", "spirit") in codes(mix.check.verdict, UNKNOWN)
    assert [(n.name, n.high) for n in mix.check.needs] == [("spirit", None), ("raw umber", 78_000)]


def test_ranges_of_parts_take_the_worst_of_each(database: Database) -> None:
    shop = filled(database)
    recipe = shop.write(
        ("boiled oil", "1 to 2 parts"), ("spirit", "2 parts"), name="Ranges", shares_by=Basis.VOLUME
    )
    # Of 600 ml: oil 1 of 3 to 2 of 4; spirit 2 of 4 to 2 of 3.
    needs = {n.name: (n.low, n.high) for n in shop.look("600 ml", recipe=recipe).check.needs}
    assert needs == {"boiled oil": (200_000, 300_000), "spirit": (300_000, 400_000)}


def test_how_much_by_what_the_recipe_makes(database: Database) -> None:
    shop = filled(database)
    recipe = shop.write(("spirit", "1 l"), ("raw umber", "100 g"), name="Makes", makes="1 l")
    assert [n.high for n in shop.look("250 ml", recipe=recipe).check.needs] == [250_000, 25_000]
    for amount in ("250 g", "12", "nothing", "0 times", "to suit", "10001 times", "3 parts"):
        with pytest.raises(Invalid) as caught:
            shop.look(amount, recipe=recipe)
        assert "amount" in caught.value.errors
    with pytest.raises(Invalid) as caught:
        shop.look("12", recipe=recipe)
    assert [r.text for r in caught.value.readings] == ["12 times"]
    with pytest.raises(Invalid):
        shop.look("999999999 l", recipe=recipe)


def test_tap_water_is_not_looked_for(database: Database) -> None:
    shop = filled(database)
    recipe = shop.write(("tap water", "2 l"), ("raw umber", "10 g"), name="Water stain")
    mix = shop.look(recipe=recipe)
    assert [n.name for n in mix.check.needs] == ["raw umber"] and not mix.heats
    assert next((line.name, line.high, line.stocked) for line in mix.lines) == ("tap water", 2_000_000, False)


def test_what_a_can_inherited_makes_the_mix_self_heating(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "10 ml")
    shop.can("spirit")
    assert not shop.look(recipe=recipe).heats
    soonest = PAST["printed_date"].replace(year=2027)
    shop.can("spirit", 5000, inherited_self_heating=SelfHeating.NOT_KNOWN, printed_date=soonest)
    assert shop.look(recipe=recipe).heats


def test_overdue_rags_stop_what_heats_and_nothing_else(database: Database) -> None:
    shop = filled(database)
    shop.start(shop.keep())
    shop.now += timedelta(days=1)
    assert "rags-overdue" in shop.look().check.verdict.codes
    other = only(shop, "spirit", "10 ml")
    assert "rags-overdue" not in shop.look(recipe=other).check.verdict.codes


def test_the_fingerprint_is_of_what_was_decided(database: Database) -> None:
    shop = filled(database)
    one, two = shop.look("2 times"), shop.look("2 times")
    assert one.check.fingerprint == two.check.fingerprint != shop.look("3 times").check.fingerprint
    assert len(one.check.fingerprint) == 64


def test_shortages_keep_the_unit_of_the_bench(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = only(shop, "spirit", "2 metric tbsp")
    short = shop.look(recipe=recipe).check.shortages[0]
    assert (short.unit_written, short.missing) == ("metric-tbsp", 30_000)


def test_no_such_recipe(database: Database) -> None:
    shop = make_mix_shop(database)
    with pytest.raises(NotFound):
        shop.look(recipe=999)


def test_a_two_pound_cut_by_the_half(database: Database) -> None:
    # 2 lb of flakes to 1 US gallon of alcohol: trade convention, common practice, no source. The units are
    # those of NIST SP 811, appendix B: 1 lb is 453.59237 g, 1 US gallon 3.785411784 l. Whole as on tins.
    shop = filled(database)
    recipe = shop.write(("raw umber", "2 lb"), ("spirit", "1 US gal"), name="Two-pound cut")
    needs = shop.look("1/2 times", recipe=recipe).check.needs
    assert [(n.high, n.unit_written) for n in needs] == [(453_592, "lb"), (1_892_706, "us-gal")]
