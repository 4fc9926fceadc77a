"""Which stock check is that of a planned day: its own recipe's, and of the version the batch is made by."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.actions.change_job import JobChange, change_job
from service.actions.read_recipe import LineAsked
from service.actions.start_planned import check_of_date, check_planned
from service.actions.write_recipe import RecipeAsked, revise_recipe
from service.core.findings import Invalid, Stale
from service.core.term_dates import Repeat
from service.records.engine import Database
from service.records.mixing_queries import kept_check
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import once

LINES = (("raw umber", "100 g"), ("boiled oil", "200 ml"), ("spirit", "300 ml"))


@pytest.fixture
def planned(database: Database) -> Planned:
    made = make_planned(database)
    for name, _ in LINES:
        made.mix.can(name, 4_000_000)
    return made


def check(planned: Planned, date_id: int) -> str:
    with planned.mix.database.writing() as session:
        return check_planned(session, planned.mix.actor(), planned.mix.now, date_id).fingerprint


def look(planned: Planned, date_id: int, fingerprint: str) -> None:
    with planned.mix.database.reading() as session:
        check_of_date(session, date_id, fingerprint)


def rewritten(planned: Planned) -> None:
    lines = tuple(LineAsked(planned.mix.ids[name], amount) for name, amount in LINES)
    asked = RecipeAsked(once(), "Walnut stain", lines, note="the same lines, other words")
    with planned.mix.database.writing() as session:
        revise_recipe(session, planned.mix.actor(), planned.mix.now, planned.mix.recipe, 1, asked)


def test_the_check_of_another_recipe_with_equal_lines_is_not_that_of_the_day(planned: Planned) -> None:
    twin = planned.mix.write(*LINES, name="Twin stain")
    (day,) = planned.dates(planned.job(TODAY))
    own = check(planned, day.id)
    other = planned.mix.keep(recipe=twin)
    assert planned.mix.look(recipe=twin).check.fingerprint != own
    with planned.mix.database.reading() as session:
        foreign = kept_check(session, other).fingerprint
    with pytest.raises(Stale, match="not the check of this date"):
        planned.mix.start(fingerprint=foreign, planned_date_id=day.id)
    with pytest.raises(Invalid) as wrong:
        planned.mix.start(fingerprint=own, planned_date_id=day.id, recipe_id=twin)
    assert set(wrong.value.errors) == {"recipe"}
    assert planned.dates(day.planned_job_id)[0].state.value == "planned"
    planned.mix.start(fingerprint=own, planned_date_id=day.id, recipe_id=planned.mix.recipe)
    assert planned.dates(day.planned_job_id)[0].state.value == "started"


def test_a_recipe_written_anew_makes_the_check_of_the_day_an_old_one(planned: Planned) -> None:
    (day,) = planned.dates(planned.job(TODAY))
    own = check(planned, day.id)
    look(planned, day.id, own)
    rewritten(planned)
    with pytest.raises(Stale, match="written anew since that check"):
        look(planned, day.id, own)
    again = check(planned, day.id)
    assert again != own
    look(planned, day.id, again)


def test_a_job_that_keeps_to_an_older_version_takes_no_batch_of_the_newer(planned: Planned) -> None:
    job = planned.job(TODAY, keep_version=True, last=TODAY + timedelta(days=7), repeat=Repeat.WEEKLY)
    first = planned.dates(job)[0]
    own = check(planned, first.id)
    rewritten(planned)
    with pytest.raises(Stale, match="keeps to an older version"):
        look(planned, first.id, own)
    planned.mix.start(first.check_id or planned.dates(job)[0].check_id)
    assert planned.dates(job)[0].state.value == "planned", "the batch is of the newer version"


def test_a_job_that_takes_another_recipe_has_no_check(planned: Planned) -> None:
    twin = planned.mix.write(*LINES, name="Twin stain")
    job = planned.job(TODAY)
    (day,) = planned.dates(job)
    own = check(planned, day.id)
    asked = JobChange(
        once=once(), planned_id=job, version=1, recipe_id=twin, name="class", heads=1, each="1 times"
    )
    planned.act(change_job, asked)
    with pytest.raises(Stale):
        look(planned, day.id, own)
