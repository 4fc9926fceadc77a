"""How long records are kept: the reference typed again, and each material's trace as the ledger tells it."""

from __future__ import annotations

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.actions.container_events import MoveAsked, move
from service.actions.lose_stock import DiscardAsked, discard
from service.core.access import Role
from service.core.ledger import Destination
from service.core.record_periods import USE_YEARS, Basis, Start, Use, keep_until
from service.core.recurring_checks import HOUSE_POLICY
from service.core.sources import Provenance
from service.outreach.use_table import HEADER, use_rows
from service.records.engine import Database
from service.records.knowledge import read_rows
from service.records.knowledge_periods import TABLE, read_periods, record_periods
from service.records.places import PlaceKind
from service.records.use_queries import uses
from tests.builders import NOW, TODAY, ZONE, cast
from tests.store_builders import container, material, once, place, received

BERLIN = ZoneInfo(ZONE)
READ, MEMORY, DERIVED = Provenance.READ, Provenance.MEMORY, Provenance.DERIVED
# Typed by hand: years, from when, law or policy, how well it is sourced.
BY_HAND = {
    "uses": (30, Start.LAST_USE, Basis.LAW, READ),
    "sheets": (30, Start.LAST_USE, Basis.LAW, READ),
    "ledger": (3, Start.ENTRY, Basis.POLICY, DERIVED),
    "events": (30, Start.LAST_USE, Basis.LAW, DERIVED),
    "rag-log": (3, Start.ENTRY, Basis.POLICY, DERIVED),
    "waste": (3, Start.SHIPMENT, Basis.LAW, MEMORY),
    "wipes": (3, Start.SHIPMENT, Basis.POLICY, DERIVED),
    "checks": (3, Start.ENTRY, Basis.POLICY, DERIVED),
    "extraction-test": (5, Start.ENTRY, Basis.LAW, MEMORY),
    "training": (None, Start.EMPLOYMENT, Basis.POLICY, DERIVED),
    "changes": (3, Start.ENTRY, Basis.POLICY, DERIVED),
    "health": (40, Start.ENTRY, Basis.LAW, MEMORY),
}


def test_periods_are_those_of_the_reference() -> None:
    found = {one.log: (one.years, one.start, one.basis, one.grade) for one in record_periods()}
    assert found == BY_HAND
    for one in record_periods():
        assert one.citation.startswith(HOUSE_POLICY) == (one.basis is Basis.POLICY), one.log
    assert next(one for one in record_periods() if one.log == "uses").citation.endswith("(d)(1)(ii)(B)")


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("years", "0", "1 to 100"), ("years", "ten", "ten"), ("start", "never", "never"),
        ("basis", "habit", "habit"), ("basis", "policy", "a law does not"), ("citation", "", "no citation"),
        ("words", "", "no words"), ("grade", "sure", "sure"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_named(column: str, value: str, said: str) -> None:
    with pytest.raises(ValueError, match=rf"line 2: .*{said}"):
        read_periods([read_rows(TABLE)[0] | {column: value}])
    with pytest.raises(ValueError, match=r"line 3: .*twice"):
        read_periods(read_rows(TABLE)[:1] * 2)


@given(st.dates(date(1950, 1, 1), date(2150, 1, 1)))
def test_a_trace_is_kept_thirty_years_after_the_last_use(last: date) -> None:
    until = keep_until(Use(1, "x", last, last, False))
    assert until is not None and until.year == last.year + USE_YEARS
    assert (until.month, until.day) in ((last.month, last.day), (2, 28))
    assert keep_until(Use(1, "x", last, last, True)) is None
    assert keep_until(Use(1, "x", None, None, False)) is None


def test_the_trace_is_what_the_ledger_says(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        keeper = people.actor(Role.KEEPER)
        umber, spirit = material(session), material(session, "white spirit")
        material(session, "never bought")
        shelf = place(session, "Shelf by the window", PlaceKind.SHELF)
        code = received(session, keeper, umber, 500_000)
        asked = MoveAsked(once=once(), code=code, place_id=shelf.id)
        move(session, keeper, NOW, asked)
        received(session, keeper, spirit, 250_000)
        gone = DiscardAsked(once=once(), code=code, destination=Destination.HAULER)
        discard(session, keeper, NOW + timedelta(days=40), gone)
        assert container(session, code).state.value == "gone"
        umber.active = False
        session.add(umber)
    with database.reading() as session:
        found = {one.row.name: one for one in uses(session, BERLIN)}
        table = list(use_rows(found.values()))
    first = found["raw umber, dry"]
    assert (first.use.first, first.use.last, first.use.here) == (TODAY, TODAY + timedelta(days=40), False)
    assert first.places == ("Shelf by the window",) and first.containers == 1
    assert first.keep_until == date(2056, 4, 21)
    assert found["white spirit"].use.here and found["white spirit"].keep_until is None
    never = found["never bought"]
    assert (never.use.first, never.use.here, never.places, never.keep_until) == (None, False, (), None)
    assert all(len(row) == len(HEADER) and "" not in row for row in table)
    archived = dict(zip(HEADER, table[1:][list(found).index("raw umber, dry")], strict=True))
    assert (archived["archived"], archived["kept_until_at_least"]) == ("yes", date(2056, 4, 21))
