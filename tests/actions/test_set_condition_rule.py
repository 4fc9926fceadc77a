"""What follows from a finding is the keeper's to set within bounds; checks made before keep what followed."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.set_condition_rule import ConditionRuleAsked, set_condition_rule
from service.core.access import Role
from service.core.conditions import Consequence, Found
from service.core.containers import EventKind, Standing
from service.core.findings import Invalid, NotAllowed, Stale
from service.core.materials import Form, MaterialKind
from service.records.ageing_queries import standing_of
from service.records.condition_queries import fitting_rules, history_of, rule_for
from service.records.engine import Database
from service.records.materials import Material
from service.records.shop import Change
from service.records.stock import ContainerEvent
from service.records.stock_queries import material_of
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import container, holds, material, oil, once, received

OILY = MaterialKind.COLOUR_IN_OIL


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def asked(**said: Any) -> ConditionRuleAsked:
    told: dict[str, Any] = {
        "once": once(), "found": Found.THICKENED, "consequence": Consequence.ENDS,
        "reason": "It never came right here",
        "what_to_do": "Discard it.",
    }  # fmt: skip
    return ConditionRuleAsked(**(told | said))


def test_a_rule_for_a_kind_goes_before_that_for_all(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        assert rule_for(session, Found.THICKENED, OILY).consequence is Consequence.LOOK
        set_condition_rule(session, keeper, NOW, asked(kind=OILY))
        set_condition_rule(session, keeper, NOW, asked(consequence=Consequence.MOVES_NOTHING))
        assert rule_for(session, Found.THICKENED, OILY).consequence is Consequence.ENDS
        binder = rule_for(session, Found.THICKENED, MaterialKind.BINDER)
        assert binder.consequence is Consequence.MOVES_NOTHING
        stuff = Material(name="burnt umber in oil", kind=OILY, created_at=NOW)
        fits = {one.found: one.consequence for one in fitting_rules(session, stuff, strip=False)}
        assert fits[Found.THICKENED] is Consequence.ENDS and Found.DROP_SOFT not in fits
        assert [row.kind for row in history_of(session, Found.THICKENED)] == [None, OILY]
        told = session.exec(select(Change).where(col(Change.about_kind) == "condition-rule")).all()
    assert [one.before for one in told] == ["asks for a look before each use, until a check passes"] * 2


def test_what_was_checked_before_keeps_what_followed_then(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        code = received(session, keeper, oil(session))
        first = CheckAsked(once=once(), code=code, found=Found.THICKENED)
        done = check_condition(session, keeper, NOW, first)
        assert done.result["standing"] == "look-first" and done.result["what_to_do"]
        set_condition_rule(session, keeper, NOW, asked())
        box = container(session, code)
        assert standing_of(session, box, material_of(session, box), TODAY).standing is Standing.LOOK_FIRST
        again = CheckAsked(once=once(), code=code, found=Found.THICKENED)
        assert check_condition(session, keeper, NOW, again).result["standing"] == "past"
        events = session.exec(
            select(ContainerEvent.found, ContainerEvent.outcome)
            .where(col(ContainerEvent.kind) == EventKind.CHECKED)
            .order_by(col(ContainerEvent.id))
        ).all()
    assert [tuple(one) for one in events] == [("thickened", "doubted"), ("thickened", "failed")]
    holds(database)


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"found": Found.GELLED, "consequence": Consequence.PASSES}, "consequence"),
        ({"found": Found.PEROXIDE_OVER, "consequence": Consequence.LOOK}, "consequence"),
        ({"found": Found.SKIN, "consequence": Consequence.PASSES}, "consequence"),
        ({"reason": " "}, "reason"), ({"reason": "x"}, "reason"), ({"kind": MaterialKind.SOLVENT}, "kind"),
        ({"what_to_do": ""}, "what_to_do"),
        ({"house_policy": False, "source": "a handbook", "grade": "memory"}, "source"),
        ({"house_policy": False, "source": "", "grade": "I"}, "source"),
        ({"grade": "gold"}, "grade"),
    ],
)
def test_what_is_refused_says_where(
    database: Database, people: Cast, said: dict[str, Any], field: str
) -> None:
    with pytest.raises(Invalid) as wrong, database.writing() as session:
        set_condition_rule(session, people.actor(Role.KEEPER), NOW, asked(**said))
    assert field in wrong.value.errors
    with database.reading() as session:
        assert not history_of(session, asked(**said).found)


def test_only_a_keeper_sets_it_and_nobody_over_another(database: Database, people: Cast) -> None:
    with pytest.raises(NotAllowed), database.writing() as session:
        set_condition_rule(session, people.actor(Role.FINISHER), NOW, asked())
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        set_condition_rule(session, keeper, NOW, asked(seen_id=0))
    with pytest.raises(Stale), database.writing() as session:
        set_condition_rule(session, keeper, NOW, asked(seen_id=0))


def test_a_strip_decides_by_its_figure_and_a_look_alone_does_not(database: Database, people: Cast) -> None:
    """Iowa State University: a peroxide former is scrapped at 100 ppm or more."""
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        alcohol = material(session, "isopropanol", kind=MaterialKind.SOLVENT, form=Form.LIQUID)
        alcohol.known_key = "isopropanol"
        code = received(session, keeper, alcohol, packed_on=TODAY - timedelta(days=30))
    for odd in ({"found": Found.SOUND}, {"found": Found.PEROXIDE_OVER}, {"peroxide_mg_l": Decimal(-1)}, {}):
        with pytest.raises(Invalid), database.writing() as session:
            check_condition(session, keeper, NOW, CheckAsked(once=once(), code=code, **odd))
    with database.writing() as session:
        low = CheckAsked(once=once(), code=code, peroxide_mg_l=Decimal(99))
        assert check_condition(session, keeper, NOW, low).result["found"] == "peroxide-below"
        high = CheckAsked(once=once(), code=code, peroxide_mg_l=Decimal(100))
        done = check_condition(session, keeper, NOW, high).result
        assert done["standing"] == "past" and "Do not open" in done["what_to_do"]
        event = session.exec(select(ContainerEvent).order_by(col(ContainerEvent.id).desc())).first()
        assert event is not None and event.measured_mg_l == 100
    holds(database)


def test_what_such_a_material_cannot_show_is_refused(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        code = received(session, keeper, oil(session))
    for odd in ({"found": Found.DROP_HARD}, {"found": Found.FLAKES}, {"peroxide_mg_l": Decimal(5)}):
        with pytest.raises(Invalid), database.writing() as session:
            check_condition(session, keeper, NOW, CheckAsked(once=once(), code=code, **odd))


def test_nothing_is_seen_through_a_lid_and_an_oily_strainer_is_owed(database: Database, people: Cast) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        stuff = oil(session)
        sealed = received(session, keeper, stuff, is_open=False)
        opened = received(session, keeper, stuff, opened_on=TODAY - timedelta(days=3))
    for found in (Found.SKIN, Found.THICKENED, Found.GELLED, Found.SEPARATED):
        with pytest.raises(Invalid, match="through a lid"), database.writing() as session:
            check_condition(session, keeper, NOW, CheckAsked(once=once(), code=sealed, found=found))
    with pytest.raises(Invalid, match="oily rags"), database.writing() as session:
        check_condition(session, keeper, NOW, CheckAsked(once=once(), code=opened, found=Found.SKIN))
    with database.writing() as session:
        doubt = CheckAsked(once=once(), code=opened, found=Found.THICKENED)
        assert check_condition(session, keeper, NOW, doubt).result["standing"] == "look-first"
        apart = CheckAsked(once=once(), code=opened, found=Found.SEPARATED)
        done = check_condition(session, keeper, NOW, apart).result
        assert (done["outcome"], done["standing"]) == ("noted", "look-first"), "it says nothing of the drag"
    holds(database)
