"""Rounds of sending on both databases, the network pretended: once each, backed off, none stops the rest."""

from __future__ import annotations

import threading
import time as real_time
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import col, select

from service.actions.manage_channels import (
    ask_for_trial,
    reach_findings,
    switch_off,
)
from service.actions.manage_people import Description, change_person, switch_person
from service.actions.outbox import CLAIM_LASTS, MessageState, claim
from service.actions.witness import heads_in
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed
from service.core.rags import RagStep, Water
from service.outreach.envelope import Envelope
from service.records.engine import Database
from service.records.outbox import Channel
from service.records.people import Person
from service.records.rags import WitnessedHead
from service.sending import Loop, Network, one_round
from tests.builders import TODAY
from tests.rag_shop import ENDS, make_shop, second_keeper
from tests.warned_shop import Warned, mail_channel, settings_of

ORLA, RUTH, PIET = "orla@shop.example", "ruth@shop.example", "piet@shop.example"


@pytest.fixture
def warned(database: Database, tmp_path: Path) -> Warned:
    """Oil was drawn by Piet in a job that ends at 11:30 UTC; both keepers and Piet have mail."""
    shop = make_shop(database)
    shop.draw()
    with database.writing() as session:
        mail_channel(session, shop, shop.people.keeper, ORLA)
        mail_channel(session, shop, session.get(Person, second_keeper(session).person_id), RUTH)
        mail_channel(session, shop, shop.people.finisher, PIET)
    return Warned(shop, settings_of(database, tmp_path))


def until(warned: Warned, at: datetime) -> list[Envelope]:
    """One round at a time of the day; what left in it."""
    warned.shop.now = at
    warned.round()
    return warned.wire.take()


def to(sent: list[Envelope]) -> list[str]:
    return sorted(one.to for one in sent)


def test_an_evening_from_the_first_word_to_the_drum(warned: Warned) -> None:
    assert until(warned, ENDS - timedelta(minutes=61)) == []
    hour = until(warned, ENDS - timedelta(minutes=60))
    assert to(hour) == [ORLA, PIET, RUTH] and hour[0].subject.startswith("DUE 12:30: Rag load 1 (Table tops)")
    assert until(warned, ENDS - timedelta(minutes=59)) == []
    assert to(until(warned, ENDS - timedelta(minutes=15))) == [ORLA, PIET, RUTH]
    late = until(warned, ENDS + timedelta(minutes=1))
    assert to(late) == [ORLA, PIET, RUTH] and late[0].subject.startswith("OVERDUE since 12:30")
    assert "Record it: https://store.example/rags/1" in late[0].text and "Piet Maas owes it" in late[0].text
    calls = [to(until(warned, ENDS + timedelta(minutes=30 * n))) for n in (1, 2, 3)]
    assert calls == [[ORLA], [RUTH], [PIET]]
    warned.shop.now = ENDS + timedelta(minutes=100)
    warned.shop.step(RagStep.OUTSIDE_DRUM, Role.KEEPER, can_id=warned.shop.drum, water=Water.FULL)
    assert until(warned, ENDS + timedelta(hours=5)) == []
    ids = [row.message_id for row in warned.rows()]
    assert len(set(ids)) == len(ids) == 12 and all(one.endswith("@shop.example>") for one in ids)
    assert {row.state for row in warned.rows()} == {MessageState.SENT}


def test_a_night_without_the_service_brings_one_mail_each_that_says_it_is_late(warned: Warned) -> None:
    sent = until(warned, ENDS + timedelta(hours=9))
    assert to(sent) == [ORLA, PIET, RUTH]
    for one in sent:
        assert one.text.startswith("THIS COMES 10 h LATE: it was due on 12 March 2026, 11:30 (UTC+01:00).")
    assert until(warned, ENDS + timedelta(hours=9, minutes=10)) == []


def test_a_server_that_is_away_is_tried_less_often_and_leaves_no_flood(warned: Warned) -> None:
    warned.wire.fails["*"] = "way"
    start = ENDS - timedelta(minutes=60)
    tries = []
    for minute in range(0, 160, 2):
        warned.shop.now = start + timedelta(minutes=minute)
        done = warned.round()
        tries.append(len(warned.wire.tried))
        assert done.sent == 0 and done.failed == len(warned.wire.tried) <= 2, "two end the turn of a way"
        warned.wire.take()
    assert sum(tries[:15]) < 25, "three mails, doubling waits"
    assert max(row.attempts for row in warned.rows()) < 14
    waiting = [row for row in warned.rows() if row.state is MessageState.WAITING]
    assert len(waiting) == 3, "one for each channel, whatever was missed"
    warned.wire.fails.clear()
    warned.shop.now += timedelta(minutes=10)
    warned.round()
    sent = warned.wire.take()
    assert {one.to for one in sent} == {ORLA, RUTH, PIET} and len(sent) <= 4
    assert all("LATE: it was due on" in one.text for one in sent if "late" in one.message_id)


@pytest.mark.parametrize("kind", ["address", "message", "way", "bug"])
def test_one_bad_address_never_stops_the_rest(warned: Warned, kind: str) -> None:
    warned.wire.fails[ORLA] = kind
    for minute in range(0, 61, 3):
        warned.shop.now = ENDS - timedelta(minutes=60 - minute)
        warned.round()
    assert to(warned.wire.take()) == [PIET, PIET, RUTH, RUTH]
    mine = [row for row in warned.rows() if row.channel_id == 1]
    if kind == "address":
        assert [row.state for row in mine] == [MessageState.REFUSED] * 2 and {r.attempts for r in mine} == {1}
    else:
        assert mine[0].state is MessageState.DROPPED and mine[1].state is MessageState.WAITING
        assert 3 <= mine[0].attempts <= 7
    with warned.shop.database.reading() as session:
        codes = [f.code for f in reach_findings(session, warned.shop.now, warned.settings)]
    assert codes == ["channel-fails"]


def test_what_was_answered_before_it_left_is_not_sent(warned: Warned) -> None:
    warned.wire.fails["*"] = "way"
    until(warned, ENDS + timedelta(minutes=1))
    warned.wire.fails.clear()
    warned.shop.step(RagStep.OUTSIDE_DRUM, Role.KEEPER, can_id=warned.shop.drum, water=Water.FULL)
    assert until(warned, ENDS + timedelta(minutes=20)) == []
    assert {row.state for row in warned.rows()} == {MessageState.DROPPED}


def test_a_claim_holds_off_others_and_lapses(warned: Warned) -> None:
    """What a sender holds when it is killed is sent by the next one, under the same number."""
    shop = warned.shop
    warned.wire.fails["*"] = "way"
    until(warned, ENDS - timedelta(minutes=60))
    warned.wire.fails.clear()
    shop.pass_by(minutes=2)
    with shop.database.writing() as session:
        held = claim(session, shop.now, "killed soon")
    assert held is not None
    sent = until(warned, shop.now + CLAIM_LASTS - timedelta(seconds=1))
    assert held.message_id not in {one.message_id for one in sent} and len(sent) == 2
    (again,) = until(warned, shop.now + timedelta(seconds=1))
    assert again.message_id == held.message_id


@pytest.mark.race
def test_many_senders_at_once_send_nothing_twice(warned: Warned) -> None:
    shop = warned.shop
    with shop.database.writing() as session:
        for n in range(9):
            mail_channel(session, shop, None, f"box{n}@shop.example")
    shop.now = ENDS - timedelta(minutes=60)
    sent: list[str] = []

    def slow(*said: object) -> None:
        envelope = next(one for one in said if isinstance(one, Envelope))
        real_time.sleep(0.02)
        sent.append(envelope.message_id)

    network = Network(slow, slow)
    errors: list[BaseException] = []

    def work() -> None:
        try:
            one_round(shop.database, warned.settings, lambda: shop.now, network)
        except BaseException as error:
            errors.append(error)

    threads = [threading.Thread(target=work) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not errors and len(sent) == len(set(sent)) == 12
    assert {row.attempts for row in warned.rows()} == {1}


def test_a_person_who_left_and_a_channel_switched_off_hear_nothing_more(warned: Warned) -> None:
    shop = warned.shop
    with shop.database.writing() as session:
        keeper = shop.actor(Role.KEEPER)
        switch_off(session, keeper, shop.now, 1, 1)
        piet = session.get(Person, shop.people.finisher.id)
        assert piet is not None
        switch_person(session, keeper, shop.now, piet.id or 0, piet.version, active=False)
    assert to(until(warned, ENDS - timedelta(minutes=60))) == [RUTH]
    with shop.database.reading() as session:
        row = session.get(Channel, 1)
        found = reach_findings(session, shop.now, warned.settings)
    assert row is not None and row.address == ""
    assert {f.code for f in found} == {"channel-leads-nowhere", "keeper-out-of-reach"}


def test_the_mail_follows_the_address_in_the_book_of_people(warned: Warned) -> None:
    shop = warned.shop
    with shop.database.writing() as session:
        row = session.get(Person, shop.people.keeper.id)
        assert row is not None
        said = Description(row.name, row.role, row.sign_in_name, None, "orla@Elsewhere.example")
        change_person(session, shop.actor(Role.KEEPER), shop.now, TODAY, row.id or 0, row.version, said)
    assert to(until(warned, ENDS - timedelta(minutes=60))) == ["orla@elsewhere.example", PIET, RUTH]


def test_a_test_message_is_tried_once_and_its_outcome_stands(warned: Warned) -> None:
    shop = warned.shop

    def tried(kind: str) -> tuple[bool | None, set[str]]:
        warned.wire.fails = {ORLA: kind} if kind else {}
        with shop.database.writing() as session:
            ask_for_trial(session, shop.actor(Role.KEEPER), shop.now, 1, warned.settings)
        for _ in range(3):
            warned.round(minutes=2)
        with shop.database.reading() as session:
            row = session.get(Channel, 1)
            assert row is not None
            codes = {f.code for f in reach_findings(session, shop.now, warned.settings) if "Orla" in f.about}
            return row.test_ok, codes

    with shop.database.reading() as session:
        before = {f.code for f in reach_findings(session, shop.now, warned.settings)}
    assert before == {"nobody-sends", "channel-untested"}
    assert tried("way") == (False, {"test-failed"})
    assert len(warned.wire.tried) == 1
    assert tried("") == (True, set())
    (one,) = warned.wire.take()
    assert one.subject.startswith("Test of the warnings") and "Orla Brandt sent this" in one.text
    with shop.database.writing() as session, pytest.raises(NotAllowed):
        ask_for_trial(session, shop.actor(Role.FINISHER), shop.now, 1, warned.settings)
    nowhere = warned.with_mail(None)
    with shop.database.writing() as session, pytest.raises(Invalid, match="No mail server"):
        ask_for_trial(session, shop.actor(Role.KEEPER), shop.now, 1, nowhere.settings)
    with shop.database.reading() as session:
        (none,) = reach_findings(session, shop.now, nowhere.settings)
    assert none.code == "no-channel" and none.severity == "stop"


def morning_of(warned: Warned) -> Warned:
    warned.settings = type(warned.settings)(**{**vars(warned.settings), "morning_mail": time(7)})
    return warned


def test_the_morning_mail_carries_the_head_that_is_then_witnessed(warned: Warned) -> None:
    shop = morning_of(warned).shop
    seven = datetime(2026, 3, 13, 6, tzinfo=UTC)  # 07:00 in Berlin
    until(warned, seven - timedelta(minutes=1))
    mails = until(warned, seven)
    morning = [one for one in mails if "morning" in one.message_id]
    assert to(morning) == [ORLA, PIET, RUTH], "the keepers, and who owes something"
    with_head = [one for one in morning if "Head of the rag log" in one.text]
    assert to(with_head) == [ORLA, RUTH], "keepers only"
    assert {one.subject for one in morning} == {"1 OVERDUE: Harbour Lane Finishing, 13 March 2026"}
    with shop.database.reading() as session:
        (row,) = session.exec(select(WitnessedHead)).all()
    assert (row.where, row.at) == ("morning mail of 2026-03-13", seven)
    for one in with_head:
        assert f"Entries: {row.count}\nHash of the last one:\n{row.hash}\n" in one.text and row.count > 0
    (head,) = heads_in(warned.settings.data, ZoneInfo("Europe/Berlin")).heads
    assert (head.count, head.hash) == (row.count, row.hash)
    again = [one for hours in range(1, 24, 5) for one in until(warned, seven + timedelta(hours=hours))]
    assert not [one for one in again if "morning" in one.message_id]
    tomorrow = until(warned, seven + timedelta(hours=24))
    assert to([one for one in tomorrow if "morning" in one.message_id]) == [ORLA, PIET, RUTH]


def test_a_mail_that_did_not_leave_is_no_witness_and_an_old_one_is_dropped(warned: Warned) -> None:
    shop = morning_of(warned).shop
    warned.wire.fails["*"] = "way"
    seven = datetime(2026, 3, 13, 6, tzinfo=UTC)
    until(warned, seven)
    assert {row.state for row in warned.rows() if row.rule == "morning"} == {MessageState.WAITING}
    warned.wire.fails.clear()
    sent = until(warned, seven + timedelta(hours=21))
    assert sent and not [one for one in sent if "morning" in one.message_id]
    with shop.database.reading() as session:
        assert session.exec(select(WitnessedHead)).all() == []
    assert heads_in(warned.settings.data, ZoneInfo("UTC")).heads == ()
    states = {row.state for row in warned.rows() if row.rule == "morning"}
    assert states == {MessageState.DROPPED}


@pytest.mark.parametrize(
    ("day", "utc_hour"), [((2026, 3, 29), 5), ((2026, 3, 28), 6), ((2026, 10, 24), 5), ((2026, 10, 25), 6)]
)
def test_the_morning_is_at_seven_on_the_wall_whatever_the_clocks_did(
    sqlite_database: Database, tmp_path: Path, day: tuple[int, int, int], utc_hour: int
) -> None:
    shop = make_shop(sqlite_database)
    with sqlite_database.writing() as session:
        mail_channel(session, shop, shop.people.keeper, ORLA)
    warned = morning_of(Warned(shop, settings_of(sqlite_database, tmp_path)))
    at = datetime(*day, utc_hour, tzinfo=UTC)
    until(warned, at - timedelta(days=1))
    assert until(warned, at - timedelta(minutes=1)) == []
    assert to(until(warned, at)) == [ORLA]


def test_names_of_people_and_jobs_stay_one_line_of_the_mail(warned: Warned) -> None:
    shop = warned.shop
    with shop.database.writing() as session:
        from service.records.jobs import Job

        for job in session.exec(select(Job)).all():
            job.name = "Class\r\nBcc: all@elsewhere.example\u202e <script>" + "x" * 70
            session.add(job)
    sent = until(warned, ENDS + timedelta(minutes=1))
    for one in sent:
        assert "\n" not in one.subject and "\u202e" not in one.subject + one.text and len(one.subject) <= 120
        assert not any(line.startswith("Bcc:") for line in one.text.splitlines())


def test_the_loop_works_beside_the_service_wakes_and_stops(sqlite_database: Database, tmp_path: Path) -> None:
    shop = make_shop(sqlite_database)
    with sqlite_database.writing() as session:
        mail_channel(session, shop, None, ORLA)
    warned = Warned(shop, settings_of(sqlite_database, tmp_path))
    loop = Loop(sqlite_database, warned.settings, lambda: shop.now, warned.wire.network, every_s=30)
    loop.start()
    try:
        with sqlite_database.writing() as session:
            ask_for_trial(session, shop.actor(Role.KEEPER), shop.now, 1, warned.settings)
        loop.wake()
        ends = real_time.monotonic() + 10
        while not warned.wire.sent and real_time.monotonic() < ends:
            real_time.sleep(0.02)
        assert to(warned.wire.sent) == [ORLA], "within seconds, not with the next round"
    finally:
        loop.stop()
    assert not any(thread.name == "sending" for thread in threading.enumerate())
    with sqlite_database.reading() as session:
        assert session.exec(select(Channel.test_ok).where(col(Channel.id) == 1)).one() is True
