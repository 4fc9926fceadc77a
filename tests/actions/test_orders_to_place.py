"""What has to be ordered stands among the alerts, each with an owner; nothing planned costs nothing."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import event

from service.actions import orders_to_place
from service.actions.list_alerts import list_alerts
from service.actions.write_packs import MinimumAsked, set_minimum
from service.core.access import Role
from service.core.alert_pages import page_of
from service.core.alerts import Alert, AlertKind, OrderFact, alerts
from service.core.digest import SWITCHABLE, Choice, Hearer, Share, always_told, share_out
from service.core.findings import Invalid, Severity
from service.core.morning_words import Morning, morning_mail
from service.records.engine import Database
from service.records.people import Person
from service.records.plans import Term
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import once

NEEDED = date(2026, 4, 13)
"""A Monday. Here by Friday 10 April; five working days before that, Friday 3 April, it is ordered."""


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def told(planned: Planned, today: date, days: int = 0) -> list[Alert]:
    at = datetime.combine(today, planned.mix.now.timetz())
    with planned.mix.database.reading() as session:
        return [one for one in list_alerts(session, at, days) if one.kind is AlertKind.ORDER]


def of(found: list[Alert], material: str) -> Alert:
    (one,) = [one for one in found if one.about == material]
    return one


def test_an_order_is_told_a_week_before_its_day_with_whoever_plans(planned: Planned) -> None:
    planned.job(NEEDED, heads=3)
    planned.pack("spirit", "1 l", lead_days=5, price=Decimal("8"))
    assert [one for one in told(planned, date(2026, 3, 26)) if one.about == "spirit"] == []
    assert of(told(planned, date(2026, 3, 26), days=30), "spirit").due == date(2026, 4, 3)
    one = of(told(planned, date(2026, 3, 27)), "spirit")
    assert one.sentence == "Order by Friday, 3 April 2026: 1 × 1 l of spirit, for Spring."
    assert one.what_to_do == "Place the order and write it down. Needed on 13 April 2026."
    assert (one.severity, one.due) == (Severity.WARN, date(2026, 4, 3))
    assert page_of(one) == f"/term/{planned.term}/orders"
    with planned.mix.database.reading() as session:
        term = session.get(Term, planned.term)
        assert term is not None and one.people == (term.created_by,)
    late = of(told(planned, date(2026, 4, 6)), "spirit")
    assert late.severity is Severity.WARN and late.what_to_do.startswith("It is late: needed on 13 April")


def test_what_is_ordered_is_not_told_again(planned: Planned) -> None:
    planned.job(NEEDED, heads=3)
    pack = planned.pack("spirit", "1 l", lead_days=5)
    assert of(told(planned, date(2026, 4, 1)), "spirit")
    planned.order(pack, 1, date(2026, 4, 9))
    assert [one for one in told(planned, date(2026, 4, 1)) if one.about == "spirit"] == []


def test_what_is_not_known_is_told_as_not_known_and_earlier(planned: Planned) -> None:
    planned.job(NEEDED, heads=3)
    planned.pack("spirit", "1 l")
    assert told(planned, date(2026, 3, 15)) == []
    spirit = of(told(planned, date(2026, 3, 16)), "spirit")
    assert spirit.severity is Severity.UNKNOWN and "not known how long a delivery takes" in spirit.sentence
    oil = of(told(planned, date(2026, 3, 16)), "boiled oil")
    assert oil.severity is Severity.UNKNOWN and "not known in which packs it is sold" in oil.sentence
    assert "13 April 2026" in oil.sentence


def test_who_left_hands_it_to_the_keepers(planned: Planned) -> None:
    planned.job(NEEDED, heads=3)
    with planned.mix.database.writing() as session:
        term = session.get(Term, planned.term)
        assert term is not None
        row = session.get(Person, term.created_by)
        assert row is not None
        keeper = Person(name="Nora Neu", role=Role.KEEPER, created_at=planned.mix.now)
        session.add(keeper)
        session.flush()
        row.active, new = False, keeper.id
    one = of(told(planned, date(2026, 4, 1)), "boiled oil")
    assert new in one.people and planned.mix.actor().person_id not in one.people


def test_nothing_planned_reads_no_plan(planned: Planned, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[int] = []
    look = orders_to_place.look_at_term

    def counted(session: Any, term: int, today: date) -> Any:
        read.append(term)
        return look(session, term, today)

    monkeypatch.setattr(orders_to_place, "look_at_term", counted)
    statements: list[str] = []
    with planned.mix.database.reading() as session:
        event.listen(session.get_bind(), "before_cursor_execute", lambda *a: statements.append(a[2]))
        assert orders_to_place.orders_to_place(session, TODAY, {}, orders_to_place.Owner()) == []
        assert (read, len([one for one in statements if "FROM term" in one])) == ([], 1)
        assert len(statements) <= 2
    planned.job(NEEDED, heads=3)
    told(planned, NEEDED)
    assert read == [planned.term]
    told(planned, NEEDED + timedelta(days=1))
    assert read == [planned.term], "its last date has passed"
    planned.act(set_minimum, MinimumAsked(once(), planned.mix.ids["spirit"], "500 ml"))
    told(planned, NEEDED + timedelta(days=1))
    assert len(read) == 2, "a least on the shelf is left at the end of the term"
    told(planned, date(2026, 7, 4))
    assert len(read) == 2, "the term is over"


def test_a_plan_that_cannot_be_worked_out_hides_no_other_alert(
    planned: Planned, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned.job(NEEDED, heads=3)

    def broken(*said: object) -> None:
        raise Invalid("A recipe is odd.")

    monkeypatch.setattr(orders_to_place, "look_at_term", broken)
    (one,) = told(planned, TODAY)
    assert one.severity is Severity.UNKNOWN and "A recipe is odd" in one.sentence


def test_it_is_left_out_by_its_own_kind_and_today_stands_with_the_duties() -> None:
    said: dict[str, Any] = {"term": "Spring", "about": "oil", "ref": "term 1", "people": (1,)}
    soon = TODAY + timedelta(days=20)
    facts = [OrderFact("2 × 1 l of oil", NEEDED, TODAY, **said), OrderFact("5 l of oil", soon, None, **said)]
    found = alerts([], [], [], today=TODAY, days=0, orders=facts)
    later = OrderFact("3 × 1 l of oil", NEEDED, NEEDED, **said)
    found += alerts([], [], [], today=TODAY, days=60, orders=[later])
    assert AlertKind.ORDER in SWITCHABLE and not any(map(always_told, found))
    (share,) = share_out([Hearer(1, True, Choice(off=frozenset({AlertKind.ORDER})))], found)
    assert share.told == () and share.left_out == 3
    mail = morning_mail(Morning("Shop", TODAY, Share(tuple(found), 0, False), 1, None), UTC)
    head, today, rest, *_ = mail.text.split("\n\n")
    assert today.startswith("To do today (1):") and "2 × 1 l of oil" in today
    assert "5 l of oil" in rest and "3 × 1 l of oil" in rest and head.startswith("Shop")
