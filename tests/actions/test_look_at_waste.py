"""Waste by the books: discards, losses and rags by month; what is not known is at least, never nothing."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.count_stock import CountAsked, count
from service.actions.look_at_waste import WasteBook, look_at_waste
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, discard, lose
from service.core.access import Role
from service.core.ledger import Destination
from service.core.waste_rules import Category, Kind
from service.records.engine import Database
from service.records.places import PlaceKind
from tests.builders import NOW, Cast, cast
from tests.store_builders import material, once, place, received

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def book(database: Database) -> WasteBook:
    with database.reading() as session:
        return look_at_waste(session, BERLIN)


def throw(database: Database, people: Cast, code: str, **asked: Any) -> int:
    with database.writing() as session:
        told = DiscardAsked(once=once(), code=code, **{"destination": Destination.HAULER} | asked)
        return int(discard(session, people.actor(Role.KEEPER), NOW, told).result["movement"])


def take_in(database: Database, people: Cast, amount: int | None) -> str:
    with database.writing() as session:
        return received(session, people.actor(Role.KEEPER), material(session), amount)


def test_what_was_written_beside_stands_with_where_it_went(database: Database, people: Cast) -> None:
    code = take_in(database, people, 10_000)
    throw(database, people, code, destination=Destination.HAULER, amount="1 g", note="Able Haulers, slip 7")
    throw(database, people, code, destination=Destination.HAULER, amount="2 g")
    with database.writing() as session:
        lost = LossAsked(
            once=once(), code=code, amount="3 g", loss=LossKind.OTHER, note="poured down the sink"
        )
        lose(session, people.actor(Role.KEEPER), NOW, lost)
    [(_, lines)] = book(database).months
    assert sorted(line.where for line in lines) == [
        "handed to the hauler (nobody named)", "handed to the hauler: Able Haulers, slip 7",
        "lost: lost another way: poured down the sink",
    ]  # fmt: skip


def test_a_discard_stands_with_its_mass_and_where_it_went(database: Database, people: Cast) -> None:
    code = take_in(database, people, 10_000)
    with database.writing() as session:
        drum = place(session, "Waste drum 1", PlaceKind.WASTE_DRUM).id
    throw(database, people, code, destination=Destination.WASTE_DRUM, place_id=drum, amount="4 g")
    with database.writing() as session:
        lost = LossAsked(once=once(), code=code, amount="1 g", loss=LossKind.SPILLED)
        lose(session, people.actor(Role.KEEPER), NOW, lost)
    [(judged, lines)] = book(database).months
    assert judged.month.name == f"{NOW.astimezone(BERLIN):%Y-%m}"
    assert [(line.code, line.kg, line.where) for line in lines] == [
        (code, Fraction(4, 1000), "into the waste drum: Waste drum 1"),
        (code, Fraction(1, 1000), "lost: spilled"),
    ]  # fmt: skip
    assert judged.month.of(Kind.WASTE).kg == Fraction(5, 1000)
    assert (judged.category, judged.at_least) == (None, Category.VSQG), "acute is not known"


def test_an_amount_nobody_knew_makes_the_month_at_least(database: Database, people: Cast) -> None:
    throw(database, people, take_in(database, people, None))
    throw(database, people, take_in(database, people, 2_000))
    [(judged, lines)] = book(database).months
    assert [line.kg for line in lines] == [None, Fraction(2, 1000)]
    assert lines[0].why_not == "Nobody wrote how much it was."
    mass = judged.month.of(Kind.WASTE)
    assert (mass.kg, mass.more, judged.category) == (Fraction(2, 1000), True, None)


def test_what_went_back_or_was_taken_back_is_no_waste(database: Database, people: Cast) -> None:
    throw(database, people, take_in(database, people, 5_000), destination=Destination.RETURNED_TO_SUPPLIER)
    assert book(database).months == []
    number = throw(database, people, take_in(database, people, 6_000), amount="1 g")
    assert len(book(database).months[0][1]) == 1
    with database.writing() as session:
        mistake = ReverseAsked(once(), number, "Written on the wrong jar.")
        reverse(session, people.actor(Role.KEEPER), NOW + timedelta(minutes=1), mistake)
    assert book(database).months == []


def test_more_than_the_bound_of_a_month_is_the_heavier_category(database: Database, people: Cast) -> None:
    throw(database, people, take_in(database, people, 100_000_000))
    assert book(database).months[0][0].at_least is Category.VSQG
    throw(database, people, take_in(database, people, 1))
    assert book(database).months[0][0].at_least is Category.SQG
    throw(database, people, take_in(database, people, 899_999_999))
    assert book(database).months[0][0].category is Category.LQG


def test_less_counted_than_the_book_is_one_line_of_its_month_and_never_nothing(
    database: Database, people: Cast
) -> None:
    codes = [take_in(database, people, 5_000) for _ in range(3)]

    def found(code: str, amount: str) -> None:
        with database.writing() as session:
            asked = CountAsked(once=once(), code=code, amount=amount)
            count(session, people.actor(Role.KEEPER), NOW, asked)

    found(codes[0], "4990 mg")
    found(codes[0], "6 g")
    assert book(database).months == [], "it confirms the book, or more was found"
    found(codes[1], "1 g")
    [(judged, [line])] = book(database).months
    assert (line.code, line.kg, judged.month.of(Kind.WASTE).more) == (codes[1], None, True)
    found(codes[2], "nothing")
    found(take_in(database, people, None), "nothing")
    found(take_in(database, people, None), "3 g")
    [(_, [line])] = book(database).months
    assert line.what == "counted less than the book: 3 containers" and "write that first" in line.why_not
