"""The morning mail per person, on both databases: what each is told, quiet hours, choices."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest
from sqlmodel import select

from service.actions.choose_morning import ChoiceAsked, choose_morning
from service.actions.container_events import OpenAsked, open_container
from service.actions.queue_morning import preview
from service.actions.queue_warnings import usable_channels
from service.core.access import Role
from service.core.alerts import AlertKind, ContainerFact, DutyFact, alerts
from service.core.containers import Standing
from service.core.digest import SWITCHABLE, Share
from service.core.findings import Invalid, Stale
from service.core.morning_words import LogHead, Morning, morning_mail
from service.core.shelf_codes import make_code, show_code
from service.outreach.envelope import Envelope
from service.outreach.send_by_mail import send_by_mail
from service.records.duties import Duty
from service.records.engine import Database
from service.records.outbox import MessageState
from service.records.people import Person
from service.records.rags import WitnessedHead
from service.records.stock import Container
from service.sending import Network, one_round
from tests.core.test_digest import alert
from tests.mail_server import mail_server
from tests.rag_shop import ENDS, make_shop, once, second_keeper
from tests.warned_shop import Warned, mail_channel, settings_of

ORLA, RUTH, PIET, SANNE = (f"{name}@shop.example" for name in ("orla", "ruth", "piet", "sanne"))
SEVEN = datetime(2026, 3, 13, 6, tzinfo=UTC)
"""07:00 in Berlin, the day after the tests of rags."""


@pytest.fixture
def warned(database: Database, tmp_path: Path) -> Warned:
    """Two keepers, a finisher and a student with mail; nothing wants attention yet."""
    shop = make_shop(database)
    with database.writing() as session:
        mail_channel(session, shop, shop.people.keeper, ORLA)
        mail_channel(session, shop, session.get(Person, second_keeper(session).person_id), RUTH)
        mail_channel(session, shop, shop.people.finisher, PIET)
        mail_channel(session, shop, shop.people.student, SANNE)
    settings = replace(settings_of(database, tmp_path), morning_mail=time(7))
    return Warned(shop, settings)


def mornings(warned: Warned, at: datetime) -> dict[str, Envelope]:
    """The morning mails that left in a round at that time, by address."""
    warned.shop.now = at
    warned.round()
    return {one.to: one for one in warned.wire.take() if "morning" in one.message_id}


def choose(warned: Warned, role: Role, version: int = 0, **asked: object) -> None:
    said = ChoiceAsked(True, None, None, (), version)
    with warned.shop.database.writing() as session:
        choose_morning(session, warned.shop.actor(role), warned.shop.now, replace(said, **asked))


def owes(warned: Warned, role: Role, sentence: str, due: datetime) -> None:
    with warned.shop.database.writing() as session:
        owed_by = warned.shop.actor(role).person_id
        row = Duty(kind="count-container", sentence=sentence, owed_by=owed_by, due_at=due, created_at=due)
        session.add(row)


def spoil(warned: Warned, opener: Role | None = None) -> str:
    """The tin of spirit is to be looked at first; its code. ``opener`` has opened it."""
    shop = warned.shop
    with shop.database.writing() as session:
        if opener is not None:
            open_container(session, shop.actor(opener), shop.now, OpenAsked(once=once(), code=shop.spirit))
        row = session.exec(select(Container).where(Container.code == shop.spirit)).one()
        row.printed_date, row.packed_on = date(2026, 3, 20), date(2025, 3, 20)
        row.standing, row.in_date_until = Standing.LOOK_FIRST, row.printed_date
        row.next_alert_on = date(2026, 3, 21)
        session.add(row)
    return shop.spirit[:3]


def test_each_is_told_what_they_own_and_the_student_nothing_of_the_store(warned: Warned) -> None:
    owes(warned, Role.FINISHER, "Count the varnish.", SEVEN + timedelta(hours=3))
    owes(warned, Role.STUDENT, "Sweep the bench.", SEVEN - timedelta(days=1))
    tin = spoil(warned, Role.FINISHER)
    sent = mornings(warned, SEVEN)
    assert set(sent) == {ORLA, RUTH, PIET, SANNE}
    assert sent[PIET].subject == "1 due today: Harbour Lane Finishing, 13 March 2026"
    assert "Count the varnish." in sent[PIET].text and f"\n- {tin}" in sent[PIET].text
    assert "Sweep" not in sent[PIET].text and "Head of the rag log" not in sent[PIET].text
    assert sent[SANNE].subject.startswith("1 OVERDUE: ") and "Sweep the bench." in sent[SANNE].text
    assert "varnish" not in sent[SANNE].text and tin not in sent[SANNE].text
    assert "https://store.example/duties\n" in sent[SANNE].text and "/alerts" not in sent[SANNE].text
    for keeper in (ORLA, RUTH):
        assert "Sweep the bench. Do it and tick it off. (Sanne Vos)" in sent[keeper].text, "it is overdue"
        assert "varnish" not in sent[keeper].text and tin not in sent[keeper].text
        assert "Head of the rag log" in sent[keeper].text
    for one in sent.values():
        assert "Which mail you get and when: https://store.example/me/morning\n" in one.text
    assert f"\n  https://store.example/containers/{warned.shop.spirit}/check\n" in sent[PIET].text


def test_with_nothing_to_tell_only_the_keepers_get_one_and_it_is_settled_for_the_day(warned: Warned) -> None:
    assert set(mornings(warned, SEVEN)) == {ORLA, RUTH}
    states = {row.person_id: row.state for row in warned.rows()}
    assert states[warned.shop.people.finisher.id] is MessageState.DROPPED
    assert len(states) == 4
    owes(warned, Role.FINISHER, "Count the varnish.", SEVEN + timedelta(hours=1))
    assert mornings(warned, SEVEN + timedelta(hours=1)) == {}, "it is no morning any more"
    assert set(mornings(warned, SEVEN + timedelta(days=1))) == {ORLA, RUTH, PIET}


def test_nothing_left_out_is_lost_and_what_is_left_out_is_counted(warned: Warned) -> None:
    tin = spoil(warned, Role.FINISHER)
    choose(warned, Role.FINISHER, kinds_off=["look-first"])
    owes(warned, Role.FINISHER, "Count the varnish.", SEVEN + timedelta(hours=3))
    sent = mornings(warned, SEVEN)
    assert tin not in sent[PIET].text and "Left out, as you chose: 1." in sent[PIET].text
    assert tin in sent[ORLA].text and "(Piet Maas)" in sent[ORLA].text
    choose(warned, Role.FINISHER, 1, wanted=False)
    choose(warned, Role.KEEPER, wanted=False)
    sent = mornings(warned, SEVEN + timedelta(days=1))
    assert set(sent) == {ORLA, RUTH, PIET}
    assert "varnish" in sent[PIET].text and sent[PIET].subject.startswith("1 OVERDUE"), "not done: it is told"
    assert "varnish" in sent[ORLA].text and "Head of the rag log" not in sent[ORLA].text
    assert tin in sent[RUTH].text and "Head of the rag log" in sent[RUTH].text


def test_quiet_hours_delay_the_mail_and_never_a_warning_about_rags(warned: Warned) -> None:
    shop = warned.shop
    warned.settings = replace(warned.settings, morning_mail=time(12, 15))
    for role in (Role.KEEPER, Role.FINISHER):
        choose(warned, role, quiet_from=time(11), quiet_until=time(20))
    shop.draw()
    at = ENDS + timedelta(minutes=1)  # 12:31 on the wall
    shop.now = at
    warned.round()
    sent = warned.wire.take()
    assert sorted(one.to for one in sent if "rag-" in one.message_id) == [ORLA, PIET, RUTH]
    assert [one.to for one in sent if "morning" in one.message_id] == [RUTH], "she has no quiet hours"
    assert mornings(warned, datetime(2026, 3, 12, 18, 59, tzinfo=UTC)) == {}
    late = mornings(warned, datetime(2026, 3, 12, 19, tzinfo=UTC))  # 20:00
    assert set(late) == {ORLA, PIET} and "LATE" not in late[ORLA].text
    assert late[PIET].subject.startswith("1 OVERDUE")
    with shop.database.reading() as session:
        (head,) = session.exec(select(WitnessedHead)).all()
    assert head.where == "morning mail of 2026-03-12"


@pytest.mark.parametrize(("day", "utc_hour"), [((2026, 3, 29), 6), ((2026, 10, 25), 7)])
def test_quiet_hours_are_hours_of_the_wall_on_the_days_the_clocks_change(
    warned: Warned, day: tuple[int, int, int], utc_hour: int
) -> None:
    choose(warned, Role.KEEPER, quiet_from=time(22, 30), quiet_until=time(8))
    at = datetime(*day, utc_hour, tzinfo=UTC)
    assert set(mornings(warned, at - timedelta(minutes=1))) == {RUTH}
    assert set(mornings(warned, at)) == {ORLA}


def test_a_late_mail_does_not_leave_in_quiet_hours(warned: Warned) -> None:
    """The machine was off all day, and a mail that was written already could not leave before they began."""
    warned.settings = replace(warned.settings, morning_mail=time(20))
    choose(warned, Role.KEEPER, quiet_from=time(22), quiet_until=time(6))
    assert set(mornings(warned, datetime(2026, 3, 13, 21, 5, tzinfo=UTC))) == {RUTH}  # 22:05 on the wall
    assert mornings(warned, datetime(2026, 3, 14, 5, tzinfo=UTC)) == {}
    warned.wire.fails = {"*": "way"}
    assert mornings(warned, datetime(2026, 3, 14, 20, 58, tzinfo=UTC)) == {}
    warned.wire.fails = {}
    assert set(mornings(warned, datetime(2026, 3, 14, 22, 30, tzinfo=UTC))) == {RUTH}
    assert mornings(warned, datetime(2026, 3, 15, 4, 59, tzinfo=UTC)) == {}
    late = mornings(warned, datetime(2026, 3, 15, 5, tzinfo=UTC))
    assert set(late) == {ORLA} and "LATE" in late[ORLA].text


def test_somebody_who_left_or_whose_time_is_over_gets_none(warned: Warned) -> None:
    owes(warned, Role.FINISHER, "Count the varnish.", SEVEN + timedelta(hours=3))
    owes(warned, Role.STUDENT, "Sweep the bench.", SEVEN + timedelta(hours=3))
    with warned.shop.database.writing() as session:
        over = ((Role.FINISHER, {"active": False}), (Role.STUDENT, {"expires_on": date(2026, 3, 12)}))
        for role, values in over:
            row = session.get(Person, warned.shop.actor(role).person_id)
            assert row is not None
            row.sqlmodel_update(values)
            session.add(row)
    sent = mornings(warned, SEVEN)
    assert set(sent) == {ORLA, RUTH}
    assert all(f"{name}" in sent[ORLA].text for name in ("varnish", "Sweep")), "the keepers are told instead"


def test_choices_are_ones_own_and_stale_ones_are_refused(warned: Warned) -> None:
    choose(warned, Role.FINISHER, quiet_from=time(22), quiet_until=time(6), kinds_off=list(SWITCHABLE))
    with pytest.raises(Stale):
        choose(warned, Role.FINISHER)
    choose(warned, Role.FINISHER, 1)
    choose(warned, Role.STUDENT)
    for kind in (AlertKind.PAST, AlertKind.DUTY_OVERDUE, AlertKind.CHANNEL):
        with pytest.raises(Invalid, match="cannot be left out"):
            choose(warned, Role.KEEPER, kinds_off=[kind.value])


def test_the_preview_says_what_the_mail_would_and_writes_nothing(warned: Warned) -> None:
    owes(warned, Role.FINISHER, "Count the varnish.", SEVEN + timedelta(hours=3))
    shop = warned.shop
    with shop.database.reading() as session:
        shown = {
            role: preview(session, SEVEN, warned.settings, shop.actor(role).person_id)
            for role in (Role.KEEPER, Role.FINISHER, Role.STUDENT, Role.READER)
        }
        assert usable_channels(session, warned.settings)
    assert warned.rows() == []
    sent = mornings(warned, SEVEN)
    for role, address in ((Role.KEEPER, ORLA), (Role.FINISHER, PIET)):
        letter, mail = shown[role].letter, sent[address]
        text = re.sub(r"/mail/leave/\S+", "/mail/leave/…", mail.text)
        assert letter is not None and (letter.subject, letter.text) == (mail.subject, text)
        assert letter.text.count("/mail/leave/…") == 2 and text != mail.text
    assert shown[Role.STUDENT].letter is None and shown[Role.STUDENT].reached
    assert not shown[Role.READER].reached and shown[Role.READER].letter is None
    assert {one.leaves for one in shown.values()} == {time(7)}
    choose(warned, Role.FINISHER, quiet_from=time(6), quiet_until=time(9, 30))
    with shop.database.reading() as session:
        later = preview(session, SEVEN, warned.settings, shop.actor(Role.FINISHER).person_id)
    assert later.leaves == time(9, 30)


def test_the_longest_mail_keeps_the_head_of_the_log_at_its_end() -> None:
    kinds = (AlertKind.PAST, AlertKind.DUTY, AlertKind.NOT_KNOWN)
    many = tuple(alert(kind, n, ref="duty 1", name="W" * 500) for kind in kinds for n in range(200))
    head = LogHead(10**9, "f" * 64, SEVEN)
    said = Morning("S" * 120, SEVEN.date(), Share(many, 10**6, True), 1, head, "https://" + "h" * 100)
    letter = morning_mail(said, UTC)
    assert len(letter.text) < 20_000 and "f" * 64 in letter.text
    stops = letter.text.split("Overdue or past (200):\n")[1].split("\n")[0].split("; ")
    assert len(stops) == 200 and "MAIL IS FULL" not in letter.text
    assert "- and 192 more, not in this mail: https://hhh" in letter.text
    assert letter.subject.startswith("200 OVERDUE") and len(letter.subject) <= 120


@pytest.mark.parametrize(
    ("many", "says"), [(20, "  https://s.example/containers/2"), (90, "is past since"), (900, "; ")]
)
def test_nothing_that_is_past_or_must_stop_somebody_is_cut(many: int, says: str) -> None:
    codes = [make_code(number * 104_729) for number in range(1, many + 1)]
    tins = [ContainerFact(code, "Raw linseed oil", Standing.PAST, date(2026, 2, 1)) for code in codes]
    day = SEVEN.date()
    rags = [DutyFact(f"Rag load {n} is in.", day, "", "Piet", ref=f"rag-load {n}") for n in range(20)]
    duties = [DutyFact(f"Count tub {n}.", day, "", "Piet") for n in range(20)]
    found = tuple(alerts(tins, [], [*duties, *rags], today=day))
    said = Morning("S", day, Share(found, 0, True), 1, LogHead(9, "f" * 64, SEVEN), "https://s.example")
    text = morning_mail(said, UTC).text
    assert len(text) < 20_000 and "f" * 64 in text and says in text
    assert [code for code in codes if show_code(code) not in text] == []
    assert text.count("- Rag load") == 20
    assert "- and 20 more, not in this mail: https://s.example/alerts" in text


def test_it_arrives_over_a_real_mail_server(sqlite_database: Database, tmp_path: Path) -> None:
    shop = make_shop(sqlite_database)
    with sqlite_database.writing() as session:
        mail_channel(session, shop, shop.people.finisher, PIET)
    with mail_server() as box:
        settings = replace(settings_of(sqlite_database, tmp_path, box.server()), morning_mail=time(7))
        warned = Warned(shop, settings)
        owes(warned, Role.FINISHER, "Zähle den Lack, “zwei” Dosen.", SEVEN + timedelta(hours=3))
        done = one_round(sqlite_database, settings, lambda: SEVEN, Network(send_by_mail))
    assert (done.queued, done.sent, done.failed) == (1, 1, 0)
    ((to, mail),) = box.mails
    assert to == PIET and str(mail["Subject"]).startswith("1 due today: ")
    assert "Zähle den Lack, “zwei” Dosen." in str(mail.get_body(("plain",)).get_content())
