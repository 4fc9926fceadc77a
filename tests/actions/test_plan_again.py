"""A second look at a plan says what the book says now, whatever was reckoned before."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from service.core.life_facts import LifeFacts
from service.core.materials import Form, MaterialKind
from service.core.plan_outlook import pack_end
from service.records.engine import Database
from service.records.materials import Material
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.core.test_order_list import OIL
from tests.store_builders import oil


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def test_what_is_told_of_a_material_later_is_judged_at_the_next_look(planned: Planned) -> None:
    with planned.mix.database.writing() as session:
        stuff = oil(session, "clear liquid", kind=MaterialKind.OTHER_CHEMICAL)
        stuff.cas, stuff.form = "7732-18-5", Form.LIQUID
        session.add(stuff)
        session.flush()
        number = planned.mix.ids["clear liquid"] = stuff.id or 0
    recipe = planned.mix.write(("boiled oil", "50 ml"), ("clear liquid", "50 ml"), name="Mix")
    planned.job(TODAY + timedelta(days=3), recipe_id=recipe)
    for _ in range(2):
        assert "may-not-be-made" not in planned.look().verdict.codes
    with planned.mix.database.writing() as session:
        stuff = session.get_one(Material, number)
        stuff.cas, stuff.name = "7722-84-1", "hydrogen peroxide"
        session.add(stuff)
    for _ in range(2):
        assert "may-not-be-made" in planned.look().verdict.codes


def test_jobs_alike_take_the_same_and_each_its_own(planned: Planned) -> None:
    day = TODAY + timedelta(days=3)
    same = [planned.job(day, heads=4, name=f"group {n}") for n in range(2)]
    more = planned.job(day, heads=5, name="group 3")
    look = planned.look()
    one, two, three = (look.jobs[number] for number in (*same, more))
    assert one.lines == two.lines and one.row.name != two.row.name
    assert [line.high for line in three.lines] == [(line.high or 0) * 5 // 4 for line in one.lines]


def test_how_long_a_pack_lasts_is_of_its_policy_and_days() -> None:
    longer = replace(OIL, opened_days=61)
    opens = TODAY + timedelta(days=7)
    assert pack_end(OIL, TODAY, opens) == opens + timedelta(days=60)
    assert pack_end(longer, TODAY, opens) == opens + timedelta(days=61)
    assert pack_end(OIL, TODAY, opens + timedelta(days=1)) == opens + timedelta(days=61)
    assert hash(LifeFacts(policy=OIL)) == hash(LifeFacts(policy=replace(OIL)))
