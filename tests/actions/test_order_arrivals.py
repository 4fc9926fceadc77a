"""What came of an order is ticked off, and waits again when the delivery is taken back; suppliers renamed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlmodel import col, select

from service.actions.arrivals import ReceiveAsked
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.place_order import LineChange, change_line, receive_ordered
from service.actions.rename_supplier import rename_supplier
from service.actions.what_came import about_delivery, what_came
from service.actions.write_term import TermAsked, change_term, write_term
from service.core.findings import Invalid, NotFound, Stale
from service.core.ledger import MovementKind
from service.core.materials import Basis, Form
from service.records.engine import Database
from service.records.order_queries import supplier_names, the_line
from service.records.orders import LineState, OrderLineRow
from service.records.stock import Movement
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import material, once


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def take_in(planned: Planned, line: int, key: str, count: int, amount: str) -> list[int]:
    """The entries by which so many containers of an ordered line came."""
    asked = ReceiveAsked(
        once=key, material_id=planned.mix.ids["spirit"], count=count, amount=amount, packed_on=TODAY
    )
    given = iter(range(1000))
    with planned.mix.database.writing() as session:
        done = receive_ordered(
            session, planned.mix.actor(), planned.mix.now, asked, line, lambda: f"{key} {next(given)}"
        )
        entries = select(Movement.id).where(
            col(Movement.posting_id) == done.posting_id, col(Movement.kind) == MovementKind.RECEIVE
        )
        return [number for number in session.exec(entries.order_by(col(Movement.id))).all() if number]


def take_back(planned: Planned, movement: int) -> None:
    planned.act(reverse, ReverseAsked(once(), movement, "typed at the wrong can"))


def stands(planned: Planned, line: int) -> tuple[int, int | None, LineState, date | None]:
    with planned.mix.database.reading() as session:
        row: OrderLineRow = the_line(session, line)
        return row.received_count, row.received_amount, row.state, row.received_on


def test_a_delivery_taken_back_is_on_its_way_again_and_planned_with(planned: Planned) -> None:
    day = TODAY + timedelta(days=12)
    planned.job(day, heads=4)
    line = planned.order(planned.pack("spirit", "1 l"), 2, day - timedelta(days=1))
    first, second = take_in(planned, line, "came", 2, "1 l")
    assert stands(planned, line)[:3] == (2, 2_000_000, LineState.RECEIVED)
    take_back(planned, second)
    assert stands(planned, line)[:3] == (1, 1_000_000, LineState.OPEN)
    assert planned.short("spirit") == {}, "one litre is here and one on its way; 1.2 l are needed"
    take_back(planned, first)
    assert stands(planned, line) == (0, 0, LineState.OPEN, None)
    take_in(planned, line, "came at last", 2, "1 l")
    assert stands(planned, line)[:3] == (2, 2_000_000, LineState.RECEIVED)


def test_an_unknown_amount_taken_back_makes_the_rest_known_again(planned: Planned) -> None:
    line = planned.order(planned.pack("spirit", "1 l"), 3, TODAY + timedelta(days=3))
    take_in(planned, line, "known", 1, "1 l")
    (unknown,) = take_in(planned, line, "unknown", 1, "")
    assert stands(planned, line)[:2] == (2, None)
    take_back(planned, unknown)
    assert stands(planned, line)[:3] == (1, 1_000_000, LineState.OPEN)


def test_what_came_in_another_measure_is_shown_as_it_is_and_counts_as_not_known(planned: Planned) -> None:
    """Nobody weighed it: 500 ml are never 500 g."""
    mix = planned.mix
    with mix.database.writing() as session:
        mix.ids["spirit"] = material(session, "binder", basis=None, form=Form.LIQUID).id or 0
    line = planned.order(planned.pack("spirit", "500 g"), 3, TODAY + timedelta(days=3))
    (came,) = take_in(planned, line, "by volume", 1, "500 ml")
    assert stands(planned, line)[:3] == (1, None, LineState.OPEN)
    with mix.database.reading() as session:
        row = the_line(session, line)
        found = what_came(session, [row])[line]
        assert (found.amount, found.packs, found.basis) == (500_000, 1, Basis.VOLUME)
        odd = about_delivery(row, found)
        assert [f.code for f in odd] == ["amount-that-came-not-known"] and "otherwise" in odd[0].sentence
    take_back(planned, came)
    assert stands(planned, line)[:2] == (0, 0)


def test_a_line_is_not_expected_before_it_was_ordered(planned: Planned) -> None:
    line = planned.order(planned.pack("spirit", "1 l"), 1, TODAY + timedelta(days=3))
    early = LineChange(
        once=once(), line_id=line, version=1, state=LineState.OPEN, expected_on=TODAY - timedelta(days=1)
    )
    with pytest.raises(Invalid) as wrong:
        planned.act(change_line, early)
    assert set(wrong.value.errors) == {"expected_on"}


def test_a_line_that_was_closed_by_hand_stays_closed(planned: Planned) -> None:
    line = planned.order(planned.pack("spirit", "1 l"), 3, TODAY + timedelta(days=3))
    (came,) = take_in(planned, line, "one", 1, "1 l")
    with planned.mix.database.reading() as session:
        version = the_line(session, line).version
    planned.act(change_line, LineChange(once=once(), line_id=line, version=version, state=LineState.NO_MORE))
    take_back(planned, came)
    assert stands(planned, line) == (0, 0, LineState.NO_MORE, None)


def test_a_term_that_was_shortened_does_not_count_a_can_twice(planned: Planned) -> None:
    """Its own job stands after its last day now; a job of another term before that comes first."""
    planned.mix.can("spirit", 300_000)
    late = date(2026, 6, 22)
    planned.job(late)
    with planned.mix.database.writing() as session:
        asked = TermAsked(
            once=once(), name="Spring", first_day=date(2026, 2, 2), last_day=date(2026, 5, 29)
        )
        change_term(session, planned.mix.actor(), planned.mix.now, planned.term, 1, asked)
        other = TermAsked(
            once=once(), name="Summer", first_day=date(2026, 6, 1), last_day=date(2026, 8, 28)
        )
        summer = write_term(session, planned.mix.actor(), planned.mix.now, other).result["term"]
    assert planned.short("spirit") == {}
    planned.job(date(2026, 6, 8), term_id=summer)
    assert planned.short("spirit")[late] == 300_000


def test_a_supplier_gets_another_name_and_keeps_its_packs(planned: Planned) -> None:
    planned.pack("spirit", "1 l", supplier="North Yard")
    planned.pack("boiled oil", "1 l", supplier="South Yard")
    with planned.mix.database.reading() as session:
        names = {name: number for number, name in supplier_names(session).items()}
    number = names["North Yard"]
    planned.act(rename_supplier, once(), number, "North Yard", "  North   Yard Company ")
    with planned.mix.database.reading() as session:
        assert supplier_names(session)[number] == "North Yard Company"
    with pytest.raises(Stale):
        planned.act(rename_supplier, once(), number, "North Yard", "Another")
    for name, words in (
        ("south yard", "called South Yard already"), ("  ", "Write the supplier"), ("n" * 121, "Shorten"),
    ):  # fmt: skip
        with pytest.raises(Invalid, match=words):
            planned.act(rename_supplier, once(), number, "North Yard Company", name)
    with pytest.raises(NotFound):
        planned.act(rename_supplier, once(), 99, "x", "y")
