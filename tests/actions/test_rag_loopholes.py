"""More ways around the rag duty, found by trying to break it; each on both databases.

test_rag_walkarounds.py holds the ones the design names; these came to light by trying.
"""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.add_to_batch import AddAsked, add
from service.actions.api_tokens import make_api_token
from service.actions.arrange_places import PlaceAsked, change_place
from service.actions.check_links import rag_load_faults
from service.actions.container_events import MoveAsked, OpenAsked, move, open_container
from service.actions.decant import DecantAsked, decant
from service.actions.give_override import OverrideAsked, give_override
from service.actions.lose_stock import LossAsked, LossKind, lose
from service.actions.revise_material import adopt_published
from service.core.access import Actor, Role
from service.core.containers import ContainerState
from service.core.findings import Invalid, Refused
from service.core.materials import SelfHeating, Unknown
from service.core.rag_override import OverrideFor
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.records.engine import Database
from service.records.places import Place, PlaceKind
from service.records.rag_queries import log_rows
from service.records.rags import OverrideUse, RagLoad
from service.records.stock import Container
from tests.rag_shop import (
    ENDS,
    RagShop,
    a_batch,
    a_recipe,
    add_material,
    add_place,
    add_stock,
    codes_of,
    make_shop,
    material_id,
    once,
    open_a_job,
)
from tests.rag_stands import stands

_secrets = (f"loophole-{n}" for n in itertools.count())
WHY = "The varnish of the counter has to be closed today"
LATE = "Written up after the class"


def chance() -> str:
    return next(_secrets)


@pytest.fixture
def shop(database: Database) -> RagShop:
    """A load is overdue and loose; a second job runs."""
    made = make_shop(database)
    made.overdue()
    made.job = open_a_job(made, "Second job", ends_at=None)
    return made


@pytest.fixture
def canned(database: Database) -> RagShop:
    """A load is overdue in the can, so that an override can be given; a second job runs."""
    made = make_shop(database)
    made.overdue_in_can()
    made.job = open_a_job(made, "Second job", ends_at=None)
    return made


def kinds(shop: RagShop) -> list[str]:
    with shop.database.reading() as session:
        return [row.kind for row in log_rows(session)]


def override(shop: RagShop, actor: Actor | None = None) -> None:
    asked = OverrideAsked(once(), OverrideFor.DRAW, shop.oil, shop.job, WHY)
    with shop.database.writing() as session:
        give_override(session, actor or shop.actor(Role.KEEPER), shop.now, asked)


def uses(shop: RagShop) -> int:
    with shop.database.reading() as session:
        return len(session.exec(select(OverrideUse)).all())


# Opening


def test_a_seal_is_not_broken_by_finding_out_when_it_was(shop: RagShop) -> None:
    """The day of a first opening can be found out only of what was opened."""
    with shop.database.writing() as session:
        box = session.exec(select(Container).where(col(Container.code) == shop.oil)).one()
        box.state, box.ever_opened, box.opened_on = ContainerState.SEALED, False, None
        session.add(box)
    asked = OpenAsked(once=once(), code=shop.oil, found_out=True, opened_on=shop.now.date())
    with pytest.raises(Invalid), shop.database.writing() as session:
        open_container(session, shop.actor(Role.FINISHER), shop.now, asked)
    with shop.database.reading() as session:
        box = session.exec(select(Container).where(col(Container.code) == shop.oil)).one()
        assert box.state is ContainerState.SEALED


# "Already done"


def test_already_done_needs_a_sentence_where_something_stops_it(shop: RagShop) -> None:
    for reason in ("", "done", "........................"):
        with stands(shop), pytest.raises(Invalid) as wrong:
            shop.draw(already_done=True, late_reason=reason)
        assert "late_reason" in wrong.value.errors
    with stands(shop):
        shop.draw(already_done=True, late_reason=LATE)
    with shop.database.reading() as session:
        assert session.exec(select(RagLoad).where(col(RagLoad.job_id) == shop.job)).all()
    assert "violation" in kinds(shop)


def test_a_few_minutes_back_it_is_still_judged_now(database: Database) -> None:
    """Only a late entry, with its sentence, is judged at the time it names."""
    shop = make_shop(database)
    shop.draw()
    shop.now = ENDS + timedelta(minutes=5)
    back = ENDS - timedelta(minutes=5)
    with pytest.raises(Invalid):
        shop.draw(already_done=True, happened_at=back)
    shop.draw(already_done=True, happened_at=back, late_reason=LATE)
    assert kinds(shop).count("violation") == 1


def test_a_move_a_few_minutes_back_is_judged_now(database: Database) -> None:
    shop = make_shop(database)
    with shop.database.writing() as session:
        bench = add_place(session, "Bench", PlaceKind.BENCH)
    shop.draw()
    shop.now = ENDS + timedelta(minutes=5)
    asked = MoveAsked(
        once=once(), code=shop.oil, place_id=bench, already_done=True,
        happened_at=ENDS - timedelta(minutes=5), late_reason=LATE,
    )  # fmt: skip
    with shop.database.writing() as session:
        move(session, shop.actor(Role.FINISHER), shop.now, asked)
    assert "violation" in kinds(shop)


def test_a_spill_is_news_and_needs_no_sentence(shop: RagShop) -> None:
    asked = LossAsked(once=once(), code=shop.oil, amount="10 ml", loss=LossKind.SPILLED, job_id=shop.job)
    with stands(shop), shop.database.writing() as session:
        lose(session, shop.actor(Role.FINISHER), shop.now, asked)
    assert "violation" in kinds(shop)


# Overrides


def test_an_override_covers_nothing_that_was_done_before_it_was_given(canned: RagShop) -> None:
    canned.pass_by(minutes=40)
    override(canned)
    canned.pass_by(minutes=1)
    canned.draw(happened_at=canned.now - timedelta(minutes=20), late_reason=LATE)
    assert uses(canned) == 0 and "violation" in kinds(canned)


def test_an_override_that_lapsed_is_not_used_by_a_time_a_few_minutes_back(canned: RagShop) -> None:
    asked = OverrideAsked(
        once(), OverrideFor.DRAW, canned.oil, canned.job, WHY, canned.now + timedelta(minutes=5)
    )
    with canned.database.writing() as session:
        give_override(session, canned.actor(Role.KEEPER), canned.now, asked)
    canned.pass_by(minutes=10)
    with pytest.raises(Refused) as refused:
        canned.draw(happened_at=canned.now - timedelta(minutes=6))
    assert "rags-overdue" in codes_of(refused.value) and uses(canned) == 0


def test_an_override_of_a_draw_lets_no_decanting_through(canned: RagShop) -> None:
    override(canned)
    asked = DecantAsked(once=once(), code=canned.oil, amount="500 ml", job_id=canned.job)
    with pytest.raises(Refused) as refused, canned.database.writing() as session:
        decant(session, canned.actor(Role.FINISHER), canned.now, asked, chance)
    assert "rags-overdue" in codes_of(refused.value) and uses(canned) == 0
    canned.draw()
    assert uses(canned) == 1


def test_a_script_is_no_other_keeper_for_the_one_who_owes_it(canned: RagShop) -> None:
    """A keeper who owes the load makes a token and lets the draw through under the script's name."""
    with canned.database.writing() as session:
        load = session.exec(select(RagLoad)).one()
        load.owed_by = canned.people.keeper.id or 0
        session.add(load)
        token = make_api_token(session, canned.actor(Role.KEEPER), canned.now, "t" * 40, Role.KEEPER, "mine")
        actor = Actor(token.person_id, "script: mine", Role.KEEPER, token_id=token.id)
    with pytest.raises(Refused) as refused:
        override(canned, actor)
    assert "override-own-load" in codes_of(refused.value)


# Materials


def test_published_facts_are_not_taken_over_to_lift_the_block(shop: RagShop) -> None:
    """Alcohol by the published row is not self-heating; nobody had said so here."""
    with shop.database.writing() as session:
        code = add_stock(
            session, shop.people, "Alcohol", SelfHeating.NOT_KNOWN, binder="", known_key="isopropanol",
            kind="solvent", oil_share_percent=None, flash_point_c=None,
        )  # fmt: skip
    with stands(shop), pytest.raises(Refused):
        shop.draw(code)
    number = material_id(shop, code)
    with stands(shop), pytest.raises(Refused) as refused, shop.database.writing() as session:
        adopt_published(session, shop.actor(Role.KEEPER), shop.now, number, once(), 1)
    assert codes_of(refused.value) == {"rags-overdue"}


def _from_the_tap(shop: RagShop, batch: int, number: int) -> None:
    asked = AddAsked(once=once(), batch_id=batch, amount="200 ml", material_id=number, job_id=shop.job)
    with shop.database.writing() as session:
        add(session, shop.actor(Role.FINISHER), shop.now, asked)


def test_oil_that_is_called_not_stocked_is_not_taken_from_the_tap(database: Database) -> None:
    """Nothing without a movement may be self-heating: no load would stand for its rags."""
    shop = make_shop(database)
    batch = a_batch(shop, a_recipe(shop))
    with shop.database.writing() as session:
        number = add_material(session, "Oil of the customer", SelfHeating.YES, not_stocked=True).id or 0
    with pytest.raises(Refused) as refused:
        _from_the_tap(shop, batch, number)
    assert codes_of(refused.value) == {"needs-container"}


# Cans and drums


def change(shop: RagShop, number: int, **facts: Any) -> None:
    with shop.database.writing() as session:
        row = session.get(Place, number)
        assert row is not None
        names = ("name", "kind", "parent_id", "metal", "lid", "self_closing", "listed", "detached",
                 "floor_cannot_burn", "distance_mm", "outdoors", "note", "active", "version")  # fmt: skip
        asked = PlaceAsked(once(), **({name: getattr(row, name) for name in names} | facts))
        change_place(session, shop.actor(Role.KEEPER), shop.now, number, asked)


@pytest.mark.parametrize(
    "fact", [{"lid": Unknown.NO}, {"listed": Unknown.NOT_KNOWN}, {"kind": PlaceKind.SHELF}]
)
def test_rags_in_a_can_that_turns_out_to_be_none_are_loose(database: Database, fact: dict[str, Any]) -> None:
    shop = make_shop(database)
    shop.draw()
    shop.pass_by(minutes=5)
    shop.into_can()
    shop.pass_by(minutes=5)
    change(shop, shop.can, **fact)
    assert not shop.load().state.contained
    shop.now = ENDS + timedelta(minutes=1)
    assert shop.load().judgement.past_contain
    with shop.database.reading() as session:
        assert list(rag_load_faults(session)) == []


def test_a_drum_that_stands_at_the_house_after_all_meets_no_clock(database: Database) -> None:
    shop = make_shop(database)
    shop.draw()
    shop.pass_by(minutes=5)
    shop.step(RagStep.OUTSIDE_DRUM, can_id=shop.drum, water=Water.FULL)
    assert shop.load().state.remove_met
    shop.pass_by(minutes=5)
    change(shop, shop.drum, detached=Unknown.NO)
    assert shop.load().state.contained and not shop.load().state.remove_met
    shop.now = ENDS + timedelta(minutes=1)
    assert shop.load().judgement.past_remove


def test_a_better_word_of_a_can_moves_nothing_and_rags_keep_it_in_use(database: Database) -> None:
    shop = make_shop(database)
    shop.draw()
    shop.pass_by(minutes=5)
    shop.into_can()
    before = kinds(shop)
    shop.pass_by(minutes=5)
    change(shop, shop.can, name="Red rag can", distance_mm=4000)
    assert kinds(shop) == before and shop.load().state.contained
    with pytest.raises(Refused) as refused:
        change(shop, shop.can, active=False)
    assert codes_of(refused.value) == {"place-in-use"}
    shop.pass_by(minutes=5)
    shop.step(RagStep.REMOVED, removal=Removal(RemovalHow.HAULER, "County waste service"))
    change(shop, shop.can, active=False)


# The order in which it was written


def test_a_draw_written_after_the_can_is_not_in_the_can(database: Database) -> None:
    """Whatever hour it claims: who put the rags away did not know of it, so its rags are looked for."""
    shop = make_shop(database)
    shop.draw()
    shop.pass_by(minutes=20)
    shop.into_can()
    shop.pass_by(minutes=20)
    shop.draw(happened_at=shop.now - timedelta(minutes=30), late_reason=LATE)
    assert not shop.load().state.contained
    shop.pass_by(minutes=1)
    shop.into_can()
    assert shop.load().state.contained
    with shop.database.reading() as session:
        assert list(rag_load_faults(session)) == []


def test_a_day_written_up_in_its_order_stands_as_it_was(database: Database) -> None:
    """Draw, then can, both written in the evening with their own times: the can holds them."""
    shop = make_shop(database)
    begun = shop.now
    shop.pass_by(minutes=90)
    shop.draw(happened_at=begun, late_reason=LATE)
    shop.into_can(happened_at=begun + timedelta(minutes=20), late_reason=LATE)
    assert shop.load().state.contained and shop.load().state.last_at == begun + timedelta(minutes=20)


# The end of the shift


def test_a_job_opened_before_the_shift_owes_by_the_end_of_the_shift(database: Database) -> None:
    """Shift 8 to 17 in Berlin; a job opened at 7:50 would else have until midnight."""
    shop = make_shop(database)
    shop.now = datetime(2026, 3, 12, 6, 50, tzinfo=UTC)
    with shop.database.writing() as session:
        from service.records.shop import BookClock

        clock = session.get(BookClock, 1)
        assert clock is not None
        clock.last_recorded_at = shop.now
        session.add(clock)
    shop.job = open_a_job(shop, "Early bird", ends_at=None)
    shop.pass_by(hours=2)
    shop.draw()
    assert shop.load().row.remove_by == datetime(2026, 3, 12, 16, 0, tzinfo=UTC)
