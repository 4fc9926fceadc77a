"""What is owed about a container ends when it is thrown away, and stands again when that is taken back."""

from __future__ import annotations

from datetime import datetime

import pytest
from sqlmodel import col, select

from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.duties_of_gone import GONE
from service.actions.lose_stock import DiscardAsked, discard
from service.core.access import Role
from service.core.ledger import Destination, MovementKind
from service.core.shelf_codes import show_code
from service.records.duties import MOVE_DUTY, Duty
from service.records.engine import Database
from service.records.stock import Movement
from tests.actions.test_findings_travel_back import thrown_away
from tests.jar_acts import LATE, oil_shop
from tests.mixing_shop import MixShop
from tests.store_builders import container, holds, once


@pytest.fixture
def shop(database: Database) -> MixShop:
    return oil_shop(database)


def owed(shop: MixShop, code: str, kind: str, codes: str) -> int:
    with shop.database.writing() as session:
        duty = Duty(
            kind=kind, sentence=f"Move boiled oil ({codes}), which went over a limit: it was there.",
            owed_by=shop.people.keeper.id or 0, due_at=shop.now, about_kind="container",
            about_id=container(session, code).id, created_at=shop.now,
        )  # fmt: skip
        session.add(duty)
        session.flush()
        return duty.id or 0


def ended(shop: MixShop, number: int) -> tuple[datetime | None, str]:
    with shop.database.reading() as session:
        duty = session.get(Duty, number)
        assert duty is not None
        return duty.done_at, duty.answer


def test_a_leak_is_answered_by_somebody_though_the_can_is_gone(shop: MixShop) -> None:
    tin = shop.can("boiled oil")
    number = owed(shop, tin, "leaking-container", show_code(tin))
    thrown_away(shop, tin)
    assert ended(shop, number) == (None, "")


@pytest.mark.parametrize("kind", [MOVE_DUTY, "look-at-told"])
def test_it_ends_with_the_container_and_comes_back_with_it(shop: MixShop, kind: str) -> None:
    tin, other = shop.can("boiled oil"), shop.can("boiled oil")
    number = owed(shop, tin, kind, show_code(tin))
    beside = owed(shop, other, kind, show_code(other))
    thrown_away(shop, tin)
    assert ended(shop, number)[1] == GONE and ended(shop, beside) == (None, "")
    with shop.database.writing() as session:
        gone = col(Movement.kind) == MovementKind.DISCARD
        last = session.exec(select(Movement.id).where(gone)).one() or 0
        reverse(session, shop.actor(Role.KEEPER), shop.now, ReverseAsked(once(), last, LATE))
    assert ended(shop, number) == (None, "")
    holds(shop.database)


def test_a_move_that_names_others_too_stays_owed(shop: MixShop) -> None:
    tin, other = shop.can("boiled oil"), shop.can("boiled oil")
    number = owed(shop, tin, MOVE_DUTY, f"{show_code(tin)}, {show_code(other)}")
    thrown_away(shop, tin)
    assert ended(shop, number) == (None, "")


def test_a_part_thrown_away_ends_nothing(shop: MixShop) -> None:
    tin = shop.can("boiled oil")
    number = owed(shop, tin, MOVE_DUTY, show_code(tin))
    with shop.database.writing() as session:
        asked = DiscardAsked(once=once(), code=tin, destination=Destination.WASTE_DRUM, amount="100 ml")
        discard(session, shop.actor(Role.KEEPER), shop.now, asked)
    assert ended(shop, number) == (None, "")
