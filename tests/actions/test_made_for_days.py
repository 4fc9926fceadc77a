"""What a finished batch made of its day: the rest is still needed until the day is over, or is dropped."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from service.actions.draw_stock import DrawAsked, draw
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.plan_job import DateAsked, drop_date, take_up_date
from service.core.findings import Refused
from service.core.ledger import Destination
from service.core.materials import Form
from service.core.pot_waste import PotWentTo
from service.records.engine import Database
from service.records.plans import DateState
from tests.actions.test_plan_tells import said
from tests.actions.test_plan_unsettled import begin, missing
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import once

SOON = TODAY + timedelta(days=3)


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def stocked(planned: Planned, spirit: int = 600_000) -> None:
    for name, amount in (("raw umber", 500_000), ("spirit", spirit)):
        planned.mix.can(name, amount)


def stain(planned: Planned) -> int:
    """A recipe that says that it makes 600 ml of 6 g of umber and 600 ml of spirit."""
    return planned.mix.write(("raw umber", "6 g"), ("spirit", "600 ml"), name="Class stain", makes="600 ml")


def end(planned: Planned, batch: int, made: str = "", jars: tuple[str, ...] = (), **more: Any) -> list[str]:
    """Finish it; the codes of its jars."""
    planned.mix.now += timedelta(minutes=5)
    asked = FinishAsked(
        **{"once": once(), "batch_id": batch, "made": made, "jars": tuple(map(JarAsked, jars)),
           "form": Form.LIQUID if jars or made else None} | more
    )  # fmt: skip
    with planned.mix.database.writing() as session:
        result = finish(session, planned.mix.actor(), planned.mix.now, asked, once).result
    planned.mix.now += timedelta(minutes=5)
    return [str(jar["code"]) for jar in result["jars"]]


def a_day(planned: Planned, on: date = SOON, **more: Any) -> int:
    return planned.job(on, **{"recipe_id": stain(planned), "each": "60 ml", "heads": 10} | more)


def test_a_batch_that_made_a_sixth_of_its_day_leaves_the_rest_needed(planned: Planned) -> None:
    stocked(planned)
    job = a_day(planned)
    end(planned, begin(planned, job), jars=("100 ml",), went_to=PotWentTo.WASTE_DRUM)
    assert missing(planned, SOON) == 500_000, "all of the spirit is in the pot that went to waste"
    (sentence,) = said(planned, "made-less")
    assert "of 600 ml that the day asks for 100 ml is there" in sentence and "still needed" in sentence
    planned.mix.can("spirit", 500_000)
    assert missing(planned, SOON) == 0 and said(planned, "made-less")


def test_a_batch_that_made_what_all_get_makes_its_day_though_the_spare_stays_in_the_pot(
    planned: Planned,
) -> None:
    stocked(planned, 700_000)
    job = a_day(planned, spare_percent=10)
    end(planned, begin(planned, job), jars=("600 ml",))
    assert missing(planned, SOON) == 0 and said(planned, "made-less") == []


def test_a_jar_thrown_away_before_the_day_is_needed_again(planned: Planned) -> None:
    stocked(planned)
    job = a_day(planned)
    first, _ = end(planned, begin(planned, job), jars=("200 ml", "400 ml"))
    assert missing(planned, SOON) == 0
    planned.act(discard, DiscardAsked(once=once(), code=first, destination=Destination.WASTE_DRUM))
    assert missing(planned, SOON) == 200_000
    (sentence,) = said(planned, "made-less")
    assert "400 ml is there" in sentence and "is empty or gone" in sentence


def test_what_was_drawn_of_a_jar_was_used_for_the_day(planned: Planned) -> None:
    stocked(planned)
    job = a_day(planned)
    (jar,) = end(planned, begin(planned, job), jars=("600 ml",))
    planned.act(draw, DrawAsked(once=once(), code=jar, amount="550 ml", looked=True))
    assert missing(planned, SOON) == 0 and said(planned, "made-less") == []


def test_a_jar_that_is_past_on_the_day_does_not_serve_it(planned: Planned) -> None:
    late = TODAY + timedelta(days=100)
    stocked(planned)
    job = a_day(planned, late)
    (jar,) = end(planned, begin(planned, job), jars=("600 ml",))
    from tests.store_builders import container

    with planned.mix.database.writing() as session:
        box = container(session, jar)
        box.printed_date = SOON
        session.add(box)
    assert missing(planned, late) == 600_000
    assert "is past by then" in said(planned, "made-less")[0]


def test_what_stands_nowhere_before_its_day_is_needed_until_somebody_says_it_was_used(
    planned: Planned,
) -> None:
    stocked(planned, 1_200_000)
    gone, used = a_day(planned), a_day(planned, SOON + timedelta(days=1), name="other")
    end(planned, begin(planned, gone))
    assert said(planned, "made-less") and missing(planned, SOON) == 0, "there is enough for it once more"
    end(planned, begin(planned, used), went_to=PotWentTo.ON_THE_WORK)
    assert missing(planned, SOON) == 600_000 and len(said(planned, "made-less")) == 1


@pytest.mark.parametrize("went_to", [None, PotWentTo.ON_THE_WORK])
def test_on_its_own_day_what_was_made_counts_unless_it_went_to_waste(
    planned: Planned, went_to: PotWentTo | None
) -> None:
    stocked(planned)
    job = a_day(planned, TODAY)
    end(planned, begin(planned, job), made="600 ml", went_to=went_to)
    assert missing(planned, TODAY) == 0 and said(planned, "made-less") == []


def test_on_its_own_day_a_half_leaves_a_half_and_a_pot_that_was_thrown_away_all(planned: Planned) -> None:
    stocked(planned)
    job = a_day(planned, TODAY)
    end(planned, begin(planned, job), made="300 ml")
    assert missing(planned, TODAY) == 300_000
    stocked(planned)
    other = a_day(planned, TODAY, name="other")
    end(planned, begin(planned, other), went_to=PotWentTo.WASTE_DRUM)
    assert len(said(planned, "made-less")) == 2
    needs = {(one.job, one.material): one.high for one in planned.look().plan.needs.needs}
    assert needs[other, "spirit"] == 600_000 and needs[job, "spirit"] == 300_000


def test_without_what_the_recipe_makes_it_counts_what_went_in_and_stands_there(planned: Planned) -> None:
    """By times of a recipe that does not say what it makes: 100 g, 200 ml and 300 ml."""
    stocked(planned)
    planned.mix.can("boiled oil", 500_000)
    job = planned.job(SOON)
    (jar,) = end(planned, begin(planned, job), jars=("400 ml",), went_to=PotWentTo.WASTE_DRUM, loss="100 ml")
    needs = {one.material: one.high for one in planned.look().plan.needs.needs}
    assert needs and all(needs.values()), "a part of the pot became waste"
    assert said(planned, "made-less") or said(planned, "made-not-known")
    planned.act(discard, DiscardAsked(once=once(), code=jar, destination=Destination.WASTE_DRUM))
    needs = {one.material: one.high for one in planned.look().plan.needs.needs}
    assert needs == {"raw umber": 100_000, "boiled oil": 200_000, "spirit": 300_000}


def test_the_rest_of_a_day_is_dropped_and_taken_up_as_a_whole(planned: Planned) -> None:
    stocked(planned)
    job = a_day(planned)
    batch = begin(planned, job)
    (row,) = planned.dates(job)
    with pytest.raises(Refused, match="finish it or give it up first"):
        planned.act(drop_date, DateAsked(once(), row.id, row.version))
    end(planned, batch, jars=("100 ml",), went_to=PotWentTo.WASTE_DRUM)
    planned.act(drop_date, DateAsked(once(), row.id, row.version))
    (row,) = planned.dates(job)
    assert (row.state, row.batch_id) == (DateState.DROPPED, batch)
    assert missing(planned, SOON) == 0 and said(planned, "made-less") == []
    planned.act(take_up_date, DateAsked(once(), row.id, row.version))
    assert missing(planned, SOON) == 600_000


def test_a_day_that_is_over_keeps_its_batch(planned: Planned) -> None:
    stocked(planned)
    job = a_day(planned, TODAY)
    end(planned, begin(planned, job), made="100 ml")
    planned.mix.now += timedelta(days=1)
    (row,) = planned.dates(job)
    with pytest.raises(Refused, match="the day is over"):
        planned.act(drop_date, DateAsked(once(), row.id, row.version))
    outlook = planned.look(TODAY + timedelta(days=1))
    assert outlook.plan.needs.needs == () and "made-less" not in outlook.verdict.codes


def test_a_jar_for_a_day_serves_no_other_job(planned: Planned) -> None:
    """The mix of one job is an ingredient of another: no ounce of it counts twice."""
    from service.records.mixing import Recipe

    stocked(planned)
    recipe = stain(planned)
    job = a_day(planned, recipe_id=recipe)
    end(planned, begin(planned, job), jars=("600 ml",))
    with planned.mix.database.reading() as session:
        mix = session.get(Recipe, recipe)
        assert mix is not None and mix.material_id is not None
        planned.mix.ids["Class stain"] = mix.material_id
    toner = planned.mix.write(("Class stain", "100 ml"), name="Toner")
    planned.job(SOON + timedelta(days=1), recipe_id=toner, name="toning")
    assert planned.short("Class stain") == {SOON + timedelta(days=1): 100_000}


def test_another_term_knows_of_it_and_takes_what_is_over(planned: Planned) -> None:
    from tests.actions.test_plan_tells import other_term

    stocked(planned)
    job = a_day(planned)
    end(planned, begin(planned, job), jars=("100 ml",), went_to=PotWentTo.WASTE_DRUM)
    planned.mix.can("spirit", 500_000)
    own, planned.term = planned.term, other_term(planned, TODAY, date(2026, 7, 3))
    later = SOON + timedelta(days=1)
    planned.job(later, recipe_id=planned.mix.write(("spirit", "300 ml"), name="Wash"), name="washing")
    assert missing(planned, later) == 300_000 and said(planned, "made-less") == []
    planned.term = own
    assert missing(planned, SOON) == 0
