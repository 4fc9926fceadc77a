"""Amounts of a plan stand in the measure in which they were written."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from service.actions.look_at_orders import look_at_orders
from service.actions.planned_amount import amount_of, each_written
from service.core.materials import Basis
from service.records.engine import Database
from service.records.plans import PlannedJobRow
from service.web.api.plan_answers import plan_out
from service.web.order_view import CSV_HEADER, csv_rows, rows
from service.web.plan_amounts import amount
from service.web.planned_words import each_words, made_words
from service.web.render import HARD
from service.web.term_view import covered_by_date, date_card
from tests.actions.test_plan_tells import other_term
from tests.actions.test_plan_unsettled import LAST, LATER, SOON, hold, wash
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import container


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def job(each: str, amount: int, basis: Basis, heads: int = 5) -> PlannedJobRow:
    return PlannedJobRow(name="class", heads=heads, each_written=each, each_amount=amount, each_basis=basis)


def test_what_is_made_in_all_stands_in_the_measure_of_each() -> None:
    assert made_words(job("1 US gallon", 3_785_412, Basis.VOLUME)).replace(HARD, " ") == "5 US gal"
    assert made_words(job("60 ml", 60_000, Basis.VOLUME, 20)).replace(HARD, " ") == "1.2 l"
    assert made_words(job("100 g", 100_000, Basis.MASS)).replace(HARD, " ") == "500 g"


def test_a_third_that_was_kept_as_a_long_decimal_reads_as_a_third() -> None:
    third = PlannedJobRow(
        heads=3, each_written="0.333333333333333333333333 times", each_times=Decimal("0.333333333333")
    )
    assert (each_words(third), each_written(third), made_words(third)) == ("1/3 times", "1/3 times", "1 time")
    odd = PlannedJobRow(heads=1, each_written="0.123456789 times", each_times=Decimal("0.123456789"))
    assert (each_words(odd), amount_of(odd)) == ("about 0.1235 times", "0.123456789 times")


def test_a_us_measure_is_not_rounded_to_litres() -> None:
    assert amount(18_927_059, Basis.VOLUME).replace(HARD, " ") == "5 US gal"
    assert amount(2_280_404, Basis.VOLUME).replace(HARD, " ") == "2.281 l"


def test_an_unknown_need_is_null_and_needs_of_other_terms_say_so(planned: Planned) -> None:
    planned.job(LATER, recipe_id=wash(planned, ("spirit", "to suit"), name="To suit"))
    other = other_term(planned, TODAY, LAST)
    planned.job(SOON, recipe_id=wash(planned), term_id=other)
    made = plan_out(planned.look())
    (order,) = made.orders
    assert (order.short, order.words, order.chosen, order.complete) == (None, "not known", False, False)
    assert {(one.on, one.term) for one in made.needs} == {(SOON, other), (LATER, planned.term)}


def test_a_line_that_comes_too_late_says_so_and_when_it_comes(planned: Planned) -> None:
    planned.pack("spirit", "1 l", lead_days=20, supplier="North Yard")
    planned.job(SOON, recipe_id=wash(planned))
    look = planned.look()
    (line,) = plan_out(look).orders[0].lines
    assert line.late and line.comes is not None and line.arrive == line.comes > SOON
    with planned.mix.database.reading() as session:
        found = look_at_orders(session, look)
    (row,) = list(csv_rows(look, found))[1:]
    said = dict(zip(CSV_HEADER, row, strict=True))
    assert (said["too late"], said["comes if ordered today"]) == ("yes", line.comes)


def test_what_is_missing_stands_once_for_several_rows(planned: Planned) -> None:
    planned.pack("spirit", "1 l", lead_days=2, supplier="North Yard")
    planned.pack("spirit", "250 ml", lead_days=2, supplier="North Yard")
    planned.job(LATER, recipe_id=wash(planned, ("spirit", "1.2 l")))
    look = planned.look()
    with planned.mix.database.reading() as session:
        missing = [row["short"].replace(HARD, " ") for row in rows(look, look_at_orders(session, look))]
    assert missing == ["1.2 l", "the same, as above"]


def test_the_card_of_a_day_whose_batch_lost_its_tin_says_what_is_missing(planned: Planned) -> None:
    code = planned.mix.can("spirit", 500_000)
    job = planned.job(LATER, recipe_id=wash(planned))
    hold(planned, job)
    with planned.mix.database.writing() as session:
        container(session, code).printed_date = TODAY + timedelta(days=1)
    look = planned.look()
    (one,) = [each for each in look.dates if each.row.planned_job_id == job]
    card = date_card(one, covered_by_date(look).get((job, LATER), []), look.jobs[job], TODAY, {})
    said = " ".join(card.lacks).replace(HARD, " ")
    assert card.tag == "missing" and "300 ml of spirit is missing" in said
