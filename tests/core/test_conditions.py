"""What a look can find and what follows: the table is whole, no rule too soft, and a doubt lasts."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.conditions import (
    FOUND_WORDS,
    MEASURED,
    PEROXIDE_LIMIT_MG_L,
    Consequence,
    Found,
    found_by_strip,
    found_words,
    is_softer,
)
from service.core.containers import Standing
from service.core.findings import Invalid
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.materials import MaterialKind
from service.records.condition_queries import fits
from service.records.knowledge_conditions import (
    known_conditions,
    peroxide_rules,
    read_conditions,
)
from service.records.materials import Material
from service.records.peroxide_formers import former_of_key, is_former

OIL = AgeingPolicy(PolicyEnd.RETEST, sealed_months=24, opened_months=12, extends_months=6)
FACTS = LifeFacts(packed_on=date(2026, 1, 1), opened_on=date(2026, 2, 1), policy=OIL)


def standing(*checks: ConditionCheck, on: date = date(2026, 5, 1)) -> Standing:
    return judge(LifeFacts(**{**FACTS.__dict__, "checks": checks}), on).standing


def test_every_finding_has_words_and_a_rule_within_its_bounds() -> None:
    rules = known_conditions()
    assert set(rules) == set(Found) == set(FOUND_WORDS)
    for rule in rules.values():
        assert not is_softer(rule.consequence, rule.softest), rule.found
        assert rule.source and (rule.what_to_do or rule.consequence is Consequence.PASSES), rule.found


@pytest.mark.parametrize(
    ("found", "outcome"),
    [
        # Common practice of the trade (unsourced pages): a skin removed resets nothing, gel is scrap.
        (Found.SOUND, CheckOutcome.PASSED), (Found.SKIN, CheckOutcome.SKIN_CUT),
        (Found.GELLED, CheckOutcome.FAILED), (Found.RANCID, CheckOutcome.FAILED),
        (Found.MOULD, CheckOutcome.FAILED), (Found.THICKENED, CheckOutcome.DOUBTED),
        (Found.SLOW, CheckOutcome.DOUBTED), (Found.SEPARATED, CheckOutcome.NOTED),
        (Found.DROP_HARD, CheckOutcome.PASSED), (Found.DROP_SOFT, CheckOutcome.FAILED),
    ],
)  # fmt: skip
def test_what_follows_as_it_comes_with_the_program(found: Found, outcome: CheckOutcome) -> None:
    assert known_conditions()[found].outcome is outcome


def test_a_look_alone_passes_neither_shellac_in_solution_nor_a_peroxide_former() -> None:
    sound = known_conditions()[Found.SOUND]
    assert not sound.fits(MaterialKind.RESIN, "shellac_cut")
    for name in ("isopropanol", "diethyl ether"):
        can = Material(name=name, kind=MaterialKind.SOLVENT, created_at=datetime(2026, 1, 1, tzinfo=UTC))
        assert is_former(name, "") and not fits(sound, can, strip=True)
        assert fits(known_conditions()[Found.PEROXIDE_OVER], can, strip=False)
    assert sound.fits(MaterialKind.RESIN, None) and sound.fits(MaterialKind.SOLVENT, "stoddard_solvent")
    assert known_conditions()[Found.DROP_HARD].fits(MaterialKind.RESIN, "shellac_cut")
    assert not known_conditions()[Found.DROP_HARD].fits(MaterialKind.RESIN, "shellac_dry_waxy")


def test_what_ends_a_life_by_default_never_passes_in_any_shop() -> None:
    for rule in known_conditions().values():
        if rule.consequence is Consequence.ENDS:
            assert is_softer(Consequence.PASSES, rule.softest), rule.found


def test_the_peroxide_tables_of_seven_institutions() -> None:
    """Read in the universities' pages; Iowa State scraps at 100 ppm or more."""
    rows = {row.institution: row for row in peroxide_rules()}
    assert len(rows) == 7
    assert rows["Cornell University"].opened_concentrating == "12 months"
    assert rows["Tufts University"].unopened == "1 year unless inhibited"
    assert "100 ppm" in rows["Iowa State University"].opened_concentrating and PEROXIDE_LIMIT_MG_L == 100
    assert all(row.opened_severe for row in rows.values())
    assert former_of_key("isopropanol") and not former_of_key("stoddard_solvent")


@given(st.decimals(min_value=0, max_value=100_000, places=1))
def test_a_strip_at_the_limit_or_above_ends_it(measured: Decimal) -> None:
    found = found_by_strip(measured)
    assert (found is Found.PEROXIDE_OVER) is (measured >= 100) and found in MEASURED


@pytest.mark.parametrize("odd", ["-1", "100001", "NaN", "Infinity"])
def test_a_strip_that_shows_no_figure_is_refused(odd: str) -> None:
    with pytest.raises(Invalid):
        found_by_strip(Decimal(odd))


def test_a_doubt_asks_for_a_look_until_a_check_passes() -> None:
    doubt = ConditionCheck(date(2026, 3, 1), CheckOutcome.DOUBTED, "thickened")
    assert standing() is Standing.IN_DATE
    assert standing(doubt) is Standing.LOOK_FIRST
    assert standing(doubt, on=date(2026, 2, 28)) is Standing.IN_DATE
    passed = ConditionCheck(date(2026, 3, 2), CheckOutcome.PASSED, "sound")
    assert standing(doubt, passed) is Standing.IN_DATE
    assert standing(passed, ConditionCheck(date(2026, 3, 3), CheckOutcome.DOUBTED)) is Standing.LOOK_FIRST
    verdict = judge(LifeFacts(**{**FACTS.__dict__, "checks": (doubt,)}), date(2026, 5, 1)).verdict
    assert any("found: thickened" in finding.sentence for finding in verdict)


_DAYS = st.dates(date(2026, 2, 1), date(2027, 6, 1))
_CHECKS = st.lists(st.builds(ConditionCheck, _DAYS, st.sampled_from(list(CheckOutcome))), max_size=5)


_NO_PASS = st.sampled_from([CheckOutcome.NOTED, CheckOutcome.DOUBTED, CheckOutcome.SKIN_CUT])


@given(_CHECKS, _DAYS, _NO_PASS, _DAYS)
def test_what_is_no_pass_never_gives_time(
    checks: list[ConditionCheck], on: date, outcome: CheckOutcome, today: date
) -> None:
    """Nor does it ever make a standing milder."""
    without = judge(LifeFacts(**{**FACTS.__dict__, "checks": tuple(checks)}), today)
    with_it = judge(LifeFacts(**{**FACTS.__dict__, "checks": (*checks, ConditionCheck(on, outcome))}), today)
    assert with_it.in_date_until == without.in_date_until
    order = [Standing.IN_DATE, Standing.LOOK_FIRST, Standing.NOT_KNOWN, Standing.PAST]
    assert order.index(with_it.standing) >= order.index(without.standing)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"consequence": "passes", "softest": "ends"}, "softer than its softest"),
        ({"source": ""}, "names no source"),
        ({"found": "purple"}, "purple"),
        ({"kinds": "gold"}, "gold"),
    ],
)
def test_a_table_that_cannot_be_meant_names_its_line(change: dict[str, str], words: str) -> None:
    row = {
        "found": "sound", "kinds": "", "keys": "", "not_keys": "", "consequence": "passes",
        "softest": "passes", "hint": "", "what_to_do": "", "source": "somebody",
        "grade": "memory", "house_policy": "yes",
    }  # fmt: skip
    with pytest.raises(ValueError, match=f"line 2.*{words}"):
        read_conditions([row | change])
    with pytest.raises(ValueError, match="has no rule for"):
        read_conditions([row])


def test_words_of_a_later_program_are_shown_as_they_stand() -> None:
    assert found_words("glows-at-night") == "glows at night"
