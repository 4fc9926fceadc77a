"""The shop's own composition, on both databases: it beats the published one, and its history stays."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, col, select

from service.actions.judge_hazards import Part, judge_material, judge_mix
from service.actions.write_components import ComponentsAsked, write_components
from service.core.access import Role
from service.core.component_lines import Component
from service.core.findings import Invalid, NotAllowed, Stale
from service.core.hazards.regimes import Regime
from service.core.materials import Form, MaterialKind
from service.records.components import components_of
from service.records.engine import Database
from service.records.materials import Material
from service.records.shop import Change
from tests.builders import NOW, TODAY, Cast, cast

D = Decimal
TOLUENE = Component("toluene", "108-88-3", D(5), D(10), None)
ACRYLIC = Component("acrylic resin", "", D(90), D(95), (), "as a solid")


def world(session: Session, **more: Any) -> tuple[Cast, Material]:
    said: dict[str, Any] = {"kind": MaterialKind.SOLVENT, "form": Form.LIQUID, "created_at": NOW}
    material = Material(name="Blend", **(said | more))
    people = cast(session)
    session.add(material)
    session.flush()
    return people, material


def asked(*lines: Component, version: int = 1, once: str = "c-1", **more: Any) -> ComponentsAsked:
    said: dict[str, Any] = {"source": "supplier's sheet of 3 March 2025"}
    return ComponentsAsked(once, version, lines, **(said | more))


def test_lines_are_kept_with_history_and_beat_what_is_published(database: Database) -> None:
    with database.writing() as session:
        people, material = world(session, known_key="acetone", flash_point_c=D(4))
        assert material.id is not None
        published = judge_material(session, material, Regime.EU_CLP, TODAY)
        keeper = people.actor(Role.KEEPER)
        done = write_components(session, keeper, NOW, material.id, asked(TOLUENE, ACRYLIC)).result
        own = judge_material(session, material, Regime.EU_CLP, TODAY)
        changes = {one.field: one.after for one in session.exec(select(Change)).all()}
    assert [line.substance for line in published.composition.lines] == ["acetone"]
    assert [line.substance for line in own.composition.lines] == ["toluene", "acrylic resin"]
    assert done["version"] == 2 and done["lines"] == 2
    assert changes["component toluene"] == "108-88-3; 5 to 10 %; classes not known"
    assert changes["components from"] == "supplier's sheet of 3 March 2025"
    # The lists know toluene although the sheet's line says nothing of it, and 10 % reach the limit.
    assert "Repr. 1A H360" in [hazard.text for hazard in own.hazards]
    assert "hazards-not-known" not in {one.code for one in own.ours.verdict}, "examined, none is an answer"


def test_the_sheet_makes_a_substance_worse_and_never_milder(database: Database) -> None:
    worse = Component("toluene", "108-88-3", D(5), D(10), ("Carc. 1B H350",))
    milder = Component("toluene", "108-88-3", D(5), D(10), ())
    with database.writing() as session:
        people, material = world(session)
        assert material.id is not None
        keeper = people.actor(Role.KEEPER)
        write_components(session, keeper, NOW, material.id, asked(worse, ACRYLIC))
        one = judge_material(session, material, Regime.EU_CLP, TODAY).hazards
        write_components(session, keeper, NOW, material.id, asked(milder, ACRYLIC, version=2, once="c-2"))
        other = judge_material(session, material, Regime.EU_CLP, TODAY).hazards
    texts = [hazard.text for hazard in one]
    assert "Carc. 1B H350" in texts and "Repr. 1A H360" in texts
    assert "Repr. 1A H360" in [hazard.text for hazard in other]


def test_what_the_lines_leave_open_is_not_known(database: Database) -> None:
    short = (TOLUENE, Component("filler", "", None, None, None))
    with database.writing() as session:
        people, material = world(session)
        assert material.id is not None
        write_components(session, people.actor(Role.KEEPER), NOW, material.id, asked(TOLUENE))
        gap = judge_material(session, material, Regime.EU_CLP, TODAY).verdict
        again = asked(*short, version=2, once="c-2")
        write_components(session, people.actor(Role.KEEPER), NOW, material.id, again)
        unknown = judge_material(session, material, Regime.EU_CLP, TODAY).verdict
    assert "remainder-not-told" in gap.codes and not gap.complete
    assert {"share-not-known", "hazards-not-known"} <= unknown.codes and not unknown.complete


def test_a_petroleum_cut_burns_by_its_own_flash_point_only(database: Database) -> None:
    cut = Component("petroleum distillate", "64742-47-8", D(100), D(100), ("Asp. Tox. 1 H304",))
    with database.writing() as session:
        people, material = world(session, flash_point_c=D(40), flash_point_method="closed-cup")
        assert material.id is not None
        write_components(session, people.actor(Role.KEEPER), NOW, material.id, asked(cut))
        judged = judge_material(session, material, Regime.US_HCS, TODAY)
    burning = [hazard.text for hazard in judged.hazards if hazard.text.startswith("Flam")]
    assert burning == ["Flam. Liq. 3 H226"]


def test_taking_every_line_out_brings_the_published_composition_back(database: Database) -> None:
    with database.writing() as session:
        people, material = world(session, known_key="acetone")
        assert material.id is not None
        keeper = people.actor(Role.KEEPER)
        write_components(session, keeper, NOW, material.id, asked(TOLUENE))
        write_components(session, keeper, NOW, material.id, asked(version=2, once="c-2", source=""))
        judged = judge_material(session, material, Regime.EU_CLP, TODAY)
        query = select(Change).where(Change.field == "component toluene").order_by(col(Change.id))
        kept = [(one.before is None, one.after is None) for one in session.exec(query).all()]
    assert [line.substance for line in judged.composition.lines] == ["acetone"]
    assert kept == [(True, False), (False, True)]


def test_a_mix_reads_the_shops_own_lines(database: Database) -> None:
    with database.writing() as session:
        people, material = world(session)
        assert material.id is not None
        write_components(session, people.actor(Role.KEEPER), NOW, material.id, asked(TOLUENE, ACRYLIC))
        judged = judge_mix(session, [Part(material, D(100), D(100))], Regime.EU_CLP, None, TODAY)
    assert {one.name for one in judged.composition.ingredients} == {"toluene", "acrylic resin"}


def test_only_a_keeper_writes_and_nobody_over_a_newer_version(database: Database) -> None:
    with database.writing() as session:
        people, material = world(session)
        assert material.id is not None
        for role in (Role.FINISHER, Role.STUDENT, Role.READER):
            with pytest.raises(NotAllowed):
                write_components(session, people.actor(role), NOW, material.id, asked(TOLUENE))
        keeper = people.actor(Role.KEEPER)
        write_components(session, keeper, NOW, material.id, asked(TOLUENE))
        again = write_components(session, keeper, NOW, material.id, asked(TOLUENE))
        assert again.result["version"] == 2, "the same press twice is one"
        with pytest.raises(Stale):
            write_components(session, keeper, NOW, material.id, asked(ACRYLIC, once="c-2"))
        assert [row.name for row in components_of(session, material.id)] == ["toluene"]


def test_lines_without_a_source_or_with_a_wrong_number_are_refused(database: Database) -> None:
    with database.writing() as session:
        people, material = world(session)
        assert material.id is not None
        keeper = people.actor(Role.KEEPER)
        with pytest.raises(Invalid) as wrong:
            write_components(session, keeper, NOW, material.id, asked(TOLUENE, source=" "))
        assert "source" in wrong.value.errors
        with pytest.raises(Invalid) as wrong:
            slip = asked(Component("toluene", "108-88-4", D(1), D(2)), once="c-2")
            write_components(session, keeper, NOW, material.id, slip)
        assert "cas_0" in wrong.value.errors
