"""What is read once in an act is never older than what the act, or another one, has written."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from service.actions.draw_stock import DrawAsked, draw
from service.actions.how_it_stands import how_it_stands
from service.actions.post_movement import EventFacts, Line, post, record_event
from service.actions.set_policy import PolicyAsked, set_policy
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Role
from service.core.ageing import Ageing
from service.core.ageing_policies import PolicyEnd
from service.core.containers import EventKind, Standing
from service.core.findings import Refused
from service.core.ledger import MovementKind, OtherSide
from service.core.life_facts import CheckOutcome
from service.records.ageing_queries import standing_of
from service.records.engine import Database, open_database
from service.records.policy_queries import Subject
from service.records.stock_queries import Held, hold_one
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import holds, material, once, received

RETEST = {"end": "retest", "sealed_months": 24, "opened_months": 12, "extends_months": 6, "hard_months": 60}
LONG_OPEN = {"opened_on": TODAY - timedelta(days=340), "packed_on": TODAY - timedelta(days=350)}


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def anew(act: Act, held: Held) -> Ageing:
    """How it stands by what the database says now, nothing remembered."""
    return standing_of(act.session, held.container, held.material, act.day)


def test_a_check_written_in_an_act_counts_in_that_act(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)

    def perform(act: Act) -> dict[str, Any]:
        held = hold_one(act.session, code)
        first = how_it_stands(act, held, act.day)
        assert first.standing is Standing.LOOK_FIRST
        record_event(act, held, EventKind.CHECKED, EventFacts(act.day, CheckOutcome.PASSED))
        then = how_it_stands(act, held, act.day)
        assert then == anew(act, held) and then.standing is Standing.IN_DATE
        assert held.container.in_date_until == then.in_date_until
        record_event(act, held, EventKind.CHECKED, EventFacts(act.day, CheckOutcome.FAILED))
        assert how_it_stands(act, held, act.day).standing is Standing.PAST
        assert held.container.standing is Standing.PAST
        return {}

    with database.writing() as session:
        code = received(session, keeper, material(session, policy=RETEST), **LONG_OPEN)
        settle(session, keeper, Sent(once(), "look", {"code": code}), NOW, perform)
    holds(database)


def test_what_is_poured_in_takes_the_passed_checks_away(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)

    def look(act: Act) -> dict[str, Any]:
        passed = EventFacts(act.day, CheckOutcome.PASSED)
        record_event(act, hold_one(act.session, code), EventKind.CHECKED, passed)
        return {}

    def pour(act: Act) -> dict[str, Any]:
        held, other = hold_one(act.session, code), hold_one(act.session, source)
        assert how_it_stands(act, held, act.day).standing is Standing.IN_DATE
        line = Line(MovementKind.DECANT_IN, 5, OtherSide.CONTAINER, other_container_id=other.container_id)
        post(act, held, line)
        assert how_it_stands(act, held, act.day) == anew(act, held)
        assert held.container.standing is Standing.LOOK_FIRST
        return {}

    with database.writing() as session:
        stuff = material(session, policy=RETEST)
        code, source = (received(session, keeper, stuff, **LONG_OPEN) for _ in range(2))
        settle(session, keeper, Sent(once(), "look", {"code": code}), NOW, look)
    with database.writing() as session:
        settle(session, keeper, Sent(once(), "pour", {"code": code}), NOW, pour)


def test_a_policy_set_by_another_process_stops_the_very_next_draw(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)
    url = database.engine.url.render_as_string(hide_password=False)
    other = open_database(url, pooled=False)

    def take() -> Settled:
        with database.writing() as session:
            return draw(session, keeper, NOW, DrawAsked(once=once(), code=code, amount="1 g"))

    try:
        with database.writing() as session:
            stuff = material(session, policy=RETEST)
            code = received(session, keeper, stuff, **LONG_OPEN)
            number = stuff.id
        assert take().result["drawn"] == 1000
        with other.writing() as session:
            shorter = PolicyAsked(
                once=once(), subject=Subject(material_id=number), end=PolicyEnd.EXPIRY,
                sealed_months=6, opened_months=1, reason="It gels on the shelf.", grade="memory",
            )  # fmt: skip
            set_policy(session, keeper, NOW, shorter)
        with pytest.raises(Refused) as no:
            take()
        assert "past" in no.value.verdict.codes
    finally:
        other.dispose()
    holds(database)


def test_another_material_is_looked_up_anew(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)

    def perform(act: Act) -> dict[str, Any]:
        held = hold_one(act.session, code)
        assert how_it_stands(act, held, act.day).standing is Standing.LOOK_FIRST
        assert how_it_stands(act, Held(held.container, short), act.day).standing is Standing.PAST
        assert how_it_stands(act, held, act.day).standing is Standing.LOOK_FIRST
        return {}

    with database.writing() as session:
        code = received(session, keeper, material(session, policy=RETEST), **LONG_OPEN)
        short = material(session, "gum", policy={"opened_months": 1})
        settle(session, keeper, Sent(once(), "look", {"code": code}), NOW, perform)
