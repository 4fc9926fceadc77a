"""A material's two views and a mix of materials, on both databases: what is not known is never none."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session

from service.actions.judge_hazards import (
    JudgedHazards,
    Part,
    judge_material,
    judge_mix,
    with_what_went_in,
)
from service.actions.label_judged import label_of_judged
from service.core.containers import ContainerState
from service.core.findings import Invalid, Severity
from service.core.hazards.label import LabelFor
from service.core.hazards.mix import Audience
from service.core.hazards.regimes import Regime
from service.core.materials import Form, MaterialKind
from service.records.engine import Database
from service.records.materials import Material, SafetySheet
from service.records.stock import Container
from tests.builders import NOW, TODAY, cast

US = Regime.US_HCS


def add(session: Session, name: str = "Thinner", **more: Any) -> Material:
    said: dict[str, Any] = {"kind": MaterialKind.SOLVENT, "form": Form.LIQUID, "created_at": NOW}
    row = Material(name=name, **(said | more))
    session.add(row)
    session.flush()
    return row


def add_sheet(session: Session, material: Material, **more: Any) -> None:
    said: dict[str, Any] = {"regime": "us-hcs", "sheet_date": date(2025, 6, 1), "copied_whole": True}
    keeper = cast(session).keeper.id
    row = SafetySheet(material_id=material.id, added_by=keeper, added_at=NOW, **(said | more))
    session.add(row)
    session.flush()


def severities(judged: JudgedHazards, code: str) -> set[Severity]:
    return {one.severity for one in judged.verdict if one.code == code}


def texts(judged: JudgedHazards) -> list[str]:
    return [hazard.text for hazard in judged.hazards]


def test_of_a_material_without_any_fact_nothing_is_known_and_that_is_said(database: Database) -> None:
    with database.reading() as session:
        judged = judge_material(session, add(session, "Grey powder"), US, TODAY)
    assert judged.supplier is None and not judged.classes and not judged.verdict.complete
    assert {"supplier-classes-not-known", "composition-not-known", "sheet-not-known"} <= judged.verdict.codes
    mends = [one.sentence for one in judged.verdict if one.severity is Severity.UNKNOWN]
    assert mends and all(re.search("copy|copied|ask|tested", words, re.IGNORECASE) for words in mends)


def test_a_whole_sheet_of_this_law_answers_for_parts_no_list_knows(database: Database) -> None:
    with database.reading() as session:
        material = add(session, hazards=["Flam. Liq. 3 H226"], flash_point_c=Decimal(40))
        add_sheet(session, material)
        judged = judge_material(session, material, US, TODAY)
    assert judged.verdict.complete and texts(judged) == ["Flam. Liq. 3 H226"]
    assert severities(judged, "composition-not-known") == {Severity.NOTE}
    assert judged.unknown_acute_percent == {}


@pytest.mark.parametrize(
    "sheet",
    [
        {"copied_whole": False},
        {"regime": "eu-clp"},
        {"sheet_date": date(2019, 1, 1)},
        {"sheet_date": None},
    ],
)
def test_a_partial_old_or_foreign_sheet_covers_nothing(database: Database, sheet: dict[str, Any]) -> None:
    with database.reading() as session:
        material = add(session, hazards=[], flash_point_c=Decimal(70))
        add_sheet(session, material, **sheet)
        judged = judge_material(session, material, US, TODAY)
    assert not judged.verdict.complete
    assert severities(judged, "composition-not-known") == {Severity.UNKNOWN}
    assert severities(judged, "hazards-not-known") == {Severity.UNKNOWN}


def test_a_supplier_who_says_none_does_not_silence_what_the_lists_say(database: Database) -> None:
    with database.reading() as session:
        material = add(session, known_key="toluene", hazards=[], flash_point_c=Decimal(4))
        add_sheet(session, material)
        judged = judge_material(session, material, US, TODAY)
    assert any(words.startswith("Flam. Liq. 2") for words in texts(judged))
    assert judged.differences and all(one.supplier is None for one in judged.differences)


def test_organs_of_both_views_stay_when_they_are_as_severe(database: Database) -> None:
    with database.reading() as session:
        material = add(session, known_key="toluene", hazards=["STOT RE 1 H372 (hearing organs)"])
        judged = judge_material(session, material, US, TODAY)
    told = next(one for one in judged.hazards if one.code == "H372")
    ours = next(one for one in judged.ours.hazards if one.kind == told.kind)
    assert set(ours.organs) | {"hearing organs"} == set(told.organs)
    assert any(one.ours == ours for one in judged.differences)


def test_a_line_that_cannot_be_read_is_missing_and_covers_nothing(database: Database) -> None:
    with database.reading() as session:
        material = add(session, hazards=["Burns rather well", "Flam. Liq. 3 H226"], flash_point_c=Decimal(40))
        add_sheet(session, material)
        judged = judge_material(session, material, US, TODAY)
    assert "class-not-read" in judged.verdict.codes and not judged.verdict.complete
    assert "Flam. Liq. 3 H226" in texts(judged)
    assert severities(judged, "composition-not-known") == {Severity.UNKNOWN}


def test_tap_water_lacks_no_sheet(database: Database) -> None:
    with database.reading() as session:
        water = add(session, "Tap water", known_key="water", no_flash_reason="water does not burn")
        judged = judge_material(session, water, US, TODAY)
    assert judged.verdict.complete and not judged.classes


def test_a_mix_counts_the_suppliers_classes_and_what_is_not_told(database: Database) -> None:
    with database.reading() as session:
        water = add(session, "Tap water", known_key="water", no_flash_reason="water does not burn")
        biting = add(session, "Brush cleaner", hazards=["Skin Corr. 1B H314"], no_flash_reason="in water")
        parts = [Part(water, Decimal(90), Decimal(90)), Part(biting, Decimal(10), Decimal(10))]
        judged = judge_mix(session, parts, US, None, TODAY)
        short = judge_mix(session, parts[:1], US, None, TODAY)
    assert "Skin Corr. 1B H314" in texts(judged)
    assert not judged.verdict.complete, "the cleaner has no sheet"
    assert "remainder-not-told" in short.verdict.codes and not short.verdict.complete


def test_a_mix_of_nothing_or_of_more_than_all_is_refused(database: Database) -> None:
    with database.reading() as session:
        one = Part(add(session, "A", known_key="toluene"), Decimal(80), Decimal(80))
        with pytest.raises(Invalid, match="at least one material"):
            judge_mix(session, [], US, None, TODAY)
        with pytest.raises(Invalid, match="more than 100"):
            judge_mix(session, [one, one], US, None, TODAY)


def test_the_label_says_the_unknown_share_only_where_nobody_answers_for_it(database: Database) -> None:
    with database.reading() as session:
        material = add(session, "Grey powder", hazards=["Skin Irrit. 2 H315"], form=Form.POWDER)
        bare = judge_material(session, material, US, TODAY)
        add_sheet(session, material)
        told = judge_material(session, material, US, TODAY)
    said = [
        label_of_judged(one, volume_ml=None, audience=Audience.PUBLIC, label_for=LabelFor.SUPPLY).supplemental
        for one in (bare, told)
    ]
    assert any("unknown acute" in one.text for one in said[0]) and not said[1]


def test_what_was_poured_in_counts_and_what_of_it_cannot_be_read_is_missing(database: Database) -> None:
    poured = ["Flam. Liq. 2 H225", "Skin Sens. 1 H317", "smells odd"]
    jar = Container(
        code="K7QF2M", material_id=1, state=ContainerState.OPEN, created_at=NOW, inherited_hazards=poured
    )
    with database.reading() as session:
        material = add(session, hazards=["Flam. Liq. 3 H226"], flash_point_c=Decimal(40))
        add_sheet(session, material)
        judged = with_what_went_in(judge_material(session, material, US, TODAY), jar)
    assert texts(judged) == ["Flam. Liq. 2 H225", "Skin Sens. 1 H317"]
    assert "class-not-read" in judged.verdict.codes and not judged.verdict.complete
