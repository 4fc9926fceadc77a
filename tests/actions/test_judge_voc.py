"""The VOC of what is in the books: worked by hand, and never less for what is not known."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from service.actions.judge_hazards import Part
from service.actions.judge_voc import JudgedVoc, judge_voc
from service.actions.mix_of_materials import material_of_published
from service.core.hazards.regimes import Regime
from service.core.materials import Form, MaterialKind
from service.records.components import MaterialComponent
from service.records.engine import Database
from service.records.materials import Material
from tests.builders import NOW, cast

D = Decimal


def bought(name: str, density: str | None, form: Form = Form.LIQUID, **more: Any) -> Material:
    kind = MaterialKind.DRY_PIGMENT if form is Form.POWDER else MaterialKind.SOLVENT
    return Material(
        name=name, form=form, created_at=NOW, density_g_ml=None if density is None else D(density),
        **({"kind": kind} | more),
    )  # fmt: skip


def published(key: str, density: str) -> Material:
    made = material_of_published(key)
    made.density_g_ml = D(density)
    return made


def judged(database: Database, regime: Regime, *parts: tuple[Material, int, int]) -> JudgedVoc:
    with database.reading() as session:
        return judge_voc(session, [Part(one, D(low), D(high)) for one, low, high in parts], regime)


def words(answer: JudgedVoc) -> dict[str, str]:
    return {one.row.key: one.word for one in answer.limits}


OIL = "linseed_raw"


def test_oil_and_solvents_by_two_laws(database: Database) -> None:
    mix = (
        (published(OIL, "1"), 50, 50),
        (published("acetone", "0.8"), 20, 20),
        (published("toluene", "1"), 30, 30),
    )
    litre = 1000 / (0.5 + 0.25 + 0.3)  # g of the mix in a litre
    us, eu = judged(database, Regime.US_HCS, *mix), judged(database, Regime.EU_CLP, *mix)
    assert us.figures.actual.value == pytest.approx(0.3 * litre)
    assert us.figures.exempt_g_l == pytest.approx(0.2 * litre)
    assert eu.figures.eu.value == us.figures.eu.value == pytest.approx(0.5 * litre)
    assert words(us)["aim-varnishes"] == "met, not checked"
    assert words(eu) == {
        "eu-e-wb-ii": "not met", "eu-e-sb-ii": "not met", "eu-f-wb-ii": "not met", "eu-f-sb-ii": "met",
    }  # fmt: skip
    un = judged(database, Regime.UN_GHS, *mix)
    assert un.figures.actual.value == pytest.approx(0.5 * litre) and un.limits == ()


def test_upper_ends_count(database: Database) -> None:
    ranged = judged(
        database, Regime.US_HCS, (published(OIL, "1"), 20, 80), (published("toluene", "1"), 20, 80)
    )
    assert ranged.figures.actual.value == pytest.approx(800)
    assert words(ranged)["aim-varnishes"] == "not met, not checked"


def test_what_nobody_knows_counts_whole_and_nothing_is_called_met(database: Database) -> None:
    answer = judged(database, Regime.US_HCS, (published(OIL, "1"), 90, 90), (bought("Old can", "1"), 10, 10))
    assert answer.figures.actual.value == pytest.approx(100) and answer.figures.actual.open
    assert "voc-not-known" in answer.verdict.codes and not answer.verdict.complete
    assert all(word.startswith("not known") for word in words(answer).values())
    assert answer.figures.water_g_l is None


def test_a_missing_density_gives_no_figure(database: Database) -> None:
    answer = judged(
        database, Regime.EU_CLP, (bought("House thinner", None), 50, 50), (published(OIL, "1"), 50, 50)
    )
    assert answer.figures.actual.value is answer.figures.eu.value is None
    lack = [one for one in answer.verdict if one.code == "density-not-known"]
    assert [one.about for one in lack] == ["House thinner"] and not answer.verdict.complete


def test_the_sheet_of_a_product_is_read_by_its_substances(database: Database) -> None:
    with database.writing() as session:
        keeper = cast(session).keeper.id
        paint = bought("House varnish", "0.9")
        session.add(paint)
        session.flush()
        assert paint.id is not None and keeper is not None
        for name, cas, low, high in (("toluene", "108-88-3", 30, 40), ("acetone", "67-64-1", 10, 10)):
            line = MaterialComponent(
                material_id=paint.id, position=low, name=name, cas=cas, low=D(low), high=D(high),
                source="sheet", set_by=keeper, set_at=NOW,
            )  # fmt: skip
            session.add(line)
        session.flush()
        answer = judge_voc(session, [Part(paint, D(100), D(100))], Regime.US_HCS)
    # 40 of 100 are toluene, 10 acetone, 50 nobody told: at 0.9 g/ml all but the acetone count
    assert answer.figures.actual.value == pytest.approx(0.9 * 900)
    assert answer.figures.actual.sure == pytest.approx(0.9 * 400)
    assert any("what is not told of House varnish" in one.about for one in answer.verdict)


def test_water_and_alcohol_are_reckoned_higher(database: Database) -> None:
    mix = (published("water", "1"), 50, 50), (published("ethanol", "0.8"), 50, 50)
    answer = judged(database, Regime.EU_CLP, *mix)
    assert answer.figures.eu.value == pytest.approx(500 / (0.5 + 0.625) * 1.04)
    assert "shrinks-on-mixing" in answer.verdict.codes


def test_a_powder_nobody_knows_may_give_off_all_of_itself(database: Database) -> None:
    """Camphor and naphthalene are powders, and evaporate."""
    grey = bought("Grey powder", "1", Form.POWDER, kind=MaterialKind.OTHER_CHEMICAL)
    answer = judged(database, Regime.EU_CLP, (grey, 60, 60), (published(OIL, "1"), 40, 40))
    assert answer.figures.eu.value != 0 and not answer.verdict.complete


def test_dry_things_give_off_nothing(database: Database) -> None:
    answer = judged(
        database,
        Regime.EU_CLP,
        (bought("Some earth", "3", Form.POWDER), 60, 60),
        (published(OIL, "1"), 40, 40),
    )
    assert answer.figures.eu.value == 0 and set(words(answer).values()) == {"met"}
