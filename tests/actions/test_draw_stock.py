"""Drawing and returning: by amount and by the scale, before and after the act, and under overdue rags."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import select

from service.actions.draw_stock import DrawAsked, Measured, ReturnAsked, draw, put_back
from service.core.access import Role
from service.core.bench_writing import Ambiguous
from service.core.containers import AmountKnown, ContainerState
from service.core.findings import Invalid, NotAllowed, Refused
from service.core.ledger import MovementKind
from service.core.materials import Basis, Form
from service.records.duties import Duty
from service.records.engine import Database
from service.records.rags import RagLoad, RagLogRow
from service.records.stock import ContainerEvent, Movement
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import container, holds, job, material, oil, once, received


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def test_a_draw_by_amount_takes_it_off_and_says_what_is_left(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        done = draw(
            session, people.actor(Role.FINISHER), NOW, DrawAsked(once=once(), code=code, amount="250 g")
        )
        assert done.result["drawn"] == 250_000
        assert done.result["container"]["words"] == "750 g"
        movement = session.get(Movement, done.result["movement"])
        assert movement is not None
        assert (movement.change, movement.written, movement.balance_after) == (-250_000, "250 g", 750_000)
    holds(database)


def test_the_same_key_books_once_and_gives_the_same_answer(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        asked = DrawAsked(once="one-and-the-same", code=code, amount="250 g")
        first = draw(session, people.actor(Role.FINISHER), NOW, asked)
    with database.writing() as session:
        again = draw(session, people.actor(Role.FINISHER), NOW + timedelta(minutes=1), asked)
        assert again.repeated
        assert again.result == first.result
        assert container(session, code).balance == 750_000


def test_more_than_the_book_says_is_refused_or_counted_with_the_draw(
    database: Database, people: Cast
) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 100_000)
    with pytest.raises(Refused) as no, database.writing() as session:
        draw(session, people.actor(Role.FINISHER), NOW, DrawAsked(once=once(), code=code, amount="150 g"))
    assert no.value.verdict.codes == {"not-enough"}
    with database.writing() as session:
        asked = DrawAsked(once=once(), code=code, amount="150 g", more_than_book=True)
        done = draw(session, people.actor(Role.FINISHER), NOW, asked)
        rows = session.exec(select(Movement).where(Movement.posting_id == done.posting_id)).all()
        assert [(m.kind, m.change) for m in rows] == [
            (MovementKind.COUNT_DIFFERENCE, 50_000),
            (MovementKind.DRAW, -150_000),
        ]
        assert container(session, code).state is ContainerState.EMPTY
    holds(database)


def test_weighing_the_container_before_and_after(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        asked = DrawAsked(once=once(), code=code, how=Measured.CONTAINER, before="1412.5", after="1180 g")
        assert draw(session, people.actor(Role.FINISHER), NOW, asked).result["drawn"] == 232_500
    holds(database)


def test_weighing_the_pot_before_and_after(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session, heats=False))
        asked = DrawAsked(once=once(), code=code, how=Measured.POT, before="100", after="193")
        # 93 g at 0.93 g/ml are 100 ml.
        assert draw(session, people.actor(Role.FINISHER), NOW, asked).result["drawn"] == 100_000


@pytest.mark.parametrize(
    ("how", "before", "after", "words"),
    [
        (Measured.CONTAINER, "500", "500", "nothing was taken"),
        (Measured.CONTAINER, "500", "520", "book a return"),
        (Measured.POT, "500", "480", "less after than before"),
        (Measured.CONTAINER, "", "480", "what the scale showed"),
        (Measured.CONTAINER, "500 ml", "480", "one weight"),
    ],
)
def test_weights_that_give_no_draw_are_refused_in_words(
    database: Database, people: Cast, how: Measured, before: str, after: str, words: str
) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        asked = DrawAsked(once=once(), code=code, how=how, before=before, after=after)
        with pytest.raises(Invalid) as wrong:
            draw(session, people.actor(Role.FINISHER), NOW, asked)
    assert words in " ".join(wrong.value.errors.values())


def test_gross_now_with_a_known_empty_weight_draws_the_rest(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), tare_mg=200_000)
        asked = DrawAsked(once=once(), code=code, how=Measured.GROSS, gross="1100 g")
        assert draw(session, people.actor(Role.FINISHER), NOW, asked).result["drawn"] == 100_000
        more = DrawAsked(once=once(), code=code, how=Measured.GROSS, gross="1150 g")
        with pytest.raises(Invalid, match="nothing was drawn"):
            draw(session, people.actor(Role.FINISHER), NOW, more)


def test_gross_now_of_an_unknown_amount_counts_what_is_left(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), None, tare_mg=200_000)
        asked = DrawAsked(once=once(), code=code, how=Measured.GROSS, gross="600")
        done = draw(session, people.actor(Role.FINISHER), NOW, asked)
        assert done.result["drawn"] is None
        assert done.result["container"]["amount"] == 400_000
    holds(database)


def test_without_the_empty_weight_the_missing_fact_is_named(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        asked = DrawAsked(once=once(), code=code, how=Measured.GROSS, gross="600")
        with pytest.raises(Invalid) as wrong:
            draw(session, people.actor(Role.FINISHER), NOW, asked)
    assert "tare" in wrong.value.errors


def test_an_ambiguous_amount_is_asked_back(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        with pytest.raises(Ambiguous) as doubt:
            draw(
                session, people.actor(Role.FINISHER), NOW, DrawAsked(once=once(), code=code, amount="1,000 g")
            )
    assert len(doubt.value.readings) == 2


def test_a_rough_measure_books_the_upper_end_as_an_estimate(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        asked = DrawAsked(once=once(), code=code, amount="20 to 30 g")
        done = draw(session, people.actor(Role.FINISHER), NOW, asked)
        assert done.result["drawn"] == 30_000
        assert container(session, code).balance_known is AmountKnown.ESTIMATED


def test_breaking_the_seal_asks_the_day_once(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        stuff = material(session)
        today = received(session, people.actor(Role.KEEPER), stuff, is_open=False)
        earlier = received(session, people.actor(Role.KEEPER), stuff, is_open=False)
        draw(session, finisher, NOW, DrawAsked(once=once(), code=today, amount="5 g"))
        day = TODAY - timedelta(days=9)
        draw(session, finisher, NOW, DrawAsked(once=once(), code=earlier, amount="5 g", opened_on=day))
        draw(session, finisher, NOW, DrawAsked(once=once(), code=earlier, amount="5 g"))
        assert container(session, today).opened_on == TODAY
        assert container(session, earlier).opened_on == day
        opened = select(ContainerEvent).where(ContainerEvent.kind == "opened")
        assert len(session.exec(opened).all()) == 2
    holds(database)


def test_an_opening_day_nobody_knows_is_not_known_and_asks_for_a_look(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), is_open=False)
    blind = DrawAsked(once=once(), code=code, amount="5 g", opening_not_known=True)
    with pytest.raises(Refused) as no, database.writing() as session:
        draw(session, finisher, NOW, blind)
    assert "look-before-use" in no.value.verdict.codes
    with database.writing() as session:
        seen = DrawAsked(once=once(), code=code, amount="5 g", opening_not_known=True, looked=True)
        draw(session, finisher, NOW, seen)
        assert container(session, code).opened_on is None
        # The look is written down, but without a day: a look before use is no condition check.
        looks = session.exec(select(ContainerEvent).where(ContainerEvent.kind == "checked")).all()
        assert [(e.outcome, e.on_date) for e in looks] == [("passed", None)]
    with pytest.raises(Refused), database.writing() as session:
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="5 g"))
    holds(database)


def test_what_is_past_is_not_drawn_but_a_draw_that_happened_is_recorded(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        stuff = material(session, policy={"sealed_months": 1, "opened_months": 1})
        code = received(session, people.actor(Role.KEEPER), stuff)
    with pytest.raises(Refused) as no, database.writing() as session:
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="5 g"))
    assert "past" in no.value.verdict.codes
    with database.writing() as session:
        asked = DrawAsked(
            once=once(), code=code, amount="5 g", already_done=True, late_reason="Done before I looked"
        )
        done = draw(session, finisher, NOW, asked)
        assert "past" in {f["code"] for f in done.result["findings"]}
        assert (
            session.exec(select(Duty).where(Duty.kind == "answer-violation")).one().owed_by
            == people.keeper.id
        )


def test_self_heating_without_a_job_opens_one_and_makes_a_load(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        done = draw(
            session, people.actor(Role.FINISHER), NOW, DrawAsked(once=once(), code=code, amount="50 ml")
        )
        load = session.exec(select(RagLoad)).one()
        assert (done.result["job"], done.result["rag_load"]) == (load.job_id, load.id)
        assert load.owed_by == people.finisher.id
    holds(database)


def test_overdue_rags_stop_a_draw_of_oil_and_nothing_else(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
        dry = received(session, people.actor(Role.KEEPER), material(session))
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="50 ml"))
    late = NOW + timedelta(days=1)
    with pytest.raises(Refused) as no, database.writing() as session:
        draw(session, finisher, late, DrawAsked(once=once(), code=code, amount="50 ml"))
    assert {f.severity.value for f in no.value.verdict} >= {"stop"}
    with database.writing() as session:
        draw(session, finisher, late, DrawAsked(once=once(), code=dry, amount="5 g"))
        put_back(session, finisher, late, ReturnAsked(once=once(), code=code, amount="10 ml"))
        asked = DrawAsked(
            once=once(), code=code, amount="50 ml", already_done=True, late_reason="Done before I looked"
        )
        draw(session, finisher, late, asked)
        kinds = [row.kind for row in session.exec(select(RagLogRow)).all()]
        assert "violation" in kinds
    holds(database)


def test_a_student_draws_inside_a_running_job_only(database: Database, people: Cast) -> None:
    student = people.actor(Role.STUDENT)
    with database.writing() as session:
        keeper = people.actor(Role.KEEPER)
        code = received(session, keeper, material(session))
        locked = received(session, keeper, material(session, "lead white", keeper_only=True))
        running = job(session, people.actor(Role.FINISHER), people=(student.person_id,))
        strange = job(session, people.actor(Role.FINISHER))
    with pytest.raises(NotAllowed), database.writing() as session:
        draw(session, student, NOW, DrawAsked(once=once(), code=code, amount="5 g"))
    with pytest.raises(NotAllowed), database.writing() as session:
        draw(session, student, NOW, DrawAsked(once=once(), code=code, amount="5 g", job_id=strange.id))
    with pytest.raises(Refused) as no, database.writing() as session:
        draw(session, student, NOW, DrawAsked(once=once(), code=locked, amount="5 g", job_id=running.id))
    assert "keeper-only" in no.value.verdict.codes
    with database.writing() as session:
        draw(session, student, NOW, DrawAsked(once=once(), code=code, amount="5 g", job_id=running.id))
    with pytest.raises(NotAllowed), database.writing() as session:
        draw(session, people.actor(Role.READER), NOW, DrawAsked(once=once(), code=code, amount="5 g"))


def test_a_return_never_exceeds_what_is_out(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="100 g"))
        back = put_back(session, finisher, NOW, ReturnAsked(once=once(), code=code, amount="40 g"))
        assert back.result["container"]["amount"] == 940_000
    with pytest.raises(Refused) as no, database.writing() as session:
        put_back(session, finisher, NOW, ReturnAsked(once=once(), code=code, amount="61 g"))
    assert no.value.verdict.codes == {"more-back"}
    with database.writing() as session:
        asked = ReturnAsked(once=once(), code=code, how=Measured.CONTAINER, before="500", after="560")
        assert put_back(session, finisher, NOW, asked).result["returned"] == 60_000
    holds(database)


def test_more_back_than_was_out_leaves_the_amount_not_known(database: Database, people: Cast) -> None:
    """It has happened, so it is recorded; but the book was wrong somewhere, and it never counts as enough."""
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
    with database.writing() as session:
        asked = ReturnAsked(once=once(), code=code, amount="900 g", already_done=True)
        put_back(session, finisher, NOW, asked)
        assert container(session, code).balance is None
    holds(database)


def test_a_late_draw_from_before_a_count_leaves_the_count_standing(database: Database, people: Cast) -> None:
    from service.actions.count_stock import CountAsked, count

    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 500_000)
        count(session, finisher, NOW, CountAsked(once=once(), code=code, amount="50 g"))
        asked = DrawAsked(
            once=once(),
            code=code,
            amount="450 g",
            happened_at=NOW - timedelta(hours=1),
            late_reason="The class ran on and the book was closed.",
        )
        draw(session, finisher, NOW + timedelta(minutes=5), asked)
        assert container(session, code).balance == 50_000
    holds(database)


def test_powder_by_the_spoon_without_a_loose_density_names_the_mend(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(
            session, people.actor(Role.KEEPER), material(session, form=Form.POWDER, basis=Basis.MASS)
        )
        with pytest.raises(Invalid, match="level spoonful"):
            draw(
                session, people.actor(Role.FINISHER), NOW, DrawAsked(once=once(), code=code, amount="2 tbsp")
            )
