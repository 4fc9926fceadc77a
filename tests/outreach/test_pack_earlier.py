"""What was written down in time and tells of an earlier day is a late entry in the pack of an inspector."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import count
from zoneinfo import ZoneInfo

import pytest

from service.actions.book_then import book_then
from service.actions.fill_drum import SortAsked, put_discards_in
from service.actions.receive_stock import ReceiveAsked, receive
from service.actions.tell_rest import RestAsked, tell_rest
from service.core.access import Role
from service.core.pot_waste import PotWentTo
from service.outreach.pack_since import recorded_since
from service.outreach.pack_tables import late_entries
from service.records.engine import Database
from tests.actions.test_waste_of_pots import drop, end, pot
from tests.builders import NOW, TODAY, cast
from tests.mixing_shop import make_mix_shop
from tests.store_builders import material, once
from tests.waste_yard import Yard

BERLIN = ZoneInfo("Europe/Berlin")
WEEK_AGO = TODAY - timedelta(days=7)
_NUMBERS = count(1)


@pytest.fixture
def yard(database: Database) -> Yard:
    with database.writing() as session:
        return Yard(database, cast(session))


def came(yard: Yard, **said: object) -> None:
    with yard.database.writing() as session:
        asked = ReceiveAsked(once=once(), material_id=material(session).id or 0, amount="2 g", **said)  # type: ignore[arg-type]
        receive(session, yard.people.actor(Role.KEEPER), NOW, asked, lambda: f"chance {next(_NUMBERS)}")


def told(yard: Yard, day: date) -> tuple[list[str], list[str]]:
    """What today's pack lists as late, and what the pack of a day says was recorded since."""
    before = NOW.replace(hour=0) - timedelta(days=(TODAY - day).days - 1)
    with yard.database.snapshot() as session:
        late = late_entries(session, BERLIN)
        with book_then(session, NOW + timedelta(days=8)) as told_then:
            assert late_entries(told_then.session, BERLIN).rows == late.rows, "a pack reads a copy"
        since = recorded_since(session, before, day)
    assert [len(row) for row in late.rows] == [6] * len(late.rows)
    return [str(row[5]) for row in late.rows], [str(row[6]) for row in since.rows]


def test_waste_that_stood_already_is_told_late(yard: Yard) -> None:
    yard.begin(name="Empty")
    assert told(yard, WEEK_AGO) == ([], [])
    yard.begin(first_waste_on=WEEK_AGO, holds="90 kg")
    words = f"says that waste went into drum Drum 1 on {WEEK_AGO.isoformat()}"
    assert told(yard, WEEK_AGO) == ([words], [words])
    assert told(yard, WEEK_AGO - timedelta(days=1)) == ([words], []), "it tells of no day before its own"


def test_what_came_or_was_opened_before_is_told_late(yard: Yard) -> None:
    came(yard)
    assert told(yard, WEEK_AGO) == ([], [])
    came(yard, received_on=WEEK_AGO, opened=True, opened_on=WEEK_AGO + timedelta(days=1))
    late, since = told(yard, WEEK_AGO)
    assert len(late) == 1 and "came on" in late[0] and "was opened on" in late[0]
    assert len(since) == 1 and "came on" in since[0] and "opened" not in since[0]


def sorted_in(yard: Yard, drum: int, *movements: int, days: int) -> None:
    with yard.database.writing() as session:
        now = NOW + timedelta(days=days)
        put_discards_in(session, yard.people.actor(Role.KEEPER), now, SortAsked(once(), drum, movements))


def told_of_drums(yard: Yard, day: date) -> tuple[list[str], list[str]]:
    late, since = told(yard, day)
    return [one for one in late if "drum" in one], [one for one in since if "drum" in one]


def test_a_discard_that_is_sorted_on_a_later_day_is_told_late(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    first, second = (yard.throw(yard.stuff()) for _ in range(2))
    sorted_in(yard, drum, first, days=0)
    assert told_of_drums(yard, TODAY) == ([], []), "sorted on its own day"
    sorted_in(yard, drum, second, days=7)
    words = f"says that movement {second} went into drum Drum 1 on {TODAY.isoformat()}"
    assert told_of_drums(yard, TODAY) == ([words], [words])
    assert told_of_drums(yard, TODAY - timedelta(days=1)) == ([words], []), "of no day before its own"


def test_a_discard_that_names_its_drum_is_late_only_if_it_was_written_late(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    yard.throw(yard.stuff(), drum_id=drum)
    assert told_of_drums(yard, TODAY - timedelta(days=1)) == ([], [])


def test_a_pot_that_is_sorted_later_tells_of_the_day_it_was_given_up(database: Database) -> None:
    shop = make_mix_shop(database)
    yard = Yard(database, shop.people)
    batch, drum = pot(shop), yard.begin()["drum"]
    shop.now += timedelta(days=2)
    drop(shop, batch)
    [loose] = yard.record(shop.now).in_no_drum
    sorted_in(yard, drum, loose.movement_id, days=4)
    ended = TODAY + timedelta(days=2)
    words = f"says that movement {loose.movement_id} went into drum Drum 1 on {ended.isoformat()}"
    assert told_of_drums(yard, ended) == ([words], [words])
    assert told_of_drums(yard, TODAY) == ([words], []), "the pot was in use on that day still"


def of_rests(yard: Yard, day: date) -> tuple[list[str], list[str]]:
    late, since = told(yard, day)
    return [one for one in late if "rest" in one], [one for one in since if "rest" in one]


def test_where_a_rest_went_is_told_late_on_a_later_day(database: Database) -> None:
    shop = make_mix_shop(database)
    yard = Yard(database, shop.people)
    batch = pot(shop)
    end(shop, batch)
    assert of_rests(yard, TODAY) == ([], [])
    with database.writing() as session:
        asked = RestAsked(once(), batch, PotWentTo.HAULER)
        tell_rest(session, shop.actor(), NOW + timedelta(days=2), asked)
    words = f"says where the rest of batch {batch} went"
    assert of_rests(yard, TODAY) == ([words], [words])
    assert of_rests(yard, TODAY - timedelta(days=1)) == ([words], []), "the batch had not ended then"
