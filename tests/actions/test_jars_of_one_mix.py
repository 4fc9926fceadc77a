"""Two jars of one mix may hold what never goes together: something else went into the batch of each.

That chlorine bleach with an acid frees chlorine is common knowledge of the trade (from memory); the mix and
its batches are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import pytest

from service.actions.add_to_batch import AddAsked, add
from service.actions.change_of_addition import change_if_added
from service.actions.check_condition import CheckAsked, check_condition
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, draw
from service.actions.finish_batch import FinishAsked, JarAsked, finish
from service.actions.met_in_pot import after_batch, met_in_batch, met_in_container
from service.actions.start_sample import SampleAsked, start_sample
from service.core.access import Role
from service.core.after_use_words import AFTER_USE, Medium
from service.core.colour_samples import Board
from service.core.conditions import Found
from service.core.containers import Standing
from service.core.findings import Refused
from service.core.hazards.regimes import Regime
from service.core.materials import Basis, Form, MaterialKind, Unknown
from service.records.ageing_queries import standing_of
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow
from service.records.mixing_queries import the_recipe
from service.records.stock_queries import material_of
from tests.builders import NOW
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import container, material, once

BOARD = Board("ash", "P180", Unknown.NO, "", 1)
TODAY = NOW.date()
CLASH = "never-hypochlorite-acid"


@dataclass
class Washes:
    """A wash of water and one more thing, a jar of it for each thing that went in."""

    shop: MixShop
    recipe: int
    jars: dict[str, str]

    @property
    def material(self) -> int:
        with self.shop.database.reading() as session:
            number = the_recipe(session, self.recipe).material_id
        assert number is not None
        return number


def made_of(shop: MixShop, recipe: int, what: str, can: str) -> str:
    """One batch of the wash with 20 ml of something more, filled into a jar; the jar's code."""
    batch = int(shop.start(shop.keep("1 times", recipe)).result["batch"])
    with shop.database.writing() as session:
        water = AddAsked(once=once(), batch_id=batch, amount="200 ml", material_id=shop.ids["tap water"])
        add(session, shop.actor(), shop.now, water)
    with shop.database.writing() as session:
        asked = AddAsked(
            once=once(), batch_id=batch, amount="20 ml", code=can,
            confirmation="The recipe of the school names it, thinned in plenty of water",
        )  # fmt: skip
        add(session, shop.actor(Role.KEEPER), shop.now, asked)
    with shop.database.writing() as session:
        jar = FinishAsked(once=once(), batch_id=batch, jars=(JarAsked("100 ml"),), form=Form.LIQUID)
        done = finish(session, shop.actor(), shop.now, jar, lambda: f"jar of {what}").result
    return str(done["jars"][0]["code"])


@pytest.fixture
def washes(database: Database) -> Washes:
    shop = make_mix_shop(database)
    with database.writing() as session:
        for name in ("chlorine bleach", "vinegar"):
            stuff = material(
                session, name, basis=Basis.VOLUME, form=Form.LIQUID, kind=MaterialKind.OTHER_CHEMICAL,
                density="1.0",
            )  # fmt: skip
            shop.ids[name] = stuff.id or 0
    recipe = shop.write(("tap water", "200 ml"), name="Wash")
    jars = {name: made_of(shop, recipe, name, shop.can(name)) for name in ("chlorine bleach", "vinegar")}
    jars["vinegar again"] = made_of(shop, recipe, "vinegar again", shop.can("vinegar"))
    return Washes(shop, recipe, jars)


def pour(washes: Washes, one: str, other: str, **said: object) -> None:
    shop = washes.shop
    with shop.database.writing() as session:
        asked = DecantAsked(
            **({"once": once(), "code": washes.jars[one], "amount": "10 ml", "into": washes.jars[other],
                "looked": True} | said)
        )  # fmt: skip
        decant(session, shop.actor(Role.KEEPER), shop.now, asked, lambda: "no jar")


@pytest.mark.parametrize(("one", "other"), [("chlorine bleach", "vinegar"), ("vinegar", "chlorine bleach")])
def test_a_jar_is_not_poured_into_one_whose_batch_held_the_wrong_thing(
    washes: Washes, one: str, other: str
) -> None:
    with pytest.raises(Refused) as no:
        pour(washes, one, other)
    assert CLASH in no.value.verdict.codes
    pour(washes, "vinegar", "vinegar again")


def test_what_was_poured_all_the_same_is_said_of_the_jar(washes: Washes) -> None:
    late = "It was poured before anybody read the labels"
    pour(washes, "chlorine bleach", "vinegar", already_done=True, late_reason=late)
    with washes.shop.database.reading() as session:
        mixed = met_in_container(session, container(session, washes.jars["vinegar"]))
        alone = met_in_container(session, container(session, washes.jars["chlorine bleach"]))
    assert CLASH in mixed.codes and CLASH not in alone.codes
    shop = washes.shop
    for jar, stops in (("vinegar", True), ("vinegar again", False)):
        asked = DrawAsked(once=once(), code=washes.jars[jar], amount="5 ml", looked=True, job_id=shop.job)
        with shop.database.writing() as session:
            if stops:
                with pytest.raises(Refused) as no:
                    draw(session, shop.actor(Role.KEEPER), shop.now, asked)
                assert CLASH in no.value.verdict.codes
            else:
                draw(session, shop.actor(Role.KEEPER), shop.now, asked)


def test_two_jars_do_not_meet_at_the_bench(washes: Washes) -> None:
    shop = washes.shop
    with shop.database.writing() as session:
        asked = SampleAsked(once=once(), target="grey ash", board=BOARD, purpose="wash")
        begun = start_sample(session, shop.actor(), shop.now, asked).result
    batch = int(begun["batch"])

    def put(jar: str, **said: object) -> None:
        with shop.database.writing() as session:
            more = {"amount": "5 ml", "code": washes.jars[jar], "looked": True}
            wanted = AddAsked(**({"once": once(), "batch_id": batch} | more | said))
            add(session, shop.actor(Role.KEEPER), shop.now, wanted)

    put("vinegar")
    put("vinegar again")
    with pytest.raises(Refused) as no:
        put("chlorine bleach")
    assert CLASH in no.value.verdict.codes
    with shop.database.reading() as session:
        wish = AddAsked(once=once(), batch_id=batch, amount="5 ml", code=washes.jars["chlorine bleach"])
        before = change_if_added(session, shop.actor(), shop.now, TODAY, wish, Regime.UN_GHS)
    assert CLASH in before.verdict.codes
    put("chlorine bleach", already_done=True, late_reason="It was in before anybody read the labels")
    with shop.database.reading() as session:
        assert CLASH in met_in_batch(session, batch).codes


def test_the_stock_check_takes_no_two_jars_that_do_not_go_together(washes: Washes) -> None:
    shop = washes.shop
    shop.ids["wash"] = washes.material
    recipe = shop.write(("wash", "150 ml"), name="Weak wash")
    seen = shop.look("1 times", recipe=recipe)
    assert len(seen.check.allocations) > 1
    assert CLASH in seen.check.verdict.codes and seen.check.verdict.blocking
    small = shop.look("0.1 times", recipe=recipe)
    assert CLASH not in small.check.verdict.codes


def test_what_was_confirmed_for_use_at_once_is_never_filled_into_a_jar(database: Database) -> None:
    """A two-part wood bleach (peroxide and lye) is mixed in an open bowl and used up: common practice, no
    source; that it goes on giving off oxygen is from memory.
    """
    shop = make_mix_shop(database)
    with database.writing() as session:
        for name in ("hydrogen peroxide", "caustic soda solution"):
            stuff = material(
                session, name, basis=Basis.VOLUME, form=Form.LIQUID, kind=MaterialKind.OTHER_CHEMICAL,
                density="1.0",
            )  # fmt: skip
            shop.ids[name] = stuff.id or 0
    cans = [shop.can(name) for name in ("hydrogen peroxide", "caustic soda solution")]
    with database.writing() as session:
        asked = SampleAsked(once=once(), target="bleached ash", board=BOARD, purpose="bleach")
        batch = int(start_sample(session, shop.actor(), shop.now, asked).result["batch"])
    for can in cans:
        with database.writing() as session:
            more = AddAsked(
                once=once(), batch_id=batch, amount="20 ml", code=can,
                confirmation="Both parts of the wood bleach, whose sheet says to mix them in an open bowl",
            )  # fmt: skip
            add(session, shop.actor(Role.KEEPER), shop.now, more)
    with database.reading() as session:
        assert not met_in_batch(session, batch).findings

    def end(*jars: str) -> None:
        with database.writing() as session:
            done = FinishAsked(once=once(), batch_id=batch, jars=tuple(map(JarAsked, jars)), form=Form.LIQUID)
            finish(session, shop.actor(), shop.now, done, lambda: "a bowl")

    with pytest.raises(Refused) as no:
        end("30 ml")
    assert no.value.verdict.codes == {"never-shut-in"}
    assert "Use it up from the open pot" in next(iter(no.value.verdict)).sentence
    with database.reading() as session:
        after = after_batch(session, batch, AFTER_USE[Medium.NOT_KNOWN])
    assert "closed jar bursts" in after.left_over
    assert not any("into a labelled jar" in one for one in after.sentences)
    end()


def test_what_is_found_in_a_can_is_told_of_the_jars_made_with_it(database: Database) -> None:
    shop = make_mix_shop(database)
    cans = {name: shop.can(name) for name in ("raw umber", "boiled oil", "spirit")}
    with database.writing() as session:
        session.add(AgeingPolicyRow(kind=MaterialKind.MADE_MIX, end="parts", set_at=shop.now))
    batch = int(shop.start(shop.keep()).result["batch"])
    with database.writing() as session:
        done = FinishAsked(once=once(), batch_id=batch, jars=(JarAsked("100 ml"),), form=Form.LIQUID)
        jar = finish(session, shop.actor(), shop.now, done, lambda: "a stain").result["jars"][0]["code"]
    with database.reading() as session:
        assert container(session, jar).standing is Standing.IN_DATE
    shop.now += timedelta(minutes=1)  # what was drawn before it was found is looked at, and has not ended
    with database.writing() as session:
        asked = CheckAsked(once=once(), code=cans["boiled oil"], found=Found.RANCID)
        said = check_condition(session, shop.actor(), shop.now, asked).result
    assert {"jars-too", "made-with-it"} <= {f["code"] for f in said["findings"]}
    with database.reading() as session:
        assert container(session, jar).standing is Standing.LOOK_FIRST
        box = container(session, jar)
        doubt = standing_of(session, box, material_of(session, box), shop.now.date()).doubt
    assert doubt is not None and doubt.found == "rancid"
