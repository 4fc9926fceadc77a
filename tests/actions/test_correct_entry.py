"""Corrections: whose, when and why; both sides of a decant; and the rag load that no pen takes back."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import select

from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.count_stock import CountAsked, count
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, draw
from service.actions.lose_stock import DiscardAsked, discard
from service.core.access import Role
from service.core.containers import ContainerState
from service.core.findings import NotFound, Refused
from service.core.ledger import Destination
from service.records.engine import Database
from service.records.rags import RagLoad, RagLogRow
from service.records.stock import Movement
from tests.builders import NOW, Cast, cast
from tests.store_builders import container, holds, job, material, oil, once, received


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def undo(movement: int, reason: str = "wrong can") -> ReverseAsked:
    return ReverseAsked(once(), movement, reason)


def test_a_finisher_takes_back_an_own_entry_of_the_day(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        drawn = draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="250 g"))
        number = drawn.result["movement"]
    with pytest.raises(Refused) as no, database.writing() as session:
        reverse(session, finisher, NOW, undo(number, ""))
    assert no.value.verdict.codes == {"reason-missing"}
    with pytest.raises(Refused) as no, database.writing() as session:
        reverse(session, finisher, NOW + timedelta(days=1), undo(number))
    assert no.value.verdict.codes == {"reverse-too-late"}
    with database.writing() as session:
        reverse(session, finisher, NOW + timedelta(hours=1), undo(number))
        assert container(session, code).balance == 1_000_000
    with pytest.raises(Refused) as no, database.writing() as session:
        reverse(session, finisher, NOW + timedelta(hours=1), undo(number))
    assert no.value.verdict.codes == {"reversed-already"}
    holds(database)


def test_a_student_has_two_minutes_and_nobody_takes_back_for_another(
    database: Database, people: Cast
) -> None:
    student = people.actor(Role.STUDENT)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        running = job(session, people.actor(Role.FINISHER), people=(student.person_id,))
        numbers = [
            draw(
                session, student, NOW, DrawAsked(once=once(), code=code, amount="5 g", job_id=running.id)
            ).result["movement"]
            for _ in range(2)
        ]
    with pytest.raises(Refused) as no, database.writing() as session:
        reverse(session, people.actor(Role.FINISHER), NOW, undo(numbers[0]))
    assert no.value.verdict.codes == {"reverse-not-own"}
    with database.writing() as session:
        reverse(session, student, NOW + timedelta(minutes=1), undo(numbers[0]))
    with pytest.raises(Refused), database.writing() as session:
        reverse(session, student, NOW + timedelta(minutes=3), undo(numbers[1]))
    with database.writing() as session:
        reverse(session, people.actor(Role.KEEPER), NOW + timedelta(days=9), undo(numbers[1]))
    holds(database)


def test_a_reversed_draw_of_oil_leaves_its_load_and_the_log_says_so(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        drawn = draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="50 ml"))
        done = reverse(session, finisher, NOW, undo(drawn.result["movement"]))
        assert "load-stays" in {f["code"] for f in done.result["findings"]}
        load = session.exec(select(RagLoad)).one()
        assert load.ended_at is None
        kinds = [r.kind for r in session.exec(select(RagLogRow).order_by(RagLogRow.id)).all()]  # type: ignore[arg-type]
        assert kinds == ["load-made", "draw-joined", "correction"]
    with pytest.raises(Refused), database.writing() as session:
        draw(session, finisher, NOW + timedelta(days=1), DrawAsked(once=once(), code=code, amount="50 ml"))
    holds(database)


def test_a_decant_is_taken_back_on_both_sides(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        asked = DecantAsked(once=once(), code=code, amount="300 g", lost="5 g", lost_note="spilled a little")
        poured = decant(session, finisher, NOW, asked, lambda: "a chance text")
        reverse(session, finisher, NOW, undo(poured.result["movement_in"]))
        assert container(session, code).balance == 1_000_000
        jar = container(session, poured.result["into"]["code"])
        assert (jar.state, jar.balance) == (ContainerState.GONE, 0)
    holds(database)


def test_not_when_the_jar_has_been_drawn_from_since(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        asked = DecantAsked(once=once(), code=code, amount="300 g")
        poured = decant(session, finisher, NOW, asked, lambda: "a chance text")
        jar = poured.result["into"]["code"]
        draw(session, finisher, NOW, DrawAsked(once=once(), code=jar, amount="1 g"))
    with pytest.raises(Refused) as no, database.writing() as session:
        reverse(session, finisher, NOW, undo(poured.result["movement"]))
    assert no.value.verdict.codes == {"would-be-negative"}
    holds(database)


def test_a_draw_with_more_than_the_book_is_taken_back_with_its_count(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 100_000)
        asked = DrawAsked(once=once(), code=code, amount="150 g", more_than_book=True)
        drawn = draw(session, finisher, NOW, asked)
        done = reverse(session, finisher, NOW, undo(drawn.result["movement"]))
        assert len(done.result["reversals"]) == 2
        assert container(session, code).balance == 100_000
    holds(database)


def test_not_before_a_count_and_the_count_itself_may_go(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        drawn = draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="50 g"))
        counted = count(session, finisher, NOW, CountAsked(once=once(), code=code, amount="500 g"))
    with pytest.raises(Refused) as no, database.writing() as session:
        reverse(session, finisher, NOW, undo(drawn.result["movement"]))
    assert no.value.verdict.codes == {"counted-since"}
    with database.writing() as session:
        reverse(session, finisher, NOW, undo(counted.result["movement"]))
        reverse(session, finisher, NOW, undo(drawn.result["movement"]))
        assert container(session, code).balance == 1_000_000
    holds(database)


def test_what_is_gone_comes_back_only_with_its_discard(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        drawn = draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="50 g"))
        asked = DiscardAsked(once=once(), code=code, destination=Destination.HAULER)
        thrown = discard(session, finisher, NOW, asked)
    with pytest.raises(Refused) as no, database.writing() as session:
        reverse(session, finisher, NOW, undo(drawn.result["movement"]))
    assert no.value.verdict.codes == {"state-gone"}
    with database.writing() as session:
        reverse(session, finisher, NOW, undo(thrown.result["movement"]))
        assert container(session, code).state is ContainerState.OPEN
        assert container(session, code).balance == 950_000
    holds(database)


def test_a_received_can_taken_back_is_gone(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        code = received(session, keeper, material(session), is_open=False)
        first = session.exec(select(Movement)).one()
        assert first.id is not None
        reverse(session, keeper, NOW, undo(first.id))
        assert container(session, code).state is ContainerState.GONE
    with pytest.raises(NotFound), database.writing() as session:
        reverse(session, keeper, NOW, undo(987_654))
    holds(database)
