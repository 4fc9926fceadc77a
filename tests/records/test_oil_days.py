"""Days on which oil was used and nothing in the log answers for its rags, on both databases."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import text

from service.core.access import Role
from service.core.rags import RagStep
from service.records.engine import Database
from service.records.oil_days import unanswered_oil_days
from tests.rag_shop import ENDS, RagShop, make_shop

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def shop(database: Database) -> RagShop:
    return make_shop(database)


def found(shop: RagShop) -> list[tuple[str, int]]:
    with shop.database.reading() as session:
        days = unanswered_oil_days(session, BERLIN, ENDS - timedelta(days=2), shop.now)
        return [(one.day.isoformat(), one.takings) for one in days]


def test_a_load_nobody_wrote_a_step_about_is_found_once_its_time_is_up(shop: RagShop) -> None:
    shop.draw()
    shop.draw(role=Role.STUDENT)
    assert found(shop) == []  # there is still time
    shop.now = ENDS + timedelta(minutes=1)
    assert found(shop) == [("2026-03-12", 2)]
    shop.step(RagStep.LOOSE)
    assert found(shop) == []  # late, but told: the violation says the rest


def test_a_taking_that_no_entry_tells_of_is_found(shop: RagShop) -> None:
    """Only past the book can it come about: here a foreign tool takes triggers off and entries out."""
    shop.draw()
    shop.pass_by(minutes=1)
    shop.into_can()
    assert found(shop) == []
    with shop.database.writing() as session:
        if shop.database.sqlite:
            tools = ["DROP TRIGGER tr_movement_no_update", "DROP TRIGGER tr_rag_log_no_delete"]
        else:
            tools = [f"ALTER TABLE {table} DISABLE TRIGGER USER" for table in ("movement", "rag_log")]
        for tool in [*tools, "UPDATE movement SET rag_load_id = NULL", "DELETE FROM rag_log WHERE id = 2"]:
            session.execute(text(tool))
    assert found(shop) == [("2026-03-12", 1)]
