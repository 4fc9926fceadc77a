"""Writing materials down and changing them: who may say what, what is kept, and what never gets milder."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, col, select

from service.actions.arrivals import ReceiveAsked
from service.actions.describe_material import (
    MaterialAsked,
    describe_material,
    published_description,
    published_entry,
)
from service.actions.receive_stock import receive
from service.actions.revise_material import (
    Revision,
    adopt_published,
    description_held,
    facts_held,
    revise_material,
)
from service.actions.settle import Settled
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale, StaleKind
from service.core.material_entry import Description, KeeperFacts
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.records.engine import Database
from service.records.knowledge import find_known, known, load_known_materials
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.materials import Material
from service.records.shop import Change
from tests.builders import NOW, Cast, cast

_keys = itertools.count(1)
K, F, NO = MaterialKind, Form, SelfHeating.NO


def once() -> str:
    return f"describe-{next(_keys):06d}"


def describe(
    session: Session, people: Cast, said: Description, role: Role = Role.KEEPER, **more: Any
) -> Settled:
    return describe_material(session, people.actor(role), NOW, MaterialAsked(once(), said, **more))


def one(session: Session, settled: Settled) -> Material:
    row = session.get(Material, settled.result["material"])
    assert row is not None
    return row


def changes(session: Session, material: Material) -> dict[str, tuple[str | None, str | None]]:
    rows = session.exec(
        select(Change).where(col(Change.about_kind) == "material", col(Change.about_id) == material.id)
    ).all()
    return {row.field: (row.before, row.after) for row in rows}


VARNISH = Description("Spar varnish", K.READY_MADE_FINISH, F.LIQUID, maker="A works")


def test_a_finisher_writes_down_a_material_and_every_fact_is_not_known(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        material = one(session, describe(session, people, VARNISH, Role.FINISHER))
        assert material.hazards is None and material.self_heating is SelfHeating.NOT_KNOWN
        assert counts_self_heating(session, material) and counts_keeper_only(session, material)
        assert material.basis is None


@pytest.mark.parametrize("role", [Role.STUDENT, Role.READER])
def test_others_do_not_write_materials_down(database: Database, role: Role) -> None:
    with database.writing() as session:
        people = cast(session)
        with pytest.raises(NotAllowed):
            describe(session, people, VARNISH, role)


def test_facts_are_the_keepers(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        with pytest.raises(NotAllowed):
            describe(session, people, VARNISH, Role.FINISHER, facts=KeeperFacts(hazards=()))


def test_a_finisher_who_picks_a_published_row_gets_no_milder_facts_until_a_keeper_takes_them_over(
    database: Database,
) -> None:
    row = known("ethanol") or next(m for m in load_known_materials() if m.kind is K.SOLVENT)
    with database.writing() as session:
        people = cast(session)
        settled = describe(session, people, published_description(row), Role.FINISHER, known_key=row.key)
        material = one(session, settled)
        assert material.known_key == row.key
        assert counts_self_heating(session, material), "not known counts as yes"
        assert "published-facts-wait" in {f["code"] for f in settled.result["findings"]}
        with pytest.raises(NotAllowed):
            adopt_published(session, people.actor(Role.FINISHER), NOW, material.id or 0, once(), 1)
        adopt_published(session, people.actor(Role.KEEPER), NOW, material.id or 0, once(), 1)
        assert facts_held(material) == published_entry(row)
        assert not counts_self_heating(session, material)
        assert material.version == 2


def test_taking_published_facts_over_never_overwrites_what_the_shop_has(database: Database) -> None:
    row = known("turpentine") or next(m for m in load_known_materials() if m.kind is K.SOLVENT)
    with database.writing() as session:
        people = cast(session)
        own = KeeperFacts(density_g_ml=Decimal("0.5"), density_source="own", hazards=("Flam. Liq. 3 H226",))
        material = one(
            session, describe(session, people, published_description(row), facts=own, known_key=row.key)
        )
        adopt_published(session, people.actor(Role.KEEPER), NOW, material.id or 0, once(), 1)
        assert material.density_g_ml == Decimal("0.5") and material.hazards == ["Flam. Liq. 3 H226"]


def test_an_ambiguous_trade_name_finds_every_reading_and_none_is_taken_by_itself(database: Database) -> None:
    readings = find_known("chrome green")
    assert len(readings) > 1
    with database.writing() as session:
        people = cast(session)
        green = Description("Chrome green", K.DRY_PIGMENT, F.POWDER)
        material = one(session, describe(session, people, green))
        assert material.ci_name == "" and material.known_key is None
        with pytest.raises(NotFound):
            describe(session, people, green, known_key="no such row")


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (KeeperFacts(self_heating=NO), "self_heating_reason"),
        (KeeperFacts(self_heating=NO, self_heating_reason="…......"), "self_heating_reason"),
        (KeeperFacts(hazards=("very nasty stuff",)), "hazards"),
        (KeeperFacts(hazards=("none",)), "hazards"),
        (KeeperFacts(toxic_metals=("P8",)), "toxic_metals"),
        (KeeperFacts(ventilation_class=5), "ventilation_class"),
        (KeeperFacts(density_g_ml=Decimal(0)), "density_g_ml"),
        (KeeperFacts(density_g_ml=Decimal("NaN")), "density_g_ml"),
        (KeeperFacts(bulk_low_g_ml=Decimal("0.5")), "bulk_high_g_ml"),
        (KeeperFacts(bulk_low_g_ml=Decimal("0.5"), bulk_high_g_ml=Decimal("0.4")), "bulk_high_g_ml"),
        (KeeperFacts(oil_share_percent=Decimal(101)), "oil_share_percent"),
        (KeeperFacts(flash_point_c=Decimal(20), no_flash_reason="water only"), "no_flash_reason"),
        (KeeperFacts(flash_point_c=Decimal(20), flash_point_method="guess"), "flash_point_method"),
        (KeeperFacts(flash_point_method="closed-cup"), "flash_point_c"),
        (KeeperFacts(keeper_only=False), "keeper_only_reason"),
        (KeeperFacts(binder="x" * 121), "binder"),
    ],
)
def test_facts_that_cannot_be_are_refused_beside_their_field(
    sqlite_database: Database, facts: KeeperFacts, field: str
) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        with pytest.raises(Invalid) as caught:
            describe(session, people, VARNISH, facts=facts)
        assert field in caught.value.errors


def test_oil_in_a_kind_that_holds_none_is_refused(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        with pytest.raises(Invalid) as caught:
            describe(
                session,
                people,
                Description("Thinner", K.SOLVENT, F.LIQUID),
                facts=KeeperFacts(binder="linseed oil"),
            )
        assert caught.value.errors


def test_a_second_material_of_the_same_maker_and_name_warns(
    database: Database,
) -> None:
    with database.writing() as session:
        people = cast(session)
        describe(session, people, VARNISH)
        twin = Description("spar  VARNISH", K.READY_MADE_FINISH, F.LIQUID, maker="a Works")
        first = describe(session, people, twin)
        assert {f["code"] for f in first.result["findings"]} >= {"twin-material"}
        lifted = KeeperFacts(self_heating=NO, self_heating_reason="Says the maker in a letter of 3 March")
        second = describe(session, people, twin, facts=lifted)
        assert "twin-without-flag" in {f["code"] for f in second.result["findings"]}
        other = describe(session, people, replace(VARNISH, maker="Another works"))
        assert "twin-material" not in {f["code"] for f in other.result["findings"]}


def test_the_same_key_makes_one_material_and_another_body_is_stale(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        asked = MaterialAsked(once(), VARNISH)
        first = describe_material(session, people.actor(Role.KEEPER), NOW, asked)
        again = describe_material(session, people.actor(Role.KEEPER), NOW, asked)
        assert again.repeated and again.result == first.result
        with pytest.raises(Stale) as caught:
            describe_material(
                session, people.actor(Role.KEEPER), NOW, replace(asked, said=replace(VARNISH, name="Other"))
            )
        assert caught.value.kind is StaleKind.ONCE_REUSED
        assert len(session.exec(select(Material)).all()) == 1


def revise(
    session: Session, people: Cast, material: Material, role: Role = Role.KEEPER, **what: Any
) -> Settled:
    asked = Revision(once(), what.pop("version", material.version), **what)
    return revise_material(session, people.actor(role), NOW, material.id or 0, asked)


def test_every_change_is_kept_with_before_and_after(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        material = one(session, describe(session, people, VARNISH))
        facts = replace(facts_held(material), hazards=("Flam. Liq. 3 H226",), density_g_ml=Decimal("0.91"))
        revise(session, people, material, facts=facts, reason="sheet of 2025")
        revise(session, people, material, facts=replace(facts, hazards=(), density_g_ml=Decimal("0.92")))
        kept = changes(session, material)
        assert kept["density, g/ml"] == ("0.91", "0.92")
        assert kept["hazards"] == ("Flam. Liq. 3 H226", "examined, none")
        assert material.version == 3


def test_a_form_opened_before_somebody_elses_change_is_stale(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        material = one(session, describe(session, people, VARNISH))
        revise(session, people, material, said=replace(description_held(material), note="north shelf"))
        with pytest.raises(Stale):
            revise(session, people, material, version=1, facts=KeeperFacts())


def test_a_finisher_may_mend_a_name_but_not_what_decides_hazards(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        material = one(session, describe(session, people, VARNISH))
        said = replace(description_held(material), name="Spar varnish, clear")
        revise(session, people, material, Role.FINISHER, said=said)
        assert material.name == "Spar varnish, clear"
        for change in ({"kind": K.SOLVENT}, {"form": F.PASTE}, {"cas": "64-17-5"}, {"ci_name": "PBr7"}):
            with pytest.raises(NotAllowed):
                revise(session, people, material, Role.FINISHER, said=replace(said, **change))
        with pytest.raises(NotAllowed):
            revise(session, people, material, Role.FINISHER, facts=facts_held(material))
        with pytest.raises(NotAllowed):
            revise(session, people, material, Role.FINISHER, active=False)


def test_a_no_falls_when_what_it_rested_on_changes(database: Database) -> None:
    """Switching the binder under a standing "no" would take the material out of the oily-rag rules."""
    with database.writing() as session:
        people = cast(session)
        why = "Water-borne acrylic, says the maker's letter"
        facts = KeeperFacts(binder="acrylic", self_heating=NO, self_heating_reason=why)
        material = one(session, describe(session, people, VARNISH, facts=facts))
        assert not counts_self_heating(session, material)
        for change in (
            {"binder": "linseed oil"},
            {"oil_share_percent": Decimal(40)},
            {"has_drier": Unknown.YES},
        ):
            with pytest.raises(Invalid) as caught:
                revise(session, people, material, facts=replace(facts, **change))
            assert "self_heating_reason" in caught.value.errors
            session.rollback()
            people = cast(session)
            material = one(session, describe(session, people, VARNISH, facts=facts))


def test_a_change_of_kind_under_a_published_no_asks_for_a_reason(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        row = next(m for m in load_known_materials() if m.self_heating is NO and m.kind is K.RESIN)
        material = one(session, describe(session, people, published_description(row), known_key=row.key))
        with pytest.raises(Invalid) as caught:
            revise(session, people, material, said=replace(description_held(material), kind=K.GLUE_OR_SIZE))
        assert "self_heating_reason" in caught.value.errors


def test_a_material_that_stops_counting_as_self_heating_is_said(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        material = one(session, describe(session, people, VARNISH))
        facts = KeeperFacts(self_heating=NO, self_heating_reason="Two-part epoxy without any oil in it")
        settled = revise(session, people, material, facts=facts)
        assert "no-longer-self-heating" in {f["code"] for f in settled.result["findings"]}


def test_what_lies_in_pieces_is_counted_in_pieces(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        with pytest.raises(Invalid) as caught:
            describe(session, people, Description("Rollers", K.CONSUMABLE, F.PIECES, basis=Basis.MASS))
        assert "basis" in caught.value.errors


def test_retiring_waits_for_the_last_container(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        material = one(session, describe(session, people, VARNISH))
        revise(session, people, material, active=False)
        assert not material.active
        revise(session, people, material, active=True)
        asked = ReceiveAsked(once(), material.id or 0, amount="1 l")
        receive(session, people.actor(Role.KEEPER), NOW, asked, lambda: "a code by chance")
        with pytest.raises(Refused):
            revise(session, people, material, active=False)
        with pytest.raises(Refused) as caught:
            revise(session, people, material, said=replace(description_held(material), basis=Basis.MASS))
        assert "basis-fixed" in caught.value.verdict.codes
