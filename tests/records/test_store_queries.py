"""The store narrowed to a standing: every container that stands so is found, however many stand before it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlmodel import Session, col, select, update

from service.core.ageing import judge
from service.core.containers import ContainerState, Standing
from service.records import store_queries
from service.records.ageing_queries import lives_of
from service.records.engine import Database
from service.records.materials import Material
from service.records.stock import Container
from service.records.store_queries import IN_THE_STORE, StoreWanted, find_containers
from tests.bench.seed_stock import seed
from tests.bench.stock_plan import TODAY, Plan

PLAN = Plan(300)


def judged_one_by_one(session: Session, standing: Standing, today: date) -> set[str]:
    in_store = col(Container.state).in_(IN_THE_STORE)
    of_material = col(Material.id) == col(Container.material_id)
    boxes = session.exec(select(Container, Material).join(Material, of_material).where(in_store)).all()
    standings = [judge(life, today).standing for life in lives_of(session, list(boxes))]
    return {box.code for (box, _), at in zip(boxes, standings, strict=True) if at is standing}


@pytest.mark.parametrize("later", [0, 40, 700])
def test_a_standing_is_found_as_it_is_judged(database: Database, later: int) -> None:
    """Also of what is empty, whose stored standing nobody keeps up, and long after the last sweep."""
    seed(database, PLAN)
    today = TODAY + timedelta(days=later)
    with database.writing() as session:
        emptied = {"state": ContainerState.EMPTY, "balance": 0, "next_alert_on": None}
        session.exec(update(Container).where(col(Container.id) % 7 == 0).values(**emptied))
    with database.reading() as session:
        for standing in Standing:
            found, total = find_containers(session, StoreWanted(standing=standing), today, 0, 1000)
            codes = {row.container.code for row in found}
            assert codes == judged_one_by_one(session, standing, today)
            assert total == len(codes)


def test_none_is_hidden_behind_many_of_another_standing(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bound is on what has to be judged one by one, and not on the first so many by name."""
    monkeypatch.setattr(store_queries, "MOST_JUDGED", 25)
    seed(database, PLAN)
    with database.reading() as session:
        found, total = find_containers(session, StoreWanted(standing=Standing.NOT_KNOWN), TODAY, 5, 10)
        expected = judged_one_by_one(session, Standing.NOT_KNOWN, TODAY)
        assert total == len(expected) > 15
        assert {row.container.code for row in found} < expected
        assert len(found) == 10


def test_pages_put_together_are_the_whole_list_in_order(database: Database) -> None:
    """Whatever the size of a page, and also past the end."""
    seed(database, PLAN)
    with database.reading() as session:
        whole, total = find_containers(session, StoreWanted(), TODAY, 0, 1000)
        keys = [(row.material.name.lower(), row.material.id, row.container.code) for row in whole]
        assert len(whole) == total == PLAN.containers
        assert keys == sorted(keys)
        codes = [row.container.code for row in whole]
        for size in (1, 7, 25, 60, 299):
            paged: list[str] = []
            for offset in range(0, total + size, size):
                rows, again = find_containers(session, StoreWanted(), TODAY, offset, size)
                assert again == total
                paged += [row.container.code for row in rows]
            assert paged == codes
        assert find_containers(session, StoreWanted(text="no such thing"), TODAY, 0, 60) == ([], 0)
