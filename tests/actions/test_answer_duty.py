"""Saying that a duty was done: who may, what must be true first, and that it ends only once."""

from __future__ import annotations

import pytest
from sqlmodel import Session, select

from service.actions.answer_duty import answer_duty
from service.actions.lose_stock import DiscardAsked, discard
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused
from service.core.ledger import Destination
from service.records.duties import Duty
from service.records.engine import Database
from tests.builders import NOW, Cast, cast
from tests.store_builders import container, material, once, received

WORDS = "Poured over into a sound can."


def leak(session: Session, people: Cast) -> tuple[int, str]:
    """A leaking container with its duty, owed by the finisher."""
    code = received(session, people.actor(Role.FINISHER), material(session), 500_000)
    duty = Duty(
        kind="leaking-container",
        sentence="It leaks.",
        owed_by=people.actor(Role.FINISHER).person_id,
        due_at=NOW,
        about_kind="container",
        about_id=container(session, code).id,
        created_at=NOW,
    )
    session.add(duty)
    session.flush()
    assert duty.id is not None
    return duty.id, code


def test_a_leak_is_not_dealt_with_while_something_is_in_the_can(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        duty_id, code = leak(session, people)
    with pytest.raises(Refused, match="still holds 500 g"), database.writing() as session:
        answer_duty(session, people.actor(Role.FINISHER), NOW, duty_id, WORDS, once())
    with database.writing() as session:
        finisher = people.actor(Role.FINISHER)
        discard(session, finisher, NOW, DiscardAsked(once=once(), code=code, destination=Destination.HAULER))
        answer_duty(session, finisher, NOW, duty_id, WORDS, once())
    with database.reading() as session:
        duty = session.exec(select(Duty).where(Duty.id == duty_id)).one()
        assert (duty.done_at, duty.done_by, duty.answer) == (NOW, finisher.person_id, WORDS)


def test_who_may_say_it(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        duty_id, _ = leak(session, people)
        duty = session.get(Duty, duty_id)
        assert duty is not None
        duty.kind = "move-container"
    with pytest.raises(NotAllowed), database.writing() as session:
        answer_duty(session, people.actor(Role.STUDENT), NOW, duty_id, WORDS, once())
    with pytest.raises(Invalid), database.writing() as session:
        answer_duty(session, people.actor(Role.KEEPER), NOW, duty_id, "ok", once())
    with database.writing() as session:
        answer_duty(session, people.actor(Role.KEEPER), NOW, duty_id, WORDS, once())
    with pytest.raises(Refused), database.writing() as session:
        answer_duty(session, people.actor(Role.KEEPER), NOW, duty_id, WORDS, once())


@pytest.mark.parametrize("facts", [{"keeper_answers": True}, {"kind": "waste-collection"}])
def test_a_violation_or_a_drum_does_not_end_by_a_word(database: Database, facts: dict[str, object]) -> None:
    with database.writing() as session:
        people = cast(session)
        duty_id, _ = leak(session, people)
        duty = session.get(Duty, duty_id)
        assert duty is not None
        for name, value in facts.items():
            setattr(duty, name, value)
    with pytest.raises(NotFound), database.writing() as session:
        answer_duty(session, people.actor(Role.KEEPER), NOW, duty_id, WORDS, once())
    with pytest.raises(NotFound), database.writing() as session:
        answer_duty(session, people.actor(Role.KEEPER), NOW, 999_999, WORDS, once())
