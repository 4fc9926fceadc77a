"""The fields of a material tell what it is only where they can be read and some table has it."""

from __future__ import annotations

from typing import Any

import pytest

from service.actions.judge_never_with import judge_never_with
from service.core.findings import Severity
from service.core.materials import Form, MaterialKind, SelfHeating
from service.records.engine import Database
from service.records.materials import Material
from tests.actions.test_judge_never_with import LIQUID
from tests.core.test_written_numbers import WRITTEN
from tests.store_builders import material

BLUE_NUMBERS = ["77510", "C.I. 77510", "CI 77510", "77510:1", "Prussian blue"]
NOTHING = [("ci_name", "PB999"), ("ci_name", "blue"), ("ci_name", "99999"), ("cas", "14038-43-7"),
           ("cas", "99999-99-4"), ("cas", "not on the label")]  # fmt: skip


def stops(database: Database, partner: str, **facts: Any) -> set[str]:
    """The stops of a dry colour with these fields beside boiled oil or vinegar."""
    with database.writing() as session:
        facts = {"name": "blue powder", "kind": MaterialKind.DRY_PIGMENT, "form": Form.POWDER} | facts
        other = material(session, partner, **LIQUID)
        other.kind = MaterialKind.BINDER if partner == "boiled oil" else MaterialKind.OTHER_CHEMICAL
        other.self_heating = SelfHeating.YES if partner == "boiled oil" else SelfHeating.NO
        session.flush()
        verdict = judge_never_with(session, [Material(**facts), other])
        return {f.code for f in verdict if f.severity is Severity.STOP}


@pytest.mark.parametrize("ci", [*WRITTEN, *BLUE_NUMBERS])
def test_iron_blue_is_known_by_its_colour_index_name_or_number(sqlite_database: Database, ci: str) -> None:
    assert stops(sqlite_database, "boiled oil", ci_name=ci) == {"never-iron-blue-oil"}


@pytest.mark.parametrize("cas", ["14038-43-8", "14038 43 8", "25869\u201300\u20135"])
def test_iron_blue_is_known_by_its_cas_number(sqlite_database: Database, cas: str) -> None:
    assert stops(sqlite_database, "boiled oil", cas=cas) == {"never-iron-blue-oil"}


@pytest.mark.parametrize(("field", "value"), NOTHING)
def test_what_no_table_has_is_no_identity(sqlite_database: Database, field: str, value: str) -> None:
    assert stops(sqlite_database, "boiled oil", **{field: value}) == {"never-unidentified"}


@pytest.mark.parametrize(
    "name", ["PB27", "PB 27 dry", "Pigment PB27", "pb-27", "C.I. Pigment Blue 27", "Blue (CI 77510)",
     "PB27:1"],
)  # fmt: skip
def test_a_colour_index_name_as_the_name_is_read_as_one(sqlite_database: Database, name: str) -> None:
    assert stops(sqlite_database, "boiled oil", name=name) == {"never-iron-blue-oil"}


@pytest.mark.parametrize(
    ("name", "code"),
    [("PW1", "never-acid-lead"), ("PY34", "never-acid-lead"), ("PB29", "never-acid-sulphide"),
     ("PB 29 dry", "never-acid-sulphide"), ("PW 1", "never-acid-lead"),
     ("Pigment PR108", "never-acid-cadmium")],
)  # fmt: skip
def test_other_colours_by_name_beside_an_acid(sqlite_database: Database, name: str, code: str) -> None:
    assert stops(sqlite_database, "vinegar", name=name) == {code}


@pytest.mark.parametrize("name", ["PB28", "PW6 dry", "Pigment PR101", "PBr7", "PY 42"])
def test_a_harmless_colour_by_its_name_is_not_asked_about(sqlite_database: Database, name: str) -> None:
    assert stops(sqlite_database, "boiled oil", name=name) == set()
    assert stops(sqlite_database, "boiled oil", ci_name=name) == set()
