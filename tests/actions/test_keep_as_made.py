"""What a batch was really made of: against the plan, as a version, made again, scattered over batches."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from sqlalchemy.exc import DatabaseError
from sqlmodel import col, select

from service.actions.cost_of_batch import cost_of_batch
from service.actions.count_stock import CountAsked, count
from service.actions.drop_batch import GiveUpAsked, give_up
from service.actions.keep_as_made import (
    AsMadeAsked,
    AsMadeSeen,
    keep_as_made,
    look_at_as_made,
    make_this_much,
    stands_as_made,
)
from service.actions.look_at_scatter import look_at_scatter
from service.actions.undo_addition import UndoAsked, undo_addition
from service.core.access import Role
from service.core.additions import HowAdded, WasIn
from service.core.as_made import Differs
from service.core.findings import Invalid, NotAllowed, Refused, Stale
from service.core.ledger import Destination
from service.core.materials import Basis, Form
from service.core.scatter import Scatter
from service.records.engine import Database
from service.records.materials import Material
from service.records.mixing import AsMade, Batch, RecipeVersion
from service.records.mixing_queries import (
    additions_of,
    kept_check,
    lines_of,
    the_batch,
    the_recipe,
    the_version,
)
from service.web.sample_words import stepped
from tests.actions.sample_steps import Sampled, begun
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import holds, once


def kept(made: Sampled, role: Role = Role.FINISHER, **said: str) -> dict[str, object]:
    with made.shop.database.writing() as session:
        asked = AsMadeAsked(once=said.pop("once", once()), batch_id=made.batch, note=said.get("note", ""))
        return keep_as_made(session, made.shop.actor(role), made.shop.now, asked).result


def written(made: Sampled) -> list[tuple[str, str]]:
    with made.shop.database.reading() as session:
        version = the_version(session, the_recipe(session, made.recipe))
        return [(material.name, row.written) for row, material in lines_of(session, version.id or 0)]


def version_of(made: Sampled) -> RecipeVersion:
    with made.shop.database.reading() as session:
        return the_version(session, the_recipe(session, made.recipe))


def test_the_order_is_that_of_first_addition_and_sums_are_exact(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "100 ml"), made.add("raw umber", "1 1/2 g")
    made.add("spirit", "0.5 ml"), made.add("boiled oil", "50 ml"), made.add("raw umber", "0.25 g")
    done = kept(made, note="Matches.")
    assert written(made) == [("spirit", "100.5 ml"), ("raw umber", "1.75 g"), ("boiled oil", "50 ml")]
    version = version_of(made)
    assert (version.number, version.note) == (2, f"As made in batch {made.batch}. Matches.")
    assert done["version_number"] == 2 and done["recipe"] == made.recipe
    with database.reading() as session:
        row = session.exec(select(AsMade)).one()
        assert (row.version_id, row.batch_id) == (version.id, made.batch)
    holds(database)


def test_taken_back_is_left_out_and_put_back_is_taken_off(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "100 ml")
    made.take_back(made.add("boiled oil", "50 ml"))
    made.add("raw umber", "10 g")
    made.put_back("spirit", 20_000)
    kept(made)
    assert written(made) == [("spirit", "80 ml"), ("raw umber", "10 g")]
    made.put_back("raw umber", 10_000)
    kept(made)
    assert written(made) == [("spirit", "80 ml")]


def test_what_nobody_measured_is_to_suit_and_never_nothing(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "100 ml"), made.add("boiled oil", "5 ml"), made.add("raw umber", "2 g")
    made.unmeasured("boiled oil", 3_000), made.unmeasured("raw umber", None)
    done = kept(made)
    lines = dict(written(made))
    assert lines["boiled oil"] == "to suit, at most 8 ml" and lines["raw umber"] == "to suit"
    assert done["makes"] == "" and version_of(made).makes_amount is None
    codes = {(f["code"], f["about"]) for f in done["findings"]}  # type: ignore[attr-defined]
    assert {("not-measured", "boiled oil"), ("not-measured", "raw umber"), ("makes-not-known", "")} <= codes


def test_a_count_settles_what_nobody_measured_and_undone_water_is_gone(database: Database) -> None:
    made = begun(database, price="20")
    made.add("spirit", "", how=HowAdded.NOT_MEASURED)
    water = made.add("tap water", "10 ml")
    kept(made)
    assert written(made) == [("spirit", "to suit, at most 1 l"), ("tap water", "10 ml")]
    with database.writing() as session:
        row = additions_of(session, made.batch)[1].row
        undo = UndoAsked(once(), made.batch, row.id or 0, "Wrong jug", WasIn.NEVER)
        undo_addition(session, made.shop.actor(), made.shop.now, undo)
        asked = CountAsked(once=once(), code=made.cans["spirit"], amount="950 ml", reason="counted")
        count(session, made.shop.actor(), made.shop.now, asked)
    assert water.result["additions"][0]["movement"] is None
    kept(made)
    assert written(made) == [("spirit", "about 50 ml")]
    with database.reading() as session:
        told = cost_of_batch(session, the_batch(session, made.batch))
        assert (told.cost.exact, told.cost.at_least) == (1, False)
        _, steps = stepped(session, made.batch)
        assert [(one.amount, one.step.mass_mg) for one in steps] == [("50 ml, by a later count", 39_000)]


def test_a_rough_amount_stays_rough(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "about 20 ml")
    kept(made)
    assert written(made) == [("spirit", "about 20 ml")]
    with database.reading() as session:
        assert lines_of(session, version_of(made).id or 0)[0][0].about is True


def test_makes_is_the_yield_if_there_is_one_else_what_went_in(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "100 ml")
    kept(made)
    first = version_of(made)
    assert (first.makes_amount, first.makes_basis) == (100_000, Basis.VOLUME)
    made.add("raw umber", "10 g")
    kept(made)
    by_mass = version_of(made)
    # Umber has no true density here, so volumes do not add up: 78 g of spirit and 10 g of umber.
    assert (by_mass.makes_amount, by_mass.makes_basis) == (88_000, Basis.MASS)
    made.finish(made="101 ml")
    kept(made)
    assert (version_of(made).makes_amount, version_of(made).makes_basis) == (101_000, Basis.VOLUME)


def test_who_may_and_what_states(database: Database) -> None:
    made = begun(database)
    with pytest.raises(Refused, match="Nothing is written down"):
        kept(made)
    made.add("spirit", "1 ml")
    with pytest.raises(NotAllowed):
        kept(made, Role.STUDENT)
    key = once()
    assert kept(made, once=key) == kept(made, once=key)
    assert version_of(made).number == 2
    with database.writing() as session:
        give_up(
            session, made.shop.actor(), made.shop.now,
            GiveUpAsked(once=once(), batch_id=made.batch, reason="Too red", went_to=Destination.HAULER),
        )  # fmt: skip
    with pytest.raises(Stale, match="given up"):
        kept(made)
    with pytest.raises(Invalid):
        kept(made, note="n" * 2001)


def test_it_is_never_rewritten(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "1 ml")
    kept(made)
    with pytest.raises(DatabaseError), database.writing() as session:
        row = session.exec(select(AsMade)).one()
        row.batch_id = 99
        session.add(row)
        session.flush()


def of_plan(database: Database, *more: tuple[str, str]) -> tuple[MixShop, int, AsMadeSeen]:
    """Twice 100 g umber, 200 to 220 ml oil, drier to suit; then what is added."""
    shop = make_mix_shop(database)
    for name in ("raw umber", "boiled oil", "spirit", "drier"):
        shop.can(name)
    recipe = shop.write(
        ("raw umber", "100 g"), ("boiled oil", "200 to 220 ml"), ("drier", "to suit"), name="Planned"
    )
    number = int(shop.start(shop.keep("2 times", recipe=recipe)).result["batch"])
    made = Sampled(shop, 0, number, recipe, {})
    for name, amount in more:
        made.add(name, amount)
    with database.reading() as session:
        return shop, number, look_at_as_made(session, the_batch(session, number))


def test_the_plan_is_grown_to_the_batch(database: Database) -> None:
    _, _, seen = of_plan(database, ("raw umber", "20 g"), ("spirit", "5 ml"))
    found = {one.name: (one.differs, one.difference, one.percent) for one in seen.lines}
    assert found == {
        "raw umber": (Differs.MORE, 20_000, Decimal("10.0")),
        "boiled oil": (Differs.AS_PLANNED, 0, Decimal("0.0")),
        "drier": (Differs.TO_SUIT, None, None),
        "spirit": (Differs.NOT_PLANNED, 5_000, None),
    }
    planned = seen.lines[1].planned
    assert planned is not None and (planned.low, planned.high) == (400_000, 440_000)


def test_left_out_and_a_plan_that_cannot_be_read(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "10 ml")
    kept(made)
    with database.writing() as session:
        row = Batch(**the_batch(session, made.batch).model_dump(exclude={"id"}))
        row.recipe_version_id, row.wanted_written = version_of(made).id or 0, "2 times"
        session.add(row)
        session.flush()
        seen = look_at_as_made(session, row)
        assert [(one.differs, one.difference) for one in seen.lines] == [(Differs.LEFT_OUT, -20_000)]
        row.wanted_written = "a barrel"
        seen = look_at_as_made(session, row)
        assert "plan-not-known" in {f.code for f in seen.findings}
        assert seen.lines[0].planned is not None and seen.lines[0].planned.high is None


def make(made: Sampled, amount: str, role: Role = Role.FINISHER, key: str = "") -> dict[str, object]:
    with made.shop.database.writing() as session:
        return make_this_much(
            session, made.shop.actor(role), made.shop.now, key or once(), made.sample, amount
        ).result


def test_so_much_of_it_writes_the_version_once_and_checks_the_stock(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "80 ml"), made.add("boiled oil", "20 ml")
    done = make(made, "500 ml")
    assert done["wrote"] is True and done["version_number"] == 2
    with database.reading() as session:
        check = kept_check(session, int(str(done["check"])))
        assert check.wanted_written == "500 ml" and check.times == 5 and check.heats is True
    again = make(made, "20 heads x 10 ml + 10 %")
    assert again["wrote"] is False and again["version_number"] == 2
    made.add("spirit", "1 ml")
    with database.reading() as session:
        assert not stands_as_made(session, made.shop.actor(), the_batch(session, made.batch))
    assert make(made, "3 times")["version_number"] == 3


def test_an_amount_of_what_nobody_can_add_up_names_the_density_that_is_missing(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "80 ml"), made.add("boiled oil", "20 ml")
    with database.writing() as session:
        oil = session.exec(select(Material).where(col(Material.name).contains("oil"))).all()
        for row in oil:
            row.density_g_ml = row.known_key = None
            row.form = Form.SOLID
            session.add(row)
    with pytest.raises(Invalid, match=r"density of .*oil.* is missing. Ask for so many times"):
        make(made, "500 ml")
    assert make(made, "4 times")["version_number"] == 2


@pytest.mark.parametrize("amount", ["", "much", "4 pieces", "5", "0 ml"])
def test_an_amount_that_cannot_be_used_keeps_nothing(database: Database, amount: str) -> None:
    made = begun(database)
    made.add("spirit", "80 ml")
    with pytest.raises(Invalid) as wrong:
        make(made, amount)
    assert "amount" in wrong.value.errors
    assert version_of(made).number == 1
    with pytest.raises(NotAllowed):
        make(made, "1 l", Role.STUDENT)


def test_a_recipe_without_a_line_is_not_checked(database: Database) -> None:
    made = begun(database)
    with pytest.raises(Invalid, match="Nothing is written in this recipe"):
        made.shop.look("2 times", recipe=made.recipe)
    with pytest.raises(Refused):
        make(made, "2 times")


def scattered(made: Sampled) -> Scatter:
    with made.shop.database.reading() as session:
        return look_at_scatter(session, made.recipe).scatter


def another(made: Sampled, *added: tuple[str, str]) -> Sampled:
    """One more batch of the same recipe, filled by hand and finished."""
    with made.shop.database.writing() as session:
        old = the_batch(session, made.batch)
        row = Batch(**(old.model_dump(exclude={"id", "state"}) | {"state": "running"}))
        session.add(row)
        session.flush()
        twin = Sampled(made.shop, made.sample, row.id or 0, made.recipe, made.cans)
    for name, amount in added:
        twin.add(name, amount)
    return twin


def test_scatter_counts_only_finished_batches_that_are_known(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "80 ml"), made.add("boiled oil", "20 ml")
    made.finish()
    another(made, ("spirit", "60 ml"), ("boiled oil", "40 ml")).finish()
    another(made, ("spirit", "50 ml")).finish()
    running = another(made, ("spirit", "1 ml"))
    doubtful = another(made, ("spirit", "5 ml"), ("boiled oil", "5 ml"))
    doubtful.unmeasured("boiled oil", 500)
    doubtful.finish()
    empty = another(made)
    empty.finish()
    done = scattered(made)
    assert done.by is Basis.VOLUME and len(done.counted) == 3
    spirit, oil = done.spreads
    assert (spirit.low, spirit.middle, spirit.high) == (Fraction(3, 5), Fraction(4, 5), 1)
    assert (oil.low, oil.middle, oil.high, oil.went_in) == (0, Fraction(1, 5), Fraction(2, 5), 2)
    assert dict(done.left_out) == {
        running.batch: "It is running.",
        doubtful.batch: "Nobody measured how much boiled oil went in.",
        empty.batch: "Nothing is written down that went into it.",
    }


def test_scatter_by_mass_leaves_out_what_has_no_density(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "100 ml"), made.add("raw umber", "22 g")
    made.finish()
    no_density = another(made, ("boiled oil", "10 ml"), ("raw umber", "1 g"))
    no_density.finish()
    with database.writing() as session:
        session.get_one(Material, made.shop.ids["boiled oil"]).density_g_ml = None
    done = scattered(made)
    assert done.by is Basis.MASS and done.counted == (made.batch,)
    assert {one.name: one.middle for one in done.spreads} == {
        "spirit": Fraction(78, 100), "raw umber": Fraction(22, 100),
    }  # fmt: skip
    assert dict(done.left_out) == {no_density.batch: "What boiled oil weighs is not known."}


def test_scatter_of_a_recipe_never_made(database: Database) -> None:
    shop = make_mix_shop(database)
    with database.reading() as session:
        assert look_at_scatter(session, shop.recipe).scatter == Scatter(None, (), (), ())
