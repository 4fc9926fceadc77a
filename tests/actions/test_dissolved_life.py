"""Jars of dissolved shellac and wetted glue, a jar topped up from a doubted tin, a mix after a short policy.

Lives of the solutions: `ageing_policies.csv` (a cut 6 months, then the drop test; wetted glue 7 days).
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.actions.set_policy import PolicyAsked, set_policy
from service.actions.settle_after_upgrade import rules_settled, settle_after_upgrade
from service.core.access import Role
from service.core.ageing_policies import PolicyEnd
from service.core.conditions import Found
from service.core.containers import Standing
from service.core.findings import Invalid
from service.core.months import add_months
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow
from service.records.policy_queries import Subject
from tests.builders import TODAY
from tests.jar_acts import TRIED, ends, jar_of, look, pour, solution_shop, stands
from tests.mixing_shop import MixShop
from tests.store_builders import container, holds, once


@pytest.fixture
def shop(database: Database) -> MixShop:
    return solution_shop(database)


def test_flakes_in_alcohol_keep_as_a_cut_and_not_as_flakes(shop: MixShop) -> None:
    jar = jar_of(shop, ("flakes", "20 g"), ("spirit", "100 ml"))
    assert ends(shop, jar) == add_months(TODAY, 6)
    assert stands(shop, jar) is not Standing.NOT_KNOWN
    holds(shop.database)


def test_wetted_glue_keeps_a_week(shop: MixShop) -> None:
    assert ends(shop, jar_of(shop, ("pearls", "20 g"), ("tap water", "100 ml"))) == TODAY + timedelta(days=7)


def test_a_life_put_right_gives_no_solution_more_than_it_has(shop: MixShop) -> None:
    jar = jar_of(shop, ("flakes", "20 g"), ("spirit", "100 ml"))
    for months in (1, 48):
        with shop.database.writing() as session:
            asked = PolicyAsked(
                once=once(), subject=Subject(material_id=shop.ids["spirit"]), end=PolicyEnd.EXPIRY,
                grade="memory", reason="Read the label again", sealed_months=months, opened_months=months,
            )  # fmt: skip
            set_policy(session, shop.actor(Role.KEEPER), shop.now, asked)
    assert ends(shop, jar) == add_months(TODAY, 6)


def test_a_drop_on_glass_lifts_no_doubt_without_a_word(shop: MixShop) -> None:
    jar = jar_of(shop, ("flakes", "20 g"), ("spirit", "100 ml"))
    look(shop, jar, Found.SLOW)
    with pytest.raises(Invalid, match="what you tried"):
        look(shop, jar, Found.DROP_HARD)
    look(shop, jar, Found.DROP_HARD, TRIED)


def test_a_jar_topped_up_from_a_doubted_tin_is_doubted_again(shop: MixShop) -> None:
    with shop.database.writing() as session:
        lives = {"end": "retest", "sealed_months": 24, "opened_months": 12, "extends_months": 6}
        session.add(AgeingPolicyRow(material_id=shop.ids["boiled oil"], set_at=shop.now, **lives))
    tin = shop.can("boiled oil")
    jar = pour(shop, tin)
    for _ in range(2):
        look(shop, tin, Found.THICKENED)
        look(shop, jar, Found.SOUND, TRIED)
        if _ == 0:
            look(shop, tin, Found.SOUND, TRIED)
    assert (stands(shop, tin), stands(shop, jar)) == (Standing.LOOK_FIRST, Standing.IN_DATE)
    pour(shop, tin, into=jar)
    assert stands(shop, jar) is Standing.LOOK_FIRST


def test_a_mix_follows_a_shorter_policy_though_its_tin_passed_since(shop: MixShop) -> None:
    oil = shop.ids["boiled oil"]
    with shop.database.writing() as session:
        lives = {"sealed_months": 24, "opened_months": 12, "extends_months": 6}
        session.add(AgeingPolicyRow(material_id=oil, end="retest", set_at=shop.now, **lives))
    tin = shop.can("boiled oil", opened_on=TODAY - timedelta(days=250), packed_on=TODAY - timedelta(days=300),
                   received_on=TODAY - timedelta(days=290))  # fmt: skip
    jar = jar_of(shop, ("boiled oil", "50 ml"), ("spirit", "50 ml"))
    shop.now += timedelta(minutes=1)  # A look at the very moment of a draw counts for what was drawn.
    look(shop, tin, Found.SOUND)
    with shop.database.writing() as session:
        asked = PolicyAsked(
            once=once(), subject=Subject(material_id=oil), end=PolicyEnd.RETEST, grade="memory",
            reason="It gelled sooner than that", sealed_months=24, opened_months=6, extends_months=6,
        )  # fmt: skip
        set_policy(session, shop.actor(Role.KEEPER), shop.now, asked)
    end = ends(shop, jar)
    assert end is not None and end < TODAY


def without_the_rule(shop: MixShop, *codes: str) -> None:
    """As jars stood that were filled before solutions had a life of their own."""
    with shop.database.writing() as session:
        for code in codes:
            box = container(session, code)
            box.inherited_until, box.in_date_until = None, None


def test_jars_filled_before_the_rule_end_by_it_after_an_upgrade(shop: MixShop) -> None:
    cut = jar_of(shop, ("flakes", "20 g"), ("spirit", "100 ml"))
    poured, plain = pour(shop, cut), jar_of(shop, ("spirit", "100 ml"))
    with shop.database.writing() as session:
        made = container(session, cut).material_id
    shop.ids["cut"] = made
    glaze = jar_of(shop, ("cut", "20 ml"), ("spirit", "80 ml"))
    before = ends(shop, plain)
    without_the_rule(shop, cut, poured, glaze)
    with shop.database.reading() as session:
        assert not rules_settled(session)
    assert settle_after_upgrade(shop.database, shop.now) > 0
    assert [ends(shop, code) for code in (cut, poured, glaze)] == [add_months(TODAY, 6)] * 3
    assert ends(shop, plain) == before
    with shop.database.reading() as session:
        assert rules_settled(session)


def test_a_stricter_end_stays_when_solutions_are_settled(shop: MixShop) -> None:
    jar, soon = jar_of(shop, ("flakes", "20 g"), ("spirit", "100 ml")), TODAY + timedelta(days=3)
    with shop.database.writing() as session:
        container(session, jar).inherited_until = soon
    settle_after_upgrade(shop.database, shop.now)
    assert ends(shop, jar) == soon


def test_a_jar_of_dissolved_shellac_is_not_called_sound_by_a_look(shop: MixShop) -> None:
    cut = jar_of(shop, ("flakes", "20 g"), ("spirit", "100 ml"))
    for code in (cut, pour(shop, cut)):
        with pytest.raises(Invalid, match="try a drop on glass"):
            look(shop, code, Found.SOUND)
        look(shop, code, Found.DROP_HARD)
    look(shop, jar_of(shop, ("spirit", "100 ml")), Found.SOUND)


def test_every_open_doubt_is_named_when_one_sentence_is_to_lift_them(shop: MixShop) -> None:
    tin = shop.can("boiled oil")
    look(shop, tin, Found.SLOW)
    look(shop, tin, Found.THICKENED)
    with pytest.raises(Invalid, match=r"too slow to dry.*thickened.*what you tried of each"):
        look(shop, tin, Found.SOUND)
    look(shop, tin, Found.SOUND, TRIED)
    assert stands(shop, tin) is Standing.IN_DATE
