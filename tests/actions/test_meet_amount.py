"""How much is wanted, in every way of asking: volume, mass, area, so much of the base."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from service.actions.check_mix import MixCheck
from service.actions.keep_as_made import look_at_as_made
from service.core.findings import Invalid, Severity
from service.core.mix_purposes import MixPurpose
from service.records.engine import Database
from service.records.materials import Material
from service.records.mixing_queries import the_recipe, the_version
from tests.mixing_shop import MixShop, codes, make_mix_shop


def shop_of(database: Database, **densities: str) -> MixShop:
    """The shop, with true densities of the materials named by their first word."""
    shop = make_mix_shop(database)
    tell(shop, **densities)
    return shop


def tell(shop: MixShop, **facts: str) -> None:
    with shop.database.writing() as session:
        for word, figure in facts.items():
            name = next(name for name in shop.ids if name.startswith(word))
            row = session.get(Material, shop.ids[name])
            assert row is not None
            row.density_g_ml = Decimal(figure)
            session.add(row)


def needs(mix: MixCheck) -> dict[str, int | None]:
    return {need.name: need.high for need in mix.check.needs}


def said(mix: MixCheck, code: str) -> str:
    return next(f.sentence for f in mix.check.verdict if f.code == code)


def refused(shop: MixShop, amount: str, recipe: int) -> str:
    with pytest.raises(Invalid) as caught:
        shop.look(amount, recipe=recipe)
    return caught.value.errors["amount"]


def test_purpose_coverage_and_base_are_kept_with_the_version(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = shop.write(
        ("raw umber", "100 g"), ("boiled oil", "500 ml"), makes="600 ml", mix_purpose=MixPurpose.OIL_STAIN,
        coverage="5 to 9.8 m2/l", base=2,
    )  # fmt: skip
    with database.reading() as session:
        row = the_recipe(session, recipe)
        version = the_version(session, row)
    assert row.mix_purpose == "oil-stain"
    assert (version.coverage_written, version.base_position) == ("5 to 9.8 m²/l", 2)
    assert (version.coverage_low_m2_l, version.coverage_high_m2_l) == (Decimal(5), Decimal("9.8"))


@pytest.mark.parametrize("base", [0, 3, 2])
def test_the_base_is_a_line_with_an_amount(database: Database, base: int) -> None:
    shop = make_mix_shop(database)
    with pytest.raises(Invalid) as caught:
        shop.write(("boiled oil", "500 ml"), ("drier", "to suit"), base=base)
    assert set(caught.value.errors) == {"base"}


def test_an_area_is_made_by_the_short_end_of_the_coverage(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = shop.write(
        ("raw umber", "100 g"), ("boiled oil", "500 ml"), makes="500 ml", coverage="5 to 10 m2/l"
    )
    mix = shop.look("12 m2, 2 coats", recipe=recipe)
    # 24 m2 at 5 m2 a litre: 4.8 l, 9.6 times the recipe.
    assert needs(mix) == {"raw umber": 960_000, "boiled oil": 4_800_000}
    assert said(mix, "area-reckoned") == (
        "12 m² x 2 coats at 5 m² per litre takes 4.8 l; at 10 m² per litre 2.4 l would do. The larger amount "
        "is made."
    )
    assert mix.how_much.written == "12 m2, 2 coats" and mix.times is not None and float(mix.times) == 9.6
    assert "how far a litre goes" in refused(shop, "12 m2", shop.recipe)


def test_the_fingerprint_of_an_area_stays_and_a_batch_starts_from_it(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = shop.write(("boiled oil", "500 ml"), makes="500 ml", coverage="10 m2/l")
    code = shop.can("boiled oil")
    one, two = (shop.look("5 m2", recipe=recipe).check.fingerprint for _ in range(2))
    assert one == two
    batch = shop.batch(int(shop.start(shop.keep("5 m2", recipe=recipe)).result["batch"]))
    assert shop.left(code) == 500_000 and batch.wanted_written == "5 m2"
    with database.reading() as session:
        (line,) = look_at_as_made(session, batch).lines
    assert line.planned is not None and (line.planned.high, line.difference) == (500_000, 0)


def test_mass_is_made_where_volume_is_asked_by_the_density_of_the_mix(database: Database) -> None:
    shop = shop_of(database, raw="3.2")
    recipe = shop.write(("raw umber", "320 g"), ("boiled oil", "837 g"), makes="1157 g")
    # 320 g / 3.2 + 837 g / 0.93 is 1000 ml: 1.157 g/ml; 2 l is 2314 g, twice the recipe.
    mix = shop.look("2 l", recipe=recipe)
    assert mix.times == 2 and "1.157 g/ml" in said(mix, "mix-density-used")
    assert needs(mix)["raw umber"] == 640_000
    back = shop.write(("raw umber", "320 g"), ("boiled oil", "837 g"), makes="1 l", name="By volume")
    assert shop.look("2314 g", recipe=back).times == 2


def test_of_ranges_the_end_that_makes_more_counts(database: Database) -> None:
    shop = shop_of(database, raw="4")
    lines = (("raw umber", "0.4 to 0.8 kg"), ("boiled oil", "930 g"))
    by_mass = shop.write(*lines, makes="1 kg")
    # 0.8 kg: 1730 g in 1200 ml, the heaviest; 1 l is then 1441.7 g.
    heavy = shop.look("1 l", recipe=by_mass)
    assert heavy.times is not None and abs(float(heavy.times) - 1.441667) < 1e-5
    by_volume = shop.write(*lines, makes="1 l", name="By volume")
    # 0.4 kg: 1330 g in 1100 ml, the lightest; 1 kg is then 827.1 ml.
    light = shop.look("1 kg", recipe=by_volume)
    assert light.times is not None and abs(float(light.times) - 0.827068) < 1e-5


def test_parts_meet_by_the_density_too(database: Database) -> None:
    shop = shop_of(database, raw="3.2")
    recipe = shop.write(("raw umber", "320 parts by weight"), ("boiled oil", "837 parts by weight"))
    assert needs(shop.look("1 l", recipe=recipe))["raw umber"] == 320_000


def test_what_is_missing_for_the_density_is_said(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = shop.write(("raw umber", "320 g"), ("boiled oil", "837 g"), ("drier", "to suit"), makes="1157 g")
    words = refused(shop, "2 l", recipe)
    assert "The density of raw umber is not known" in words and "how much drier" in words
    pieces = shop.write(("boiled oil", "500 ml"), makes="3 pieces", name="Pads")
    assert "same way" in refused(shop, "2 l", pieces)


def test_so_much_of_the_base_by_its_line(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = shop.write(("raw umber", "100 g"), ("boiled oil", "500 ml"), base=2)
    mix = shop.look("1 l of the base", recipe=recipe)
    assert mix.times == 2 and needs(mix) == {"raw umber": 200_000, "boiled oil": 1_000_000}
    assert said(mix, "base-reckoned").endswith("2 times the recipe.")
    by_weight = shop.look("465 g of the base", recipe=recipe)
    assert by_weight.times == 1
    assert "no base" in refused(shop, "1 l of the base", shop.recipe)
    assert "10000 times" in refused(shop, "5001 l of the base", recipe)


def test_so_much_of_the_base_of_a_recipe_in_parts(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = shop.write(("spirit", "1 part by volume"), ("boiled oil", "3 parts by volume"), base=2)
    assert needs(shop.look("1 l of the base", recipe=recipe)) == {"spirit": 333_333, "boiled oil": 1_000_000}


def test_of_a_base_in_a_range_the_others_are_at_least_enough(database: Database) -> None:
    shop = make_mix_shop(database)
    recipe = shop.write(("raw umber", "100 g"), ("boiled oil", "400 to 500 ml"), base=2)
    assert needs(shop.look("1 l of the base", recipe=recipe))["raw umber"] == 250_000


def spoon_recipe(database: Database, bulk: tuple[str, str] | None) -> tuple[MixShop, int]:
    shop = make_mix_shop(database)
    with database.writing() as session:
        row = session.get(Material, shop.ids["raw umber"])
        assert row is not None
        if bulk:
            row.bulk_low_g_ml, row.bulk_high_g_ml = Decimal(bulk[0]), Decimal(bulk[1])
        session.add(row)
    return shop, shop.write(("boiled oil", "500 ml"), ("raw umber", "2 metric tsp"), name="By spoon")


def test_spoons_become_mass_beyond_four_times(database: Database) -> None:
    shop, recipe = spoon_recipe(database, ("0.32", "0.41"))
    assert not shop.look("4 times", recipe=recipe).weigh
    mix = shop.look("12 times", recipe=recipe)
    # 24 spoons of 5 ml are 120 ml: 38.4 to 49.2 g.
    assert [(w.low_mg, w.high_mg) for w in mix.weigh] == [(38_400, 49_200)]
    assert said(mix, "weigh-instead") == (
        "raw umber: about 43.8 g (38.4 to 49.2 g) instead of 24 metric tsp: weigh it."
    )
    assert needs(mix)["raw umber"] == 49_200
    assert mix.check.fingerprint == shop.look("12 times", recipe=recipe).check.fingerprint


def test_spoons_nobody_weighed_are_a_finding_with_the_mends(database: Database) -> None:
    shop, recipe = spoon_recipe(database, None)
    found: Any = shop.look("12 times", recipe=recipe).check.verdict
    assert ("bulk-density-not-known", "raw umber") in codes(found, Severity.UNKNOWN)
    assert any("ten level spoons" in f.sentence for f in found)
