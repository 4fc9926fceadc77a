"""Steps with oily rags, on both databases: who may say what, what is refused, and what is written with it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlmodel import col, select

from service.actions.handle_rags import StepAsked, add_step, count_rags
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale, StaleKind
from service.core.materials import Unknown
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.records.duties import Duty
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.rag_queries import log_rows
from service.records.rags import RagLoad
from tests.rag_shop import ENDS, RagShop, add_place, codes_of, make_shop, once, open_a_job

HAULER = Removal(RemovalHow.HAULER, "County waste service")


@pytest.fixture
def shop(database: Database) -> RagShop:
    return make_shop(database)


def _row(shop: RagShop) -> RagLoad:
    with shop.database.reading() as session:
        row = session.get(RagLoad, shop.load_id())
        assert row is not None
        return row


def test_in_the_can_then_taken_by_the_hauler(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=10)
    answer = shop.into_can(witness="Sanne Vos").result["loads"][0]
    assert (answer["contained"], answer["ended"]) == (True, False)
    assert (_row(shop).last_step, _row(shop).contained, _row(shop).ended_at) == ("in-can", True, None)
    shop.pass_by(minutes=10)
    answer = shop.step(RagStep.REMOVED, removal=HAULER).result["loads"][0]
    assert answer["ended"] and "County waste service" in answer["where"]
    assert _row(shop).ended_at == shop.now
    with shop.database.reading() as session:
        kinds = [row.kind for row in log_rows(session)]
    assert kinds == ["load-made", "draw-joined", "step", "step"]


def test_a_later_draw_opens_containment_again(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    shop.into_can()
    shop.pass_by(minutes=1)
    shop.draw()
    assert not _row(shop).contained
    assert not shop.load().state.contained


def test_a_draw_written_after_the_containment_opens_it_again_whatever_hour_it_claims(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=40)
    shop.into_can()
    shop.pass_by(minutes=1)
    shop.draw(happened_at=shop.now - timedelta(minutes=20), late_reason="Written up after the class")
    assert not _row(shop).contained and not shop.load().state.contained
    shop.into_can()
    assert _row(shop).contained and shop.load().state.contained


@pytest.mark.parametrize("fact", ["metal", "lid", "listed"])
@pytest.mark.parametrize("told", [Unknown.NO, Unknown.NOT_KNOWN])
def test_a_can_that_lacks_a_fact_is_no_can(shop: RagShop, fact: str, told: Unknown) -> None:
    facts = {"listed": Unknown.YES, "self_closing": Unknown.YES} | {fact: told}
    with shop.database.writing() as session:
        other = add_place(session, "Other can", PlaceKind.RAG_CAN, **facts)
    shop.draw()
    shop.pass_by(minutes=1)
    with pytest.raises(Refused) as refused:
        shop.into_can(can_id=other)
    assert "rags-record-instead" in refused.value.verdict.codes
    assert not shop.load().state.contained


@pytest.mark.parametrize("water", [None, Water.NONE, Water.PARTLY])
def test_only_wholly_under_water_counts(shop: RagShop, water: Water | None) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    with pytest.raises(Refused, match="under water"):
        shop.step(RagStep.UNDER_WATER, can_id=shop.bucket, water=water)
    shop.step(RagStep.UNDER_WATER, can_id=shop.bucket, water=Water.FULL)
    assert shop.load().state.contained


def test_a_bench_is_no_can_and_a_missing_can_is_asked_for(shop: RagShop) -> None:
    with shop.database.writing() as session:
        bench = add_place(session, "Bench 1", PlaceKind.BENCH)
    shop.draw()
    shop.pass_by(minutes=1)
    with pytest.raises(Invalid) as wrong:
        shop.into_can(can_id=bench)
    assert "can" in wrong.value.errors
    with pytest.raises(Invalid):
        shop.into_can(can_id=None)
    with pytest.raises(NotFound):
        shop.into_can(can_id=987_654)
    with pytest.raises(NotFound):
        shop.into_can(loads=(987_654,))


@pytest.mark.parametrize(
    "how", [RemovalHow.WASHED_HERE, RemovalHow.TUMBLE_DRIED_HERE, RemovalHow.DRIED, RemovalHow.BIN]
)
def test_washing_drying_and_the_bin_are_no_ends(shop: RagShop, how: RemovalHow) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    with pytest.raises(Refused) as refused:
        shop.step(RagStep.REMOVED, removal=Removal(how, "us"))
    assert "rags-no-end" in codes_of(refused.value)
    assert not shop.load().state.ended


def test_a_removal_needs_a_name_or_a_permit(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    for removal in (None, Removal(RemovalHow.HAULER), Removal(RemovalHow.BURNED_UNDER_PERMIT)):
        with pytest.raises(Refused):
            shop.step(RagStep.REMOVED, removal=removal)
    shop.step(RagStep.REMOVED, removal=Removal(RemovalHow.BURNED_UNDER_PERMIT, permit="B-17"))
    assert shop.load().state.ended


def test_none_were_made_names_every_draw_and_yields_to_a_count(shop: RagShop) -> None:
    first = shop.draw().result["movement"]
    shop.draw()
    shop.pass_by(minutes=1)
    with pytest.raises(Refused) as refused:
        shop.step(RagStep.NONE_MADE, covers=(f"draw {first}",))
    assert "rags-draws-left-out" in codes_of(refused.value)
    with shop.database.writing() as session:
        count_rags(session, shop.actor(Role.FINISHER), shop.now, shop.load_id(), 3, once())
    with pytest.raises(Refused) as refused:
        shop.step(RagStep.NONE_MADE, covers=shop.load().state.open_draws)
    assert "rags-were-seen" in codes_of(refused.value)


def test_none_were_made_ends_the_load(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    shop.step(RagStep.NONE_MADE, covers=shop.load().state.open_draws)
    assert shop.load().state.ended


def test_a_count_in_the_can_leaves_it_contained(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    shop.into_can()
    shop.pass_by(minutes=1)
    with shop.database.writing() as session:
        count_rags(session, shop.actor(Role.FINISHER), shop.now, shop.load_id(), 5, once())
    assert shop.load().state.contained and shop.load().state.rags_seen
    with shop.database.writing() as session, pytest.raises(Invalid):
        count_rags(session, shop.actor(Role.FINISHER), shop.now, shop.load_id(), 0, once())


def test_who_may_say_what(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    with pytest.raises(NotAllowed):
        shop.into_can(Role.READER)
    shop.into_can(Role.STUDENT)  # the student is in this job
    shop.pass_by(minutes=1)
    with pytest.raises(NotAllowed):
        shop.step(RagStep.REMOVED, Role.STUDENT, removal=HAULER)
    with pytest.raises(NotAllowed):
        shop.step(RagStep.NONE_MADE, Role.STUDENT, covers=("draw 1",))
    shop.job = open_a_job(shop, "Without the student", people=())
    shop.draw()
    shop.pass_by(minutes=1)
    with pytest.raises(NotAllowed, match="not in the running job"):
        shop.into_can(Role.STUDENT)


def test_the_drum_opens_a_waste_duty_and_only_a_keeper_hands_it_over(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    said = {"can_id": shop.drum, "water": Water.FULL, "mass": "2 kg", "collected_on": date(2026, 3, 20)}
    shop.step(RagStep.OUTSIDE_DRUM, **said)
    assert shop.load().state.remove_met
    with shop.database.reading() as session:
        duty = session.exec(select(Duty)).one()
    assert (
        duty.owed_by == shop.people.keeper.id
        and "2 kg" in duty.sentence
        and "20 March 2026" in duty.sentence
    )
    assert duty.due_at.isoformat() == "2026-03-20T23:00:00+00:00"  # 24:00 in Berlin
    shop.pass_by(days=8)
    assert not shop.load().judgement.blocks
    with pytest.raises(NotAllowed):
        shop.step(RagStep.REMOVED, removal=HAULER)
    shop.step(RagStep.REMOVED, Role.KEEPER, removal=HAULER)
    with shop.database.reading() as session:
        assert session.exec(select(Duty).where(col(Duty.done_at).is_(None))).all() == []


def test_a_drum_at_the_building_is_refused(shop: RagShop) -> None:
    with shop.database.writing() as session:
        near = add_place(session, "Drum by the door", PlaceKind.OUTSIDE_DRUM)
    shop.draw()
    shop.pass_by(minutes=1)
    with pytest.raises(Refused) as refused:
        shop.step(RagStep.OUTSIDE_DRUM, can_id=near, water=Water.FULL)
    assert "rag-drum-not-detached" in codes_of(refused.value)
    with shop.database.reading() as session:
        assert session.exec(select(Duty)).all() == []


def test_the_whole_can_leaves_in_one_go_or_not_at_all(shop: RagShop) -> None:
    shop.draw()
    first = shop.load_id()
    shop.job = open_a_job(shop, "Second job")
    shop.pass_by(minutes=1)
    shop.draw()
    second = shop.load_id()
    shop.pass_by(minutes=1)
    with pytest.raises(NotFound):
        shop.step(RagStep.REMOVED, removal=HAULER, loads=(first, second, 999))
    assert not shop.load(first).state.ended
    settled = shop.step(RagStep.REMOVED, removal=HAULER, loads=(first, second))
    assert [one["ended"] for one in settled.result["loads"]] == [True, True]


def test_put_away_too_late_is_a_violation_that_a_keeper_answers(shop: RagShop) -> None:
    shop.overdue()
    shop.into_can()
    with shop.database.reading() as session:
        duty = session.exec(select(Duty).where(col(Duty.kind) == "answer-violation")).one()
        kinds = [row.kind for row in log_rows(session)]
    assert duty.keeper_answers and "Contained 30 min late" in duty.sentence
    assert kinds.count("violation") == 1
    shop.pass_by(minutes=1)
    shop.step(RagStep.REMOVED, removal=HAULER)
    with shop.database.reading() as session:
        duties = session.exec(select(Duty).where(col(Duty.kind) == "answer-violation")).all()
    assert len(duties) == 2 and "late" in duties[1].sentence


def test_a_late_entry_needs_its_sentence_and_is_marked(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(hours=1)
    when = shop.now - timedelta(minutes=30)
    with pytest.raises(Invalid):
        shop.into_can(happened_at=when)
    shop.into_can(happened_at=when, late_reason="The tablet had no power then")
    with shop.database.reading() as session:
        row = log_rows(session)[-1]
    assert (row.happened_at, row.recorded_at) == (when, shop.now)
    assert "The tablet had no power then" in row.body


def test_not_before_the_draw_and_not_in_the_future(shop: RagShop) -> None:
    shop.draw()
    drawn = shop.now
    shop.pass_by(minutes=10)
    with pytest.raises(Refused):
        shop.into_can(happened_at=drawn - timedelta(minutes=1))
    with pytest.raises(Invalid):
        shop.into_can(happened_at=shop.now + timedelta(minutes=10))


def test_the_same_key_twice_is_one_step(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    first = shop.into_can(once="twice-the-same-key")
    again = shop.into_can(once="twice-the-same-key")
    assert again.repeated and again.result == first.result
    with pytest.raises(Stale) as stale:
        shop.into_can(once="twice-the-same-key", note="other")
    assert stale.value.kind is StaleKind.ONCE_REUSED
    with shop.database.reading() as session:
        assert [row.kind for row in log_rows(session)].count("step") == 1


def test_clocks_do_not_move(shop: RagShop) -> None:
    shop.draw()
    before = (_row(shop).contain_by, _row(shop).remove_by)
    assert before == (ENDS, ENDS)
    shop.pass_by(minutes=1)
    shop.into_can()
    shop.pass_by(minutes=1)
    shop.step(RagStep.LOOSE, note="can was tipped over")
    assert (_row(shop).contain_by, _row(shop).remove_by) == before
    assert not _row(shop).contained


def test_no_load_named(shop: RagShop) -> None:
    with shop.database.writing() as session, pytest.raises(Invalid):
        add_step(session, shop.actor(Role.FINISHER), shop.now, StepAsked(once(), (), RagStep.LOOSE))
