"""What the plan of a term says of days and mixes that are not what they seem; plan and check draw alike."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlmodel import Session

from service.actions.read_recipe import LineAsked
from service.actions.start_planned import check_of_date, check_planned
from service.actions.write_packs import PackAsked, write_pack
from service.actions.write_recipe import RecipeAsked, write_recipe
from service.actions.write_term import TermAsked, change_term, write_term
from service.core.findings import Severity, Stale
from service.core.school_calendar import FreeDays
from service.core.shelf_codes import show_code
from service.core.term_dates import Repeat
from service.records.engine import Database
from service.records.materials import Material
from service.records.mixing import KeptCheck
from service.records.order_queries import packs_of
from service.web.term_view import covered_by_date, how_it_is_met
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import oil, once


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def word(planned: Planned, job: int, on: date) -> str:
    look = planned.look()
    grown = look.jobs[job]
    return how_it_is_met(
        covered_by_date(look).get((job, on), []), grown.why, may_be_made=grown.may_be_made
    )[0]


def said(planned: Planned, code: str) -> list[str]:
    return [one.sentence for one in planned.look().verdict if one.code == code]


def other_term(planned: Planned, first: date, last: date) -> int:
    with planned.mix.database.writing() as session:
        asked = TermAsked(once=once(), name="Other", first_day=first, last_day=last)
        return int(write_term(session, planned.mix.actor(), planned.mix.now, asked).result["term"])


def from_checks(planned: Planned, date_id: int) -> dict[str, int]:
    """Which cans the check of a planned day allocates."""
    with planned.mix.database.writing() as session:
        kept = check_planned(session, planned.mix.actor(), planned.mix.now, date_id)
        return {one["code"]: one["amount"] for one in kept.result["allocations"]}


def test_the_check_of_a_day_takes_from_the_tins_the_plan_took(planned: Planned) -> None:
    """A sealed tin that ends in a month goes before an open one that ends later, in plan and check."""
    mix = planned.mix
    wash = mix.write(("spirit", "300 ml"), name="Wash")
    soon = mix.can(
        "spirit", 500_000, is_open=False, printed_date=TODAY + timedelta(days=25)
    )
    open_one = mix.can("spirit", 300_000, printed_date=TODAY + timedelta(days=80))
    first, second = (
        planned.job(TODAY + timedelta(days=n), recipe_id=wash) for n in (0, 40)
    )
    assert word(planned, first, TODAY) == "there by the book", planned.look().verdict
    assert word(planned, second, TODAY + timedelta(days=40)) == "there by the book"
    taken = from_checks(planned, planned.dates(first)[0].id)
    assert taken[soon] == 300_000 and open_one not in taken


def test_what_may_never_meet_is_not_there_by_the_book_and_not_bought(planned: Planned) -> None:
    mix = planned.mix
    with mix.database.writing() as session:
        acid, bleach = stuff(session, "acid", "7647-01-0"), stuff(session, "bleach", "7681-52-9")
        lines = (LineAsked(acid, "50 ml"), LineAsked(bleach, "50 ml"))
        made = write_recipe(session, mix.actor(), mix.now, RecipeAsked(once(), "Never", lines))
    day = TODAY + timedelta(days=7)
    job = planned.job(day, recipe_id=int(made.result["recipe"]))
    assert word(planned, job, day) == "may not be made"
    (sentence,) = said(planned, "may-not-be-made")
    assert "“class” may not be made as Never is written" in sentence
    assert planned.look().plan.orders.orders == ()


def no_basis(session: Session) -> int:
    """A liquid of which nothing was ever counted."""
    fluid = oil(session, "fluid", density=None)
    fluid.basis = None
    session.add(fluid)
    session.flush()
    return fluid.id or 0


def stuff(session: Session, name: str, cas: str) -> int:
    material: Material = oil(session, name)
    material.cas = cas
    session.add(material)
    session.flush()
    return material.id or 0


@pytest.mark.parametrize("ago", [1, 400])
def test_a_day_that_is_gone_in_another_term_makes_what_is_left_not_known(
    planned: Planned, ago: int
) -> None:
    for name in ("raw umber", "boiled oil", "spirit"):
        planned.mix.can(name, 2_000_000)
    day = TODAY + timedelta(days=3)
    job = planned.job(day)
    assert word(planned, job, day) == "there by the book"
    other = other_term(planned, TODAY - timedelta(days=500), LATE)
    gone = planned.job(TODAY - timedelta(days=ago), term_id=other)
    assert word(planned, job, day) == "not known"
    assert any("Nobody said whether class of" in one for one in said(planned, "day-left-open"))
    assert "plan-day-gone" not in planned.look().verdict.codes, "that is for its own term's page"
    assert planned.dates(gone)


LATE = date(2026, 7, 3)


def test_days_that_became_free_or_fell_out_of_the_term_are_told(planned: Planned) -> None:
    job = planned.job(date(2026, 3, 16))
    planned.job(date(2026, 6, 22))
    assert said(planned, "no-school-day") == []
    free = (FreeDays(date(2026, 3, 9), date(2026, 3, 20), "works weeks"),)
    with planned.mix.database.writing() as session:
        asked = TermAsked(
            once=once(), name="Spring", first_day=date(2026, 2, 2), last_day=date(2026, 5, 29), free=free
        )
        change_term(session, planned.mix.actor(), planned.mix.now, planned.term, 1, asked)
    told = " ".join(said(planned, "no-school-day"))
    assert "16 March 2026 (works weeks)" in told or "16 Mar 2026 (works weeks)" in told, told
    assert "(outside the term)" in told
    assert planned.dates(job)


def test_a_longer_term_gives_a_job_that_repeats_no_more_days_and_says_so(planned: Planned) -> None:
    """Invented term; only where days have lessons that had none, and a job repeats."""

    def changed(version: int, last: date, *free: FreeDays) -> list[str]:
        with planned.mix.database.writing() as session:
            asked = TermAsked(
                once=once(), name="Spring", first_day=date(2026, 2, 2), last_day=last, free=free
            )
            actor, now = planned.mix.actor(), planned.mix.now
            done = change_term(session, actor, now, planned.term, version, asked).result
        return [one["sentence"] for one in done["findings"] if one["code"] == "days-not-added"]

    planned.job(date(2026, 3, 16))
    weeks = FreeDays(date(2026, 3, 9), date(2026, 3, 20), "works weeks")
    assert changed(1, date(2026, 5, 29), weeks) == []
    assert changed(2, date(2026, 6, 5)) == [], "no job repeats"
    planned.job(date(2026, 4, 6), repeat=Repeat.WEEKLY)
    assert changed(3, date(2026, 6, 1), weeks) == [], "nothing more is open"
    (sentence,) = changed(4, date(2026, 6, 12), weeks)
    assert "stay as they were planned" in sentence
    (sentence,) = changed(5, date(2026, 6, 12))
    assert "nothing is planned or bought" in sentence


def test_a_material_counted_in_two_ways_in_two_terms_is_not_known_in_both(planned: Planned) -> None:
    mix = planned.mix
    with mix.database.writing() as session:
        mix.ids["fluid"] = no_basis(session)
    by_mass, by_volume = mix.write(("fluid", "100 g"), name="A"), mix.write(("fluid", "100 ml"), name="B")
    other = other_term(planned, date(2026, 2, 2), LATE)
    first, second = TODAY + timedelta(days=7), TODAY + timedelta(days=8)
    planned.job(first, recipe_id=by_mass)
    job = planned.job(second, recipe_id=by_volume, term_id=other)
    mine = planned.look()
    assert "two-bases" in {f.code for f in mine.verdict if f.severity is Severity.STOP}
    assert [need.high for need in mine.plan.needs.needs] == [None]
    planned.term = other
    assert word(planned, job, second) == "not known"


def test_a_pack_by_weight_leaves_the_pack_by_volume_of_the_same_figure(planned: Planned) -> None:
    mix = planned.mix
    with mix.database.writing() as session:
        fluid = no_basis(session)
        for amount in ("500 ml", "500 g"):
            asked = PackAsked(once=once(), material_id=fluid, amount=amount, supplier="North Yard")
            write_pack(session, mix.actor(), mix.now, asked)
        assert {row.basis.value for row in packs_of(session, [fluid])} == {"mass", "volume"}


def test_a_fingerprint_alone_stands_for_no_planned_day(planned: Planned) -> None:
    """Two days of one job have checks that came out alike."""
    mix = planned.mix
    for name in ("raw umber", "boiled oil", "spirit"):
        mix.can(name, 2_000_000)
    job = planned.job(
        TODAY + timedelta(days=7), last=TODAY + timedelta(days=14), repeat=Repeat.WEEKLY
    )
    first, second = planned.dates(job)[:2]
    with mix.database.writing() as session:
        checks: list[KeptCheck] = [
            check_planned(session, mix.actor(), mix.now, one.id or 0) for one in (first, second)
        ]
        prints = {one.fingerprint for one in checks}
        assert len(prints) == 1
    (fingerprint,) = prints
    mix.start(fingerprint=fingerprint)
    assert {one.state.value for one in planned.dates(job)} == {"planned"}
    with mix.database.reading() as session:
        assert check_of_date(session, first.id or 0, fingerprint).id == checks[0].id
        with pytest.raises(Stale):
            check_of_date(session, first.id or 0, "0" * 64)
    with mix.database.writing() as session:
        again = check_planned(session, mix.actor(), mix.now, first.id or 0).fingerprint
    mix.start(fingerprint=again, planned_date_id=first.id)
    assert [one.state.value for one in planned.dates(job)] == ["started", "planned"]


def test_findings_name_the_thing_its_can_and_where_it_stands(planned: Planned) -> None:
    code = planned.mix.can("spirit", 900_000, condition="damaged")
    planned.job(TODAY + timedelta(days=3))
    (sentence,) = said(planned, "damaged")
    assert sentence.startswith(f"spirit {show_code(code)}")
