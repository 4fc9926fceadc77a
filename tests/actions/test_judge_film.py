"""The film of the shop's own materials: own figures, published ones, what is missing, and what is no oil."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.judge_film import JudgedFilm, judge_film, stir_again
from service.actions.mix_of_materials import lines_of_batch
from service.actions.mixes_inside import what_is_in_lines
from service.actions.read_recipe import LineRead
from service.core.findings import Severity
from service.core.materials import Basis, Form, MaterialKind
from service.records.engine import Database
from service.records.materials import Material
from tests.actions.test_mixes_inside import made
from tests.builders import NOW
from tests.mixing_shop import make_mix_shop


def stuff(name: str, kind: MaterialKind, form: Form = Form.LIQUID, **facts: Any) -> Material:
    decimals = {k: Decimal(str(v)) if type(v) in (int, float) else v for k, v in facts.items()}
    return Material(name=name, kind=kind, form=form, created_at=NOW, **decimals)


UMBER = stuff("umber", MaterialKind.DRY_PIGMENT, Form.POWDER, known_key="raw_umber")
PASTE = stuff(
    "umber in oil", MaterialKind.COLOUR_IN_OIL, Form.PASTE, pigment_key="raw_umber", pigment_percent=50,
    oil_share_percent=50, film_source="the maker's sheet",
)  # fmt: skip
OIL = stuff("boiled oil", MaterialKind.BINDER, known_key="linseed_boiled", density_g_ml=0.94)
SPIRIT = stuff("spirit", MaterialKind.SOLVENT, known_key="stoddard_solvent")
SHELLAC = stuff("shellac 2 lb cut", MaterialKind.RESIN, known_key="shellac_cut")
GLUE = stuff("white glue", MaterialKind.GLUE_OR_SIZE, known_key="pva")
WATER = stuff("tap water", MaterialKind.OTHER_CHEMICAL, known_key="water", not_stocked=True)
DYE = stuff("walnut dye", MaterialKind.DYE, Form.POWDER)


def grams(material: Material, low: float | None, high: float | None = None) -> LineRead:
    top = low if high is None else high
    return LineRead(
        material,
        "",
        low=None if low is None else int(low * 1000),
        high=None if top is None else int(top * 1000),
        basis=None if top is None else Basis.MASS,
        to_suit=low is None,
    )


def judged(database: Database, *lines: LineRead) -> JudgedFilm:
    with database.reading() as session:
        return judge_film(session, lines)


def codes(made: JudgedFilm, severity: Severity | None = None) -> set[str]:
    return {one.code for one in made.verdict if severity in (None, one.severity)}


def test_a_stain_from_the_tables(database: Database) -> None:
    """The worked stain: 100 g half-and-half umber paste, 50 g boiled oil, 200 g spirit."""
    told = judged(database, grams(PASTE, 100), grams(OIL, 50), grams(SPIRIT, 200))
    film = told.film
    assert film.pigment_mass_percent == pytest.approx((14.2857, 14.2857), rel=1e-4)
    assert film.mass_solids_percent == pytest.approx((42.857, 42.857), rel=1e-4)
    assert film.pvc == pytest.approx((0.1278, 0.1278), abs=1e-3)
    assert film.cpvc == pytest.approx((0.369, 0.494), abs=1e-3)
    assert told.reading == "well bound"
    assert told.loading == "a strong stain: the grain is softened"
    assert told.verdict.complete
    assert {one.source for one in told.data_used} >= {"GS", "the maker's sheet"}


def test_own_figures_beat_published_ones(database: Database) -> None:
    own = stuff(
        "our umber", MaterialKind.DRY_PIGMENT, Form.POWDER, known_key="raw_umber", density_g_ml=3,
        oil_absorption_low=60, oil_absorption_high=70, film_source="rubbed out here",
    )  # fmt: skip
    film = judged(database, grams(own, 10), grams(OIL, 10)).film
    assert film.cpvc == pytest.approx((1 / (1 + 2.1 / 0.935), 1 / (1 + 1.8 / 0.935)))


def test_an_amount_nobody_wrote_is_anything(database: Database) -> None:
    told = judged(database, grams(UMBER, 100), grams(OIL, None))
    assert told.film.pvc == (0, 1)
    assert told.reading == "oily to under-bound: rubs off"
    assert "no-upper-amount" in codes(told, Severity.UNKNOWN)
    thinned = judged(database, grams(PASTE, 100), grams(SPIRIT, None))
    assert thinned.film.pvc is not None and thinned.film.pvc[0] == pytest.approx(thinned.film.pvc[1])
    assert thinned.film.mass_solids_percent == (0, 100)


def test_no_figure_is_guessed(database: Database) -> None:
    secret = stuff("brown powder", MaterialKind.DRY_PIGMENT, Form.POWDER)
    told = judged(database, grams(secret, 10), grams(OIL, 10))
    assert told.film.pvc is told.film.cpvc is told.reading is None
    assert codes(told, Severity.UNKNOWN) == {"pigment-density-not-known", "oil-absorption-not-known"}
    varnish = stuff("a varnish", MaterialKind.READY_MADE_FINISH, density_g_ml=0.9)
    told = judged(database, grams(UMBER, 10), grams(varnish, 10))
    assert told.film.pvc is None and told.film.mass_solids_percent == (50, 100)
    assert {"non-volatile-not-known", "pigment-share-not-known"} <= codes(told, Severity.UNKNOWN)


def test_a_pigmented_varnish_of_an_unnamed_pigment(database: Database) -> None:
    facts: dict[str, Any] = {"density_g_ml": 1.1, "non_volatile_percent": 60, "pigment_percent": 20}
    bare = stuff("a pigmented varnish", MaterialKind.READY_MADE_FINISH, **facts)
    told = judged(database, grams(bare, 100))
    assert told.film.pvc is None and told.film.pigment_mass_percent == (20, 20)
    lacking = {"pigment-density-not-known", "oil-absorption-not-known"}
    assert codes(told, Severity.UNKNOWN) == lacking
    named = stuff("the same", MaterialKind.READY_MADE_FINISH, pigment_key="red_oxide", **facts)
    told = judged(database, grams(named, 100))
    assert told.film.pvc is not None and told.verdict.complete and told.reading is not None


def test_a_historic_paste_is_no_oil_absorption(database: Database) -> None:
    told = stuff("umber in oil", MaterialKind.COLOUR_IN_OIL, Form.PASTE, pigment_key="raw_umber")
    told = judged(database, grams(told, 10))
    assert told.film.pigment_mass_percent == (50, 50)
    assert told.film.cpvc == pytest.approx((0.369, 0.494), abs=1e-3), "from 30 to 50, never from 100"
    assert "paste-not-told" in codes(told, Severity.UNKNOWN)


def test_touch_up_in_shellac_assumes_no_oil(database: Database) -> None:
    shellac = SHELLAC.model_copy()
    shellac.density_g_ml = Decimal("0.87")
    told = judged(database, grams(UMBER, 2), grams(shellac, 20))
    assert told.film.pvc is not None and 0 < told.film.pvc[0] < told.film.pvc[1] < 1
    assert "binder-is-not-oil" in codes(told)
    clear = judged(database, grams(DYE, 2), grams(shellac, 20))
    assert clear.reading == "no pigment in it" and {"dye-has-no-grains", "no-pigment"} <= codes(clear)
    assert clear.film.pvc == (0, 0)


def test_glue_size_and_a_water_stain_have_words_that_fit(database: Database) -> None:
    size = judged(database, grams(GLUE, 100), grams(WATER, 200))
    assert size.reading == "no pigment in it"
    assert "non-volatile-not-known" in codes(size, Severity.UNKNOWN)
    wash = judged(database, grams(UMBER, 10), grams(WATER, 200))
    assert wash.reading == "no binder in it: rubs off" and "no-binder" in codes(wash, Severity.WARN)
    assert judged(database, grams(SPIRIT, 10)).reading == "nothing stays: it all evaporates"


def test_under_bound_is_warned_of(database: Database) -> None:
    told = judged(database, grams(UMBER, 100), grams(OIL, 10))
    assert told.reading == "under-bound: rubs off" and "may-be-under-bound" in codes(told, Severity.WARN)


def test_liquid_by_volume_takes_the_published_density(database: Database) -> None:
    litre = LineRead(SPIRIT, "1 l", low=1_000_000, high=1_000_000, basis=Basis.VOLUME)
    told = judged(database, grams(PASTE, 100), litre)
    assert told.film.pigment_mass_percent == pytest.approx((100 * 50 / 880, 100 * 50 / 880), rel=1e-6)
    assert "density-not-known" not in codes(told)


def test_parts_are_enough(database: Database) -> None:
    parts = [
        LineRead(one, "1 part", share=(Decimal(1), Decimal(1)), share_by=Basis.MASS) for one in (UMBER, OIL)
    ]
    assert judged(database, *parts).film.pigment_mass_percent == (50, 50)


@pytest.mark.parametrize("form", [Form.LIQUID, Form.POWDER])
@pytest.mark.parametrize("kind", [MaterialKind.OTHER_CHEMICAL, MaterialKind.SOLVENT])
def test_of_what_nobody_knows_nothing_is_told(database: Database, kind: MaterialKind, form: Form) -> None:
    """A can without a label: it may be all pigment, all binder, or all gone."""
    mystery = stuff("can without a label", kind, form)
    made = judged(database, grams(OIL, 100), grams(mystery, 50))
    assert made.reading is None
    assert made.film.pigment_g == (0, 50)
    assert {"non-volatile-not-known", "pigment-share-not-known"} <= codes(made, Severity.UNKNOWN)
    alone = judged(database, grams(mystery, 50))
    assert alone.reading is None and "no-pigment" not in codes(alone)
    with database.reading() as session:
        again = stir_again(session, [grams(OIL, 100), grams(mystery, 50)])
    assert again.minutes is None and not again.nothing_sinks


def test_a_lead_colour_is_told(database: Database) -> None:
    white = stuff("flake white", MaterialKind.DRY_PIGMENT, Form.POWDER, known_key="lead_white")
    assert "lead-over-limit" in codes(judged(database, grams(white, 10), grams(OIL, 3)), Severity.WARN)
    assert "lead-over-limit" not in codes(judged(database, grams(UMBER, 10), grams(OIL, 3)))


def test_things_in_pieces_are_left_out(database: Database) -> None:
    pads = stuff("pads", MaterialKind.CONSUMABLE, Form.PIECES)
    told = judged(database, grams(PASTE, 10), LineRead(pads, "2", low=2, high=2, basis=Basis.PIECES))
    assert told.film.pigment_mass_percent == (50, 50) and "not-in-film" in codes(told)


def test_no_lines_no_figures(database: Database) -> None:
    assert judged(database).film.pvc is None


def test_when_to_stir_again(database: Database) -> None:
    with database.reading() as session:
        thin = stir_again(session, [grams(PASTE, 100), grams(SPIRIT, 200)])
        assert thin.mm_per_h is not None and thin.minutes is not None
        assert thin.mm_per_h[0] < 42.7 < thin.mm_per_h[1], "one 3 um grain in spirit falls 43 mm an hour"
        assert thin.words.startswith("Estimate:") and "stokes-estimate" in thin.verdict.codes
        thick = stir_again(session, [grams(PASTE, 100), grams(OIL, 200)])
        assert thick.minutes is None and not thick.nothing_sinks, "how thick boiled oil is, is not published"
        assert "carrier-viscosity-not-known" in thick.verdict.codes and not thick.verdict.complete
        clear = stir_again(session, [grams(SHELLAC, 10)])
        assert clear.nothing_sinks and clear.minutes is None
        dry = stir_again(session, [grams(UMBER, 10)])
        assert dry.minutes is None and "no-carrier" in dry.verdict.codes
        secret = stuff("brown powder", MaterialKind.DRY_PIGMENT, Form.POWDER)
        lost = stir_again(session, [grams(secret, 10), grams(SPIRIT, 200)])
        assert lost.minutes is None and "grain-size-not-known" in lost.verdict.codes


def test_a_made_mix_inside_is_looked_into_once(database: Database) -> None:
    shop = make_mix_shop(database)
    with database.writing() as session:
        for name, key in (("raw umber", "raw_umber"), ("boiled oil", "linseed_boiled"),
                          ("spirit", "stoddard_solvent")):  # fmt: skip
            row = session.exec(select(Material).where(col(Material.name) == name)).one()
            row.known_key = key
            session.add(row)
    for name in ("raw umber", "boiled oil", "spirit"):
        shop.can(name)
    batch, _ = made(shop, shop.recipe, "400 ml")
    with database.writing() as session:
        mix = session.exec(select(Material).where(col(Material.kind) == MaterialKind.MADE_MIX)).one()
        mix.hazards = ["Flam. Liq. 3"]
        session.add(mix)
    with database.reading() as session:
        first = judge_film(session, lines_of_batch(session, batch))
        mix = session.exec(select(Material).where(col(Material.kind) == MaterialKind.MADE_MIX)).one()
        plain = [grams(mix, 200)]
        again = judge_film(session, plain)
        looked = judge_film(session, what_is_in_lines(session, plain))
        assert again.film.pvc is not None and first.film.pvc is not None
        assert again.film.pvc == pytest.approx(first.film.pvc, rel=1e-3)
        assert looked.film == again.film and again.reading == first.reading == "well bound"
        assert stir_again(session, plain).verdict.codes == {"stokes-estimate", "carrier-viscosity-not-known"}
