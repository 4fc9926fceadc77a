"""The shop's own composition, on both databases: it beats the published one, and its history stays."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, col, select

from service.actions.judge_hazards import Part, judge_material, judge_mix
from service.actions.write_components import ComponentsAsked, write_components
from service.core.access import Role
from service.core.component_lines import Component
from service.core.findings import Invalid, NotAllowed, Severity, Stale
from service.core.hazards.classes import Route
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


_SAID = ("Skin Sens. 1A H317", "Aquatic Acute 1 H400")
MCI = Component("MCI/MI (3:1)", "55965-84-9", D("0.01"), D("0.05"), _SAID)
WATER = Component("water", "7732-18-5", D(50), D(100), ())


def judged_with(
    session: Session, *lines: Component, regime: Regime = Regime.EU_CLP,
    of: tuple[Cast, Material] | None = None,
) -> tuple[set[str], list[str]]:  # fmt: skip
    """Codes of what is not known, and the classes."""
    people, material = of or world(session)
    assert material.id is not None
    said = asked(*lines, version=material.version, once=f"judged-{material.version}")
    write_components(session, people.actor(Role.KEEPER), NOW, material.id, said)
    judged = judge_material(session, material, regime, TODAY)
    alike = judge_mix(session, [Part(material, D(100), D(100))], regime, None, TODAY)
    assert {h.kind for h in judged.hazards} == {h.kind for h in alike.hazards}
    unknown = {one.code for one in judged.verdict if one.severity is Severity.UNKNOWN}
    assert ("own-limits-not-known" in unknown) == ("own-limits-not-known" in alike.verdict.codes)
    return unknown, [hazard.text for hazard in judged.hazards]


@pytest.mark.parametrize("regime", list(Regime))
def test_a_limit_of_its_own_counts_and_until_told_it_is_not_known(
    database: Database, regime: Regime
) -> None:
    told = replace(MCI, limits=("Skin Sens. 1A H317: C ≥ 0.0015 %",))
    with database.writing() as session:
        of = world(session)
        unknown, classes = judged_with(session, MCI, WATER, regime=regime, of=of)
        assert "own-limits-not-known" in unknown and "Skin Sens. 1A H317" not in classes
        unknown, classes = judged_with(session, told, WATER, regime=regime, of=of)
    assert "own-limits-not-known" not in unknown and "Skin Sens. 1A H317" in classes


def test_none_given_is_an_answer_and_so_is_a_published_list(database: Database) -> None:
    none = replace(MCI, limits=())
    # Annex VI holds cobalt sulphate with its limits.
    listed_one = Component("cobalt sulfate", "10124-43-3", D("0.001"), D("0.002"), None)
    with database.writing() as session:
        of = world(session)
        assert "own-limits-not-known" not in judged_with(session, none, WATER, of=of)[0]
        assert "own-limits-not-known" not in judged_with(session, listed_one, WATER, of=of)[0]


@pytest.mark.parametrize(
    ("classes", "open_one"),
    [
        (("Skin Corr. 1B H314",), True),
        (("Eye Dam. 1 H318",), True),
        (("Resp. Sens. 1 H334",), True),
        (("Carc. 2 H351",), True),
        (("Repr. 1B H360",), True),
        (("Flam. Liq. 2 H225",), False),
        (("Skin Irrit. 2 H315",), False),
        ((), False),
    ],
)
def test_which_classes_may_act_in_traces(
    database: Database, classes: tuple[str, ...], open_one: bool
) -> None:
    line = Component("additive, not named", "", D("0.01"), D("0.05"), classes)
    with database.writing() as session:
        unknown, _ = judged_with(session, line, WATER)
    assert ("own-limits-not-known" in unknown) is open_one


def test_a_class_that_is_reached_anyway_asks_for_no_limit(database: Database) -> None:
    line = Component("acid, not named", "", D(10), D(10), ("Skin Corr. 1B H314", "Eye Dam. 1 H318"))
    with database.writing() as session:
        unknown, classes = judged_with(session, line, WATER)
    assert "own-limits-not-known" not in unknown and "Eye Dam. 1 H318" in classes


def test_a_factor_and_an_estimate_make_the_mix_worse(database: Database) -> None:
    plain = replace(MCI, limits=(), low=D(1), high=D(1))
    figures = replace(plain, m_acute=D(100), ate={Route.ORAL: D("0.6")})
    with database.writing() as session:
        of = world(session)
        before = judged_with(session, plain, WATER, of=of)
        after = judged_with(session, figures, WATER, of=of)
    assert "Aquatic Acute 1 H400" not in before[1] and "m-factor-not-known" in before[0]
    assert "Aquatic Acute 1 H400" in after[1] and "Acute Tox. 3 oral H301" in after[1]


def test_a_limit_milder_than_the_law_is_not_used_and_said(database: Database) -> None:
    mild = ("Carc. 1B: C ≥ 50 %",)
    line = Component("dust, not named", "", D(1), D(2), ("Carc. 1B H350",), limits=mild)
    with database.writing() as session:
        people, material = world(session)
        assert material.id is not None
        write_components(session, people.actor(Role.KEEPER), NOW, material.id, asked(line, WATER))
        judged = judge_material(session, material, Regime.EU_CLP, TODAY)
    assert "Carc. 1B H350" in [hazard.text for hazard in judged.hazards]
    assert "limit-milder-than-law" in judged.verdict.codes


def test_two_sheets_with_two_estimates_are_mixed_by_the_lower_one(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        parts = []
        for at, estimate in enumerate((D(60), D(200))):
            material = Material(
                name=f"Blend {at}", kind=MaterialKind.SOLVENT, form=Form.LIQUID, created_at=NOW
            )
            session.add(material)
            session.flush()
            assert material.id is not None
            line = Component("salt", "", D(50), D(50), ("Acute Tox. 3 oral",), ate={Route.ORAL: estimate})
            rest = Component("filler", "", D(50), D(50), ())
            said = asked(line, rest, once=f"two-{at}")
            write_components(session, people.actor(Role.KEEPER), NOW, material.id, said)
            parts.append(Part(material, D(50), D(50)))
        judged = judge_mix(session, parts, Regime.EU_CLP, None, TODAY)
    (oral,) = [one for one in judged.ours.acute.estimates if one.route is Route.ORAL]
    assert oral.value == 120


def test_a_statement_on_a_component_does_not_vanish(database: Database) -> None:
    line = Component("acid, not named", "", D(10), D(10), ("Skin Corr. 1B H314", "EUH071"))
    with database.writing() as session:
        people, material = world(session)
        assert material.id is not None
        write_components(session, people.actor(Role.KEEPER), NOW, material.id, asked(line, WATER))
        judged = judge_material(session, material, Regime.EU_CLP, TODAY)
    assert "EUH071" in [code for one in judged.composition.ingredients for code in one.supplements]
