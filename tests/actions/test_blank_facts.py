"""The blank test through the book: a fact taken out of a row is missed, and nothing gets milder."""

from __future__ import annotations

import itertools
from dataclasses import fields
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from service.actions.describe_material import MaterialAsked, describe_material, published_description
from service.core.access import Role
from service.core.material_entry import Description, KeeperFacts
from service.core.material_facts import keeper_only_by_default, review
from service.core.materials import Form, MaterialKind, SelfHeating
from service.records.engine import Database
from service.records.knowledge import KnownMaterial, load_known_materials
from service.records.material_queries import counts_self_heating, facts_of
from service.records.materials import Material
from tests.builders import NOW, Cast, cast

_keys = itertools.count(1)


def described(session: Session, people: Cast, said: Description, **more: Any) -> Material:
    asked = MaterialAsked(f"blank-{next(_keys):06d}", said, **more)
    settled = describe_material(session, people.actor(Role.KEEPER), NOW, asked)
    row = session.get(Material, settled.result["material"])
    assert row is not None
    return row


def picked(session: Session, people: Cast, row: KnownMaterial) -> Material:
    return described(session, people, published_description(row), known_key=row.key)


BLANK: dict[str, Any] = {f.name: getattr(KeeperFacts(), f.name) for f in fields(KeeperFacts)}
FACTS = {
    "density_g_ml": ("density_g_ml",),
    "bulk": ("bulk_low_g_ml", "bulk_high_g_ml"),
    "oil_share_percent": ("oil_share_percent",),
    "binder": ("binder",),
    "has_drier": ("has_drier",),
    "flash_point": ("flash_point_c",),
    "flash_method": ("flash_point_method",),
    "no_flash_reason": ("no_flash_reason",),
    "toxic_metals": ("toxic_metals",),
    "self_heating": ("self_heating",),
}
DESCRIBED = ("ci_name", "cas")


def weights(session: Session, material: Material) -> dict[str, int]:
    order = {"note": 0, "warn": 1, "unknown": 2, "stop": 3}
    found: dict[str, int] = {}
    for finding in review(facts_of(session, material), regime="eu-clp"):
        found[finding.code] = max(found.get(finding.code, 0), order[finding.severity.value])
    return found


def blank_each(session: Session, material: Material) -> int:
    """Blank every fact in the row in turn and compare; answers how many were blanked."""
    whole = weights(session, material)
    heats, kept = counts_self_heating(session, material), keeper_only_by_default(facts_of(session, material))
    done = 0
    for name, columns in [*FACTS.items(), *((name, (name,)) for name in DESCRIBED)]:
        before = {c: getattr(material, c) for c in columns}
        if all(before[c] == BLANK.get(c, "") for c in columns):
            continue
        for column in columns:
            setattr(material, column, BLANK.get(column, ""))
        session.flush()
        after, where = weights(session, material), f"{material.known_key} without {name}"
        assert after.keys() > whole.keys(), where
        assert all(after[code] >= weight for code, weight in whole.items()), where
        assert counts_self_heating(session, material) >= heats, where
        assert keeper_only_by_default(facts_of(session, material)) >= kept, where
        for column, value in before.items():
            setattr(material, column, value)
        done += 1
    session.flush()
    return done


def test_each_fact_of_each_published_material_blanked_in_the_book_is_missed(
    sqlite_database: Database,
) -> None:
    blanked = 0
    with sqlite_database.writing() as session:
        people = cast(session)
        for row in load_known_materials():
            blanked += blank_each(session, picked(session, people, row))
    assert blanked > 650


def test_the_same_on_both_databases_for_one_material_of_each_kind(database: Database) -> None:
    richest = sorted(load_known_materials(), key=lambda row: len(row.figures))
    kinds = {row.kind: row for row in richest}
    with database.writing() as session:
        people = cast(session)
        for row in kinds.values():
            assert blank_each(session, picked(session, people, row)) >= 2, row.key


def test_what_only_a_sheet_tells_is_missed_too(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        whole = KeeperFacts(
            hazards=("Flam. Liq. 3 H226",),
            ventilation_class=2,
            toxic_metals=(),
            flash_point_c=Decimal(38),
            flash_point_method="closed-cup",
            density_g_ml=Decimal("0.8"),
            self_heating=SelfHeating.NO,
            self_heating_reason="A mineral spirit without any oil in it",
        )
        material = described(
            session, people, Description("Spirit", MaterialKind.SOLVENT, Form.LIQUID), facts=whole
        )
        full = weights(session, material)
        for column in ("hazards", "ventilation_class"):
            kept = getattr(material, column)
            setattr(material, column, None)
            session.flush()
            assert weights(session, material).keys() > full.keys(), column
            setattr(material, column, kept)
