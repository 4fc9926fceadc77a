"""A planned job is changed in place and a day moved: places stay, stale presses are told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.change_job import JobChange, MoveAsked, WhichVersion, change_job, move_date
from service.actions.plan_job import DateAsked, drop_date, take_up_date
from service.actions.start_planned import check_planned
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, Refused, Stale
from service.core.term_dates import Repeat
from service.records.engine import Database
from service.records.plan_queries import the_date, the_planned_job
from service.records.plans import DateState
from service.records.shop import Change
from tests.actions.test_plan_unsettled import hold
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import once

DAY = TODAY + timedelta(days=4)


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def changed(planned: Planned, job: int, **more: Any) -> dict[str, Any]:
    told = {
        "once": once(), "planned_id": job, "version": 1, "recipe_id": planned.mix.recipe, "name": "class",
        "heads": 1, "each": "1 times",
    }  # fmt: skip
    return planned.act(change_job, JobChange(**told | more))


def needed(planned: Planned) -> dict[str, int | None]:
    return {one.material: one.high for one in planned.look().plan.needs.needs if one.on == DAY}


def test_one_more_pupil_and_the_days_keep_their_places(planned: Planned) -> None:
    job = planned.job(DAY, "0.1 times", 20, repeat=Repeat.WEEKLY, last=DAY + timedelta(days=21))
    days = [(one.id, one.on_day, one.state) for one in planned.dates(job)]
    done = changed(planned, job, heads=21, each="0.1 times", spare_percent=10, name="  Second   year ")
    assert needed(planned) == {"raw umber": 231_000, "boiled oil": 462_000, "spirit": 693_000}
    assert [(one.id, one.on_day, one.state) for one in planned.dates(job)] == days and len(days) == 4
    assert (done["name"], done["version"], len(done["dates"])) == ("Second year", 2, 4)
    with planned.mix.database.reading() as session:
        told = session.exec(select(Change).where(col(Change.about_kind) == "planned-job")).all()
        assert {one.field for one in told} == {"name", "heads", "spare_percent"}
    with pytest.raises(Stale):
        changed(planned, job, heads=22)


def test_a_check_for_the_old_amounts_is_not_for_it_any_more(planned: Planned) -> None:
    for name in ("raw umber", "boiled oil", "spirit"):
        planned.mix.can(name, 2_000_000)
    job = planned.job(DAY)
    (date,) = planned.dates(job)
    with planned.mix.database.writing() as session:
        kept = check_planned(session, planned.mix.actor(), planned.mix.now, date.id).id
    changed(planned, job, heads=2)
    planned.mix.set_aside(kept)
    with planned.mix.database.reading() as session:
        assert the_date(session, date.id).state is DateState.PLANNED
    assert needed(planned)["spirit"] == 600_000


def test_which_version_it_is_planned_by(planned: Planned) -> None:
    job = planned.job(DAY, keep_version=True)
    other = planned.mix.write(("spirit", "100 ml"), name="Thin")

    def version() -> int | None:
        with planned.mix.database.reading() as session:
            return the_planned_job(session, job).recipe_version_id

    kept = version()
    changed(planned, job)
    assert version() == kept is not None
    with pytest.raises(Invalid) as wrong:
        changed(planned, job, version=2, recipe_id=other)
    assert set(wrong.value.errors) == {"which"}
    changed(planned, job, version=2, recipe_id=other, which=WhichVersion.NOW)
    assert version() not in (None, kept) and needed(planned) == {"spirit": 100_000}
    changed(planned, job, version=3, recipe_id=other, which=WhichVersion.FOLLOW)
    assert version() is None


def test_what_cannot_be_planned_is_refused_at_its_field(planned: Planned) -> None:
    job = planned.job(DAY)
    for said, field in (
        ({"name": " "}, "name"), ({"heads": 0}, "heads"), ({"spare_percent": 501}, "spare_percent"),
        ({"each": "60"}, "each"), ({"each": "lots"}, "each"),
    ):  # fmt: skip
        with pytest.raises(Invalid) as wrong:
            changed(planned, job, **said)
        assert field in wrong.value.errors
    with planned.mix.database.writing() as session, pytest.raises(NotAllowed):
        asked = JobChange(
            once=once(), planned_id=job, version=1, recipe_id=1, name="x", heads=1, each="1 times"
        )
        change_job(session, planned.mix.actor(Role.STUDENT), planned.mix.now, asked)


def test_a_job_of_which_a_batch_was_made_keeps_its_recipe(planned: Planned) -> None:
    for name in ("raw umber", "boiled oil", "spirit"):
        planned.mix.can(name, 2_000_000)
    job = planned.job(DAY)
    (date,) = planned.dates(job)
    with planned.mix.database.writing() as session:
        kept = check_planned(session, planned.mix.actor(), planned.mix.now, date.id).id
    planned.mix.set_aside(kept)
    other = planned.mix.write(("spirit", "100 ml"), name="Thin")
    with pytest.raises(Invalid) as wrong:
        changed(planned, job, recipe_id=other)
    assert set(wrong.value.errors) == {"recipe_id"}
    assert changed(planned, job, heads=3)["dates"] == []


def test_a_day_is_moved_once_and_only_where_it_may(planned: Planned) -> None:
    job = planned.job(DAY, repeat=Repeat.WEEKLY, last=DAY + timedelta(days=7))
    first, second = planned.dates(job)
    for day in (second.on_day, planned.look().term.last_day + timedelta(days=1)):
        with pytest.raises(Invalid) as wrong:
            planned.act(move_date, MoveAsked(once(), first.id, 1, day))
        assert set(wrong.value.errors) == {"to"}
    to = DAY + timedelta(days=1)
    key = once()
    done = planned.act(move_date, MoveAsked(key, first.id, 1, to))
    assert done["on"] == to.isoformat()
    assert planned.act(move_date, MoveAsked(key, first.id, 1, to))["on"] == to.isoformat()
    assert [one.on_day for one in planned.dates(job)] == [to, second.on_day]
    assert set(planned.short("spirit")) == {to, second.on_day}
    with pytest.raises(Stale):
        planned.act(move_date, MoveAsked(once(), first.id, 1, DAY))
    planned.act(drop_date, DateAsked(once(), first.id, 2))
    with pytest.raises(Refused, match="was dropped: take it up again first, then move the day"):
        planned.act(move_date, MoveAsked(once(), first.id, 3, DAY))


def test_a_day_of_a_batch_says_what_goes_first(planned: Planned) -> None:
    """Nobody changed it meanwhile: it is told which batch, and how it is let go."""
    for name in ("raw umber", "boiled oil", "spirit"):
        planned.mix.can(name, 2_000_000)
    job = planned.job(DAY)
    number = hold(planned, job)
    to = DAY + timedelta(days=1)

    def refused(door: Any, asked: Callable[[int, int], Any]) -> str:
        (row,) = planned.dates(job)
        with pytest.raises(Refused) as no:
            planned.act(door, asked(row.id, row.version))
        assert no.value.verdict.codes == {"batch-stands-for-day"}
        return no.value.sentence

    def moved(number: int, version: int) -> MoveAsked:
        return MoveAsked(once(), number, version, to)

    def pressed(number: int, version: int) -> DateAsked:
        return DateAsked(once(), number, version)

    aside = f"Batch {number} is set aside for this day: release it first, then "
    assert refused(move_date, moved) == f"{aside}move the day."
    assert refused(drop_date, pressed) == f"{aside}drop the day."
    assert "it is in the plan, and was not dropped" in refused(take_up_date, pressed)
    with planned.mix.database.writing() as session, pytest.raises(Refused) as no:
        check_planned(session, planned.mix.actor(), planned.mix.now, planned.dates(job)[0].id)
    assert no.value.sentence == f"{aside}check the stock for it."
    (row,) = planned.dates(job)
    with pytest.raises(Stale, match="by now"):
        planned.act(drop_date, DateAsked(once(), row.id, row.version - 1))
    planned.mix.start(batch_id=number)
    running = f"Batch {number} is running for this day: "
    assert refused(drop_date, pressed) == f"{running}finish it or give it up first, then drop the day."
    assert refused(move_date, moved).startswith(f"{running}give it up first, then move the day. Once it")
