"""What is never mixed, at every door: recipe, stock check, start, addition; and answering it in writing."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, col, select

from service.actions.add_to_batch import AddAsked, add
from service.actions.judge_never_with import judge_never_with
from service.actions.mix_of_materials import material_of_published
from service.actions.read_recipe import LineAsked
from service.actions.settle import Settled
from service.actions.write_recipe import RecipeAsked, write_recipe
from service.core.access import Role
from service.core.findings import Invalid, Refused, Severity
from service.core.materials import Basis, Form, MaterialKind
from service.records.components import MaterialComponent
from service.records.duties import Duty
from service.records.engine import Database
from service.records.jobs import JobPerson
from service.records.materials import Material
from service.records.mixing import Batch, Recipe
from service.records.mixing_queries import additions_of
from service.records.shop import Change
from tests.builders import NOW
from tests.mixing_shop import MixShop, codes, make_mix_shop
from tests.store_builders import holds, material, once

LIQUID: dict[str, Any] = {"basis": Basis.VOLUME, "form": Form.LIQUID, "kind": MaterialKind.OTHER_CHEMICAL}
WORDS = "All of it is ground into the oil now and poured off."


def blue_shop(database: Database) -> tuple[MixShop, int]:
    """The shop with dry iron blue, chlorine bleach and vinegar, and a recipe of blue and boiled oil."""
    shop = make_mix_shop(database)
    with database.writing() as session:
        blue = material(session, "iron blue")
        blue.ci_name = "PB27"
        bleach = material(session, "chlorine bleach", **LIQUID)
        vinegar = material(session, "vinegar", **LIQUID)
        bleach.cas, vinegar.cas = "7681-52-9", "64-19-7"
        secret = material(session, "cellar cleaner", **LIQUID)
        secret.hazards = None
        session.flush()
        shop.ids |= {m.name: m.id or 0 for m in (blue, bleach, vinegar, secret)}
    for name in ("iron blue", "boiled oil", "chlorine bleach", "vinegar", "spirit"):
        shop.can(name)
    return shop, shop.write(("boiled oil", "200 ml"), ("iron blue", "50 g"), name="Blue stain")


def put_in(shop: MixShop, batch: int, name: str, role: Role = Role.FINISHER, **said: Any) -> Settled:
    asked = AddAsked(
        **({"once": once(), "batch_id": batch, "amount": "5 ml", "material_id": shop.ids[name]} | said)
    )
    with shop.database.writing() as session:
        return add(session, shop.actor(role), shop.now, asked)


def confirmed(session: Session) -> list[tuple[int, str, str | None]]:
    wanted = select(Change).where(col(Change.about_kind) == "batch").order_by(col(Change.id))
    rows = session.exec(wanted).all()
    return [(row.about_id, row.field, row.after) for row in rows]


def untouched(shop: MixShop) -> bool:
    with shop.database.reading() as session:
        return not session.exec(select(Batch)).all() and not confirmed(session)


def test_writing_it_warns_at_once_and_keeps_the_recipe(database: Database) -> None:
    shop, _ = blue_shop(database)
    lines = tuple(LineAsked(shop.ids[name], "5 ml") for name in ("chlorine bleach", "vinegar"))
    with database.writing() as session:
        done = write_recipe(session, shop.actor(), shop.now, RecipeAsked(once(), "Bleach", lines)).result
    said = {f["code"]: f["severity"] for f in done["findings"]}
    assert said["never-hypochlorite-acid"] == "warn" and done["recipe"]


def test_the_check_stops_it_and_its_fingerprint_stays_the_same(database: Database) -> None:
    shop, recipe = blue_shop(database)
    one, two = shop.look(recipe=recipe), shop.look(recipe=recipe)
    assert codes(one.check.verdict, Severity.STOP) == {("never-iron-blue-oil", "iron blue, boiled oil")}
    assert one.check.fingerprint == two.check.fingerprint and one.may_set_aside


def test_a_start_is_refused_and_draws_nothing_until_the_condition_is_confirmed(database: Database) -> None:
    shop, recipe = blue_shop(database)
    check = shop.keep(recipe=recipe)
    with pytest.raises(Refused) as caught:
        shop.start(check)
    assert "never-iron-blue-oil" in caught.value.verdict.codes and untouched(shop)
    with pytest.raises(Invalid) as wrong:
        shop.start(check, confirmation="ok")
    assert set(wrong.value.errors) == {"confirmation"} and untouched(shop)
    done = shop.start(check, confirmation=WORDS).result
    assert "never-confirmed" in {f["code"] for f in done["findings"]}
    with database.reading() as session:
        assert confirmed(session) == [(done["batch"], "never with: never-iron-blue-oil", WORDS)]
        assert len(additions_of(session, done["batch"])) == 2
    holds(database)


def test_what_was_set_aside_is_stopped_at_its_start(database: Database) -> None:
    shop, recipe = blue_shop(database)
    batch = shop.set_aside(shop.keep(recipe=recipe))
    with pytest.raises(Refused):
        shop.start(batch_id=batch)
    assert shop.start(batch_id=batch, confirmation=WORDS).result["state"] == "running"


def test_a_row_without_a_condition_is_never_confirmed_nor_set_aside(database: Database) -> None:
    shop, _ = blue_shop(database)
    recipe = shop.write(("chlorine bleach", "50 ml"), ("vinegar", "50 ml"), name="Bleach")
    check = shop.keep(recipe=recipe)
    for act in (lambda: shop.start(check, confirmation=WORDS), lambda: shop.set_aside(check)):
        with pytest.raises(Refused) as caught:
            act()
        assert "never-hypochlorite-acid" in caught.value.verdict.codes
    assert untouched(shop)


def test_what_was_begun_already_is_recorded_and_a_keeper_owes_an_answer(database: Database) -> None:
    shop, _ = blue_shop(database)
    recipe = shop.write(("chlorine bleach", "50 ml"), ("vinegar", "50 ml"), name="Bleach")
    check = shop.keep(recipe=recipe)
    with pytest.raises(Invalid):
        shop.start(check, already_done=True)
    done = shop.start(check, already_done=True, late_reason="The jars were mixed up.").result
    assert "never-hypochlorite-acid" in {f["code"] for f in done["findings"]}
    with database.reading() as session:
        duties = session.exec(select(Duty).where(col(Duty.kind) == "answer-violation")).all()
    assert any("chlorine gas" in duty.sentence for duty in duties)
    holds(database)


def test_an_addition_is_stopped_before_anything_is_booked(database: Database) -> None:
    shop, _ = blue_shop(database)
    recipe = shop.write(("chlorine bleach", "50 ml"), name="Bleach bath")
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    with pytest.raises(Refused) as caught:
        put_in(shop, batch, "vinegar", confirmation=WORDS)
    assert "never-hypochlorite-acid" in caught.value.verdict.codes
    with database.reading() as session:
        assert len(additions_of(session, batch)) == 1 and not confirmed(session)
    done = put_in(shop, batch, "vinegar", already_done=True, late_reason="Somebody poured it in.").result
    assert "never-hypochlorite-acid" in {f["code"] for f in done["findings"]}
    with pytest.raises(Refused):
        put_in(shop, batch, "vinegar")
    holds(database)


def test_a_confirmation_holds_for_its_batch_and_only_for_it(database: Database) -> None:
    shop, recipe = blue_shop(database)
    first = int(shop.start(shop.keep(recipe=recipe), confirmation=WORDS).result["batch"])
    put_in(shop, first, "boiled oil")
    put_in(shop, first, "iron blue", amount="5 g")
    oil = shop.write(("boiled oil", "50 ml"), name="Oil")
    second = int(shop.start(shop.keep(recipe=oil)).result["batch"])
    with pytest.raises(Refused):
        put_in(shop, second, "iron blue", amount="5 g")
    put_in(shop, second, "iron blue", amount="5 g", confirmation=WORDS)
    with database.reading() as session:
        assert [row[0] for row in confirmed(session)] == [first, second]


def test_a_student_does_not_confirm(database: Database) -> None:
    shop, _ = blue_shop(database)
    oil = shop.write(("boiled oil", "50 ml"), name="Oil")
    batch = int(shop.start(shop.keep(recipe=oil)).result["batch"])
    with database.writing() as session:
        session.add(JobPerson(job_id=shop.job, person_id=shop.people.student.id or 0, added_at=shop.now))
    with pytest.raises(Refused):
        put_in(shop, batch, "iron blue", Role.STUDENT, amount="5 g", confirmation=WORDS)


def test_a_made_mix_counts_as_what_goes_into_it(database: Database) -> None:
    shop, _ = blue_shop(database)
    recipe = shop.write(("chlorine bleach", "50 ml"), ("tap water", "50 ml"), name="Weak bleach")
    with database.writing() as session:
        jar = material(session, "weak bleach", **LIQUID | {"kind": MaterialKind.MADE_MIX})
        row = session.get(Recipe, recipe)
        assert row is not None
        row.material_id = jar.id
        session.add(row)
        session.flush()
        vinegar = session.get(Material, shop.ids["vinegar"])
        assert vinegar is not None
        found = judge_never_with(session, [jar, vinegar])
    assert "never-hypochlorite-acid" in found.codes


def test_lines_of_a_sheet_count_from_a_tenth_of_a_per_cent(database: Database) -> None:
    shop, _ = blue_shop(database)
    with database.writing() as session:
        mixed = material(session, "brightener", **LIQUID)
        vinegar = session.get(Material, shop.ids["vinegar"])
        assert vinegar is not None

        def found(high: Decimal | None) -> frozenset[str]:
            row = MaterialComponent(
                material_id=mixed.id, position=1, name="bleach salt", cas="7681-52-9", high=high,
                source="sheet", set_by=shop.people.keeper.id or 0, set_at=NOW,
            )  # fmt: skip
            session.add(row)
            session.flush()
            codes_of = judge_never_with(session, [mixed, vinegar]).codes
            session.delete(row)
            session.flush()
            return codes_of

        assert "never-hypochlorite-acid" in found(None)  # an unpublished share counts
        assert "never-hypochlorite-acid" in found(Decimal("0.1"))
        assert "never-hypochlorite-acid" not in found(Decimal("0.09"))


def test_a_number_without_classes_is_looked_up_in_the_published_lists(database: Database) -> None:
    with database.writing() as session:
        oil = material_of_published("linseed_boiled")
        unlisted, corrosive = (material(session, name, **LIQUID) for name in ("salt of nobody", "etch"))
        unlisted.hazards, unlisted.cas = None, "99999-99-4"
        corrosive.hazards, corrosive.cas = None, "64-18-6"
        assert "never-identity-not-known" in judge_never_with(session, [unlisted, oil]).codes
        assert "never-identity-not-known" not in judge_never_with(session, [corrosive, oil]).codes


def test_published_rows_that_are_in_no_book_are_judged_too(database: Database) -> None:
    with database.reading() as session:
        pair = [material_of_published("prussian"), material_of_published("linseed_boiled")]
        assert "never-iron-blue-oil" in judge_never_with(session, pair).codes
        fine = [material_of_published("raw_umber"), material_of_published("linseed_boiled")]
        assert not [f for f in judge_never_with(session, fine) if f.severity is Severity.STOP]


def test_what_nobody_knows_of_one_part_of_a_mix_is_not_made_known_by_the_others(database: Database) -> None:
    """The jar holds a cleaner of no name and a spirit whose classes are known."""
    shop, _ = blue_shop(database)
    shop.can("cellar cleaner")
    recipe = shop.write(("spirit", "50 ml"), ("cellar cleaner", "50 ml"), name="Cleaner")
    with shop.database.writing() as session:
        jar = material(session, "jar of cleaner", **(LIQUID | {"kind": MaterialKind.MADE_MIX}))
        jar.hazards = None
        session.flush()
        written = session.get(Recipe, recipe)
        assert written is not None
        written.material_id = jar.id
        session.add(written)
    with shop.database.reading() as session:
        mixed = [session.get_one(Material, shop.ids["boiled oil"]), session.exec(
            select(Material).where(col(Material.name) == "jar of cleaner")
        ).one()]  # fmt: skip
        verdict = judge_never_with(session, mixed)
    told = [f for f in verdict if f.code == "never-identity-not-known"]
    assert [f.about for f in told] == ["jar of cleaner"] and not verdict.complete
    assert "cellar cleaner in jar of cleaner" in told[0].sentence


def test_a_jar_is_what_went_into_it_by_name_too(database: Database) -> None:
    """Thick bleach in a jar of a harmless name, beside vinegar: neither has a number in the book."""
    shop, _ = blue_shop(database)
    with shop.database.writing() as session:
        bleach, jar = material(session, "thick bleach", **LIQUID), material(
            session, "wash alpha", **(LIQUID | {"kind": MaterialKind.MADE_MIX})
        )  # fmt: skip
        session.flush()
        shop.ids |= {m.name: m.id or 0 for m in (bleach, jar)}
    recipe = shop.write(("thick bleach", "50 ml"), name="Wash alpha")
    with shop.database.writing() as session:
        written = session.get_one(Recipe, recipe)
        written.material_id = shop.ids["wash alpha"]
        session.add(written)
    with shop.database.reading() as session:
        mixed = [session.get_one(Material, shop.ids[name]) for name in ("wash alpha", "vinegar")]
        assert "never-hypochlorite-acid" in judge_never_with(session, mixed).codes
