"""Signing in, staying signed in, wrong tries; on both databases."""

from __future__ import annotations

import threading
from datetime import date, datetime, timedelta

import pytest
from sqlmodel import Session, select

from service.actions.manage_people import switch_person
from service.actions.passwords import Hasher
from service.actions.sign_in import (
    Attempt,
    end_session,
    find_session,
    note_use,
    sign_in_with_password,
)
from service.actions.throttle import Throttled
from service.core.access import Role
from service.core.findings import Invalid
from service.records.engine import Database
from service.records.people import Person, Throttle, WebSession
from tests.builders import FAST_HASHER, LIMITS, NOW, TODAY, Cast, cast, opening, password_of


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def sign_in(
    database: Database, name: str, password: str, now: datetime = NOW, token: str = "t",
    address: str = "192.0.2.1", today: date = TODAY,
) -> int:
    attempt = Attempt(name, password, address, "a browser")
    return sign_in_with_password(database, FAST_HASHER, attempt, opening(token, now, today))


def still_in(session: Session, token: str, now: datetime = NOW, today: date = TODAY) -> bool:
    return find_session(session, token, LIMITS, now, today) is not None


def test_the_right_password_opens_a_session_of_which_only_the_hash_is_kept(
    database: Database, people: Cast
) -> None:
    assert sign_in(database, " ORLA ", password_of(people.keeper)) == people.keeper.id
    with database.reading() as session:
        row = session.exec(select(WebSession)).one()
        assert row.person_id == people.keeper.id
        assert row.token_hash != "t" and len(row.token_hash) == 64
        found = find_session(session, "t", LIMITS, NOW, TODAY)
        assert found is not None and found.person is not None and found.person.name == "Orla Brandt"
        assert find_session(session, row.token_hash, LIMITS, NOW, TODAY) is None


@pytest.mark.parametrize(
    ("name", "password"),
    [
        ("orla", "not the password"), ("nobody-here", "not the password"), ("orla", ""), ("", ""),
        ("orla", "the password of orla\x00"), ("orla", "\ud800" * 12), ("or la\x00", "x" * 5000),
    ],
)
def test_every_failure_says_the_same(database: Database, people: Cast, name: str, password: str) -> None:
    with pytest.raises(Invalid, match="do not belong together"):
        sign_in(database, name, password)
    with database.reading() as session:
        assert session.exec(select(WebSession)).all() == []


def test_an_unknown_name_is_checked_against_a_hash_too(
    database: Database, people: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    hasher = Hasher(memory_kib=8, passes=1)
    checked: list[str] = []
    real = hasher._hashing.verify

    def watched(secret: str, stored: str) -> bool:
        checked.append(stored)
        return real(secret, stored)

    monkeypatch.setattr(hasher._hashing, "verify", watched)
    with pytest.raises(Invalid):
        sign_in_with_password(database, hasher, Attempt("nobody", "guess", "a"), opening())
    assert len(checked) == 1 and checked[0].startswith("$argon2id$")


def test_disabled_and_expired_people_get_the_same_sentence(database: Database, people: Cast) -> None:
    with database.writing() as session:
        switch_person(
            session, people.actor(Role.KEEPER), NOW, people.student.id or 0, 1, active=False
        )
    with pytest.raises(Invalid, match="do not belong together"):
        sign_in(database, "sanne", password_of(people.student))
    last_day = date(2026, 3, 31)
    assert sign_in(database, "ines", password_of(people.reader), today=last_day)
    with pytest.raises(Invalid, match="do not belong together"):
        sign_in(database, "ines", password_of(people.reader), today=date(2026, 4, 1), token="u")
    with database.reading() as session:
        assert still_in(session, "t", today=last_day) and not still_in(session, "t", today=date(2026, 4, 1))


def test_an_old_hash_is_renewed_at_sign_in(database: Database, people: Cast) -> None:
    stronger = Hasher(memory_kib=16, passes=2)
    attempt = Attempt("piet", password_of(people.finisher), "a")
    sign_in_with_password(database, stronger, attempt, opening())
    with database.reading() as session:
        renewed = session.get_one(Person, people.finisher.id).password_hash or ""
    assert "m=16,t=2,p=1" in renewed
    assert stronger.check(password_of(people.finisher), renewed).ok


def test_the_default_hash_is_the_owasp_set() -> None:
    # OWASP Password Storage Cheat Sheet: Argon2id with m=19456 (19 MiB), t=2, p=1.
    assert Hasher().make("four walnut drawers").startswith("$argon2id$v=19$m=19456,t=2,p=1$")


def test_a_stored_hash_of_no_known_kind_is_a_failure(database: Database, people: Cast) -> None:
    with database.writing() as session:
        row = session.get_one(Person, people.finisher.id)
        row.password_hash = "plainly written"
        session.add(row)
    with pytest.raises(Invalid):
        sign_in(database, "piet", "plainly written")


def test_five_tries_are_free_then_waits_double_and_success_resets(database: Database, people: Cast) -> None:
    now = NOW
    for _ in range(5):
        with pytest.raises(Invalid):
            sign_in(database, "orla", "wrong wrong wrong", now)
    waits = []
    for _ in range(12):
        with pytest.raises(Invalid):
            sign_in(database, "orla", "wrong wrong wrong", now)
        with pytest.raises(Throttled) as refused:
            sign_in(database, "orla", password_of(people.keeper), now)
        waits.append(refused.value.wait_s)
        now += timedelta(seconds=refused.value.wait_s)
    assert waits == [2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900]
    assert sign_in(database, "orla", password_of(people.keeper), now)
    with database.reading() as session:
        assert session.exec(select(Throttle)).all() == []


def test_an_address_waits_over_all_names(database: Database, people: Cast) -> None:
    for number in range(6):
        with pytest.raises(Invalid):
            sign_in(database, f"name{number}", "wrong wrong wrong")
    with pytest.raises(Throttled):
        sign_in(database, "orla", password_of(people.keeper))
    assert sign_in(database, "orla", password_of(people.keeper), address="192.0.2.2")


def test_wrong_tries_are_forgotten_after_a_day(database: Database, people: Cast) -> None:
    for _ in range(5):
        with pytest.raises(Invalid):
            sign_in(database, "orla", "wrong wrong wrong")
    later = NOW + timedelta(hours=25)
    for number in range(5):
        with pytest.raises(Invalid):
            sign_in(database, "orla", "wrong wrong wrong", later + timedelta(seconds=number))


def test_many_tries_at_once_do_not_slip_past_the_count(database: Database, people: Cast) -> None:
    told: list[str] = []
    start = threading.Barrier(12)

    def guess(number: int) -> None:
        start.wait()
        try:
            sign_in(database, "orla", f"guess number {number}", token=f"g{number}")
        except Throttled:
            told.append("wait")
        except Invalid:
            told.append("wrong")

    threads = [threading.Thread(target=guess, args=(n,)) for n in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["wait"] * 6 + ["wrong"] * 6


def test_a_session_ends_idle_and_in_any_case(database: Database, people: Cast) -> None:
    sign_in(database, "orla", password_of(people.keeper))
    with database.reading() as session:
        assert still_in(session, "t", NOW + timedelta(hours=9, minutes=59))
        assert not still_in(session, "t", NOW + timedelta(hours=10))
    now = NOW
    while now < NOW + timedelta(days=7) - timedelta(hours=6):
        now += timedelta(hours=6)
        with database.writing() as session:
            found = find_session(session, "t", LIMITS, now, TODAY)
            assert found is not None
            note_use(session, found.session.id or 0, now)
    with database.reading() as session:
        assert not still_in(session, "t", NOW + timedelta(days=7))


def test_an_ended_session_stays_ended(database: Database, people: Cast) -> None:
    sign_in(database, "orla", password_of(people.keeper))
    with database.writing() as session:
        row = session.exec(select(WebSession)).one()
        end_session(session, row.id or 0, NOW)
        note_use(session, row.id or 0, NOW + timedelta(minutes=10))
        assert not still_in(session, "t")
    with database.reading() as session:
        assert session.exec(select(WebSession)).one().last_seen_at == NOW


