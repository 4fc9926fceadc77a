"""Recurring checks in the book: who may, what a failure brings, late entries, taking back, ending."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session, col, select

from service.actions.answer_duty import answer_duty
from service.actions.do_check import DoneAsked, TakeBackAsked, do_check, take_back_check
from service.actions.list_alerts import list_alerts
from service.actions.set_checks import ChangeCheck, CheckAsked, begin_check, end_check, give_check
from service.core.access import Role
from service.core.alert_pages import page_of
from service.core.alerts import AlertKind
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.core.recurring_checks import Counted, Result, Unit
from service.records.check_queries import open_failure, seen_check, seen_checks, the_check
from service.records.checks import CheckDone
from service.records.duties import Duty
from service.records.engine import Database
from service.records.places import Place
from service.records.shop import Change
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import once

BROKEN = "The seal of the second one by the door is broken."
FINISHER, KEEPER, STUDENT, READER = Role.FINISHER, Role.KEEPER, Role.STUDENT, Role.READER


class Bench:
    """The small shop with one check, owned by the finisher."""

    def __init__(self, database: Database, **said: Any) -> None:
        self.database = database
        with database.writing() as session:
            self.people: Cast = cast(session)
        self.check = self.begin(**({"known": "extinguisher-look"} | said))

    def begin(self, role: Role = KEEPER, **said: Any) -> int:
        owner = self.people.actor(FINISHER).person_id
        with self.write() as session:
            asked = CheckAsked(**({"once": once(), "owner": owner} | said))
            return int(begin_check(session, self.people.actor(role), NOW, asked).result["check"])

    def done(self, result: Result = Result.FINE, role: Role = FINISHER, **said: Any) -> dict[str, Any]:
        now = said.pop("now", NOW)
        with self.write() as session:
            asked = DoneAsked(**({"once": once(), "check_id": self.check, "result": result} | said))
            return do_check(session, self.people.actor(role), now, asked).result

    def back(self, entry: int, role: Role = FINISHER, **said: Any) -> dict[str, Any]:
        now = said.pop("now", NOW)
        with self.write() as session:
            asked = TakeBackAsked(once(), entry, said.get("reason", "Pressed the wrong one."))
            return take_back_check(session, self.people.actor(role), now, asked).result

    @contextmanager
    def write(self) -> Iterator[Session]:
        with self.database.writing() as session:
            yield session

    def failure(self) -> Duty | None:
        with self.database.reading() as session:
            return open_failure(session, self.check)


@pytest.fixture
def bench(database: Database) -> Bench:
    return Bench(database)


def test_a_row_of_the_list_brings_its_interval_and_its_word(bench: Bench) -> None:
    with bench.database.reading() as session:
        seen = seen_check(session, bench.check, TODAY)
    assert (seen.row.source, seen.plan.interval.unit) == ("29 CFR 1910.157(e)(2) (memory)", Unit.MONTH)
    assert seen.state.due == date(2026, 3, 31) and seen.state.last is None
    other = bench.begin(known="extinguisher-look", unit=Unit.YEAR)
    with bench.database.reading() as session:
        assert the_check(session, other).source == "house policy"


@pytest.mark.parametrize("role", [STUDENT, READER])
def test_who_may_not(bench: Bench, role: Role) -> None:
    with pytest.raises(NotAllowed, match="recurring check"):
        bench.done(role=role)
    with pytest.raises(NotAllowed, match="again and again"):
        bench.begin(role, known="eyewash")
    with pytest.raises(NotAllowed):
        bench.back(1, role)


def test_a_finisher_makes_checks_and_sets_none(bench: Bench) -> None:
    bench.done()
    with pytest.raises(NotAllowed), bench.write() as session:
        begin_check(
            session, bench.people.actor(FINISHER), NOW,
            CheckAsked(once=once(), owner=bench.people.actor(FINISHER).person_id, known="eyewash"),
        )  # fmt: skip
    for act in (give_check, end_check):
        asked = ChangeCheck(once(), bench.check, 1, reason="It is not needed here any more.")
        with pytest.raises(NotAllowed), bench.write() as session:
            act(session, bench.people.actor(FINISHER), NOW, asked)


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"known": "no-such"}, "known"), ({"known": None}, "what"), ({"what": "x" * 121}, "what"),
        ({"known": None, "what": "Lamp"}, "unit"), ({"times": 3}, "times"),
        ({"times": 99, "counted": Counted.FROM_LAST}, "times"), ({"place_id": 999}, "place"),
        ({"owner": 999}, "owner"), ({"since": date(2026, 4, 1), "until": date(2026, 3, 1)}, "until"),
    ],
)  # fmt: skip
def test_a_check_that_makes_no_sense_is_refused_at_its_field(
    bench: Bench, said: dict[str, Any], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        bench.begin(**({"known": "eyewash"} | said))
    assert field in refused.value.errors


def test_a_student_or_reader_owns_no_check(bench: Bench) -> None:
    for role in (STUDENT, READER):
        with pytest.raises(Invalid, match="finisher or keeper"):
            bench.begin(known="eyewash", owner=bench.people.actor(role).person_id)


def test_not_fine_is_owed_by_its_owner_until_a_later_fine(bench: Bench) -> None:
    told = bench.done(Result.NOT_FINE, role=KEEPER, sentence=BROKEN, done_about="Ordered a new one")
    assert told["failed"] is True
    duty = bench.failure()
    assert duty is not None and BROKEN in duty.sentence
    assert duty.owed_by == bench.people.actor(FINISHER).person_id
    assert duty.due_at.isoformat().startswith("2026-03-12T23:00")
    earlier = NOW - timedelta(hours=3)
    assert bench.done(happened_at=earlier, late_reason="Written up after the round.")["failed"] is True
    assert bench.failure() is not None
    with pytest.raises(NotFound), bench.write() as session:
        answer_duty(session, bench.people.actor(KEEPER), NOW, duty.id or 0, "All is well now", once())
    assert bench.done(now=NOW + timedelta(minutes=1))["failed"] is False
    assert bench.failure() is None


def test_a_second_failure_is_the_same_duty_with_the_newer_words(bench: Bench) -> None:
    bench.done(Result.NOT_FINE, sentence=BROKEN)
    newer = "Now the third one leaks from its hose."
    bench.done(Result.NOT_FINE, sentence=newer, now=NOW + timedelta(hours=1))
    with bench.database.reading() as session:
        duties = session.exec(select(Duty).where(col(Duty.about_kind) == "recurring-check")).all()
    assert len(duties) == 1 and "third one" in duties[0].sentence


def test_taking_a_fine_back_brings_the_failure_back(bench: Bench) -> None:
    bench.done(Result.NOT_FINE, sentence=BROKEN)
    fine = bench.done(now=NOW + timedelta(minutes=1))
    assert bench.back(fine["entry"], now=NOW + timedelta(minutes=2))["failed"] is True
    assert bench.failure() is not None
    with pytest.raises(Refused, match="already"):
        bench.back(fine["entry"], KEEPER)
    with bench.database.reading() as session:
        rows = session.exec(select(CheckDone).order_by(col(CheckDone.id))).all()
    assert [row.result for row in rows] == [Result.NOT_FINE, Result.FINE, Result.TAKEN_BACK]
    with pytest.raises(Refused, match="already"):
        bench.back(rows[-1].id or 0, KEEPER)


def test_who_may_take_back_and_until_when(bench: Bench) -> None:
    entry = bench.done(role=KEEPER)["entry"]
    with pytest.raises(Refused, match="own entries"):
        bench.back(entry, FINISHER)
    own = bench.done()["entry"]
    with pytest.raises(Refused, match="another day"):
        bench.back(own, FINISHER, now=NOW + timedelta(days=1))
    with pytest.raises(Refused, match="few words"):
        bench.back(own, FINISHER, reason="..")
    assert bench.back(own, KEEPER, now=NOW + timedelta(days=1))["failed"] is False
    with pytest.raises(NotFound):
        bench.back(999, KEEPER)


def test_not_fine_asks_for_a_sentence_and_a_late_entry_for_its_reason(bench: Bench) -> None:
    with pytest.raises(Invalid) as refused:
        bench.done(Result.NOT_FINE, sentence="bad")
    assert "sentence" in refused.value.errors
    with pytest.raises(Invalid, match="late entry"):
        bench.done(happened_at=NOW - timedelta(minutes=16))
    with pytest.raises(Invalid, match="not come yet"):
        bench.done(happened_at=NOW + timedelta(hours=1))
    for field in ("sentence", "done_about"):
        with pytest.raises(Invalid, match="2000"):
            bench.done(**{field: "x" * 2001})
    with pytest.raises(NotFound):
        bench.done(check_id=999)
    assert bench.done(happened_at=NOW - timedelta(minutes=15))["late"] is False
    said = "The round was written on paper first."
    late = bench.done(happened_at=NOW - timedelta(days=20), late_reason=said)
    with bench.database.reading() as session:
        row = session.get_one(CheckDone, late["entry"])
        assert (row.late, row.late_reason, row.on_day) == (True, said, date(2026, 2, 20))
        assert seen_check(session, bench.check, TODAY).state.due == date(2026, 4, 30)


def test_the_same_key_is_one_entry(bench: Bench) -> None:
    first = bench.done(once="press-1")
    assert bench.done(once="press-1") == first
    with pytest.raises(Stale):
        bench.done(Result.NOT_FINE, once="press-1", sentence=BROKEN)


def test_ending_keeps_the_history_and_answers_what_failed(bench: Bench) -> None:
    keeper, reason = bench.people.actor(KEEPER), "The extinguisher was handed over to the maker."
    bench.done(Result.NOT_FINE, sentence=BROKEN)
    for said, field in (
        ({"reason": "no"}, "reason"), ({"reason": reason, "until": TODAY - timedelta(days=1)}, "until"),
    ):  # fmt: skip
        with pytest.raises(Invalid) as refused, bench.write() as session:
            end_check(session, keeper, NOW, ChangeCheck(once(), bench.check, 1, **said))  # type: ignore[arg-type]
        assert field in refused.value.errors
    with pytest.raises(Stale), bench.write() as session:
        end_check(session, keeper, NOW, ChangeCheck(once(), bench.check, 7, reason=reason))
    with bench.write() as session:
        end_check(session, keeper, NOW, ChangeCheck(once(), bench.check, 1, reason=reason))
    assert bench.failure() is None
    tomorrow = NOW + timedelta(days=1)
    with bench.database.reading() as session:
        state = seen_check(session, bench.check, TODAY + timedelta(days=1)).state
        assert state.due is None and state.failed
        changed = session.exec(select(Change).where(col(Change.about_kind) == "recurring-check")).all()
    assert [(one.field, one.reason) for one in changed] == [("until", reason)]
    with pytest.raises(Refused, match="ended"):
        bench.done(now=tomorrow)


def test_a_failure_goes_with_the_check_to_its_new_owner(bench: Bench) -> None:
    keeper = bench.people.actor(KEEPER)
    bench.done(Result.NOT_FINE, sentence=BROKEN)
    with bench.write() as session:
        give_check(session, keeper, NOW, ChangeCheck(once(), bench.check, 1, owner=keeper.person_id))
    duty = bench.failure()
    assert duty is not None and duty.owed_by == keeper.person_id


def test_what_is_due_stands_among_the_alerts_with_its_owner(bench: Bench) -> None:
    with bench.write() as session:
        session.add(Place(code="P2345X", name="North room", kind="room", created_at=NOW))
    late = NOW + timedelta(days=25)
    with bench.database.reading() as session:
        assert not [one for one in list_alerts(session, NOW, 14) if one.ref.startswith("recurring-check")]
        soon = [one for one in list_alerts(session, NOW, 30) if one.ref.startswith("recurring-check")]
        over = [one for one in list_alerts(session, late) if one.ref.startswith("recurring-check")]
    finisher = bench.people.actor(FINISHER)
    assert [(one.kind, one.due, one.people, one.owner) for one in soon] == [
        (AlertKind.DUTY, date(2026, 3, 31), (finisher.person_id,), finisher.name)
    ]
    assert "never made" in soon[0].sentence and soon[0].what_to_do.startswith("In its place")
    assert page_of(soon[0]) == f"/recurring-checks/{bench.check}/record"
    assert [one.kind for one in over] == [AlertKind.DUTY_OVERDUE] and "6 days late" in over[0].sentence


def test_a_check_of_somebody_who_left_is_the_keepers(bench: Bench) -> None:
    with bench.write() as session:
        gone = session.merge(bench.people.finisher)
        gone.active = False
        session.add(gone)
    keeper = bench.people.actor(KEEPER)
    with bench.database.reading() as session:
        found = [one for one in list_alerts(session, NOW, 30) if one.ref.startswith("recurring-check")]
    assert found[0].people == (keeper.person_id,)
    bench.done(Result.NOT_FINE, role=KEEPER, sentence=BROKEN)
    duty = bench.failure()
    assert duty is not None and duty.owed_by == keeper.person_id


@pytest.mark.parametrize("seed", range(6))
def test_the_newest_entry_says_the_same_as_the_whole_history(bench: Bench, seed: int) -> None:
    """What the list asks of the database, against the rule over every entry."""
    throw = random.Random(seed)
    entries: list[int] = []
    for turn in range(12):
        now = NOW + timedelta(minutes=turn)
        if entries and throw.random() < 0.3:
            bench.back(entries.pop(throw.randrange(len(entries))), KEEPER, now=now)
            continue
        days = throw.choice((0, 0, 3, 40))
        said = {"happened_at": now - timedelta(days=days), "late_reason": "It was on the paper of the round."}
        result = throw.choice((Result.FINE, Result.NOT_FINE))
        entries.append(bench.done(result, sentence=BROKEN, now=now, **said)["entry"])
    with bench.database.reading() as session:
        listed = next(one for one in seen_checks(session, TODAY) if one.number == bench.check)
        whole = seen_check(session, bench.check, TODAY)
    assert listed.state == whole.state
    assert (bench.failure() is not None) == whole.state.failed
