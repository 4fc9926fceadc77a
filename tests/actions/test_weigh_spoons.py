"""Densities and spoons: what was booked stays as it was, what is booked next goes by what was weighed."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, col, select

from service.actions.arrivals import ReceiveAsked
from service.actions.receive_stock import receive
from service.actions.revise_material import Revision, facts_held, revise_material
from service.actions.settle import Settled
from service.actions.weigh_spoons import WeighingAsked, weigh_spoons, weighings_of
from service.core.access import Role
from service.core.containers import AmountKnown
from service.core.findings import Invalid, NotAllowed
from service.core.materials import Basis, Form, MaterialKind
from service.records.engine import Database
from service.records.materials import Material
from service.records.stock import Container, Movement
from service.records.stock_queries import movements_of
from tests.builders import NOW, Cast, cast

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


def test_a_later_density_never_rewrites_what_was_booked(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        oil = material(
            session,
            "Oil",
            kind=MaterialKind.BINDER,
            form=Form.LIQUID,
            basis=Basis.MASS,
            density_g_ml=Decimal("0.93"),
            density_source="sheet",
        )
        box = first(session, take_in(session, people, oil, amount="100 ml"))
        facts = replace(facts_held(oil), density_g_ml=Decimal("0.80"))
        revise_material(
            session, people.actor(Role.KEEPER), NOW, oil.id or 0, Revision(once(), oil.version, facts=facts)
        )
        (movement,) = session.exec(select(Movement).where(col(Movement.container_id) == box.id)).all()
        assert (movement.change, movement.density_used) == (93_000, Decimal("0.93"))
        assert box.balance == 93_000
        again = first(session, take_in(session, people, oil, amount="100 ml"))
        assert again.balance == 80_000


def test_ten_level_spoons_weighed_beat_the_table(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        umber = material(
            session,
            "Umber",
            kind=MaterialKind.DRY_PIGMENT,
            form=Form.POWDER,
            basis=Basis.MASS,
            bulk_low_g_ml=Decimal("0.3"),
            bulk_high_g_ml=Decimal("0.6"),
            bulk_source="table",
        )
        before = first(session, take_in(session, people, umber, amount="10 tsp"))
        assert before.balance_known is AmountKnown.ESTIMATED, "the table gives a range"
        written = "ten level teaspoons weighed 23 g"
        keeper = people.actor(Role.KEEPER)
        with pytest.raises(NotAllowed):
            weigh_spoons(
                session, people.actor(Role.FINISHER), NOW, umber.id or 0, WeighingAsked(once(), 1, written)
            )
        done = weigh_spoons(session, keeper, NOW, umber.id or 0, WeighingAsked(once(), 1, written))
        assert done.result["g_ml"] == "0.4666"
        assert umber.bulk_low_g_ml == umber.bulk_high_g_ml == Decimal("0.4666")
        assert umber.bulk_source.startswith("weighed in this shop")
        after = first(session, take_in(session, people, umber, amount="10 tsp"))
        assert after.balance == 22_998, "49.289 ml at 0.4666 g/ml"
        assert len(weighings_of(session, umber.id or 0)) == 1
        assert movements_of(session, before.id or 0)[0].change == before.balance, "what was booked stays"


@pytest.mark.parametrize(
    "written", ["ten spoons", "ten teaspoons weighed 23 ml", "10 tsp weighed 2 kg", "23 g", ""]
)
def test_a_weighing_that_says_nothing_is_refused(sqlite_database: Database, written: str) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        umber = material(session, "Umber", kind=MaterialKind.DRY_PIGMENT, form=Form.POWDER)
        with pytest.raises(Invalid) as caught:
            weigh_spoons(
                session, people.actor(Role.KEEPER), NOW, umber.id or 0, WeighingAsked(once(), 1, written)
            )
        assert "written" in caught.value.errors
