"""What a plan may not call covered: what comes and nobody knows, what is set aside and will not hold."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlmodel import col, delete, update

from service.actions.change_job import JobChange, change_job
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.make_batch import SetAsideAsked, set_aside
from service.actions.read_recipe import LineAsked
from service.actions.start_planned import check_planned
from service.actions.undo_addition import UndoAsked, undo_addition
from service.actions.write_packs import MinimumAsked, set_minimum
from service.actions.write_recipe import RecipeAsked, revise_recipe
from service.core.access import Role
from service.core.additions import WasIn
from service.core.findings import Refused
from service.core.ledger import Destination
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow
from service.records.mixing_queries import additions_of
from service.records.plan_queries import terms_to_order_for
from tests.actions.test_plan_tells import other_term, said, word
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import container, once


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def wash(planned: Planned, *lines: tuple[str, str], name: str = "Wash") -> int:
    return planned.mix.write(*(lines or (("spirit", "300 ml"),)), name=name)


def test_an_ordered_pack_that_keeps_nobody_knows_how_long_leaves_the_day_not_known(planned: Planned) -> None:
    mix, day = planned.mix, TODAY + timedelta(days=12)
    with mix.database.writing() as session:
        session.execute(delete(AgeingPolicyRow).where(col(AgeingPolicyRow.material_id) == mix.ids["spirit"]))
    job = planned.job(day, recipe_id=wash(planned))
    planned.order(planned.pack("spirit", "1 l", lead_days=2), 1, day - timedelta(days=3))
    assert planned.short("spirit") == {}, "it is not ordered twice"
    assert word(planned, job, day) == "not known"
    assert not planned.look().verdict.complete
    (sentence,) = said(planned, "ordered-life-not-known")
    assert "How long" not in sentence and "how long it keeps is not known" in sentence


SOON = TODAY + timedelta(days=3)
LATER = TODAY + timedelta(days=10)
LAST = TODAY + timedelta(days=12)


def hold(planned: Planned, job: int) -> int:
    """Set aside what the first day of a job takes; the number of the batch."""
    mix, day = planned.mix, planned.dates(job)[0]
    with mix.database.writing() as session:
        kept = check_planned(session, mix.actor(), mix.now, day.id)
        asked = SetAsideAsked(once=once(), check_id=kept.id)
        return int(set_aside(session, mix.actor(), mix.now, asked).result["batch"])


def begin(planned: Planned, job: int) -> int:
    mix, day = planned.mix, planned.dates(job)[0]
    with mix.database.writing() as session:
        kept = check_planned(session, mix.actor(), mix.now, day.id).id
    return int(mix.start(kept).result["batch"])


def missing(planned: Planned, day: date, name: str = "spirit") -> int:
    return planned.short(name).get(day, 0)


def test_what_is_set_aside_in_a_tin_that_dies_before_the_day_is_still_needed(planned: Planned) -> None:
    """The tin dies before the planned day only after it was set aside: its printed date is told later."""
    mix = planned.mix
    code = mix.can("spirit", 500_000, is_open=False)
    job = planned.job(LATER, recipe_id=wash(planned))
    batch = hold(planned, job)
    assert missing(planned, LATER) == 0 and said(planned, "set-aside-lost") == []
    with mix.database.writing() as session:
        box = container(session, code)
        box.printed_date = SOON
        session.add(box)
    (sentence,) = said(planned, "set-aside-lost")
    assert "is past by then" in sentence and f"release batch {batch}" in sentence
    assert missing(planned, LATER) == 300_000
    mix.can("spirit", 400_000)
    assert missing(planned, LATER) == 0, "another tin serves the day"


def test_what_is_set_aside_in_a_tin_that_is_thrown_away_is_still_needed(planned: Planned) -> None:
    mix = planned.mix
    code = mix.can("spirit", 500_000)
    job = planned.job(LATER, recipe_id=wash(planned))
    batch = hold(planned, job)
    with mix.database.writing() as session:
        asked = DiscardAsked(once=once(), code=code, destination=Destination.HAULER)
        done = discard(session, mix.actor(Role.KEEPER), mix.now, asked).result
    assert any(f"batch {batch}" in one["sentence"] for one in done["findings"]), done["findings"]
    assert missing(planned, LATER) == 300_000
    (sentence,) = said(planned, "set-aside-lost")
    assert "is not in the shop any more" in sentence
    with mix.database.reading() as session:
        assert [one.id for one in terms_to_order_for(session, TODAY)] == [planned.term], "alerts tell it, too"


def test_of_to_suit_the_later_job_stays_not_known_while_it_is_set_aside_or_runs(planned: Planned) -> None:
    mix = planned.mix
    for name in ("spirit", "raw umber"):
        mix.can(name, 2_000_000)
    suit = wash(planned, ("raw umber", "1 g"), ("spirit", "to suit"), name="To suit")
    first = planned.job(TODAY, recipe_id=suit)
    rinse = wash(planned)
    later = planned.job(LAST, recipe_id=rinse)
    assert word(planned, later, LAST) == "not known"
    assert "others-take" not in mix.look(recipe=rinse).check.verdict.codes, "nothing is begun"
    batch = hold(planned, first)
    assert word(planned, later, LAST) == "not known" and not planned.look().verdict.complete
    assert "others-take" in mix.look(recipe=rinse).check.verdict.codes, "the check of the day agrees"
    mix.start(batch_id=batch)
    assert word(planned, later, LAST) == "not known" and "left-not-known" in planned.look().verdict.codes
    assert "others-take" in mix.look(recipe=rinse).check.verdict.codes


def test_a_draw_of_a_running_batch_that_is_taken_back_is_still_needed(planned: Planned) -> None:
    mix = planned.mix
    mix.can("spirit", 500_000)
    job = planned.job(TODAY, recipe_id=wash(planned))
    planned.job(LATER, recipe_id=wash(planned, ("spirit", "200 ml"), name="Rinse"))
    batch = begin(planned, job)
    assert missing(planned, LATER) == 0
    with mix.database.reading() as session:
        (addition,) = additions_of(session, batch)
    asked = UndoAsked(once(), batch, addition.row.id or 0, "it never went in", WasIn.NEVER)
    planned.act(undo_addition, asked)
    assert missing(planned, TODAY) == 0 and missing(planned, LATER) == 0, "500 ml are there for 300 and 200"
    planned.job(LAST, recipe_id=wash(planned, ("spirit", "100 ml"), name="Drop"))
    assert missing(planned, LAST) == 100_000
    assert any("still needs 300 ml of spirit" in one for one in said(planned, "batch-lacks"))
    more = wash(planned, ("spirit", "250 ml"), name="More")
    assert "others-take" in mix.look(recipe=more).check.verdict.codes
    assert "others-take" not in mix.look("0.5 times", recipe=more).check.verdict.codes


def test_a_job_made_larger_while_its_day_is_set_aside_needs_the_rest(planned: Planned) -> None:
    planned.mix.can("spirit", 400_000)
    recipe = wash(planned)
    job = planned.job(LATER, recipe_id=recipe)
    hold(planned, job)
    change = JobChange(
        once=once(), planned_id=job, version=1, recipe_id=recipe, name="class", heads=10, each="1 times"
    )
    told = planned.act(change_job, change)["findings"]
    assert any("batch" in one["sentence"] and "set aside" in one["sentence"] for one in told), told
    assert missing(planned, LATER) == 2_600_000
    (sentence,) = said(planned, "batch-otherwise")
    assert "more is planned by now" in sentence


def test_the_check_of_a_planned_day_leaves_out_what_is_past_on_that_day(planned: Planned) -> None:
    mix = planned.mix
    soon = mix.can("spirit", 500_000, is_open=False, printed_date=SOON)
    job = planned.job(LATER, recipe_id=wash(planned))
    assert missing(planned, LATER) == 300_000
    with mix.database.writing() as session:
        kept = check_planned(session, mix.actor(), mix.now, planned.dates(job)[0].id)
        assert [one["missing"] for one in kept.result["shortages"]] == [300_000]
        codes = {(one["code"], one["about"]) for one in kept.result["findings"]}
        assert ("past", soon) in codes and ("judged-for-day", "") in codes
        number = kept.id
    with pytest.raises(Refused):
        mix.set_aside(number or 0)
    assert planned.dates(job)[0].batch_id is None


def test_a_past_day_nobody_answered_makes_what_is_ordered_the_least(planned: Planned) -> None:
    planned.pack("spirit", "1 l", lead_days=2)
    planned.job(TODAY - timedelta(days=1), recipe_id=wash(planned))
    planned.job(LATER, recipe_id=wash(planned))
    (order,) = planned.look().plan.orders.orders
    assert order.short == 300_000 and not order.complete
    assert "order-not-complete" in planned.look().verdict.codes


def test_what_other_terms_lack_of_what_is_ordered_is_said_before_it_is_ordered(planned: Planned) -> None:
    planned.pack("spirit", "1 l", lead_days=2)
    first, last = planned.job(SOON, recipe_id=wash(planned)), planned.job(LAST, recipe_id=wash(planned))
    assert first and last and said(planned, "others-lack") == []
    other = other_term(planned, TODAY, date(2026, 7, 3))
    planned.job(LATER, recipe_id=wash(planned), term_id=other, name="Evening class")
    (sentence,) = said(planned, "others-lack")
    assert "“Evening class”" in sentence and "order for those terms too" in sentence


def test_what_is_gone_before_the_delivery_takes_nothing_of_it_and_a_batch_does(planned: Planned) -> None:
    planned.pack("spirit", "1 l", lead_days=1)
    planned.job(LAST, recipe_id=wash(planned))
    other = other_term(planned, TODAY, date(2026, 7, 3))
    planned.job(SOON, recipe_id=wash(planned), term_id=other, name="Evening class")
    assert said(planned, "others-lack") == [], "it comes after that day"
    code = planned.mix.can("spirit", 200_000)
    suit = wash(planned, ("spirit", "100 ml"), ("spirit", "to suit, at most 100 ml"), name="Suit")
    batch = int(planned.mix.start(planned.mix.keep(recipe=suit)).result["batch"])
    with planned.mix.database.writing() as session:
        asked = DiscardAsked(once=once(), code=code, destination=Destination.HAULER)
        discard(session, planned.mix.actor(Role.KEEPER), planned.mix.now, asked)
    (sentence,) = said(planned, "others-lack")
    assert sentence.startswith(f"Batch {batch} lacks") and "other terms" not in sentence
    assert f"finish batch {batch}" in sentence and "Evening class" not in sentence


def test_a_short_term_without_jobs_takes_the_least_on_the_shelf_from_no_other(planned: Planned) -> None:
    asked = MinimumAsked(once=once(), material_id=planned.mix.ids["spirit"], version=0, amount="2 l")
    planned.act(set_minimum, asked)
    planned.job(LATER, recipe_id=wash(planned))
    assert sum(planned.short("spirit").values()) == 2_300_000
    other_term(planned, TODAY, TODAY + timedelta(days=3))
    assert sum(planned.short("spirit").values()) == 2_300_000


def test_waste_names_materials_of_this_term_alone(planned: Planned) -> None:
    planned.mix.can("spirit", 500_000, is_open=False, printed_date=SOON)
    other = other_term(planned, TODAY, date(2026, 7, 3))
    planned.job(LATER, recipe_id=wash(planned), term_id=other)
    planned.job(LATER, recipe_id=wash(planned, ("raw umber", "5 g"), name="Dry"))
    assert planned.look().plan.dying == ()
    planned.term = other
    assert [one.amount for one in planned.look().plan.dying] == [500_000]
    (sentence,) = said(planned, "past-by-then")
    assert "is not counted for class" in sentence


def test_a_job_that_keeps_to_an_older_version_cannot_be_made_and_is_named(planned: Planned) -> None:
    mix = planned.mix
    mix.can("spirit", 900_000)
    recipe = wash(planned)
    job = planned.job(LATER, recipe_id=recipe, keep_version=True)
    with mix.database.writing() as session:
        lines = (LineAsked(mix.ids["spirit"], "10 ml"),)
        revise_recipe(session, mix.actor(), mix.now, recipe, 1, RecipeAsked(once(), "Wash", lines))
    assert word(planned, job, LATER) == "not known" or not planned.look().verdict.complete
    (sentence,) = said(planned, "older-version")
    assert sentence.startswith("“class” is planned by version 1") and "cannot be checked" in sentence


def test_what_is_only_ordered_is_there_if_it_comes(planned: Planned) -> None:
    job = planned.job(LATER, recipe_id=wash(planned))
    planned.order(planned.pack("spirit", "1 l"), 1, SOON)
    assert word(planned, job, LATER) == "there if what is ordered comes"


def test_what_is_set_aside_in_a_tin_another_job_opens_before_is_not_known(planned: Planned) -> None:
    mix = planned.mix
    with mix.database.writing() as session:
        rows = col(AgeingPolicyRow.material_id) == mix.ids["spirit"]
        session.execute(update(AgeingPolicyRow).where(rows).values(opened_months=None, opened_days=2))
    mix.can("spirit", 500_000, is_open=False)
    job = planned.job(LATER, recipe_id=wash(planned))
    hold(planned, job)
    assert said(planned, "set-aside-opened-before") == []
    planned.job(SOON, recipe_id=wash(planned, ("spirit", "100 ml"), name="Drop"))
    (sentence,) = said(planned, "set-aside-opened-before")
    assert "Another job opens it" in sentence and not planned.look().verdict.complete


def test_what_is_held_in_a_tin_that_keeps_nobody_knows_how_long_is_not_known_and_not_lost(
    planned: Planned,
) -> None:
    mix = planned.mix
    planned.mix.can("spirit", 900_000)
    job = planned.job(LATER, recipe_id=wash(planned))
    hold(planned, job)
    with mix.database.writing() as session:
        session.execute(delete(AgeingPolicyRow).where(col(AgeingPolicyRow.material_id) == mix.ids["spirit"]))
    assert said(planned, "set-aside-lost") == [] and missing(planned, LATER) == 0
    assert "short" not in planned.look().verdict.codes and not planned.look().verdict.complete
    (sentence,) = said(planned, "set-aside-look-again")
    assert "look at it again on the day" in sentence and "release" not in sentence
    assert planned.look().plan.orders.orders == ()


def test_to_suit_of_a_later_day_does_not_touch_what_is_checked_before(planned: Planned) -> None:
    for name in ("spirit", "raw umber"):
        planned.mix.can(name, 2_000_000)
    suit = wash(planned, ("raw umber", "1 g"), ("spirit", "to suit"), name="To suit")
    batch = hold(planned, planned.job(LATER, recipe_id=suit))
    rinse = wash(planned)
    assert "others-take" not in planned.mix.look(recipe=rinse).check.verdict.codes
    planned.mix.start(batch_id=batch)
    assert "others-take" in planned.mix.look(recipe=rinse).check.verdict.codes


def test_a_running_batch_is_finished_or_given_up_and_not_released(planned: Planned) -> None:
    code = planned.mix.can("spirit", 500_000)
    suit = wash(planned, ("spirit", "100 ml"), ("spirit", "to suit, at most 200 ml"), name="Suit")
    batch = begin(planned, planned.job(TODAY, recipe_id=suit))
    with planned.mix.database.writing() as session:
        container(session, code).printed_date = TODAY - timedelta(days=1)
    (sentence,) = said(planned, "set-aside-lost")
    assert f"finish batch {batch} or give it up" in sentence and "release" not in sentence


def test_a_short_term_with_one_job_takes_the_least_on_the_shelf_from_no_longer_one(planned: Planned) -> None:
    planned.mix.can("spirit", 1_000_000)
    asked = MinimumAsked(once=once(), material_id=planned.mix.ids["spirit"], version=0, amount="800 ml")
    planned.act(set_minimum, asked)
    planned.job(LATER, recipe_id=wash(planned, ("spirit", "700 ml")))
    other = other_term(planned, TODAY, TODAY + timedelta(days=2))
    planned.job(TODAY, recipe_id=wash(planned, ("spirit", "10 ml"), name="Drop"), term_id=other)
    assert sum(planned.short("spirit").values()) == 510_000
