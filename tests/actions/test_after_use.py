"""What a mix dries by and how it is stirred, from the materials of the book."""

from __future__ import annotations

import pytest

from service.actions.after_use import medium_of_lines, stir_words
from service.actions.mix_of_materials import material_of_published
from service.actions.read_recipe import LineRead
from service.core.after_use_words import NOT_KNOWN_STIR, NOTHING_SETTLES, Medium
from service.core.materials import Basis, SelfHeating
from service.records.engine import Database
from service.records.materials import Material
from service.records.stock import Container
from tests.builders import NOW


def grams(key: str, amount: int = 100) -> LineRead:
    return of(material_of_published(key), amount)


def of(material: Material, amount: int = 100) -> LineRead:
    return LineRead(material, f"{amount} g", low=amount * 1000, high=amount * 1000, basis=Basis.MASS)


@pytest.mark.parametrize(
    ("keys", "medium"),
    [
        (("linseed_boiled", "white_spirit_regular"), Medium.OIL),
        (("shellac_dry_dewaxed", "ethanol"), Medium.SPIRIT),
        (("shellac_cut", "raw_umber"), Medium.SPIRIT),
        (("water", "raw_umber"), Medium.WATER),
        (("water", "ethanol"), Medium.SPIRIT),
        (("stoddard_solvent", "raw_umber"), Medium.NOT_KNOWN),
        (("raw_umber",), Medium.NOT_KNOWN),
    ],
)
def test_the_medium_of_a_mix(database: Database, keys: tuple[str, ...], medium: Medium) -> None:
    with database.reading() as session:
        assert medium_of_lines(session, [grams(key) for key in keys]) is medium


def test_a_jar_that_inherited_the_mark_is_oil_whatever_its_lines_say(database: Database) -> None:
    jar = Container(code="x", material_id=1, created_at=NOW, inherited_self_heating=SelfHeating.NOT_KNOWN)
    water = material_of_published("water")
    with database.reading() as session:
        assert medium_of_lines(session, [of(water)], (water, jar)) is Medium.OIL


def test_a_mix_nobody_can_trace_gets_the_careful_words(database: Database) -> None:
    with database.reading() as session:
        assert medium_of_lines(session, []) is Medium.NOT_KNOWN
        assert stir_words(session, []) == NOT_KNOWN_STIR


def test_stirring_is_an_estimate_or_said_not_to_be_known(database: Database) -> None:
    with database.reading() as session:
        told = stir_words(session, [grams("raw_umber"), grams("stoddard_solvent", 500)])
        assert told.startswith("Estimate:") and told.endswith("Stir before each dip.")
        strange = material_of_published("raw_umber")
        strange.known_key = None
        assert stir_words(session, [of(strange), grams("stoddard_solvent")]) == NOT_KNOWN_STIR
        assert stir_words(session, [grams("shellac_cut"), grams("ethanol")]) == NOTHING_SETTLES
