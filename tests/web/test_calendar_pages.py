"""The secret calendar address: shown once, renewed, ended, of its person alone; what is read there."""

from __future__ import annotations

import logging
import re
from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient
from ical.calendar import Calendar
from ical.calendar_stream import IcsCalendarStream
from ical.event import EventStatus
from sqlmodel import col, select

from service.actions import tell_calendar
from service.actions.begin_shop import begin_shop
from service.actions.container_events import OpenAsked, open_container
from service.actions.manage_people import switch_person
from service.core.access import Role
from service.records.duties import Duty
from service.records.engine import DatabaseBusy
from service.records.materials import Material
from service.records.notices import CalendarFeed
from service.records.people import Person
from tests.actions.test_list_alerts import drier, job_and_load, once, take_in
from tests.web.conftest import Shop
from tests.web.test_methods import everything


def make(client: TestClient) -> str:
    """A new address; its path."""
    answer = client.post("/me/calendar")
    assert answer.status_code == 200 and answer.headers["cache-control"] == "no-store"
    shown = re.sub(r"<wbr>", "", answer.text)
    (path,) = set(re.findall(r"//testserver(/calendar/[\w-]+\.ics)", shown))
    return str(path)


def read(client: TestClient, path: str) -> Calendar:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    return IcsCalendarStream.calendar_from_ics(answer.text)


@pytest.fixture
def stocked(shop: Shop) -> Shop:
    """A tin that Piet opened and one that nobody did, rags of his due tonight, and a duty of each."""
    people, now = shop.cast, shop.clock()
    with shop.database.writing() as session:
        begin_shop(session, now)
        for opened in (True, False):
            stuff = drier(session, now)
            material = session.get(Material, stuff)
            assert material is not None
            material.name = f"{'Opened' if opened else 'Sealed'}, “oil”; \\n 🎨 {'x' * 80}"
            code = take_in(session, people, now, stuff, packed_on=date(2025, 3, 1))
            if opened:
                open_container(session, people.actor(Role.FINISHER), now, OpenAsked(once=once(), code=code))
        job_and_load(session, people, now - timedelta(hours=1), now + timedelta(hours=4))
        for person in (people.finisher, people.keeper, people.student):
            said = {"kind": "count-container", "sentence": f"Count it, {person.name}."}
            due = now + timedelta(days=2)
            session.add(Duty(**said, owed_by=person.id or 0, due_at=due, created_at=now))
    return shop


def test_each_reads_their_own_without_signing_in(stocked: Shop) -> None:
    nobody = stocked.client("203.0.113.9")
    found = {}
    for role in (Role.KEEPER, Role.FINISHER, Role.STUDENT, Role.READER):
        calendar = read(nobody, make(stocked.signed_in(role)))
        found[role] = sorted((event.summary or "").partition(",")[0] for event in calendar.events)
        assert "Harbour Lane Finishing: " in nobody.get(make(stocked.signed_in(role))).text
    assert [len(found[role]) for role in found] == [5, 3, 1, 0]
    assert all("Opened" in one or "Count" in one for one in found[Role.FINISHER])
    everywhere = "".join(nobody.get(make(stocked.signed_in(role))).text for role in found)
    assert "Rag load" not in everywhere and "Table tops" not in everywhere


def test_it_may_be_kept_privately_and_a_second_reading_writes_nothing(stocked: Shop) -> None:
    path = make(stocked.signed_in(Role.KEEPER))
    answer = stocked.client().get(path)
    before = everything(stocked.database)
    assert answer.headers["cache-control"] == "private, max-age=600"
    assert stocked.client().get(path).content == answer.content, "the same until something changes"
    again = stocked.client().get(path, headers={"if-none-match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    changed = stocked.client().get(path, headers={"if-none-match": '"something else"'})
    assert changed.status_code == 200
    assert everything(stocked.database) == before
    assert all(len(line) <= 75 for line in answer.content.split(b"\r\n"))


def test_an_address_is_shown_once_renewed_and_ended(stocked: Shop) -> None:
    piet, nobody = stocked.signed_in(Role.FINISHER), stocked.client()
    before = piet.get("/me/calendar").text
    assert "Make my address" in before and "for finishers what they opened last or were handed" in before
    assert "is told as cancelled for over a year" in before
    assert "take the old one out of your calendar program" in before
    first = make(piet)
    token = first.rpartition("/")[2].removesuffix(".ics")
    assert len(token) >= 43
    page = piet.get("/me/calendar").text
    assert token not in page.replace("<wbr>", "") and "in use since" in page
    with stocked.database.reading() as session:
        (row,) = session.exec(select(CalendarFeed)).all()
    assert token not in (row.token_hash, str(row)) and len(row.token_hash) == 64
    second = make(piet)
    assert nobody.get(first).status_code == 404 and nobody.get(second).status_code == 200
    assert piet.post("/me/calendar/end").status_code == 303
    assert "opens nothing any more" in piet.get("/me/calendar").text
    assert nobody.get(second).status_code == 404
    piet.post("/me/calendar/end")
    assert "There was no address to end." in piet.get("/me/calendar").text
    third = make(piet)
    assert make(stocked.signed_in(Role.KEEPER)) != third and nobody.get(third).status_code == 200


def test_every_wrong_address_is_answered_alike(stocked: Shop) -> None:
    nobody, piet = stocked.client(), stocked.signed_in(Role.FINISHER)
    ended = make(piet)
    path = make(piet)
    with stocked.database.reading() as session:
        row = session.exec(select(CalendarFeed).order_by(col(CalendarFeed.id).desc())).first()
    assert row is not None
    odd = [ended, path.upper(), path[:-5] + ".ics", f"/calendar/{row.token_hash}.ics", "/calendar/1.ics",
           "/calendar/%00.ics", "/calendar/%F0%9F%8E%A8.ics", "/calendar/' or 1=1.ics"]  # fmt: skip
    told = set()
    for one in odd:
        answer = nobody.get(one)
        assert answer.status_code == 404, one
        assert "Piet" not in answer.text and "ended" not in answer.text
        if one.startswith("/calendar/"):
            told.add(re.sub(r"[0-9a-f-]{16,}|/calendar/[^\"<]*", "", answer.text))
    assert len(told) == 1, "an ended one and one that never was"
    for method in ("POST", "PUT", "DELETE"):
        assert nobody.request(method, path).status_code == 405


@pytest.mark.parametrize("how", ["switched off", "expired"])
def test_who_is_not_here_any_more_has_no_calendar(stocked: Shop, how: str) -> None:
    path, nobody = make(stocked.signed_in(Role.FINISHER)), stocked.client()
    keeper = stocked.actor(Role.KEEPER)
    with stocked.database.writing() as session:
        row = session.get(Person, stocked.cast.finisher.id)
        assert row is not None and row.id is not None
        if how == "expired":
            row.expires_on = date(2026, 3, 11)
        else:
            switch_person(session, keeper, stocked.clock(), row.id, row.version, active=False)
    assert nobody.get(path).status_code == 404
    with stocked.database.writing() as session:
        row = session.get(Person, stocked.cast.finisher.id)
        assert row is not None and row.id is not None
        if how == "expired":
            row.expires_on = None
        else:
            switch_person(session, keeper, stocked.clock(), row.id, row.version, active=True)
    after = 200 if how == "expired" else 404
    assert nobody.get(path).status_code == after, "switching off ends it for good"


def test_a_role_that_changed_changes_what_is_read(stocked: Shop) -> None:
    path, nobody = make(stocked.signed_in(Role.FINISHER)), stocked.client()
    with stocked.database.writing() as session:
        row = session.get(Person, stocked.cast.finisher.id)
        assert row is not None
        row.role = Role.STUDENT
    assert [event.summary for event in read(nobody, path).events] == ["Due: Count it, Piet Maas."]


@pytest.mark.parametrize("how", ["switched off", "expired", "another role", "duties alone"])
def test_what_was_told_is_cancelled_when_the_right_ends_and_never_vanishes(stocked: Shop, how: str) -> None:
    path, nobody = make(stocked.signed_in(Role.FINISHER)), stocked.client()
    keeper = stocked.actor(Role.KEEPER)
    first = {str(event.uid): event for event in read(nobody, path).events}
    with stocked.database.writing() as session:
        row = session.get(Person, stocked.cast.finisher.id)
        assert row is not None and row.id is not None
        if how == "expired":
            row.expires_on = date(2026, 3, 11)
        elif how == "switched off":
            switch_person(session, keeper, stocked.clock(), row.id, row.version, active=False)
        else:
            row.role = Role.READER if how == "another role" else Role.STUDENT
    for days in (1, 200, 199):
        stocked.clock.now += timedelta(days=days)
        then = {str(event.uid): event for event in read(nobody, path).events}
        assert then.keys() == first.keys()
        for uid, event in then.items():
            if (first[uid].summary or "").startswith("Due") and how in ("another role", "duties alone"):
                continue  # what they owe they still owe
            assert event.status is EventStatus.CANCELLED
            assert (event.sequence or 0) > (first[uid].sequence or 0) and event.dtstamp >= first[uid].dtstamp
            assert event.dtstart == first[uid].dtstart
            if how in ("switched off", "expired"):
                assert event.summary == "This calendar has ended" and event.url is not None
    stocked.clock.now += timedelta(days=10)
    last = nobody.get(path)
    if how in ("switched off", "expired"):
        assert last.status_code == 404, "after more than a year it opens nothing"
        return
    assert all("Due: " in (event.summary or "") for event in read(nobody, path).events)


def test_an_ended_calendar_tells_nothing_of_the_store(stocked: Shop) -> None:
    path, nobody = make(stocked.signed_in(Role.FINISHER)), stocked.client()
    keeper = stocked.actor(Role.KEEPER)
    read(nobody, path)
    with stocked.database.writing() as session:
        row = session.get(Person, stocked.cast.finisher.id)
        assert row is not None and row.id is not None
        switch_person(session, keeper, stocked.clock(), row.id, row.version, active=False)
    text = nobody.get(path).text
    for word in ("Piet", "Opened", "oil", "Harbour", "/containers/", "Count"):
        assert word not in text, word


def test_a_calendar_is_not_told_before_it_is_kept(stocked: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    path, nobody = make(stocked.signed_in(Role.FINISHER)), stocked.client()

    def cannot(*said: object) -> None:
        raise DatabaseBusy

    monkeypatch.setattr(tell_calendar, "_keep", cannot)
    answer = nobody.get(path)
    assert answer.status_code == 503 and "BEGIN" not in answer.text


def test_the_address_is_in_no_log(stocked: Shop, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    path = make(stocked.signed_in(Role.FINISHER))
    token = path.rpartition("/")[2].removesuffix(".ics")
    nobody = stocked.client()
    assert nobody.get(path).status_code == 200 and nobody.get(f"{path}x").status_code == 404
    stocked.signed_in(Role.FINISHER).post("/me/calendar/end")
    assert nobody.get(path).status_code == 404
    ours = [one for one in caplog.records if not one.name.startswith(("httpx", "httpcore"))]
    assert ours and not any(token in str(vars(one)) for one in ours)


def test_a_tapped_tablet_makes_no_address(stocked: Shop) -> None:
    tablet = stocked.tablet(stocked.cast.finisher)
    assert "Sign in with your password" in tablet.get("/me/calendar").text
    for path in ("/me/calendar", "/me/calendar/end"):
        assert tablet.post(path).status_code == 403
    assert stocked.client().get("/me/calendar").status_code == 303
