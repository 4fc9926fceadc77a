"""Counts, losses and discards: an assertion puts the book right, and nothing self-heating goes unnoticed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import select

from service.actions.count_stock import CountAsked, CountedBy, count
from service.actions.draw_stock import DrawAsked, draw
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, discard, lose
from service.core.access import Role
from service.core.containers import AmountKnown, ContainerState
from service.core.findings import Invalid, NotAllowed, Refused
from service.core.ledger import Destination
from service.records.duties import Duty
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.rags import RagLoad, RagLogRow
from service.records.stock import Movement
from tests.builders import NOW, Cast, cast
from tests.store_builders import container, holds, material, oil, once, place, received


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def test_within_tolerance_a_count_confirms_the_book(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        done = count(
            session, people.actor(Role.FINISHER), NOW, CountAsked(once=once(), code=code, amount="990 g")
        )
        assert done.result["confirms"]
        assert container(session, code).balance == 1_000_000
    holds(database)


def test_beyond_it_the_book_follows_the_count(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        done = count(
            session, people.actor(Role.FINISHER), NOW, CountAsked(once=once(), code=code, amount="900 g")
        )
        assert (done.result["difference"], done.result["confirms"]) == (-100_000, False)
        assert container(session, code).balance == 900_000
        assert session.exec(select(RagLogRow)).all() == []
    holds(database)


@pytest.mark.parametrize("nothing", ["nothing", "0 g", "0", "empty"])
def test_counted_as_nothing_it_is_empty(database: Database, people: Cast, nothing: str) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 300)
        count(session, people.actor(Role.FINISHER), NOW, CountAsked(once=once(), code=code, amount=nothing))
        assert container(session, code).state is ContainerState.EMPTY
    holds(database)


def test_by_weight_the_empty_weight_is_kept_for_the_next_time(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), None)
        weighed = CountAsked(once=once(), code=code, by=CountedBy.WEIGHT, gross="650", tare="150 g")
        assert count(session, finisher, NOW, weighed).result["counted"] == 500_000
        again = CountAsked(once=once(), code=code, by=CountedBy.WEIGHT, gross="550")
        assert count(session, finisher, NOW, again).result["counted"] == 400_000
        light = CountAsked(once=once(), code=code, by=CountedBy.WEIGHT, gross="100")
        with pytest.raises(Invalid, match="less than it does empty"):
            count(session, finisher, NOW, light)


def test_about_half_is_an_estimate_of_what_it_holds(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        stuff = oil(session)
        keeper = people.actor(Role.KEEPER)
        code = received(session, keeper, stuff, None, capacity_ul=1_000_000, capacity_written="1 l")
        asked = CountAsked(once=once(), code=code, by=CountedBy.SHARE, share="about half")
        assert count(session, finisher, NOW, asked).result["counted"] == 500_000
        assert container(session, code).balance_known is AmountKnown.ESTIMATED
        bare = received(session, keeper, stuff, None)
        with pytest.raises(Invalid, match="not written down"):
            count(
                session, finisher, NOW, CountAsked(once=once(), code=bare, by=CountedBy.SHARE, share="half")
            )


def test_about_half_of_the_last_known_amount(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 800_000)
        asked = CountAsked(once=once(), code=code, by=CountedBy.SHARE, share="half", of_last=True)
        assert count(session, people.actor(Role.FINISHER), NOW, asked).result["counted"] == 400_000


def test_an_unexplained_fall_of_oil_goes_into_the_rag_log(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        done = count(
            session, people.actor(Role.FINISHER), NOW, CountAsked(once=once(), code=code, amount="0.5 l")
        )
        assert "unexplained-use" in {f["code"] for f in done.result["findings"]}
        assert [row.kind for row in session.exec(select(RagLogRow)).all()] == ["unexplained-use"]
        assert session.exec(select(Duty)).all() == []
    holds(database)


def test_oil_taken_as_a_count_difference_while_rags_are_overdue_is_a_violation(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="100 ml"))
    with database.writing() as session:
        late = NOW + timedelta(days=1)
        count(session, finisher, late, CountAsked(once=once(), code=code, amount="0.5 l"))
        kinds = [row.kind for row in session.exec(select(RagLogRow).order_by(RagLogRow.id)).all()]  # type: ignore[arg-type]
        assert kinds[-2:] == ["unexplained-use", "violation"]
        assert session.exec(select(RagLoad)).one().ended_at is None
    holds(database)


def test_a_late_count_takes_off_what_went_since(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 500_000)
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="50 g"))
        asked = CountAsked(
            once=once(),
            code=code,
            amount="400 g",
            happened_at=NOW - timedelta(hours=1),
            late_reason="The list was written on paper first.",
        )
        count(session, finisher, NOW + timedelta(minutes=1), asked)
        assert container(session, code).balance == 350_000
        count(
            session, finisher, NOW + timedelta(minutes=2), CountAsked(once=once(), code=code, amount="340 g")
        )
    again = CountAsked(
        once=once(),
        code=code,
        amount="400 g",
        happened_at=NOW - timedelta(hours=1),
        late_reason="The list was written on paper first.",
    )
    with pytest.raises(Refused) as no, database.writing() as session:
        count(session, finisher, NOW + timedelta(minutes=3), again)
    assert no.value.verdict.codes == {"counted-since"}
    holds(database)


def test_a_student_counts_nothing(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        with pytest.raises(NotAllowed):
            count(session, people.actor(Role.STUDENT), NOW, CountAsked(once=once(), code=code, amount="1 g"))


def test_spilled_oil_was_wiped_up_and_joins_a_load(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        done = lose(
            session, people.actor(Role.FINISHER), NOW, LossAsked(once=once(), code=code, amount="20 ml")
        )
        assert done.result["rag_load"] == session.exec(select(RagLoad)).one().id
        assert container(session, code).balance == 980_000
    holds(database)


def test_what_dried_up_makes_no_rags(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        asked = LossAsked(once=once(), code=code, loss=LossKind.DRIED_UP)
        assert lose(session, people.actor(Role.FINISHER), NOW, asked).result["rag_load"] is None
        assert container(session, code).state is ContainerState.EMPTY
    holds(database)


def test_a_loss_of_oil_while_rags_are_overdue_is_recorded_with_a_violation(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="100 ml"))
    with database.writing() as session:
        asked = LossAsked(once=once(), code=code, amount="100 ml")
        lose(session, finisher, NOW + timedelta(days=1), asked)
        assert "violation" in [row.kind for row in session.exec(select(RagLogRow)).all()]
    holds(database)


def test_a_loss_another_way_needs_a_word_and_never_exceeds_the_book(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 10_000)
    with pytest.raises(Invalid) as wrong, database.writing() as session:
        lose(session, finisher, NOW, LossAsked(once=once(), code=code, loss=LossKind.OTHER, amount="1 g"))
    assert "note" in wrong.value.errors
    with pytest.raises(Refused) as no, database.writing() as session:
        lose(session, finisher, NOW, LossAsked(once=once(), code=code, amount="11 g"))
    assert "not-enough" in no.value.verdict.codes


def test_discarding_all_of_it_takes_the_container_too(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        keeper = people.actor(Role.KEEPER)
        drum = place(session, "Waste drum 1", PlaceKind.WASTE_DRUM)
        shelf = place(session, "Shelf 1", PlaceKind.SHELF)
        code = received(session, keeper, oil(session, policy={"opened_months": 1, "sealed_months": 1}))
        wrong = DiscardAsked(once=once(), code=code, destination=Destination.WASTE_DRUM, place_id=shelf.id)
    with pytest.raises(Invalid) as no, database.writing() as session:
        discard(session, finisher, NOW, wrong)
    assert "place_id" in no.value.errors
    with database.writing() as session:
        asked = DiscardAsked(once=once(), code=code, destination=Destination.WASTE_DRUM, place_id=drum.id)
        done = discard(session, finisher, NOW, asked)
        assert done.result["where"] == "into the waste drum: Waste drum 1"
        assert container(session, code).state is ContainerState.GONE
        assert session.exec(select(RagLoad)).all() == []
    holds(database)


def test_discarding_an_unknown_amount_and_then_an_empty_can(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        keeper = people.actor(Role.KEEPER)
        unknown = received(session, keeper, material(session), None)
        empty = received(session, keeper, material(session), 5_000)
        draw(session, finisher, NOW, DrawAsked(once=once(), code=empty, amount="5 g"))
        for code in (unknown, empty):
            discard(
                session, finisher, NOW, DiscardAsked(once=once(), code=code, destination=Destination.HAULER)
            )
            assert container(session, code).state is ContainerState.GONE
            assert container(session, code).balance == 0
        kinds = [m.kind.value for m in session.exec(select(Movement).order_by(Movement.id)).all()]  # type: ignore[arg-type]
        assert kinds[-3:] == ["count-difference", "discard", "discard"]
    with pytest.raises(Refused), database.writing() as session:
        discard(session, finisher, NOW, DiscardAsked(once=once(), code=empty, destination=Destination.HAULER))
    holds(database)


def test_oil_into_the_rag_can_is_rag(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        asked = DiscardAsked(once=once(), code=code, destination=Destination.RAG_CAN, amount="50 ml")
        done = discard(session, people.actor(Role.FINISHER), NOW, asked)
        movement = session.get(Movement, done.result["movement"])
        assert movement is not None
        assert movement.rag_load_id == session.exec(select(RagLoad)).one().id
    holds(database)
