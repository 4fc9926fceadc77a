"""A made mix inside another counts as what went into the batch its jar came from, the worse end of all."""

from __future__ import annotations

import itertools
from decimal import Decimal

from sqlmodel import col, select

from service.actions.add_to_batch import AddAsked, add
from service.actions.decant import DecantAsked, decant
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.mix_of_materials import judge_lines, shares_by_mass
from service.actions.mixes_inside import (
    judge_container,
    what_is_in_batch,
    what_is_in_container,
    what_is_in_recipe,
)
from service.core.access import Role
from service.core.findings import Severity
from service.core.hazards.classes import Family
from service.core.hazards.regimes import Regime
from service.core.materials import Basis, Form
from service.records.engine import Database
from service.records.materials import Material
from service.records.mixing_queries import the_recipe, the_version
from tests.builders import TODAY
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import container, once

_chance = itertools.count(1)
D = Decimal


def made(shop: MixShop, recipe: int, *jars: str, form: Form | None = None) -> tuple[int, list[str]]:
    """A batch of a recipe, at once finished into jars."""
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    return batch, filled(shop, batch, *jars, form=form)


def filled(shop: MixShop, batch: int, *jars: str, form: Form | None = None) -> list[str]:
    asked = FinishAsked(
        once=once(), batch_id=batch, jars=tuple(JarAsked(jar) for jar in jars), form=form
    )
    with shop.database.writing() as session:
        done = finish(session, shop.actor(), shop.now, asked, lambda: f"inside {next(_chance)}").result
    return [jar["code"] for jar in done["jars"]]


def put_in(shop: MixShop, batch: int, amount: str, code: str = "", name: str = "") -> None:
    with shop.database.writing() as session:
        asked = AddAsked(
            once=once(), batch_id=batch, amount=amount, code=code, looked=True,
            material_id=shop.ids[name] if name else None,
        )  # fmt: skip
        add(session, shop.actor(), shop.now, asked)


def classes(shop: MixShop, name: str, *written: str) -> None:
    with shop.database.writing() as session:
        row = session.exec(select(Material).where(col(Material.name) == name)).one()
        row.hazards = list(written)
        session.add(row)


def spans(shop: MixShop, batch: int) -> dict[str, tuple[Decimal, Decimal]]:
    with shop.database.reading() as session:
        parts = shares_by_mass(what_is_in_batch(session, batch)).parts
    found: dict[str, tuple[Decimal, Decimal]] = {}
    for part in parts:
        low, high = found.get(part.material.name, (D(0), D(0)))
        found[part.material.name] = low + part.low, high + part.high
    return found


def stain_shop(database: Database) -> MixShop:
    shop = make_mix_shop(database)
    for name in ("raw umber", "boiled oil", "spirit"):
        shop.can(name)
    return shop


def test_a_jar_weighed_into_a_batch_counts_as_its_materials(database: Database) -> None:
    shop = stain_shop(database)
    # 20 g of umber and 100 ml of spirit at 0.78: 98 g in all.
    first = shop.write(("raw umber", "20 g"), ("spirit", "100 ml"), name="Umber paste")
    _, (jar,) = made(shop, first, "90 g", form=Form.PASTE)
    second = shop.write(("spirit", "50 ml"), name="Thin wash")
    batch = int(shop.start(shop.keep(recipe=second)).result["batch"])
    put_in(shop, batch, "49 g", jar)
    # In the jar umber is 20 of 98 by weight: 10 g of 49 g; spirit 39 g of it and 39 g beside it.
    low, high = spans(shop, batch)["raw umber"]
    assert low <= 100 * D(10) / 88 <= high and high - low < D("0.002")
    low, high = spans(shop, batch)["spirit"]
    assert low <= 100 * D(78) / 88 <= high and high - low < D("0.01")


def test_a_jar_by_volume_counts_between_the_densities_it_can_have(database: Database) -> None:
    shop = stain_shop(database)
    first = shop.write(("boiled oil", "100 ml"), ("spirit", "100 ml"), name="Half and half")
    _, (jar,) = made(shop, first, "180 ml")
    second = shop.write(("spirit", "100 ml"), name="Thinner still")
    batch = int(shop.start(shop.keep(recipe=second)).result["batch"])
    put_in(shop, batch, "100 ml", jar)
    # Half of each at most: 46.5 g oil in 163.5 g of all, where volumes add up.
    low, high = spans(shop, batch)["boiled oil"]
    assert low < D("28.44") < high and high - low < 2


def test_hazards_of_what_is_in_a_jar_reach_the_mix_it_goes_into(database: Database) -> None:
    shop = stain_shop(database)
    classes(shop, "spirit", "Carc. 1B H350")
    first = shop.write(("boiled oil", "100 ml"), ("spirit", "100 ml"), name="Half and half")
    _, (jar,) = made(shop, first, "180 ml")
    second = shop.write(("boiled oil", "50 ml"), name="More oil")
    batch = int(shop.start(shop.keep(recipe=second)).result["batch"])
    put_in(shop, batch, "50 ml", jar)
    with database.reading() as session:
        judged, _ = judge_lines(session, what_is_in_batch(session, batch), Regime.EU_CLP, TODAY)
        assert Family.CARCINOGEN in {one.family for one in judged.hazards}
        box = container(session, jar)
        mix = session.get(Material, box.material_id)
        assert mix is not None
        of_jar, shares = judge_container(session, box, mix, Regime.EU_CLP, TODAY)
        assert Family.CARCINOGEN in {one.family for one in of_jar.hazards}
        assert shares is not None and {p.material.name for p in shares.parts} == {"boiled oil", "spirit"}


def test_what_was_written_down_of_the_mix_itself_is_not_lost(database: Database) -> None:
    shop = stain_shop(database)
    first = shop.write(("boiled oil", "100 ml"), name="Oil alone")
    _, (jar,) = made(shop, first, "90 ml")
    classes(shop, "Oil alone", "Repr. 1B H360")
    second = shop.write(("spirit", "100 ml"), name="Around it")
    batch = int(shop.start(shop.keep(recipe=second)).result["batch"])
    put_in(shop, batch, "80 ml", jar)
    with database.reading() as session:
        judged, _ = judge_lines(session, what_is_in_batch(session, batch), Regime.EU_CLP, TODAY)
        box = container(session, jar)
        mix = session.get(Material, box.material_id)
        assert mix is not None
        of_jar, _ = judge_container(session, box, mix, Regime.EU_CLP, TODAY)
    assert Family.REPRODUCTIVE in {one.family for one in judged.hazards}
    assert Family.REPRODUCTIVE in {one.family for one in of_jar.hazards}


def test_an_amount_nobody_knows_in_the_jar_stays_unknown_outside(database: Database) -> None:
    shop = stain_shop(database)
    first = shop.write(("raw umber", "20 g"), ("spirit", "100 ml"), name="Umber paste")
    _, (jar,) = made(shop, first, "90 g", form=Form.PASTE)
    with database.writing() as session:
        session.get(Material, shop.ids["spirit"]).density_g_ml = None  # type: ignore[union-attr]
    batch = int(shop.start(shop.keep(recipe=shop.write(("boiled oil", "50 ml"), name="Oil"))).result["batch"])
    put_in(shop, batch, "49 g", jar)
    with database.reading() as session:
        made_of = shares_by_mass(what_is_in_batch(session, batch))
    assert any(one.severity is Severity.UNKNOWN and one.about == "spirit" for one in made_of.findings)
    assert max(part.high for part in made_of.parts if part.material.name == "spirit") == 100


def test_of_two_batches_the_worse_counts_in_a_recipe_and_where_they_are_poured_together(
    database: Database,
) -> None:
    shop = stain_shop(database)
    first = shop.write(("raw umber", "10 g"), ("spirit", "100 ml"), name="Umber paste")
    _, (weak_jar,) = made(shop, first, "80 g", form=Form.PASTE)
    batch = int(shop.start(shop.keep(recipe=first)).result["batch"])
    put_in(shop, batch, "32 g", name="raw umber")
    (strong_jar,) = filled(shop, batch, "100 g")
    # 10 of 88 g and 42 of 120 g: 11.36 % and 35 %.
    with database.reading() as session:
        mix = container(session, weak_jar).material_id
    shop.ids["Umber paste"] = mix
    lines = ("Umber paste", "1 part"), ("boiled oil", "1 part")
    second = shop.write(*lines, name="Glaze", shares_by=Basis.MASS)
    with database.reading() as session:
        version = the_version(session, the_recipe(session, second))
        parts = shares_by_mass(what_is_in_recipe(session, version), version.shares_by).parts
    umber = next(part for part in parts if part.material.name == "raw umber")
    assert umber.low < D("5.7") and umber.high > D("17.4")
    with database.writing() as session:
        asked = DecantAsked(once=once(), code=strong_jar, amount="10 g", into=weak_jar, looked=True)
        decant(session, shop.actor(Role.KEEPER), shop.now, asked, lambda: "never used")
    with database.reading() as session:
        poured = shares_by_mass(what_is_in_container(session, container(session, weak_jar))).parts
        alone = shares_by_mass(what_is_in_container(session, container(session, strong_jar))).parts
    umber = next(part for part in poured if part.material.name == "raw umber")
    assert umber.low <= D("11.37") and umber.high >= D(35)
    assert next(part.high for part in alone if part.material.name == "raw umber") == D(35)


def test_a_jar_that_came_from_elsewhere_is_not_told(database: Database) -> None:
    shop = stain_shop(database)
    first = shop.write(("raw umber", "10 g"), ("spirit", "100 ml"), name="Umber paste")
    _, (jar,) = made(shop, first, "80 g", form=Form.PASTE)
    with database.writing() as session:
        box = container(session, jar)
        box.made_by_batch_id = None
        session.add(box)
        mix = session.get(Material, box.material_id)
        assert mix is not None
    shop.ids["Umber paste"] = mix.id or 0
    second = shop.write(("Umber paste", "50 g"), ("boiled oil", "50 ml"), name="Glaze")
    with database.reading() as session:
        version = the_version(session, the_recipe(session, second))
        judged, _ = judge_lines(session, what_is_in_recipe(session, version), Regime.EU_CLP, TODAY)
        assert what_is_in_container(session, container(session, jar)) == []
    lacking = {one.about for one in judged.verdict if one.severity is Severity.UNKNOWN}
    assert "Umber paste" in lacking and not judged.verdict.complete
