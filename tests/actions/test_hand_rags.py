"""Pieces handed out and in, oily things that no draw tells of, and the end of the day, on both databases."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError
from sqlmodel import select

from service.actions.check_ledger import check
from service.actions.close_day import close_day, day_list
from service.actions.hand_rags import HandAsked, hand_rags, handed
from service.actions.run_job import close_job, short_list
from service.actions.settle import Settled
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, Refused
from service.core.oily_things import OilyThing, Way
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.records.engine import Database
from service.records.job_queries import the_job
from service.records.rag_queries import last_closing, log_rows
from service.records.rags import DayClosing, RagHand
from tests.rag_shop import ENDS, RagShop, make_shop, once, open_a_job

DAY = ENDS.date()
HAULED = Removal(RemovalHow.HAULER, "North Quay Waste")


@pytest.fixture
def shop(database: Database) -> RagShop:
    return make_shop(database)


def hand(
    shop: RagShop, way: Way, pieces: int, thing: OilyThing = OilyThing.RAGS, role: Role = Role.FINISHER,
    job: int = 0,
) -> Settled:  # fmt: skip
    with shop.database.writing() as session:
        asked = HandAsked(once(), job or shop.job, way, thing, pieces)
        return hand_rags(session, shop.actor(role), shop.now, asked)


def close(shop: RagShop, note: str = "", job: int = 0) -> None:
    with shop.database.writing() as session:
        close_job(session, shop.actor(Role.FINISHER), shop.now, job or shop.job, once(), note)


def end_day(shop: RagShop, role: Role = Role.KEEPER) -> Settled:
    with shop.database.writing() as session:
        return close_day(session, shop.actor(role), shop.now, DAY, once(), "All swept")


def test_what_went_out_and_did_not_come_in_is_missing_until_somebody_says_why(shop: RagShop) -> None:
    hand(shop, Way.OUT, 12, role=Role.STUDENT)
    hand(shop, Way.IN, 7)
    hand(shop, Way.IN, 3)
    hand(shop, Way.OUT, 2, OilyThing.GLOVES)
    assert hand(shop, Way.IN, 2, OilyThing.GLOVES).result["in"] == 2
    with shop.database.reading() as session:
        assert handed(session, shop.job) == {OilyThing.RAGS: (12, 10), OilyThing.GLOVES: (2, 2)}
        owed = short_list(session, the_job(session, shop.job), shop.now).findings
        said = [f.sentence for f in owed if f.code == "rags-missing"]
        assert said == ["12 rags were handed out and 10 handed in: 2 are missing. Find them."]
        kinds = [row.kind for row in log_rows(session)]
        assert kinds.count("handed-out") == 2 and kinds.count("handed-in") == 3
    with pytest.raises(Invalid) as missing:
        close(shop, "gone")
    assert "note" in missing.value.errors
    close(shop, "Two were left with the customer in their own can")
    with pytest.raises(Refused):
        hand(shop, Way.IN, 2)


@pytest.mark.parametrize("thing", list(OilyThing))
def test_whatever_lies_there_with_oil_on_it_owes_a_can(shop: RagShop, thing: OilyThing) -> None:
    load = hand(shop, Way.LOOSE, 3, thing).result["load"]
    assert not load["contained"] and not load["ended"]
    seen = shop.load()
    assert seen.state.step is RagStep.LOOSE and seen.row.remove_by == ENDS
    with pytest.raises(Refused):  # seen is seen: none were made cannot be said of them
        shop.step(RagStep.NONE_MADE, covers=())
    shop.pass_by(minutes=1)
    shop.into_can()
    assert shop.load().state.contained
    shop.pass_by(minutes=1)
    hand(shop, Way.LOOSE, 1, thing)  # one more turned up: what was put away is open again
    assert not shop.load().state.contained and len({shop.load_id()}) == 1
    with shop.database.reading() as session:
        # The containers of this shop are set up past the book; its rag log and loads are not.
        assert not [fault for fault in check(session).faults if "ag lo" in fault]


def test_what_is_found_after_the_job_closed_is_late_and_blocks(shop: RagShop) -> None:
    close(shop)
    shop.now = ENDS + timedelta(hours=1)
    hand(shop, Way.LOOSE, 1, OilyThing.DUST)
    assert shop.load().judgement.blocks
    with pytest.raises(Refused):
        shop.draw(job_id=open_a_job(shop, "Next", ends_at=shop.now + timedelta(hours=1)))


def test_who_counts_and_what_cannot_be_counted(shop: RagShop) -> None:
    other = open_a_job(shop, "Without the student", people=())
    with pytest.raises(NotAllowed):
        hand(shop, Way.OUT, 1, role=Role.STUDENT, job=other)
    with pytest.raises(NotAllowed):
        hand(shop, Way.OUT, 1, role=Role.READER)
    for pieces in (0, -1, 10_001):
        with pytest.raises(Invalid):
            hand(shop, Way.OUT, pieces)
    asked = HandAsked(once(), shop.job, Way.OUT, OilyThing.RAGS, 4)
    for _ in range(2):
        with shop.database.writing() as session:
            hand_rags(session, shop.actor(Role.FINISHER), shop.now, asked)
    with shop.database.reading() as session:
        assert handed(session, shop.job) == {OilyThing.RAGS: (4, 0)}


def test_a_day_closes_with_no_job_open_and_no_rags_here(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=5)

    def codes() -> set[str]:
        with pytest.raises(Refused) as refused:
            end_day(shop)
        return {f.code for f in refused.value.verdict if f.severity.value == "stop"}

    assert codes() == {"job-open", "rags-loose"}
    shop.into_can()
    assert codes() == {"job-open", "rags-in-building"}
    close(shop)
    assert codes() == {"rags-in-building"}
    with pytest.raises(NotAllowed):
        end_day(shop, Role.FINISHER)
    shop.pass_by(minutes=1)
    shop.step(RagStep.REMOVED, removal=HAULED)
    done = end_day(shop).result
    with shop.database.reading() as session:
        closing = last_closing(session, DAY)
        assert closing is not None
        assert (closing.entries, closing.hash, closing.note) == (done["entries"], done["hash"], "All swept")
        last = log_rows(session)[-1]
        assert (last.kind, last.id, last.hash) == ("day-closed", done["entries"], done["hash"])
        # The containers of this shop are set up past the book; its rag log and loads are not.
        assert not [fault for fault in check(session).faults if "ag lo" in fault]


def test_rags_in_the_outside_drum_wait_there_and_the_day_may_close(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=5)
    shop.step(RagStep.OUTSIDE_DRUM, can_id=shop.drum, water=Water.FULL, mass="2 kg")
    close(shop)
    assert end_day(shop).result["entries"] > 0


def test_a_day_to_come_does_not_close_and_yesterday_may(shop: RagShop) -> None:
    with pytest.raises(Invalid), shop.database.writing() as session:
        close_day(session, shop.actor(Role.KEEPER), shop.now, DAY + timedelta(days=1), once())
    close(shop)
    shop.now = datetime(2026, 3, 13, 8, tzinfo=UTC)
    open_a_job(shop, "The next day", ends_at=None)
    assert end_day(shop)  # a job of today does not keep yesterday open
    with shop.database.reading() as session:
        today = day_list(session, DAY + timedelta(days=1), ZoneInfo("Europe/Berlin"), shop.now)
        assert {f.code for f in today if f.severity.value == "stop"} == {"job-open"}


@pytest.mark.parametrize("table", [RagHand, DayClosing])
def test_what_was_counted_and_closed_is_never_changed(shop: RagShop, table: type) -> None:
    hand(shop, Way.OUT, 1)
    close(shop, "One rag was torn up and went into the can")
    end_day(shop)
    name = str(table.__tablename__)  # type: ignore[attr-defined]
    for attempt in (f"update {name} set id = id", f"delete from {name}"):
        with pytest.raises(DatabaseError, match="append-only"), shop.database.writing() as session:
            session.execute(text(attempt))
    with shop.database.reading() as session:
        assert session.exec(select(table)).one()
