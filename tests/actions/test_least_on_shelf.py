"""One term asks for the least on the shelf: the last to end within a year that runs with days planned."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.actions.look_at_term import TermOutlook, look_at_term
from service.actions.write_packs import MinimumAsked, set_minimum
from service.actions.write_term import TermAsked, write_term
from service.records.engine import Database
from service.web.plan_amounts import least_words
from tests.actions.test_term_plan_stored import LAST, Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import once


@pytest.fixture
def planned(database: Database) -> Planned:
    made = make_planned(database)
    made.pack("spirit", "1 l", lead_days=5)
    made.act(set_minimum, MinimumAsked(once(), made.mix.ids["spirit"], "500 ml"))
    return made


def term(planned: Planned, name: str, first: date, last: date) -> int:
    asked = TermAsked(once=once(), name=name, first_day=first, last_day=last)
    return int(planned.act(write_term, asked)["term"])


def look(planned: Planned, number: int, today: date = TODAY) -> TermOutlook:
    with planned.mix.database.reading() as session:
        return look_at_term(session, number, today)


def bought(outlook: TermOutlook) -> list[int]:
    return [order.amount for order in outlook.plan.orders.orders]


def test_only_the_first_term_to_end_buys_the_least_and_the_others_say_which(planned: Planned) -> None:
    evening = term(planned, "Evening", TODAY, LAST - timedelta(days=30))
    later = term(planned, "Autumn", date(2026, 9, 1), date(2026, 12, 18))
    assert [bought(look(planned, one)) for one in (planned.term, evening, later)] == [[], [1_000_000], []]
    spirit = planned.mix.ids["spirit"]
    assert least_words(look(planned, evening), spirit).replace("\u00a0", " ") == "500 ml"
    said = least_words(look(planned, later), spirit)
    assert "the plan of Evening asks for it" in said


def test_a_term_that_is_over_asks_for_nothing_and_the_next_one_does(planned: Planned) -> None:
    over = term(planned, "Long ago", date(2020, 1, 1), date(2020, 6, 1))
    assert bought(look(planned, over)) == [] and bought(planned.look()) == [1_000_000]
    after = look(planned, planned.term, LAST + timedelta(days=1))
    assert bought(after) == [] and after.least_in is None
    assert "every term is over" in least_words(after, planned.mix.ids["spirit"])


def test_its_last_day_still_counts(planned: Planned) -> None:
    assert bought(planned.look(LAST)) == [1_000_000]


def job_in(planned: Planned, number: int, on: date, recipe: int, **more: str) -> None:
    own, planned.term = planned.term, number
    planned.job(on, recipe_id=recipe, **more)
    planned.term = own


def test_a_term_of_years_takes_it_from_no_term_that_ends_within_one(planned: Planned) -> None:
    """One job in two years would else put it off for two years."""
    wash = planned.mix.write(("raw umber", "1 g"), name="Wash")
    planned.mix.can("raw umber", 500_000)
    years = term(planned, "Two years", TODAY, TODAY + timedelta(days=730))
    job_in(planned, years, TODAY + timedelta(days=700), wash)
    assert [bought(look(planned, one)) for one in (planned.term, years)] == [[], [1_000_000]]
    planned.job(TODAY + timedelta(days=4), recipe_id=wash)
    assert [bought(look(planned, one)) for one in (planned.term, years)] == [[1_000_000], []]
    week = term(planned, "Workshop", TODAY, TODAY + timedelta(days=5))
    job_in(planned, week, TODAY + timedelta(days=1), wash)
    assert [bought(look(planned, one)) for one in (planned.term, week)] == [[1_000_000], []]
