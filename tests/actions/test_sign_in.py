"""Signing in, staying signed in, wrong tries, one-time addresses, tablets, tokens; on both databases."""

from __future__ import annotations

import threading
from datetime import date, datetime, timedelta

import pytest
from sqlmodel import Session, select

from service.actions.api_tokens import find_api_token, make_api_token, revoke_token
from service.actions.manage_people import set_pin, switch_person
from service.actions.passwords import Hasher
from service.actions.sign_in import (
    Attempt,
    Opening,
    end_session,
    find_session,
    note_use,
    sign_in_with_password,
)
from service.actions.sign_in_links import look_at_link, make_link, printed_link, spend_link
from service.actions.tablets import Tap, make_device, people_to_tap, switch_device, tap, untap
from service.actions.throttle import Throttled
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound
from service.core.sign_in_rules import Limits
from service.records.engine import Database
from service.records.jobs import Job, JobKind, JobPerson
from service.records.people import LinkPurpose, Person, Throttle, WebSession
from tests.builders import FAST_HASHER, NOW, PINS, TODAY, Cast, cast, password_of, person

LIMITS = Limits(timedelta(hours=10), timedelta(days=7))


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def opening(token: str = "t", now: datetime = NOW, today: date = TODAY) -> Opening:
    return Opening(token, now, today, LIMITS)


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


def test_a_printed_link_works_once_for_ten_minutes(database: Database, people: Cast) -> None:
    purposes = (LinkPurpose.SIGN_IN,)
    with database.writing() as session:
        _, who = printed_link(session, "first", NOW)
        assert who is not None and who.id == people.keeper.id
        look_at_link(session, "first", purposes, NOW + timedelta(minutes=9))
        spend_link(session, "first", purposes, NOW + timedelta(minutes=9))
        with pytest.raises(NotFound):
            spend_link(session, "first", purposes, NOW + timedelta(minutes=9))
        printed_link(session, "second", NOW)
        with pytest.raises(NotFound):
            look_at_link(session, "second", purposes, NOW + timedelta(minutes=10))
        with pytest.raises(NotFound):
            look_at_link(session, "never made", purposes, NOW)


def test_a_link_has_one_purpose_and_a_newer_one_ends_it(database: Database, people: Cast) -> None:
    with database.writing() as session:
        make_link(session, LinkPurpose.PASSWORD, "one", NOW, person_id=people.student.id)
        with pytest.raises(NotFound):
            look_at_link(session, "one", (LinkPurpose.SIGN_IN, LinkPurpose.DEVICE), NOW)
        make_link(session, LinkPurpose.PASSWORD, "two", NOW, person_id=people.student.id)
        make_link(session, LinkPurpose.PASSWORD, "other", NOW, person_id=people.finisher.id)
        with pytest.raises(NotFound):
            look_at_link(session, "one", (LinkPurpose.PASSWORD,), NOW)
        look_at_link(session, "two", (LinkPurpose.PASSWORD,), NOW)


def test_two_at_once_spend_a_link_once(database: Database, people: Cast) -> None:
    with database.writing() as session:
        make_link(session, LinkPurpose.SIGN_IN, "one", NOW, person_id=people.keeper.id)
    got: list[bool] = []
    start = threading.Barrier(4)

    def use() -> None:
        start.wait()
        try:
            with database.writing() as session:
                spend_link(session, "one", (LinkPurpose.SIGN_IN,), NOW)
            got.append(True)
        except NotFound:
            got.append(False)

    threads = [threading.Thread(target=use) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == [False, False, False, True]


def test_an_empty_shop_gets_the_link_of_the_first_keeper(database: Database) -> None:
    with database.writing() as session:
        make_api_token(session, None, NOW, "x", Role.KEEPER, "a script is no keeper")
        link, who = printed_link(session, "one", NOW)
        assert who is None and link.purpose is LinkPurpose.FIRST_KEEPER


def test_a_token_acts_under_its_own_name_with_its_own_role_until_revoked(
    database: Database, people: Cast
) -> None:
    with database.writing() as session:
        keeper = people.actor(Role.KEEPER)
        row = make_api_token(session, keeper, NOW, "secret", Role.FINISHER, " till  scale ")
        found = find_api_token(session, "secret", TODAY)
        assert found is not None and found[1].name == "script: till scale"
        assert found[0].role is Role.FINISHER and "secret" not in row.token_hash
        revoke_token(session, people.actor(Role.KEEPER), NOW, row.id or 0)
        revoke_token(session, people.actor(Role.KEEPER), NOW, row.id or 0)
        assert find_api_token(session, "secret", TODAY) is None
        with pytest.raises(NotAllowed):
            make_api_token(session, people.actor(Role.FINISHER), NOW, "y", Role.KEEPER, "no")
        with pytest.raises(Invalid):
            make_api_token(session, None, NOW, "y", Role.KEEPER, "  ")


def a_tablet(database: Database, people: Cast) -> tuple[int, int]:
    """(session id, device id) of a signed-in tablet with the token "tab"."""
    from service.actions.sign_in import open_session

    with database.writing() as session:
        device = make_device(session, people.actor(Role.KEEPER), NOW, "Bench")
        row = open_session(session, opening("tab"), device_id=device.id)
        return row.id or 0, device.id or 0


def tapped(database: Database, now: datetime = NOW) -> Person | None:
    with database.reading() as session:
        found = find_session(session, "tab", LIMITS, now, TODAY)
        assert found is not None and found.device is not None
        return found.person


def test_a_tapped_person_stays_two_minutes_and_no_longer(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    assert tapped(database) is None
    tap(database, FAST_HASHER, Tap(session_id, device_id, people.finisher.id or 0, PINS["piet"]), NOW, TODAY)
    who = tapped(database, NOW + timedelta(seconds=119))
    assert who is not None and who.id == people.finisher.id
    assert tapped(database, NOW + timedelta(minutes=2)) is None
    with database.writing() as session:
        untap(session, session_id)
    assert tapped(database) is None


def test_students_are_tapped_only_while_their_job_runs(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    mine = Tap(session_id, device_id, people.student.id or 0, PINS["sanne"])
    with pytest.raises(Invalid):
        tap(database, FAST_HASHER, mine, NOW, TODAY)
    with database.writing() as session:
        job = Job(
            name="Evening class", kind=JobKind.CLASS, leader_id=people.finisher.id or 0, started_at=NOW,
            ends_by=NOW + timedelta(hours=8), created_at=NOW,
        )
        session.add(job)
        session.flush()
        session.add(JobPerson(job_id=job.id or 0, person_id=people.student.id or 0, added_at=NOW))
        session.add(JobPerson(job_id=job.id or 0, person_id=people.reader.id or 0, added_at=NOW))
    with database.reading() as session:
        assert {p.name for p in people_to_tap(session, TODAY)} == {"Orla Brandt", "Piet Maas", "Sanne Vos"}
    tap(database, FAST_HASHER, mine, NOW, TODAY)
    assert tapped(database) is not None
    with database.writing() as session:
        session.get_one(Job, job.id).closed_at = NOW
    with pytest.raises(Invalid):
        tap(database, FAST_HASHER, mine, NOW, TODAY)


def test_wrong_pins_wait_per_person_and_tablet(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    wrong = Tap(session_id, device_id, people.finisher.id or 0, "1111")
    for _ in range(6):
        with pytest.raises(Invalid):
            tap(database, FAST_HASHER, wrong, NOW, TODAY)
    right = Tap(session_id, device_id, people.finisher.id or 0, PINS["piet"])
    with pytest.raises(Throttled):
        tap(database, FAST_HASHER, right, NOW, TODAY)
    tap(database, FAST_HASHER, Tap(session_id, device_id, people.keeper.id or 0, PINS["orla"]), NOW, TODAY)
    tap(database, FAST_HASHER, right, NOW + timedelta(seconds=2), TODAY)


def test_disabling_takes_a_tapped_person_off_at_once(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    tap(database, FAST_HASHER, Tap(session_id, device_id, people.finisher.id or 0, PINS["piet"]), NOW, TODAY)
    with database.writing() as session:
        person_row = session.get_one(Person, people.finisher.id)
        switch_person(
            session, people.actor(Role.KEEPER), NOW, person_row.id or 0, person_row.version, active=False
        )
    assert tapped(database) is None


def test_a_switched_off_tablet_is_signed_out_and_stays_so(database: Database, people: Cast) -> None:
    _, device_id = a_tablet(database, people)
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        device = switch_device(session, keeper, NOW, device_id, 1, active=False)
        assert not still_in(session, "tab")
        switch_device(session, keeper, NOW, device_id, device.version, active=True)
        assert not still_in(session, "tab")
    with database.writing() as session, pytest.raises(NotAllowed):
        make_device(session, people.actor(Role.FINISHER), NOW, "Own tablet")


def test_a_tablet_stays_because_it_may_do_nothing_alone(database: Database, people: Cast) -> None:
    a_tablet(database, people)
    assert tapped(database, NOW + timedelta(days=300)) is None


def test_a_pin_taken_away_is_gone(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    with database.writing() as session:
        set_pin(session, people.actor(Role.KEEPER), NOW, people.finisher.id or 0, None)
        person(session, "Wim", Role.FINISHER)
    with pytest.raises(Invalid):
        tap(database, FAST_HASHER, Tap(session_id, device_id, people.finisher.id or 0, ""), NOW, TODAY)
