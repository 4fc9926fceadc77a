"""What must hold for any mix: splitting, diluting, worsening and forgetting never make it look milder."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import ROUND_CEILING, Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.hazards.classes import CATEGORIES, Family, Hazard, Route
from service.core.hazards.classify import Classification, classify
from service.core.hazards.mix import Ingredient, Mix
from service.core.hazards.regimes import Regime

HEALTH = [
    key
    for key in CATEGORIES
    if list(Family).index(key[0]) >= list(Family).index(Family.ACUTE_TOXICITY) and key[0] is not Family.OZONE
]
ROUTES = [Route.ORAL, Route.DERMAL, Route.VAPOUR, Route.DUST_MIST, Route.INHALATION]
LAWS = st.sampled_from(list(Regime))


@st.composite
def hazards(draw: st.DrawFn) -> Hazard:
    family, category = draw(st.sampled_from(HEALTH))
    if family is Family.ACUTE_TOXICITY:
        return Hazard(family, category, draw(st.sampled_from(ROUTES)))
    effect = (
        draw(st.sampled_from(["H335", "H336"])) if (family, category) == (Family.STOT_SINGLE, "3") else ""
    )
    return Hazard(family, category, None, effect)


@st.composite
def ingredients(draw: st.DrawFn, number: int) -> Ingredient:
    share = Decimal(draw(st.integers(1, 400))) / draw(st.sampled_from([10, 100]))
    known = draw(st.integers(0, 7)) > 0
    found = tuple(draw(st.lists(hazards(), max_size=4, unique=True)))
    return Ingredient(f"ingredient {number}", share, share, found if known else None)


@st.composite
def mixes(draw: st.DrawFn) -> Mix:
    count = draw(st.integers(1, 6))
    parts = [draw(ingredients(number)) for number in range(count)]
    total = sum((one.high for one in parts), Decimal(0))
    if total > 100:
        parts = [replace(one, low=one.low * 90 / total, high=one.high * 90 / total) for one in parts]
        total = sum((one.high for one in parts), Decimal(0))
    water = Ingredient("water", 100 - total, 100 - total, ())
    return Mix(
        (*parts, water), does_not_flash=True, viscosity_mm2_s=draw(st.sampled_from([None, Decimal(10)]))
    )


def severity(result: Classification) -> dict[tuple[Family, str], int]:
    return {one.hazard.kind: one.hazard.rank for one in result.classes}


def never_milder(before: Classification, after: Classification) -> None:
    """Every kind of hazard before is there after, in a category at least as severe."""
    then, now = severity(before), severity(after)
    for kind, rank in then.items():
        # A corrosive mix takes the place of an irritant one and of what stands for the eye.
        assert kind in now, (
            kind,
            [c.hazard.text for c in before.classes],
            [c.hazard.text for c in after.classes],
        )
        assert now[kind] <= rank, (kind, rank, now[kind])


@settings(max_examples=200, deadline=None)
@given(mixes(), LAWS, st.randoms())
def test_splitting_and_reordering_changes_nothing(mix: Mix, law: Regime, dice: random.Random) -> None:
    lines = []
    for one in mix.ingredients:
        first = one.high / 2
        lines += [
            replace(one, low=first, high=first),
            replace(one, low=one.low - first, high=one.high - first),
        ]
    dice.shuffle(lines)
    plain, split = classify(mix, law), classify(replace(mix, ingredients=tuple(lines)), law)
    assert severity(plain) == severity(split)
    assert plain.verdict.codes == split.verdict.codes
    assert {h.text for h in plain.hazards} == {h.text for h in split.hazards}


@settings(max_examples=200, deadline=None)
@given(mixes(), LAWS, st.integers(1, 900))
def test_dilution_with_harmless_water_never_makes_it_worse(mix: Mix, law: Regime, more: int) -> None:
    factor = Decimal(100) / (100 + more)
    thinner = [replace(one, low=one.low * factor, high=one.high * factor) for one in mix.ingredients]
    water = 100 - sum((one.high for one in thinner), Decimal(0))
    diluted = replace(mix, ingredients=(*thinner, Ingredient("added water", water, water, ())))
    never_milder(classify(diluted, law), classify(mix, law))


@settings(max_examples=200, deadline=None)
@given(mixes(), LAWS, st.data())
def test_a_worse_category_never_makes_it_milder(mix: Mix, law: Regime, data: st.DataObject) -> None:
    """One class of one ingredient is raised by one category; kinds that the same family turns into are left
    aside.
    """
    able = [
        (n, h)
        for n, one in enumerate(mix.ingredients)
        for h in one.hazards or ()
        if any(f is h.family and c.rank < h.rank and c.name[:1] != "3" for (f, _), c in CATEGORIES.items())
        and not (h.family is Family.STOT_SINGLE and h.category == "3")
    ]
    if not able:
        return
    number, hazard = data.draw(st.sampled_from(able))
    higher = [
        c.name for (f, _), c in CATEGORIES.items() if f is hazard.family and c.rank < hazard.rank and c.name
    ]
    worse = replace(hazard, category=data.draw(st.sampled_from(higher)))
    one = mix.ingredients[number]
    lifted = replace(one, hazards=tuple(worse if h == hazard else h for h in one.hazards or ()))
    parts = (*mix.ingredients[:number], lifted, *mix.ingredients[number + 1 :])
    never_milder(classify(mix, law), classify(replace(mix, ingredients=parts), law))


@settings(max_examples=200, deadline=None)
@given(mixes(), LAWS, st.sampled_from(["1", "0.1", "5"]))
def test_rounding_shares_up_never_makes_it_milder(mix: Mix, law: Regime, step: str) -> None:
    """As a data sheet gives ranges: the true share up to the next step."""
    unit = Decimal(step)
    rounded = tuple(
        replace(one, high=min((one.high / unit).to_integral_value(ROUND_CEILING) * unit, Decimal(100)))
        for one in mix.ingredients
    )
    never_milder(classify(mix, law), classify(replace(mix, ingredients=rounded), law))


@settings(max_examples=200, deadline=None)
@given(mixes(), LAWS, st.data())
def test_forgetting_never_turns_a_finding_off(mix: Mix, law: Regime, data: st.DataObject) -> None:
    number = data.draw(st.integers(0, len(mix.ingredients) - 1))
    one = mix.ingredients[number]
    forgotten = (*mix.ingredients[:number], replace(one, hazards=None), *mix.ingredients[number + 1 :])
    before, after = classify(mix, law), classify(replace(mix, ingredients=forgotten), law)
    assert not after.verdict.complete
    assert "hazards-not-known" in after.verdict.codes
    if one.hazards == ():
        assert before.verdict.codes <= after.verdict.codes
        never_milder(before, after)


@pytest.mark.parametrize("law", list(Regime))
def test_no_tick_on_a_mix_with_a_gap(law: Regime) -> None:
    result = classify(Mix((Ingredient("water", Decimal(98), Decimal(98), ()),), does_not_flash=True), law)
    assert not result.verdict.complete
    assert "remainder-not-told" in result.verdict.codes
    assert result.not_told_percent == 2
