"""A container of solvent wipes: label and start date, 180 days on the wall, handed over with its records."""

from __future__ import annotations

import threading
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import col, select

from service.actions.answer_duty import answer_duty
from service.actions.arrange_places import PlaceAsked, change_place
from service.actions.keep_wipes import BeginAsked, LeaveAsked, begin_wipes, send_wipes, wipes_standing
from service.actions.list_alerts import list_alerts
from service.actions.rag_duty import blocked_by
from service.core.access import Role
from service.core.alerts import AlertKind
from service.core.findings import Invalid, NotAllowed, NotFound, Refused
from service.core.materials import Unknown
from service.core.wipes import WipesWay
from service.records.duties import WIPES, Duty
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.rags import RagLogRow
from tests.rag_shop import RagShop, add_place, codes_of, make_shop, once

BERLIN = ZoneInfo("Europe/Berlin")
BEGUN = date(2026, 3, 10)
# By hand: 21 days of March after the 10th, 30, 31, 30, 31, 31 are 174 by 31 August; 6 more: 6 September.
LAST = date(2026, 9, 6)


@pytest.fixture
def shop(database: Database) -> RagShop:
    made = make_shop(database)
    with database.writing() as session:
        made.bucket = add_place(session, "Solvent can", PlaceKind.RAG_CAN)
    return made


def begin(shop: RagShop, role: Role = Role.FINISHER, **said: Any) -> int:
    asked = {
        "place_id": shop.bucket, "started_on": BEGUN, "labelled": Unknown.YES, "sound": Unknown.YES,
    } | said  # fmt: skip
    with shop.database.writing() as session:
        settled = begin_wipes(session, shop.actor(role), shop.now, BeginAsked(once(), **asked))
    return int(settled.result["wipes"])


def send(shop: RagShop, wipes: int, role: Role = Role.KEEPER, **said: Any) -> str:
    asked = {
        "way": WipesWay.LAUNDRY, "named": "Weir Lane Laundry", "address": "2 Weir Lane, Ashford",
        "no_liquid": "Wrung out one by one, nothing at the bottom",
    } | said  # fmt: skip
    with shop.database.writing() as session:
        settled = send_wipes(session, shop.actor(role), shop.now, LeaveAsked(once(), wipes, **asked))
    return str(settled.result["sentence"])


def kinds(shop: RagShop) -> list[str]:
    with shop.database.reading() as session:
        return [row.kind for row in session.exec(select(RagLogRow).order_by(col(RagLogRow.id)))]


def evening(day: date, hour: int = 12) -> datetime:
    return datetime.combine(day, time(hour), tzinfo=BERLIN).astimezone(UTC)


def test_the_last_day_is_fixed_when_it_begins(shop: RagShop) -> None:
    number = begin(shop)
    with shop.database.reading() as session:
        duty = session.get_one(Duty, number)
        assert duty.due_at == datetime(2026, 9, 6, 22, tzinfo=UTC), "24:00 of 6 September in Berlin"
        assert "Excluded Solvent-Contaminated Wipes" in duty.sentence and "6 Sep" in duty.sentence
        seen = wipes_standing(session, BERLIN, shop.now)[0]
        assert (seen.started_on, seen.last) == (BEGUN, LAST)
    assert kinds(shop)[-1] == "wipes-begun"


def test_warned_of_before_and_found_after(shop: RagShop) -> None:
    number = begin(shop)
    told = {}
    for days in (-31, -30, 0, 1):
        at = evening(LAST + timedelta(days=days), 23)
        with shop.database.reading() as session:
            told[days] = {f.severity.value: f.code for f in wipes_standing(session, BERLIN, at)[0].verdict}
    assert [sorted(found.values()) for found in told.values()] == [
        ["wipes-scope"], ["wipes-scope", "wipes-soon"], ["wipes-scope", "wipes-soon"],
        ["wipes-past", "wipes-scope"],
    ]  # fmt: skip
    for at, kind in ((evening(LAST, 23), AlertKind.DUTY), (evening(LAST, 23), None),
                     (evening(LAST + timedelta(days=1), 1), AlertKind.DUTY_OVERDUE)):  # fmt: skip
        with shop.database.reading() as session:
            found = [one.kind for one in list_alerts(session, at) if one.ref == f"duty {number}"]
        assert len(found) == 1 and (kind is None or found == [kind])


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"labelled": Unknown.NO}, "wipes-not-labelled"),
        ({"labelled": Unknown.NOT_KNOWN}, "wipes-not-labelled"),
        ({"sound": Unknown.NO}, "wipes-container"), ({"sound": Unknown.NOT_KNOWN}, "wipes-container"),
        ({"started_on": date(2026, 3, 13)}, "wipes-future"),
    ],
)  # fmt: skip
def test_what_keeps_it_from_beginning(shop: RagShop, said: dict[str, Any], code: str) -> None:
    with pytest.raises(Refused) as refused:
        begin(shop, **said)
    assert codes_of(refused.value) == {code}
    assert "wipes-begun" not in kinds(shop)


def test_one_start_date_for_a_container(shop: RagShop) -> None:
    begin(shop)
    with pytest.raises(Refused) as refused:
        begin(shop, started_on=date(2026, 3, 12))
    assert codes_of(refused.value) == {"wipes-begun"}
    for role in (Role.READER, Role.STUDENT):
        with pytest.raises(NotAllowed):
            begin(shop, role, place_id=shop.drum)
    with pytest.raises(Invalid):
        begin(shop, place_id=4711)


def test_it_ends_with_its_hand_over_and_with_nothing_else(shop: RagShop) -> None:
    number = begin(shop)
    with shop.database.writing() as session, pytest.raises(NotFound):
        answer_duty(session, shop.actor(Role.KEEPER), shop.now, number, "it is gone, I think", once())
    asked = PlaceAsked(once(), "Solvent can", PlaceKind.RAG_CAN, active=False, version=1)
    with shop.database.writing() as session, pytest.raises(Refused) as refused:
        change_place(session, shop.actor(Role.KEEPER), shop.now, shop.bucket, asked)
    assert codes_of(refused.value) == {"place-in-use"}
    with pytest.raises(NotAllowed):
        send(shop, number, Role.FINISHER)
    shop.now = evening(LAST, 20)
    assert "Weir Lane Laundry, 2 Weir Lane" in send(shop, number)
    assert kinds(shop)[-1] == "wipes-sent"
    with shop.database.reading() as session:
        duty = session.get_one(Duty, number)
        assert duty.done_at == shop.now and "2 Weir Lane" in duty.answer
        assert not session.exec(select(Duty).where(col(Duty.kind) == "answer-violation")).all()
    with pytest.raises(Refused) as refused:
        send(shop, number)
    assert codes_of(refused.value) == {"wipes-gone"}
    begin(shop, started_on=LAST)  # the emptied can begins anew, with a day of its own


@pytest.mark.parametrize(
    ("said", "codes"),
    [
        ({"named": " ", "address": "x"}, {"wipes-receiver"}), ({"address": "Ashford"}, {"wipes-receiver"}),
        ({"no_liquid": "yes"}, {"wipes-free-liquid"}),
        ({"way": WipesWay.LANDFILL}, {"wipes-trichloroethylene"}),
        ({"way": WipesWay.COMBUSTOR, "trichloroethylene": Unknown.YES}, {"wipes-trichloroethylene"}),
        ({"happened_at": evening(date(2026, 3, 9)), "late_reason": "The slip lay under the bench until now"},
         {"wipes-before-start"}),
    ],
)  # fmt: skip
def test_a_hand_over_without_its_records_is_none(
    shop: RagShop, said: dict[str, Any], codes: set[str]
) -> None:
    number = begin(shop)
    with pytest.raises(Refused) as refused:
        send(shop, number, **said)
    assert codes_of(refused.value) == codes
    assert "wipes-sent" not in kinds(shop)


def test_thrown_away_when_no_trichloroethylene_is_on_them(shop: RagShop) -> None:
    number = begin(shop)
    send(shop, number, way=WipesWay.LANDFILL, trichloroethylene=Unknown.NO)
    assert kinds(shop)[-1] == "wipes-sent"


def test_a_day_too_late_is_a_violation_and_a_late_entry_in_time_is_none(shop: RagShop) -> None:
    in_time, late = begin(shop), begin(shop, place_id=shop.drum)
    shop.now = evening(LAST + timedelta(days=1), 9)
    why = "The driver's slip came by post only today"
    send(shop, in_time, happened_at=evening(LAST, 15), late_reason=why)
    assert "violation" not in kinds(shop)
    send(shop, late)
    assert kinds(shop)[-2:] == ["wipes-sent", "violation"]
    with shop.database.reading() as session:
        owed = session.exec(select(Duty).where(col(Duty.kind) == "answer-violation")).one()
        assert "1 day too long" in owed.sentence and owed.keeper_answers


def test_oily_rags_in_the_same_can_keep_their_own_clock(shop: RagShop) -> None:
    number = begin(shop, place_id=shop.can)
    shop.draw()
    before = shop.load().row.remove_by
    shop.pass_by(minutes=5)
    shop.into_can()
    assert shop.load().row.remove_by == before
    with shop.database.reading() as session:
        seen = wipes_standing(session, BERLIN, shop.now)[0]
        assert "wipes-with-oil" in seen.verdict.codes
    with pytest.raises(Refused) as refused:
        send(shop, number)
    assert codes_of(refused.value) == {"wipes-with-oily-load"}
    shop.now = before + timedelta(minutes=1)
    with shop.database.reading() as session:
        assert blocked_by(session, shop.now).codes == {"rags-overdue"}


def test_two_who_begin_the_same_can_at_once(shop: RagShop) -> None:
    told: list[str] = []
    start = threading.Barrier(4)

    def run() -> None:
        start.wait()
        try:
            begin(shop)
            told.append("begun")
        except Refused as refused:
            told.extend(codes_of(refused))

    threads = [threading.Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["begun", "wipes-begun", "wipes-begun", "wipes-begun"]
    with shop.database.reading() as session:
        assert len(session.exec(select(Duty).where(col(Duty.kind) == WIPES)).all()) == 1
