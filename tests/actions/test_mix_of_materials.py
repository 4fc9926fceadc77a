"""Shares by mass from what the bench writes: worked by hand, and never milder for what is not known."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from service.actions.mix_of_materials import judge_lines, material_of_published, shares_by_mass
from service.actions.read_recipe import LineRead
from service.core.findings import Invalid, Severity
from service.core.hazards.classes import Family
from service.core.hazards.mix import HUNDRED, Ingredient, Mix
from service.core.hazards.regimes import Regime
from service.core.materials import Basis, Form, MaterialKind
from service.records.engine import Database
from service.records.materials import Material
from tests.builders import NOW, TODAY

D = Decimal


def material(name: str, density: str | None = "0.8", form: Form = Form.LIQUID, **more: Any) -> Material:
    return Material(
        name=name, form=form, created_at=NOW, density_g_ml=None if density is None else D(density),
        **({"kind": MaterialKind.SOLVENT} | more),
    )  # fmt: skip


def grams(name: str, low: int, high: int | None = None, **more: Any) -> LineRead:
    top = (high if high is not None else low) * 1000
    return LineRead(material(name), f"{low} g", low=low * 1000, high=top, basis=Basis.MASS, **more)


def millilitres(one: Material, amount: int) -> LineRead:
    return LineRead(one, f"{amount} ml", low=amount * 1000, high=amount * 1000, basis=Basis.VOLUME)


def spans(*lines: LineRead, by: Basis | None = None) -> list[tuple[Decimal, Decimal]]:
    return [(part.low, part.high) for part in shares_by_mass(lines, by).parts]


def test_masses_make_shares() -> None:
    assert spans(grams("a", 75), grams("b", 25)) == [(D(75), D(75)), (D(25), D(25))]


def test_of_a_range_a_line_is_largest_when_the_others_are_smallest() -> None:
    # a: 10 to 20 beside 80: 10/90 = 11.1111 (down), 20/100; b: 80/100 to 80/90 = 88.8889 (up)
    assert spans(grams("a", 10, 20), grams("b", 80)) == [(D("11.1111"), D(20)), (D(80), D("88.8889"))]


def test_volumes_meet_by_density() -> None:
    # 100 ml at 0.8 weigh 80 g, beside 20 g
    assert spans(millilitres(material("thin"), 100), grams("b", 20)) == [(D(80), D(80)), (D(20), D(20))]


def test_a_powder_by_the_spoon_takes_its_loose_density_from_end_to_end() -> None:
    powder = material("umber", None, Form.POWDER, bulk_low_g_ml=D("0.5"), bulk_high_g_ml=D(1))
    low, high = spans(millilitres(powder, 100), grams("b", 50))[0]
    assert (low, high) == (D(50), D("66.6667"))


def test_without_a_density_the_missing_fact_is_named_and_the_worst_counts() -> None:
    made = shares_by_mass([millilitres(material("Tar oil", None), 10), grams("b", 90)])
    assert [(part.low, part.high) for part in made.parts] == [(0, 100), (0, 100)]
    (lack,) = made.findings
    assert lack.code == "density-not-known" and lack.severity is Severity.UNKNOWN
    assert "Tar oil" in lack.sentence and "weigh" in lack.sentence.lower()


def test_to_suit_is_a_finding_and_with_a_most_counts_from_nothing_up() -> None:
    open_end = LineRead(material("Drier"), "to suit", to_suit=True)
    made = shares_by_mass([grams("a", 50), open_end])
    assert [part.high for part in made.parts] == [HUNDRED, HUNDRED]
    assert [one.code for one in made.findings] == ["no-upper-amount"]
    bounded = LineRead(material("Drier"), "", high=50_000, basis=Basis.MASS, to_suit=True)
    assert spans(grams("a", 50), bounded) == [(D(50), HUNDRED), (D(0), D(50))]


def share(name: str, figure: str, *, percent: bool, density: str | None = "0.8", **more: Any) -> LineRead:
    return LineRead(material(name, density), figure, share=(D(figure), D(figure)), percent=percent, **more)


def test_parts_and_per_cent_by_mass() -> None:
    assert spans(share("a", "3", percent=False), share("b", "1", percent=False))[0] == (D(75), D(75))
    told = [share("a", "12.5", percent=True), share("b", "80", percent=True)]
    assert spans(*told) == [(D("12.5"), D("12.5")), (D(80), D(80))], "what is left is not made up"


def test_per_cent_by_volume_become_masses() -> None:
    heavy, light = share("a", "50", percent=True, density="1.6"), share("b", "50", percent=True)
    two_thirds, a_third = D("66.6667"), D("33.3334")
    assert spans(heavy, light, by=Basis.VOLUME) == [(two_thirds, two_thirds), (a_third, a_third)]


def test_shares_and_amounts_together_leave_the_amounts_open() -> None:
    made = shares_by_mass([share("a", "30", percent=True), grams("b", 5)])
    assert [(part.low, part.high) for part in made.parts] == [(D(30), D(30)), (D(0), D(70))]
    assert [one.code for one in made.findings] == ["shares-and-amounts"]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([], "at least one material"),
        ([share("a", "80", percent=True), share("b", "40", percent=True)], "more than 100"),
        ([grams("a", 0), grams("b", 0)], "add up to nothing"),
    ],
)
def test_what_makes_no_mix_is_refused(lines: list[LineRead], words: str) -> None:
    with pytest.raises(Invalid, match=words):
        shares_by_mass(lines)


def test_a_published_material_needs_no_book_and_stays_incomplete_without_a_sheet(database: Database) -> None:
    toluene, water = material_of_published("toluene"), material_of_published("water")
    lines = [
        LineRead(toluene, "4 %", share=(D(4), D(4)), percent=True),
        LineRead(water, "96 %", share=(D(96), D(96)), percent=True),
    ]
    with database.reading() as session:
        judged, _ = judge_lines(session, lines, Regime.EU_CLP, TODAY)
    texts = [hazard.text for hazard in judged.hazards]
    assert any(text.startswith("Flam. Liq. 2") for text in texts), "nobody has measured a flash point"
    assert {"sheet-not-known", "flash-calculated"} <= judged.verdict.codes
    below = [one for one in judged.ours.below if "toluene" in one.ingredients]
    assert below and all((one.sum or D(0)) < (one.limit or D(0)) for one in below)


def test_what_is_said_not_to_flash_is_doubted_where_something_in_it_burns(database: Database) -> None:
    toluene, nothing = material_of_published("toluene"), Ingredient("the mix", HUNDRED, HUNDRED, None)
    said = Mix((nothing,), does_not_flash=True)
    with database.reading() as session:
        line = LineRead(toluene, "1 part", share=(D(1), D(1)))
        judged, _ = judge_lines(session, [line], Regime.US_HCS, TODAY, measured=said)
    assert "said-not-to-flash" in judged.verdict.codes


def test_a_liquid_in_it_makes_it_a_liquid(database: Database) -> None:
    """Else a can of thinner with a spoon of powder would have no flash point to ask for."""
    powder = material("umber", None, Form.POWDER, kind=MaterialKind.DRY_PIGMENT)
    toluene = material_of_published("toluene")
    lines = [
        LineRead(powder, "99 g", low=99_000, high=99_000, basis=Basis.MASS),
        LineRead(toluene, "1 g", low=1000, high=1000, basis=Basis.MASS),
    ]
    with database.reading() as session:
        judged, _ = judge_lines(session, lines, Regime.US_HCS, TODAY)
        dry, _ = judge_lines(session, lines[:1], Regime.US_HCS, TODAY)
    assert "flash-calculated" in judged.verdict.codes
    assert not {"flash-point-not-known", "flash-calculated"} & dry.verdict.codes


@pytest.mark.parametrize("kind", [MaterialKind.OTHER_CHEMICAL, MaterialKind.DRIER, MaterialKind.SOLVENT])
def test_a_powder_nobody_knows_leaves_the_flash_point_not_known(
    database: Database, kind: MaterialKind
) -> None:
    """It could be camphor or naphthalene (both burn as vapour), or a carbide."""
    powder = material("grey powder", None, Form.POWDER, kind=kind)
    toluene = material_of_published("toluene")
    lines = [
        LineRead(powder, "80 g", low=80_000, high=80_000, basis=Basis.MASS),
        LineRead(toluene, "20 g", low=20_000, high=20_000, basis=Basis.MASS),
    ]
    with database.reading() as session:
        judged, shares = judge_lines(session, lines, Regime.US_HCS, TODAY)
        alone, _ = judge_lines(session, lines[1:], Regime.US_HCS, TODAY)
    assert "flash-calculated" in alone.verdict.codes
    assert "flash-calculated" not in judged.verdict.codes
    assert shares.whole is not None and shares.whole.flash_point_c is None
    assert any(one.family is Family.FLAMMABLE_LIQUID for one in judged.hazards), "toluene is still in it"


def test_a_calculated_flash_point_makes_a_mix_more_severe_than_its_parts(database: Database) -> None:
    """Nonane (30 °C) and butanol (28.9 °C) are category 3 each; together they flash below 23 °C."""
    lines = [
        LineRead(material_of_published("nonane_n"), "1 part", share=(D(1), D(1))),
        LineRead(material_of_published("butanol_n"), "1 part", share=(D(1), D(1))),
    ]
    with database.reading() as session:
        judged, _ = judge_lines(session, lines, Regime.UN_GHS, TODAY)
        alone = [judge_lines(session, [line], Regime.UN_GHS, TODAY)[0] for line in lines]
    flammable = [h.category for h in judged.hazards if h.family is Family.FLAMMABLE_LIQUID]
    apart = [h.category for one in alone for h in one.hazards if h.family is Family.FLAMMABLE_LIQUID]
    assert apart == ["3", "3"] and flammable == ["2"]


def test_a_calculated_flash_point_never_makes_it_milder_where_nobody_tested_such_a_mix(
    database: Database,
) -> None:
    """A drop of acetone in thinner: by the figure category 3, and still category 2 until a test."""
    lines = [
        LineRead(material_of_published("white_spirit_high_flash"), "", share=(D("99.99"), D("99.99"))),
        LineRead(material_of_published("acetone"), "", share=(D("0.01"), D("0.01"))),
    ]
    with database.reading() as session:
        judged, _ = judge_lines(session, lines, Regime.EU_CLP, TODAY)
    flammable = [h.category for h in judged.hazards if h.family is Family.FLAMMABLE_LIQUID]
    assert flammable == ["2"] and not judged.verdict.complete


def test_nobody_publishes_what_is_not_in_the_tables() -> None:
    with pytest.raises(Invalid):
        material_of_published("snake_oil")
