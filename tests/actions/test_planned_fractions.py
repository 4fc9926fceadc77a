"""A fraction of a smallest unit a day: up in the plan, at the bench as ever, one tin of its own measure."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest

from service.actions.waiting_batches import more_is_planned
from service.core.term_dates import Repeat
from service.records.engine import Database
from service.records.mixing_queries import the_batch
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def test_a_fraction_of_a_unit_a_day_is_rounded_up_in_the_plan_and_stays_at_the_bench(
    planned: Planned,
) -> None:
    planned.mix.can("raw umber", 150_000)
    recipe = planned.mix.write(("raw umber", "1500.4 mg"), name="Fine")
    planned.job(TODAY + timedelta(days=3), recipe_id=recipe, repeat=Repeat.SCHOOL_DAYS)
    needs = planned.look().plan.needs.needs
    used, planned_for = Fraction(0), 0
    for one in needs:
        used, planned_for = used + Fraction("1500.4"), planned_for + (one.high or 0)
        assert one.high in (1500, 1501) and planned_for >= used, "never less than the bench uses"
    assert len(needs) > 50 and planned_for < used + 1, "nor a whole unit more"
    assert [one.high for one in planned.mix.look(recipe=recipe).check.needs] == [1500]


def test_thirds_of_a_litre_need_no_second_litre(planned: Planned) -> None:
    planned.mix.can("spirit", 1_000_000)
    recipe = planned.mix.write(("spirit", "1/3 l"), name="Third")
    for day in (3, 4, 5):
        planned.job(TODAY + timedelta(days=day), recipe_id=recipe)
    assert [one.high for one in planned.look().plan.needs.needs] == [333_334, 333_333, 333_333]
    assert planned.short("spirit") == {}


def test_a_measure_that_a_tin_has_needs_no_second_tin(planned: Planned) -> None:
    pint = 473_176
    planned.mix.can("spirit", pint)
    recipe = planned.mix.write(("spirit", "1 US pint"), name="Pint")
    planned.job(TODAY + timedelta(days=4), recipe_id=recipe)
    assert [one.high for one in planned.look().plan.needs.needs] == [pint]
    assert planned.short("spirit") == {}


def test_a_batch_of_several_such_lines_was_not_made_for_less(planned: Planned) -> None:
    planned.mix.can("raw umber", 150_000)
    recipe = planned.mix.write(*[("raw umber", "1500.4 mg")] * 3, name="Fine")
    job = planned.job(TODAY + timedelta(days=4), recipe_id=recipe)
    batch = planned.mix.set_aside(planned.mix.keep(recipe=recipe))
    with planned.mix.database.reading() as session:
        assert not more_is_planned(the_batch(session, batch), planned.look().jobs[job])
