"""Two names of one supplier become one: packs, orders and the record of it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import col, select

from service.actions.rename_supplier import rename_supplier
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Stale
from service.records.engine import Database
from service.records.order_queries import joined_to, packs_of, supplier_names, the_order, the_supplier
from service.records.orders import OrderLineRow, PackSizeRow
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import once


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def numbers(planned: Planned) -> dict[str, int]:
    with planned.mix.database.reading() as session:
        return {name: number for number, name in supplier_names(session).items()}


def test_packs_and_orders_of_both_are_the_others_then(planned: Planned) -> None:
    old = planned.pack("spirit", "1 l", supplier="North Yard")
    planned.pack("spirit", "250 ml", supplier="North Yard")
    again = planned.pack("spirit", "1 l", supplier="North Yard Ltd")
    line = planned.order(again, 1, TODAY + timedelta(days=3))
    of = numbers(planned)
    words = (of["North Yard Ltd"], "North Yard Ltd", "north  yard")
    with pytest.raises(Invalid) as asked:
        planned.act(rename_supplier, once(), *words)
    assert set(asked.value.errors) == {"supplier", "join"}
    key, kept_as = once(), (of["North Yard"], "North Yard")
    for _ in range(2):
        done = planned.act(rename_supplier, key, *words, join=True)
        assert (done["supplier"], done["name"], done["joined"]) == (*kept_as, "North Yard Ltd")
    assert numbers(planned) == {"North Yard": of["North Yard"]}
    with planned.mix.database.reading() as session:
        sold = {row.id for row in packs_of(session, [planned.mix.ids["spirit"]])}
        assert old not in sold and again in sold and len(sold) == 2, "the newer of two packs alike stays"
        owners = session.exec(select(PackSizeRow.supplier_id).order_by(col(PackSizeRow.id))).all()
        assert set(owners) == {of["North Yard"]}
        order = session.exec(select(OrderLineRow.order_id).where(col(OrderLineRow.id) == line)).one()
        assert the_order(session, order).supplier_id == of["North Yard"]
        (kept,) = joined_to(session, of["North Yard"])
        assert (kept.before, kept.after) == ("North Yard Ltd", "North Yard")
        assert kept.reason == "1 pack size and 1 order came with it; 1 pack size stood there twice."
        with pytest.raises(NotFound):
            the_supplier(session, of["North Yard Ltd"])


def test_a_name_nobody_has_is_only_written_and_an_old_page_is_told(planned: Planned) -> None:
    planned.pack("spirit", "1 l", supplier="North Yard")
    number = numbers(planned)["North Yard"]
    done = planned.act(rename_supplier, once(), number, "North Yard", "South Yard", join=True)
    assert "joined" not in done and numbers(planned) == {"South Yard": number}
    with pytest.raises(Stale):
        planned.act(rename_supplier, once(), number, "North Yard", "South Yard", join=True)
    with planned.mix.database.writing() as session, pytest.raises(NotAllowed):
        rename_supplier(
            session, planned.mix.actor(Role.STUDENT), planned.mix.now, once(), number, "South Yard", "x",
            join=True,
        )  # fmt: skip
