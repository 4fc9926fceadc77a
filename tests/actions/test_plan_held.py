"""What a plan says of tins that batches hold: what nobody measured of them, what is doubtful about them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import col, delete

from service.actions.add_to_batch import AddAsked, add
from service.actions.count_stock import CountAsked, count
from service.actions.draw_stock import ReturnAsked, put_back
from service.core.additions import HowAdded
from service.core.containers import AmountKnown, Condition
from service.core.findings import Finding
from service.core.shelf_codes import show_code
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow
from service.web.finding_links import links_of
from tests.actions.test_plan_tells import said
from tests.actions.test_plan_unsettled import begin, hold, missing, wash
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import container, once

LATER = TODAY + timedelta(days=10)


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def not_measured(planned: Planned) -> tuple[str, int]:
    """A batch that runs today with 100 ml of spirit to suit, of which some went in that nobody measured."""
    code = planned.mix.can("spirit", 500_000)
    planned.mix.can("raw umber", 500_000)
    suit = wash(planned, ("raw umber", "1 g"), ("spirit", "to suit, at most 100 ml"), name="Suit")
    batch = begin(planned, planned.job(TODAY, recipe_id=suit))
    planned.mix.now += timedelta(minutes=5)
    asked = AddAsked(once=once(), batch_id=batch, code=code, how=HowAdded.NOT_MEASURED)
    with planned.mix.database.writing() as session:
        add(session, planned.mix.actor(), planned.mix.now, asked)
    planned.mix.now += timedelta(minutes=5)
    return code, batch


def counted(planned: Planned, code: str, amount: str) -> None:
    with planned.mix.database.writing() as session:
        asked = CountAsked(once=once(), code=code, amount=amount)
        count(session, planned.mix.actor(), planned.mix.now, asked)


def test_what_nobody_measured_is_still_needed_until_a_count_and_the_plan_says_why(planned: Planned) -> None:
    _, batch = not_measured(planned)
    assert missing(planned, TODAY) == 100_000, "nothing of it went in at the least, and nothing may be left"
    (sentence,) = said(planned, "set-aside-not-measured")
    assert "that nobody measured" in sentence and "all of it is counted as still needed" in sentence
    assert f"finish batch {batch} or give it up" in sentence and "count what is left" in sentence
    assert not planned.look().verdict.complete and said(planned, "set-aside-lost") == []


def test_a_count_says_how_much_went_in_and_nothing_is_ordered_again(planned: Planned) -> None:
    code, _ = not_measured(planned)
    counted(planned, code, "nothing")
    assert missing(planned, TODAY) == 0 and said(planned, "set-aside-not-measured") == []


def test_a_count_by_which_only_a_part_went_in_leaves_the_rest_needed(planned: Planned) -> None:
    code = planned.mix.can("spirit", 60_000)
    planned.mix.can("spirit", 60_000)
    planned.mix.can("raw umber", 500_000)
    suit = wash(planned, ("raw umber", "1 g"), ("spirit", "to suit, at most 100 ml"), name="Suit")
    batch = begin(planned, planned.job(TODAY, recipe_id=suit))
    planned.mix.now += timedelta(minutes=5)
    asked = AddAsked(once=once(), batch_id=batch, code=code, how=HowAdded.NOT_MEASURED)
    with planned.mix.database.writing() as session:
        add(session, planned.mix.actor(), planned.mix.now, asked)
    planned.mix.now += timedelta(minutes=5)
    counted(planned, code, "nothing")
    planned.job(LATER, recipe_id=wash(planned, ("spirit", "30 ml")))
    assert missing(planned, TODAY) == 0 and missing(planned, LATER) == 10_000


def test_the_doubts_of_a_tin_that_is_held_stay_in_the_plan(planned: Planned) -> None:
    code = planned.mix.can("spirit", 500_000)
    hold(planned, planned.job(LATER, recipe_id=wash(planned)))
    assert said(planned, "set-aside-doubted") == []
    with planned.mix.database.writing() as session:
        box = container(session, code)
        box.condition, box.balance_known = Condition.DAMAGED, AmountKnown.ESTIMATED
        box.printed_date = LATER + timedelta(days=1)
    sentences = said(planned, "set-aside-doubted")
    assert len(sentences) == 3 and missing(planned, LATER) == 0
    assert any("came damaged: look at it before it is used" in one for one in sentences)
    assert any("looked at first by then" in one for one in sentences)
    assert any("an estimate" in one for one in sentences)


def test_a_pack_of_unknown_life_that_came_is_no_better_covered_by_another(planned: Planned) -> None:
    mix = planned.mix
    with mix.database.writing() as session:
        session.execute(delete(AgeingPolicyRow).where(col(AgeingPolicyRow.material_id) == mix.ids["spirit"]))
    planned.pack("spirit", "1 l", lead_days=2)
    planned.job(LATER, recipe_id=wash(planned))
    (before,) = said(planned, "pack-life-not-known")
    assert "Once it came it is not planned with: write down how long" in before
    code = mix.can("spirit", 1_000_000)
    assert missing(planned, LATER) == 300_000
    (sentence,) = said(planned, "pack-life-not-known")
    assert show_code(code) in sentence and "Another pack covers it no better" in sentence
    assert links_of(planned.look())(found_of(planned)) == (
        f"/policies/material/{mix.ids['spirit']}", "How long " + found_of(planned).about + " keeps",
    )  # fmt: skip


def found_of(planned: Planned) -> Finding:
    (found,) = [one for one in planned.look().verdict if one.code == "pack-life-not-known"]
    return found


def test_what_was_drawn_and_put_back_did_not_go_in_and_is_still_needed(planned: Planned) -> None:
    code = planned.mix.can("spirit", 300_000)
    batch = begin(planned, planned.job(TODAY, recipe_id=wash(planned)))
    planned.job(LATER, recipe_id=wash(planned, ("spirit", "100 ml"), name="Rinse"))
    assert missing(planned, TODAY) == 0 and missing(planned, LATER) == 100_000
    planned.mix.now += timedelta(minutes=5)
    with planned.mix.database.writing() as session:
        asked = ReturnAsked(once=once(), code=code, amount="100 ml", batch_id=batch)
        put_back(session, planned.mix.actor(), planned.mix.now, asked)
    assert missing(planned, TODAY) == 0, "the batch may still take what was put back"
    assert missing(planned, LATER) == 100_000 and len(said(planned, "batch-lacks")) == 1
