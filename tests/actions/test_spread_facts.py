"""Worse facts of a material reach every jar that holds some of it; better ones reach none."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date

import pytest
from sqlmodel import col, select

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.decant import DecantAsked, decant
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.revise_material import Revision, facts_held, revise_material
from service.actions.set_policy import PolicyAsked, set_policy
from service.core.access import Role
from service.core.ageing_policies import PolicyEnd
from service.core.containers import Standing
from service.core.life_facts import CheckOutcome
from service.core.materials import MaterialKind, SelfHeating
from service.records.ageing_queries import standing_of
from service.records.engine import Database
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.materials import AgeingPolicyRow, Material
from service.records.policy_queries import Subject
from service.records.stock import Container
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import container, holds, once, received

_chance = itertools.count(1)


def chance() -> str:
    return f"spread {next(_chance)}"


@pytest.fixture
def shop(database: Database) -> MixShop:
    """A jar of umber and spirit, a jar poured from it, and a jar of a second mix made with the first."""
    made = make_mix_shop(database)
    with database.writing() as session:
        session.add(AgeingPolicyRow(kind=MaterialKind.MADE_MIX, end="parts", set_at=made.now))
        for name in ("raw umber", "spirit"):
            stuff = session.get(Material, made.ids[name])
            assert stuff is not None
            stuff.self_heating_reason = "There is no oil in it"
            stuff.keeper_only_reason = "Nothing in it harms"
            session.add(stuff)
    made.can("raw umber"), made.can("spirit")
    jar = _mix(made, made.write(("raw umber", "100 g"), ("spirit", "300 ml"), name="Wash"))
    with database.writing() as session:
        asked = DecantAsked(once=once(), code=jar, amount="50 ml")
        decant(session, made.actor(), made.now, asked, chance)
        made.ids["Wash"] = container(session, jar).material_id
    _mix(made, made.write(("Wash", "100 ml"), ("spirit", "200 ml"), name="Second wash"))
    return made


def _mix(shop: MixShop, recipe: int) -> str:
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    with shop.database.writing() as session:
        asked = FinishAsked(once=once(), batch_id=batch, jars=(JarAsked("300 ml"),), loss_note="pot")
        done = finish(session, shop.actor(), shop.now, asked, chance)
    return str(done.result["jars"][0]["code"])


def _jars(shop: MixShop) -> list[tuple[Container, Material]]:
    with shop.database.reading() as session:
        rows = session.exec(
            select(Container, Material)
            .join(Material, col(Material.id) == col(Container.material_id))
            .where(col(Container.made_by_batch_id).is_not(None))
        ).all()
        assert len(rows) == 3
        return [(box, material) for box, material in rows]


def _revise(shop: MixShop, name: str, **facts: object) -> list[str]:
    with shop.database.writing() as session:
        material = session.get(Material, shop.ids[name])
        assert material is not None
        new = replace(facts_held(material), **facts)  # type: ignore[arg-type]
        asked = Revision(once(), material.version, facts=new, reason="The new sheet says so")
        done = revise_material(session, shop.actor(Role.KEEPER), shop.now, shop.ids[name], asked)
    return [finding["code"] for finding in done.result["findings"]]


@pytest.mark.parametrize("flag", [SelfHeating.YES, SelfHeating.NOT_KNOWN])
def test_self_heating_found_out_later_reaches_every_jar(shop: MixShop, flag: SelfHeating) -> None:
    with shop.database.reading() as session:
        assert not any(counts_self_heating(session, m, box) for box, m in _jars(shop))
    assert "jars-follow" in _revise(shop, "spirit", self_heating=flag, self_heating_reason="")
    with shop.database.reading() as session:
        assert all(counts_self_heating(session, m, box) for box, m in _jars(shop))
        assert all(m.self_heating is SelfHeating.YES for _, m in _jars(shop))
    _revise(shop, "spirit", self_heating=SelfHeating.NO, self_heating_reason="The maker has tested it wet")
    # Better facts spread to none: nobody looked at the jars.
    with shop.database.reading() as session:
        assert all(counts_self_heating(session, m, box) for box, m in _jars(shop))
    holds(shop.database)


@pytest.mark.parametrize("metals", [("lead",), None])
def test_keeper_only_found_out_later_reaches_every_jar(
    shop: MixShop, metals: tuple[str, ...] | None
) -> None:
    with shop.database.reading() as session:
        assert not any(counts_keeper_only(session, m, box) for box, m in _jars(shop))
    _revise(shop, "raw umber", toxic_metals=metals, keeper_only=None, keeper_only_reason="")
    with shop.database.reading() as session:
        assert all(counts_keeper_only(session, m, box) for box, m in _jars(shop))


def test_a_hazard_class_found_out_later_reaches_every_jar(shop: MixShop) -> None:
    _revise(shop, "spirit", hazards=("Flam. Liq. 3 H226",))
    assert all(box.inherited_hazards == ["Flam. Liq. 3 H226"] for box, _ in _jars(shop))
    _revise(shop, "spirit", hazards=None)
    assert all(box.inherited_hazards is None for box, _ in _jars(shop))


def test_a_life_made_shorter_ends_every_jar_with_it(shop: MixShop) -> None:
    today = shop.now.date()
    with shop.database.reading() as session:
        assert all(standing_of(session, box, m, today).standing is Standing.IN_DATE for box, m in _jars(shop))
    with shop.database.writing() as session:
        earlier = session.exec(
            select(AgeingPolicyRow.id).where(col(AgeingPolicyRow.material_id) == shop.ids["spirit"])
        ).one()
        asked = PolicyAsked(
            once=once(), subject=Subject(material_id=shop.ids["spirit"]), end=PolicyEnd.EXPIRY,
            sealed_months=1, opened_months=1, grade="memory", reason="It gummed after a month",
            seen_id=earlier,
        )  # fmt: skip
        set_policy(session, shop.actor(Role.KEEPER), shop.now, asked)
    with shop.database.reading() as session:
        assert all(standing_of(session, box, m, today).standing is Standing.PAST for box, m in _jars(shop))
    assert all(box.standing is Standing.PAST for box, _ in _jars(shop))
    holds(shop.database)


def test_a_new_name_changes_no_jar(shop: MixShop) -> None:
    before = [box.version for box, _ in _jars(shop)]
    with shop.database.writing() as session:
        material = session.get(Material, shop.ids["spirit"])
        assert material is not None
        asked = Revision(once(), material.version, facts=replace(facts_held(material), density_source="own"))
        revise_material(session, shop.actor(Role.KEEPER), shop.now, shop.ids["spirit"], asked)
    assert [box.version for box, _ in _jars(shop)] == before


def _policy(shop: MixShop, name: str, **months: int | None) -> list[str]:
    """A keeper sets how long a material keeps; the codes of what was said."""
    with shop.database.writing() as session:
        number = shop.ids[name]
        asked = PolicyAsked(
            once=once(), subject=Subject(material_id=number), end=PolicyEnd.EXPIRY, grade="memory",
            reason="Read the label again", sealed_months=months.get("sealed"),
            opened_months=months.get("opened"),
        )  # fmt: skip
        done = set_policy(session, shop.actor(Role.KEEPER), shop.now, asked)
    return [finding["code"] for finding in done.result["findings"]]


def _ends(shop: MixShop, name: str) -> date | None:
    """Until when the tin of an ingredient is in date."""
    with shop.database.reading() as session:
        box = session.exec(select(Container).where(Container.material_id == shop.ids[name])).one()
        return box.in_date_until


def test_a_policy_put_right_gives_every_jar_its_end_back(shop: MixShop) -> None:
    _policy(shop, "raw umber", sealed=24, opened=24)
    assert "jars-follow" in _policy(shop, "spirit", sealed=12)
    assert all(box.inherited_gap and box.standing is Standing.NOT_KNOWN for box, _ in _jars(shop))
    assert "jars-anew" in _policy(shop, "spirit", sealed=12, opened=12)
    end = _ends(shop, "spirit")
    assert end is not None
    for box, _ in _jars(shop):
        assert (box.inherited_gap, box.inherited_until, box.in_date_until) == (False, end, end)
        assert box.standing is Standing.IN_DATE
    holds(shop.database)


def test_a_life_typed_too_short_is_put_right_in_the_jars_as_well(shop: MixShop) -> None:
    _policy(shop, "raw umber", sealed=24, opened=24)
    _policy(shop, "spirit", sealed=1, opened=1)
    assert all(box.standing is Standing.PAST for box, _ in _jars(shop))
    _policy(shop, "spirit", sealed=36, opened=36)
    assert {box.in_date_until for box, _ in _jars(shop)} == {_ends(shop, "raw umber")}, "the earliest of all"
    holds(shop.database)


def test_what_is_not_known_of_another_part_stays_not_known(shop: MixShop) -> None:
    for name in ("spirit", "raw umber"):
        _policy(shop, name, sealed=24)
    assert "jars-anew" not in _policy(shop, "spirit", sealed=24, opened=24)
    assert all(box.inherited_gap and box.standing is Standing.NOT_KNOWN for box, _ in _jars(shop))
    _policy(shop, "raw umber", sealed=24, opened=24)
    assert not any(box.inherited_gap for box, _ in _jars(shop))


def test_a_jar_that_also_holds_what_came_from_outside_is_left_as_it_is(shop: MixShop) -> None:
    _policy(shop, "raw umber", sealed=24, opened=24)
    jar = next(box.code for box, m in _jars(shop) if m.name == "Wash")
    with shop.database.writing() as session:
        stuff = session.get(Material, shop.ids["Wash"])
        assert stuff is not None
        bought = received(session, shop.actor(), stuff)
        poured = DecantAsked(once=once(), code=jar, amount="5 ml", into=bought)
        decant(session, shop.actor(), shop.now, poured, chance)
    _policy(shop, "spirit", sealed=12)
    _policy(shop, "spirit", sealed=12, opened=12)
    with shop.database.reading() as session:
        assert container(session, jar).inherited_gap is False
        assert container(session, bought).inherited_gap is True


def test_a_check_made_since_on_a_tin_says_nothing_good_of_the_jar(shop: MixShop) -> None:
    _policy(shop, "raw umber", sealed=24, opened=24)
    _policy(shop, "spirit", sealed=12)
    with shop.database.writing() as session:
        tin = session.exec(select(Container).where(Container.material_id == shop.ids["spirit"])).one()
        asked = CheckAsked(once=once(), code=tin.code, outcome=CheckOutcome.FAILED)
        check_condition(session, shop.actor(), shop.now, asked)
    _policy(shop, "spirit", sealed=12, opened=12)
    assert all(box.standing is Standing.PAST for box, _ in _jars(shop)), "never milder than the tin now"
