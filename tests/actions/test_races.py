"""Many writers at once, and random days: nothing is overdrawn or booked twice, and everything balances."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session, col, select

from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.count_stock import CountAsked, count
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, ReturnAsked, draw, put_back
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, discard, lose
from service.core.access import Actor, Role
from service.core.findings import Invalid, Refused
from service.core.ledger import Destination, fold, standing_lines
from service.core.reversals import check_lines
from service.records.engine import Database, open_database
from service.records.stock import Container, Movement
from service.records.stock_queries import lines_of
from tests.builders import NOW, Cast, cast
from tests.store_builders import container, holds, material, once, received

WRITERS = 64


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


@pytest.fixture
def crowded(database: Database) -> Iterator[Database]:
    """The same database with connections for everybody."""
    opened = open_database(database.engine.url.render_as_string(hide_password=False), threads=WRITERS)
    yield opened
    opened.dispose()


def all_at_once(many: int, act: Callable[[int], Any]) -> list[Any]:
    """Run ``act`` in so many threads that start together; each answer, or the error it raised."""
    start = threading.Barrier(many)
    answers: list[Any] = [None] * many

    def run(number: int) -> None:
        start.wait()
        try:
            answers[number] = act(number)
        except Exception as error:
            answers[number] = error

    threads = [threading.Thread(target=run, args=(n,)) for n in range(many)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def test_64_writers_on_the_last_ounce_one_gets_it(
    database: Database, crowded: Database, people: Cast
) -> None:
    actor = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 28_350)

    def take(number: int) -> Any:
        with crowded.writing() as session:
            asked = DrawAsked(once=f"ounce-number-{number}", code=code, amount="1 oz by weight")
            return draw(session, actor, NOW, asked).result["drawn"]

    answers = all_at_once(WRITERS, take)
    assert [a for a in answers if isinstance(a, int)] == [28_350]
    refused = [a for a in answers if isinstance(a, Refused)]
    assert len(refused) == WRITERS - 1, [repr(a) for a in answers if not isinstance(a, int | Refused)]
    with database.reading() as session:
        assert container(session, code).balance == 0
    holds(database)


def test_one_key_in_16_threads_has_one_effect(database: Database, crowded: Database, people: Cast) -> None:
    actor = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), 100_000)

    def take(_: int) -> Any:
        with crowded.writing() as session:
            return draw(
                session, actor, NOW, DrawAsked(once="one-key-for-all", code=code, amount="10 g")
            ).result

    answers = all_at_once(16, take)
    assert all(a == answers[0] for a in answers), answers
    with database.reading() as session:
        assert container(session, code).balance == 90_000
        assert len(session.exec(select(Movement).where(Movement.kind == "draw")).all()) == 1
    holds(database)


ACTS = st.lists(
    st.tuples(
        st.sampled_from(
            ["draw", "more", "return", "count", "loss", "discard", "decant", "into", "reverse", "late"]
        ),
        st.integers(0, 3),
        st.integers(1, 60),
    ),
    min_size=1,
    max_size=14,
)


class Day:
    """A random day: three containers of one material and whatever is poured from them."""

    def __init__(self, session: Session, people: Cast) -> None:
        self.keeper: Actor = people.actor(Role.KEEPER)
        stuff = material(session)
        self.codes = [received(session, self.keeper, stuff, g * 1000) for g in (100, 40)]
        self.codes.append(received(session, self.keeper, stuff, None))
        self.material_id = stuff.id
        self.chances = 0

    def chance(self) -> str:
        self.chances += 1
        return f"{self.material_id}/{self.chances}"

    def do(self, session: Session, kind: str, which: int, grams: int) -> None:
        code, amount = self.codes[which % len(self.codes)], f"{grams} g"
        other = self.codes[(which + 1) % len(self.codes)]
        key, who = once(), self.keeper
        match kind:
            case "draw" | "more":
                more = kind == "more"
                draw(session, who, NOW, DrawAsked(once=key, code=code, amount=amount, more_than_book=more))
            case "late":
                asked = DrawAsked(
                    once=key,
                    code=code,
                    amount=amount,
                    happened_at=NOW.replace(hour=8, minute=0),
                    late_reason="Written up after the class was over.",
                )
                draw(session, who, NOW, asked)
            case "return":
                put_back(session, who, NOW, ReturnAsked(once=key, code=code, amount=amount))
            case "count":
                count(session, who, NOW, CountAsked(once=key, code=code, amount=amount))
            case "loss":
                asked_loss = LossAsked(once=key, code=code, amount=amount, loss=LossKind.STUCK)
                lose(session, who, NOW, asked_loss)
            case "discard":
                asked_discard = DiscardAsked(
                    once=key, code=code, amount=amount, destination=Destination.HAULER
                )
                discard(session, who, NOW, asked_discard)
            case "decant":
                done = decant(session, who, NOW, DecantAsked(once=key, code=code, amount=amount), self.chance)
                self.codes.append(done.result["into"]["code"])
            case "into":
                asked_decant = DecantAsked(once=key, code=code, amount=amount, into=other)
                decant(session, who, NOW, asked_decant, self.chance)
            case "reverse":
                self.reverse(session, key, grams)

    def reverse(self, session: Session, key: str, pick: int) -> None:
        rows = session.exec(
            select(Movement.id)
            .join(Container, col(Container.id) == col(Movement.container_id))
            .where(col(Container.material_id) == self.material_id)
            .order_by(col(Movement.id))
        ).all()
        number = rows[-1 - pick % len(rows)]
        assert number is not None
        reverse(session, self.keeper, NOW, ReverseAsked(key, number, "random day"))


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS)
def test_a_random_day_balances(database: Database, people: Cast, acts: list[tuple[str, int, int]]) -> None:
    with database.writing() as session:
        day = Day(session, people)
    for kind, which, grams in acts:
        try:
            with database.writing() as session:
                day.do(session, kind, which, grams)
        except (Refused, Invalid):
            continue
    with database.reading() as session:
        boxes = session.exec(select(Container).where(col(Container.material_id) == day.material_id)).all()
        total, flows = 0, 0
        for box in boxes:
            assert box.id is not None
            lines = lines_of(session, box.id)
            assert list(check_lines(lines)) == []
            balance = fold(lines)
            assert (box.balance, box.balance_known) == (balance.amount, balance.known)
            assert box.balance is None or box.balance >= 0
            if all(line.change is not None for line in standing_lines(lines)):
                total += balance.amount or 0
                flows += sum(line.change or 0 for line in standing_lines(lines))
        assert total == flows
        pours = session.exec(
            select(Movement).where(col(Movement.kind).in_(["decant-out", "decant-in"]))
        ).all()
        assert sum(m.change or 0 for m in pours) == 0
    holds(database)
