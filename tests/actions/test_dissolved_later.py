"""What turns out to be shellac or glue, and shorter policies of solutions, reach the jars that stand.

Lives: a cut of shellac 6 months, wetted glue 7 days (`ageing_policies.csv`).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service.actions.jars_of_solution import jars_of_solution
from service.actions.revise_material import Revision, description_held, revise_material
from service.actions.set_policy import PolicyAsked, set_policy
from service.actions.settle_after_upgrade import settle_after_upgrade
from service.core.access import Role
from service.core.ageing_policies import PolicyEnd
from service.core.dissolved_life import GLUE, SHELLAC
from service.core.materials import Form, MaterialKind
from service.core.months import add_months
from service.records.engine import Database
from service.records.materials import Material
from service.records.policy_queries import Subject
from tests.builders import TODAY
from tests.jar_acts import ends, jar_of, pour, solution_shop
from tests.mixing_shop import MixShop
from tests.store_builders import container, holds, material, once

WEEK = TODAY + timedelta(days=7)
LONG = {"sealed_months": 120, "opened_months": 120}


@pytest.fixture
def shop(database: Database) -> MixShop:
    made = solution_shop(database)
    made.can("raw umber")
    add(made, "Powder 7", MaterialKind.OTHER_CHEMICAL)
    add(made, "Resin A", MaterialKind.RESIN, Form.SOLID)
    return made


def add(
    shop: MixShop, name: str, kind: MaterialKind, form: Form = Form.POWDER, cas: str = ""
) -> None:
    with shop.database.writing() as session:
        stuff = material(session, name, kind=kind, form=form, policy=LONG)
        stuff.cas = cas
        session.add(stuff)
        session.flush()
        shop.ids[name] = stuff.id or 0
    shop.can(name)


def mixed_on(shop: MixShop, jar: str) -> list[str]:
    """A jar poured from this one, and one of a batch made with it."""
    poured = pour(shop, jar, amount="20 ml")
    with shop.database.reading() as session:
        shop.ids[jar] = container(session, jar).material_id
    return [poured, jar_of(shop, (jar, "20 ml"), ("spirit", "80 ml"))]


def say(shop: MixShop, of: str, **said: Any) -> None:
    with shop.database.writing() as session:
        stuff = session.get_one(Material, shop.ids[of])
        asked = Revision(
            once(), stuff.version, said=replace(description_held(stuff), **said), reason="Read the bag again"
        )
        revise_material(session, shop.actor(Role.KEEPER), shop.now, stuff.id or 0, asked)


@pytest.mark.parametrize("said", [{"name": "Shellac flakes"}, {"cas": "9000-59-3"}])
def test_a_resin_that_turns_out_to_be_shellac_ends_its_jars_as_a_cut(
    shop: MixShop, said: dict[str, Any]
) -> None:
    jar = jar_of(shop, ("Resin A", "20 g"), ("spirit", "100 ml"))
    codes = [jar, *mixed_on(shop, jar)]
    before = [ends(shop, code) for code in codes]
    say(shop, "Resin A", **said)
    assert [ends(shop, code) for code in codes] == [add_months(TODAY, 6)] * 3
    say(shop, "Resin A", name="Resin A", cas="")
    assert [ends(shop, code) for code in codes] == before
    holds(shop.database)


@pytest.mark.parametrize("said", [{"name": "Hide glue"}, {"cas": "9000-71-9"}])
def test_a_powder_that_turns_out_to_be_glue_ends_its_jars_in_a_week(
    shop: MixShop, said: dict[str, Any]
) -> None:
    jar = jar_of(shop, ("Powder 7", "20 g"), ("tap water", "100 ml"))
    codes = [jar, *mixed_on(shop, jar)]
    say(shop, "Powder 7", **said)
    assert [ends(shop, code) for code in codes] == [WEEK] * 3


def test_a_liquid_that_turns_out_to_be_water_wets_what_it_was_put_on(shop: MixShop) -> None:
    add(shop, "Casein of a kind", MaterialKind.BINDER, Form.LIQUID)
    add(shop, "Can 3", MaterialKind.OTHER_CHEMICAL, Form.POWDER)
    jar = jar_of(shop, ("Casein of a kind", "50 g"), ("Can 3", "50 g"))
    say(shop, "Can 3", cas="7732-18-5")
    assert ends(shop, jar) == WEEK


@pytest.mark.parametrize(
    "name",
    [
        "Milk powder", "Fish glue", "Bone glue", "Isinglass", "Wheat paste", "Starch paste", "Dextrin",
        "Xanthan", "Methyl cellulose paste", "Methylcellulose", "Hautleim", "Knochenleim", "Kasein",
        "Caséine", "Colle d'os", "Gummi arabicum", "Cherry gum", "Tragant", "Weizenstärke", "Egg yolk",
        "Skimmed milk quark", "Magermilch", "Hausenblase", "Fischleim", "Gomme arabique", "CMC",
    ],
)  # fmt: skip
def test_what_spoils_wet_is_known_by_its_name_as_whatever_it_is_filed(database: Database, name: str) -> None:
    shop = solution_shop(database)
    add(shop, name, MaterialKind.OTHER_CHEMICAL)
    assert ends(shop, jar_of(shop, (name, "20 g"), ("tap water", "100 ml"))) == WEEK


@pytest.mark.parametrize(
    "name", ["Seedlac", "Seed lac", "Button lac", "Sticklac", "Schellack", "Gomme-laque", "Knopflack"]
)
def test_lac_is_known_by_its_name_as_whatever_it_is_filed(database: Database, name: str) -> None:
    shop = solution_shop(database)
    add(shop, name, MaterialKind.OTHER_CHEMICAL, Form.PIECES)
    assert ends(shop, jar_of(shop, (name, "20 g"), ("spirit", "100 ml"))) == add_months(TODAY, 6)


@pytest.mark.parametrize("name", ["Raw umber", "Milk of lime", "Lacquer", "Bone black", "Verstärker"])
def test_what_is_called_otherwise_is_not_taken_for_it(database: Database, name: str) -> None:
    shop = solution_shop(database)
    add(shop, name, MaterialKind.DRY_PIGMENT)
    end = ends(shop, jar_of(shop, (name, "20 g"), ("tap water", "100 ml")))
    assert end is None or end > add_months(TODAY, 12)


def shorten(shop: MixShop, key: str, **life: Any) -> dict[str, Any]:
    with shop.database.writing() as session:
        asked = PolicyAsked(
            once=once(), subject=Subject(key=key), grade="memory", reason="It turned sooner than that", **life
        )
        return set_policy(session, shop.actor(Role.KEEPER), shop.now, asked).result


def test_a_shorter_life_of_a_cut_shortens_the_jars_that_stand(shop: MixShop) -> None:
    jar = jar_of(shop, ("flakes", "20 g"), ("spirit", "100 ml"))
    codes = [jar, *mixed_on(shop, jar)]
    plain = jar_of(shop, ("spirit", "100 ml"))
    before = ends(shop, plain)
    told = shorten(shop, SHELLAC, end=PolicyEnd.RETEST, sealed_days=20, opened_days=20)
    assert told["containers"] == 3
    assert [ends(shop, code) for code in codes] == [TODAY + timedelta(days=20)] * 3
    assert ends(shop, plain) == before
    shorten(shop, SHELLAC, end=PolicyEnd.RETEST, sealed_months=6, opened_months=6)
    assert [ends(shop, code) for code in codes] == [add_months(TODAY, 6)] * 3
    holds(shop.database)


def test_a_shorter_life_of_wetted_glue_shortens_the_jars_that_stand(shop: MixShop) -> None:
    jar = jar_of(shop, ("pearls", "20 g"), ("tap water", "100 ml"))
    told = shorten(shop, GLUE, end=PolicyEnd.EXPIRY, sealed_days=1, opened_days=1)
    assert told["containers"] == 1
    assert ends(shop, jar) == TODAY + timedelta(days=1)
    with shop.database.reading() as session:
        assert len(jars_of_solution(session, GLUE).jars) == 1 and not jars_of_solution(session, SHELLAC).jars


def test_a_dry_mix_with_glue_in_it_keeps_a_week_once_it_is_wetted(shop: MixShop) -> None:
    dry = jar_of(shop, ("pearls", "60 g"), ("raw umber", "60 g"), jar="100 g", form=Form.POWDER)
    assert ends(shop, dry) != WEEK
    with shop.database.reading() as session:
        shop.ids[dry] = container(session, dry).material_id
    wet = jar_of(shop, (dry, "50 g"), ("tap water", "100 ml"))
    assert ends(shop, wet) == WEEK
    told = shorten(shop, GLUE, end=PolicyEnd.EXPIRY, sealed_days=3, opened_days=3)
    assert (told["containers"], ends(shop, wet)) == (1, TODAY + timedelta(days=3))


def test_a_dry_mix_whose_powder_turns_out_to_be_glue_ends_what_was_wetted(shop: MixShop) -> None:
    dry = jar_of(shop, ("Powder 7", "60 g"), ("raw umber", "60 g"), jar="100 g", form=Form.POWDER)
    with shop.database.reading() as session:
        shop.ids[dry] = container(session, dry).material_id
    wet = jar_of(shop, (dry, "50 g"), ("tap water", "100 ml"))
    say(shop, "Powder 7", name="Bone glue")
    assert ends(shop, wet) == WEEK and ends(shop, dry) != WEEK


def test_mixes_with_what_is_known_as_a_former_now_end_by_it_after_an_upgrade(shop: MixShop) -> None:
    """Tetrahydrofuran: Cornell's list B, opened 12 months."""
    mixed = jar_of(shop, ("spirit", "100 ml"))
    codes = [mixed, *mixed_on(shop, mixed)]
    with shop.database.writing() as session:
        session.get_one(Material, shop.ids["spirit"]).name = "Tetrahydrofuran"
    settle_after_upgrade(shop.database, shop.now)
    assert [ends(shop, code) for code in codes] == [add_months(TODAY, 12)] * 3
