"""Taking in: several alike, open or leaking ones, things missing, and what already stands in the room."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.give_codes import fresh_code, taken_by
from service.actions.receive_stock import receive
from service.actions.settle import Settled
from service.core.access import Role
from service.core.bench_writing import Ambiguous
from service.core.containers import AmountKnown, Condition, ContainerState, EventKind, Standing
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.core.ledger import MovementKind, OtherSide
from service.core.materials import Basis, Form, MaterialKind, Unknown
from service.core.shelf_codes import is_code, make_code
from service.records.ageing_queries import standing_of
from service.records.duties import Duty
from service.records.engine import Database
from service.records.materials import Material
from service.records.places import Place, PlaceKind
from service.records.stock import Container
from service.records.stock_queries import events_of, movements_of
from tests.builders import NOW, TODAY, Cast, cast

_keys = itertools.count(1)


def once() -> str:
    return f"receive-{next(_keys):06d}"


def chance() -> Callable[[], str]:
    numbers = itertools.count(1)
    return lambda: f"chance {next(numbers)}"


def material(session: Session, name: str = "Raw umber in oil", **more: Any) -> Material:
    values = {"kind": MaterialKind.COLOUR_IN_OIL, "form": Form.PASTE, "created_at": NOW} | more
    row = Material(name=name, **values)
    session.add(row)
    session.flush()
    return row


def take_in(
    session: Session, people: Cast, row: Material, role: Role = Role.FINISHER, **more: Any
) -> Settled:
    asked = ReceiveAsked(once(), row.id or 0, **more)
    return receive(session, people.actor(role), NOW, asked, chance())


def first(session: Session, settled: Settled) -> Container:
    row = session.get(Container, settled.result["containers"][0]["id"])
    assert row is not None
    return row


def codes_of(settled: Settled) -> set[str]:
    return {f["code"] for f in settled.result["findings"]}


def test_twelve_alike_are_twelve_containers_with_codes_and_movements_of_their_own(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        row = material(session)
        settled = take_in(session, people, row, count=12, amount="60 g", supplier="A works", lot="L 7")
        codes = [c["code"] for c in settled.result["containers"]]
        assert len(set(codes)) == 12 and all(is_code(code) for code in codes)
        for container in session.exec(select(Container)).all():
            (movement,) = movements_of(session, container.id or 0)
            assert (movement.kind, movement.change) == (MovementKind.RECEIVE, 60_000)
            assert movement.other_side is OtherSide.SUPPLIER and movement.other_text == "A works"
            assert container.state is ContainerState.SEALED and container.balance == 60_000
            assert container.received_on == TODAY and container.lot == "L 7"
        assert row.basis is Basis.MASS
        assert settled.result["amount"] == 60_000


def test_two_hundred_and_no_more(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        row = material(session)
        assert len(take_in(session, people, row, count=200, amount="60 g").result["containers"]) == 200
        for count in (0, -1, 201):
            with pytest.raises(Invalid) as caught:
                take_in(session, people, row, count=count)
            assert "count" in caught.value.errors


def test_the_same_delivery_sent_twice_is_one(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        asked = ReceiveAsked(once(), material(session).id or 0, count=3, amount="60 g")
        one = receive(session, people.actor(Role.FINISHER), NOW, asked, chance())
        two = receive(session, people.actor(Role.FINISHER), NOW, asked, chance())
        assert two.repeated and one.result == two.result
        assert len(session.exec(select(Container)).all()) == 3
        with pytest.raises(Stale):
            receive(session, people.actor(Role.FINISHER), NOW, replace(asked, count=4), chance())


@pytest.mark.parametrize("role", [Role.STUDENT, Role.READER])
def test_others_take_nothing_in(sqlite_database: Database, role: Role) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        with pytest.raises(NotAllowed):
            take_in(session, people, material(session), role)


def test_something_missing_never_keeps_it_out_and_is_said(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        settled = take_in(session, people, material(session), sheet_came=Unknown.NO)
        assert settled.result["missing"] == [
            "amount-not-known", "condition-not-known", "packed-not-known", "place-not-known",
            "sheet-not-come",
        ]  # fmt: skip
        box = first(session, settled)
        assert box.balance is None and box.balance_known is AmountKnown.NOT_KNOWN
        assert settled.result["amount"] is None


def test_a_leaking_can_is_taken_in_with_a_duty_to_deal_with_it(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        settled = take_in(
            session, people, material(session), count=2, amount="1 kg", condition=Condition.LEAKING
        )
        assert "leaking" in settled.result["missing"]
        duties = session.exec(select(Duty)).all()
        assert len(duties) == 2
        assert {d.about_id for d in duties} == {c["id"] for c in settled.result["containers"]}
        assert all(d.owed_by == people.finisher.id and d.due_at == NOW + timedelta(hours=1) for d in duties)


def test_a_dented_can_is_said_and_owes_nothing(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        settled = take_in(session, people, material(session), amount="1 kg", condition=Condition.DAMAGED)
        assert "damaged" in codes_of(settled)
        assert not session.exec(select(Duty)).all()


def test_what_comes_open_with_a_known_day(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        day = date(2026, 1, 10)
        box = first(
            session,
            take_in(
                session,
                people,
                material(session),
                amount="500 g",
                opened=True,
                opened_on=day,
                received_on=date(2026, 1, 5),
            ),
        )
        assert box.state is ContainerState.OPEN and box.ever_opened and box.opened_on == day
        (event,) = events_of(session, box.id or 0, EventKind.OPENED)
        assert event.on_date == day


def test_an_old_can_opened_nobody_knows_when_stands_as_not_known(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        row = material(session)
        settled = take_in(
            session, people, row, amount="about half", capacity="1 kg", opened=True, origin=Origin.STOCK_TAKE
        )
        box = first(session, settled)
        assert box.opened_on is None and box.ever_opened and box.opened_by == TODAY
        assert box.packed_on is None and box.received_on is None and box.started_by == TODAY
        assert standing_of(session, box, row, TODAY).standing is Standing.NOT_KNOWN
        assert {"start-not-known", "opened-not-known"} <= set(settled.result["missing"])
        assert (box.balance, box.balance_known) == (500_000, AmountKnown.ESTIMATED)
        (movement,) = movements_of(session, box.id or 0)
        assert movement.other_side is OtherSide.STOCK_TAKE and movement.written == "about half"
        (event,) = events_of(session, box.id or 0, EventKind.OPENED)
        assert event.on_date is None


@pytest.mark.parametrize(
    ("amount", "booked"),
    [
        ("about half", 125_000),
        ("three quarters full", 187_500),
        ("1/3", 83_333),
        ("full", 250_000),
        ("30 %", 75_000),
    ],
)
def test_shares_of_a_capacity(sqlite_database: Database, amount: str, booked: int) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        oil = material(session, "Linseed oil", kind=MaterialKind.BINDER, form=Form.LIQUID)
        box = first(session, take_in(session, people, oil, amount=amount, capacity="250 ml"))
        assert (box.balance, box.balance_known, box.capacity_ul) == (booked, AmountKnown.ESTIMATED, 250_000)


def test_a_share_that_cannot_be_turned_into_weight_stays_not_known(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        powder = material(session, "Umber", kind=MaterialKind.DRY_PIGMENT, form=Form.POWDER)
        settled = take_in(session, people, powder, amount="about half", capacity="250 ml")
        box = first(session, settled)
        assert box.balance is None and powder.basis is None
        (movement,) = movements_of(session, box.id or 0)
        assert movement.how == "about half of 250 ml"
        assert "amount-not-known" in settled.result["missing"]


def test_about_200_g_is_an_estimate_and_of_a_range_the_lower_end_is_booked(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        row = material(session)
        about = first(session, take_in(session, people, row, amount="about 200 g"))
        assert (about.balance, about.balance_known) == (200_000, AmountKnown.ESTIMATED)
        span = first(session, take_in(session, people, row, amount="200 to 250 g"))
        assert (span.balance, span.balance_known) == (200_000, AmountKnown.ESTIMATED)
        guess = first(session, take_in(session, people, row, amount="200 g", estimated=True))
        assert guess.balance_known is AmountKnown.ESTIMATED


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"amount": "half"}, "capacity"),
        ({"amount": "0 g"}, "amount"),
        ({"amount": "some"}, "amount"),
        ({"amount": "20 ml"}, "amount"),
        ({"amount": "60 g", "capacity": "big"}, "capacity"),
        ({"amount": "60 g", "place_id": 999}, "place_id"),
        ({"amount": "60 g", "packed_on": date(2027, 1, 1)}, "packed_on"),
        ({"amount": "60 g", "received_on": date(2026, 3, 13)}, "received_on"),
        ({"amount": "60 g", "packed_on": date(2026, 3, 2), "received_on": date(2026, 3, 1)}, "received_on"),
        ({"amount": "60 g", "opened_on": date(2026, 3, 1)}, "opened_on"),
        ({"amount": "60 g", "opened": True, "opened_on": date(2026, 4, 1)}, "opened_on"),
        ({"amount": "60 g", "packed_on": date(1026, 3, 2)}, "packed_on"),
        ({"amount": "60 g", "code": "K7QF2O"}, "code"),
        ({"amount": "60 g", "code": make_code(5), "count": 2}, "code"),
        ({"amount": "60 g", "lot": "x" * 121}, "lot"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(
    sqlite_database: Database, more: dict[str, Any], field: str
) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        with pytest.raises(Invalid) as caught:
            take_in(session, people, material(session), **more)
        assert field in caught.value.errors


def test_an_ambiguous_amount_is_asked_never_guessed(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        oil = material(session, "Oil", kind=MaterialKind.BINDER, form=Form.LIQUID)
        with pytest.raises(Ambiguous) as caught:
            take_in(session, people, oil, amount="1 quart")
        assert len(caught.value.readings) == 2


def test_not_stocked_retired_or_no_such_material(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        water = material(session, "Tap water", kind=MaterialKind.SOLVENT, form=Form.LIQUID, not_stocked=True)
        old = material(session, "Old", active=False)
        for row in (water, old):
            with pytest.raises(Refused):
                take_in(session, people, row, amount="1 kg")
        with pytest.raises(NotFound):
            receive(session, people.actor(Role.FINISHER), NOW, ReceiveAsked(once(), 999), chance())


def test_a_retired_place_is_no_place(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        place = Place(code=make_code(9), name="Old shelf", kind=PlaceKind.SHELF, active=False, created_at=NOW)
        session.add(place)
        session.flush()
        with pytest.raises(Invalid):
            take_in(session, people, material(session), amount="60 g", place_id=place.id)


def test_codes_are_unique_across_containers_and_places_also_when_chance_repeats(database: Database) -> None:
    texts = iter(["same", "same", "same", "other", "same", "other", "third"])
    with database.writing() as session:
        people = cast(session)
        row = material(session)
        asked = ReceiveAsked(once(), row.id or 0, count=2, amount="60 g")
        settled = receive(session, people.actor(Role.FINISHER), NOW, asked, lambda: next(texts))
        codes = [c["code"] for c in settled.result["containers"]]
        assert len(set(codes)) == 2
        place = Place(
            code=fresh_code(session, lambda: next(texts)), name="A", kind=PlaceKind.ROOM, created_at=NOW
        )
        session.add(place)
        session.flush()
        assert place.code not in codes and taken_by(session, place.code) is place
        with pytest.raises(RuntimeError):
            fresh_code(session, lambda: "same")


def test_a_label_printed_ahead_is_used_once(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        row, code = material(session), make_code(4711)
        asked = f"https://shop.example/c/{code.lower()}"
        box = first(session, take_in(session, people, row, amount="60 g", code=asked))
        assert box.code == code
        with pytest.raises(Invalid) as caught:
            take_in(session, people, row, amount="60 g", code=code)
        assert "another container" in caught.value.errors["code"]


def test_a_delivery_written_down_later_is_a_late_entry(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        when = NOW - timedelta(days=2)
        with pytest.raises(Invalid):
            take_in(session, people, material(session), amount="60 g", happened_at=when)
        settled = take_in(
            session,
            people,
            material(session),
            amount="60 g",
            happened_at=when,
            late_reason="The tablet was being mended",
        )
        box = first(session, settled)
        assert box.received_on == date(2026, 3, 10)
        assert movements_of(session, box.id or 0)[0].late
