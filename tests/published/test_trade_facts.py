"""What the trade takes for granted against what the program says. Common practice, no source, throughout."""

from __future__ import annotations

from datetime import date

from service.core.after_use_words import AFTER_USE, Medium
from service.core.ageing import judge
from service.core.ageing_policies import choose
from service.core.containers import Standing
from service.core.film import OIL_DENSITY_G_ML
from service.core.glue_size import Glue, size_of
from service.core.life_facts import LifeFacts
from service.core.materials import MaterialKind
from service.core.mix_purposes import PURPOSE_HINTS, MixPurpose
from service.core.settling import fall_mm_per_h
from service.records.knowledge_policies import known_policies

OPENED, LATER = date(2020, 3, 1), date(2026, 3, 1)


def test_glue_size_is_two_of_water_to_one_of_white_glue_by_volume() -> None:
    """It evens how blotch-prone wood takes a stain, stays colourless, and is scuffed when dry."""
    size = size_of(Glue.WHITE, 300)
    assert (size.water_amount, size.glue_amount, size.unit) == ((200, 200), (100, 100), "ml")
    hint = PURPOSE_HINTS[MixPurpose.GLUE_SIZE]
    assert "2 parts water to 1 part white glue by volume" in hint
    assert "stays colourless" in hint and "scuff when dry" in hint


def test_an_oil_stain_is_colour_carrier_and_binder_and_is_stirred_before_each_dip() -> None:
    hint = PURPOSE_HINTS[MixPurpose.OIL_STAIN].lower()
    assert "colour, carrier and binder" in hint and "stir before each dip" in hint
    # Its pigment settles: earth falls by the centimetre an hour in thinner, and hardly moves in the oil.
    grain, earth, oil = (3.0, 3.0), (3200.0, 3200.0), 1000 * OIL_DENSITY_G_ML
    in_thinner, _ = fall_mm_per_h(grain, earth, (780.0, 780.0), (1.0, 1.0))
    in_oil, _ = fall_mm_per_h(grain, earth, (oil, oil), (50.0, 50.0))
    assert in_thinner > 10 > 1 > in_oil > 0


def test_dry_pigment_keeps_almost_without_limit_and_a_colour_with_drier_does_not_once_opened() -> None:
    def after_six_years(kind: MaterialKind) -> Standing:
        row = choose(known_policies(), kind, None)
        assert row is not None
        facts = LifeFacts(
            packed_on=OPENED, received_on=OPENED, opened_on=OPENED, opened=True, policy=row.policy
        )  # fmt: skip
        return judge(facts, LATER).standing

    assert after_six_years(MaterialKind.DRY_PIGMENT) is Standing.IN_DATE
    assert after_six_years(MaterialKind.COLOUR_IN_JAPAN) is Standing.PAST


def test_a_clear_coat_waits_for_the_next_morning_and_a_white_rag() -> None:
    words = AFTER_USE[Medium.OIL]
    assert "before the next morning" in words.clear_coat and "cold or damp" in words.clear_coat
    assert "no smell" in words.test and "white rag" in words.test
    assert "scuff" in AFTER_USE[Medium.WATER].test
