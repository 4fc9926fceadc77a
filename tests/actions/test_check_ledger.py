"""The ledger check finds every cache and line that does not follow from the acts; each fault is made here."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import text

from service.actions.check_ledger import LedgerReport, check
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, draw
from service.core.access import Role
from service.core.rag_log import Head
from service.records.engine import Database
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import holds, material, oil, once, received


@pytest.fixture
def people(database: Database) -> Cast:
    """A shop with a draw of oil, a draw of pigment and a decant behind it."""
    with database.writing() as session:
        made = cast(session)
        finisher, keeper = made.actor(Role.FINISHER), made.actor(Role.KEEPER)
        tin = received(session, keeper, oil(session), opened_on=TODAY - timedelta(days=3))
        tub = received(session, keeper, material(session))
        draw(session, finisher, NOW, DrawAsked(once=once(), code=tin, amount="50 ml"))
        draw(session, finisher, NOW, DrawAsked(once=once(), code=tub, amount="5 g"))
        decant(session, finisher, NOW, DecantAsked(once=once(), code=tub, amount="100 g"), lambda: "chance")
    return made


def tampered(database: Database, statement: str) -> LedgerReport:
    """The report after somebody with the database in hand changed something behind the triggers' back."""
    with database.writing() as session:
        if database.sqlite:
            names = session.execute(text("select name from sqlite_master where type = 'trigger'")).scalars()
            for name in list(names):
                session.execute(text(f'drop trigger "{name}"'))
        else:
            session.execute(text("set session_replication_role = replica"))
        session.execute(text(statement))
        if not database.sqlite:
            session.execute(text("set session_replication_role = default"))
    with database.reading() as session:
        return check(session)


def test_what_was_booked_through_the_acts_holds(database: Database, people: Cast) -> None:
    holds(database)
    with database.reading() as session:
        report = check(session)
    assert report.exit_code == 0
    assert report.counts["movements"] == 6
    assert "no outside witness yet" in report.words[-1]


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("update container set balance = balance + 1 where id = 1", "its movements come to"),
        ("update container set balance_known = 'estimated' where id = 1", "its movements come to"),
        ("update container set state = 'sealed' where id = 1", "its acts lead to open"),
        ("update container set ever_opened = false where id = 2", "it was opened"),
        ("update container set in_date_until = '2099-01-01' where id = 1", "in date until"),
        ("update container set next_alert_on = '2050-01-01' where id = 1", "next change of standing"),
        ("update container set next_alert_on = null where id = 1", "no change of standing is stored"),
        ("update container set standing = 'past' where id = 1", "its dates give in-date"),
        ("update movement set change = -1 where id = 2", "was left"),
        ("update movement set change = 5 where kind = 'draw'", "does not fit"),
        ("update movement set balance_after = 7 where id = 3", "was left"),
        ("update movement set person_id = 1 where kind = 'draw'", "does not agree with its posting"),
        ("delete from movement where kind = 'decant-in'", "its other side is missing"),
        ("update movement set change = 99 where kind = 'decant-in'", "pour over different amounts"),
        ("update posting set recorded_at = '2020-01-01 00:00:00+00:00' where id = 3", "recorded before"),
        ("delete from posting_result where posting_id = 3", "no answer kept"),
        ("update rag_load set ended_at = made_at, contained = true", "its log says"),
        ("update rag_load set remove_by = '2099-01-01 00:00:00+00:00'", "its clocks are not those"),
        ("update rag_load set contain_by = '2099-01-01 00:00:00+00:00'", "its clocks are not those of its"),
        ("update rag_load set made_at = '2099-01-01 00:00:00+00:00'", "was made at another time"),
        ("update rag_load set owed_by = 1", "its log says somebody else owes it"),
        ("update movement set rag_load_id = null", "the rag log says it joined"),
        ("update rag_log set kind = 'step' where id = 2", "broken"),
        ("delete from rag_log where id = 2", "stored end says"),
        (
            "update container set ever_opened = true, opened_on = '2020-01-01' where id = 2",
            "none of its acts",
        ),
        ("delete from container_event where id = 1", "none of its acts opened it"),
    ],
)
def test_every_difference_is_found_and_said(
    database: Database, people: Cast, statement: str, words: str
) -> None:
    report = tampered(database, statement)
    assert report.exit_code == 1
    assert words in " ".join(report.words)


def test_a_cut_log_shows_only_against_a_head_kept_outside(database: Database, people: Cast) -> None:
    with database.reading() as session:
        from service.records.rags import RagChainHead

        head = session.get_one(RagChainHead, 1)
        kept = Head(head.count, head.hash, NOW + timedelta(hours=1), "day sheet")
    cut = "update rag_chain_head set count = 0, hash = '" + "0" * 64 + "'"
    tampered(database, "update movement set rag_load_id = null")
    tampered(database, "delete from rag_log")
    tampered(database, "delete from rag_load")
    assert tampered(database, cut).holds
    with database.reading() as session:
        report = check(session, [kept])
    assert not report.holds
    assert "the log is cut" in " ".join(report.words)
