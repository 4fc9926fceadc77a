"""The day's page: what is owed first, and what a new shop still has to put in."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.core.access import Role
from service.core.containers import Standing
from service.records.engine import Database
from service.records.shop import EmergencyNumber
from service.records.stock import Container
from service.web.pages.today import set_up
from tests.rag_shop import ENDS, RagShop
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def test_nothing_is_owed_that_the_book_knows_of(made: tuple[RagShop, Shop]) -> None:
    _, doors = made
    text = doors.signed_in(Role.FINISHER).get("/").text
    assert "Nothing is owed today that the book knows of" in text and "Table tops" in text


def test_rags_jobs_and_violations_come_first(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.overdue()
    keeper, finisher = doors.signed_in(Role.KEEPER), doors.signed_in(Role.FINISHER)
    text = finisher.get("/").text
    assert text.index("To do first") < text.index("Jobs running")
    assert "overdue 30 min" in text and "past its end" in text and "Put them away" in text
    rags.draw(already_done=True, job_id=1, happened_at=ENDS - timedelta(minutes=5),
              late_reason="Written up after the class")  # fmt: skip
    rags.into_can()
    assert "Contained" in keeper.get("/").text and "/rags/violations" in keeper.get("/").text
    assert "/rags/violations" not in finisher.get("/").text


def test_the_number_beside_today_counts_loads_and_duties(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    assert '<span class="count">1' in doors.signed_in(Role.FINISHER).get("/words").text
    assert '<span class="count">' not in doors.signed_in(Role.STUDENT).get("/words").text


def test_stock_that_is_past_is_counted_with_a_way_to_it(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    with rags.database.writing() as session:
        box = session.get(Container, 1)
        assert box is not None
        box.printed_date = rags.now.date() - timedelta(days=3)
        box.standing = Standing.PAST
        session.add(box)
    text = doors.signed_in(Role.READER).get("/").text
    assert "1 container past its date" in text and 'href="/alerts"' in text
    assert "past its date" not in doors.signed_in(Role.STUDENT).get("/").text


def test_a_student_sees_own_rags_only(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    assert "Rag load 1" in doors.signed_in(Role.STUDENT).get("/").text


def test_set_up_is_ticked_by_facts_and_goes_away(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    text = doors.signed_in(Role.KEEPER).get("/").text
    assert "Still to set up" in text and "Write down the emergency numbers" in text
    assert "Still to set up" not in doors.signed_in(Role.FINISHER).get("/").text
    with rags.database.writing() as session:
        open_steps = [step.words for step in set_up(session) if not step.done]
        assert open_steps == ["Write down the emergency numbers"]
        session.add(EmergencyNumber(position=1, who="Fire brigade", number="112"))
    assert "Still to set up" not in doors.signed_in(Role.KEEPER).get("/").text


def test_a_tablet_without_a_name_asks_for_one(made: tuple[RagShop, Shop]) -> None:
    _, doors = made
    answer = doors.tablet().get("/")
    assert answer.status_code == 303 and answer.headers["location"] == "/tap"
