"""What goes first, on both databases: standings that hold, those overdue to settle, the year's ends."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from sqlalchemy import event
from sqlmodel import Session

from service.actions.container_events import MoveAsked, move
from service.actions.draw_stock import DrawAsked, draw
from service.actions.list_alerts import sweep
from service.actions.list_use_first import list_use_first
from service.core.access import Role
from service.core.containers import ContainerState, Standing
from service.core.months import add_days
from service.core.year_ahead import year_ahead
from service.records.engine import Database
from service.records.use_first_queries import ends_of_store, may_go_first
from tests.builders import NOW, TODAY, cast
from tests.mixing_shop import make_mix_shop
from tests.store_builders import container, material, oil, once, received

YEAR: dict[str, Any] = {"sealed_months": 24, "opened_months": 12, "end": "retest"}


def test_a_standing_that_changed_by_itself_is_listed_before_and_after_a_sweep(database: Database) -> None:
    with database.writing() as session:
        keeper = cast(session).actor(Role.KEEPER)
        stuff = oil(session, policy=YEAR)
        code = received(session, keeper, stuff, printed_date=add_days(TODAY, 100))
        sweep(session, NOW)
        assert container(session, code).standing is Standing.IN_DATE
    later = NOW + timedelta(days=95)
    day = add_days(TODAY, 95)
    for turn in ("overdue", "settled"):
        with database.reading() as session:
            (one,) = list_use_first(session, day).goes
            ends = year_ahead(ends_of_store(session, day), day)
        assert one.line.standing is Standing.LOOK_FIRST, turn
        assert sum(month.look_first for month in ends.months) == 1, turn
        with database.writing() as session:
            sweep(session, later)
    with database.reading() as session:
        gone = list_use_first(session, add_days(TODAY, 101))
        assert (gone.goes, gone.past) == ([], 1)
        assert year_ahead(ends_of_store(session, add_days(TODAY, 101)), day).past == 1


def test_what_is_open_goes_before_a_sealed_one_of_its_kind_however_long_it_keeps(database: Database) -> None:
    with database.writing() as session:
        keeper = cast(session).actor(Role.KEEPER)
        keeps = {"sealed_months": 60, "opened_months": 60, "end": "retest"}
        spirits, alone = material(session, policy=keeps), material(session, "Limonene", policy=keeps)
        opened = received(session, keeper, spirits)
        received(session, keeper, spirits, is_open=False)
        received(session, keeper, alone)
    with database.reading() as session:
        assert [one.line.code for one in list_use_first(session, TODAY).goes] == [opened]


def test_of_what_is_not_known_no_end_is_made_up(database: Database) -> None:
    with database.writing() as session:
        keeper = cast(session).actor(Role.KEEPER)
        stuff = oil(session, policy=YEAR)
        facts = {"packed_on": None, "received_on": TODAY, "opened_on": None}
        code = received(session, keeper, stuff, **facts)
        sweep(session, NOW)
    with database.reading() as session:
        found = list_use_first(session, TODAY)
        (one,) = found.goes
    assert (one.line.code, one.line.standing, one.line.until) == (code, Standing.NOT_KNOWN, None)
    assert found.use_up == []


def test_nothing_that_is_empty_or_gone_or_handed_out_is_listed(database: Database) -> None:
    with database.writing() as session:
        keeper = cast(session).actor(Role.KEEPER)
        stuff = oil(session, policy=YEAR)
        stays, empty, lent = (
            received(session, keeper, stuff, printed_date=add_days(TODAY, 40)) for _ in range(3)
        )
        draw(session, keeper, NOW, DrawAsked(once=once(), code=empty, amount="1 l"))
        move(session, keeper, NOW, MoveAsked(once=once(), code=lent, handed_to="the other workshop"))
    with database.reading() as session:
        assert [one.line.code for one in list_use_first(session, TODAY).goes] == [stays]


def test_what_neither_ends_nor_dries_soon_is_left_out(database: Database) -> None:
    with database.writing() as session:
        keeper = cast(session).actor(Role.KEEPER)
        received(session, keeper, material(session))
        drying = received(session, keeper, oil(session))
    with database.reading() as session:
        assert [one.line.code for one in list_use_first(session, TODAY).goes] == [drying]


def test_recipes_are_those_in_use_by_their_present_lines(database: Database) -> None:
    shop = make_mix_shop(database)
    shop.can("boiled oil", printed_date=date(2026, 5, 31))
    shop.can("drier", printed_date=date(2026, 5, 31))
    shop.write(("drier", "10 ml"), name="A drop of drier")
    with database.reading() as session:
        use_up = list_use_first(session, TODAY).use_up
    told = {one.ends.name: [name for _, name in one.recipes] for one in use_up}
    assert told == {"boiled oil": ["Walnut stain"], "drier": ["A drop of drier"]}


def test_the_year_ahead_is_counted_from_its_index(database: Database) -> None:
    """No container is looked at for it, and nothing is put in order: they lie in that order already."""
    asked: list[tuple[str, Any]] = []
    with database.writing() as session:
        keeper = cast(session).actor(Role.KEEPER)
        stuff = oil(session, policy=YEAR)
        for _ in range(3):
            received(session, keeper, stuff)
    with database.reading() as session:
        engine = session.get_bind()
        event.listen(engine, "before_cursor_execute", lambda *a: asked.append((a[2], a[3])))
        assert sum(one.many for one in ends_of_store(session, TODAY)) == 3
        counted, _ = [one for one in asked if "container" in one[0]]
        found = may_go_first(session, TODAY, add_days(TODAY, 30), 10)
        assert len(found.ids) == 3
        look_first = next(one for one in asked if "LIMIT" in one[0])
        plans = [_plan(session, *one) for one in (counted, look_first)]
    assert all("ix_container_ends" in plan for plan in plans), plans
    assert "TEMP B-TREE FOR GROUP BY" not in plans[0] and "Sort" not in plans[0], plans[0]
    assert "Seq Scan" not in " ".join(plans)


def _plan(session: Session, statement: str, values: Any) -> str:
    """How a database would go about it; PostgreSQL as it does where there are many rows."""
    connection = session.connection()
    words = "EXPLAIN QUERY PLAN"
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("set local enable_seqscan = off")
        connection.exec_driver_sql("set local enable_bitmapscan = off")
        words = "EXPLAIN"
    return "\n".join(str(row[-1]) for row in connection.exec_driver_sql(f"{words} {statement}", values))


def test_what_is_empty_or_gone_ends_nowhere_and_what_nobody_weighed_does(database: Database) -> None:
    with database.writing() as session:
        keeper = cast(session).actor(Role.KEEPER)
        stuff = oil(session, policy=YEAR)
        codes = [received(session, keeper, stuff) for _ in range(5)]
        for code, (state, balance) in zip(codes, KINDS, strict=True):
            box = container(session, code)
            box.state, box.balance = state, balance
            session.add(box)
    with database.reading() as session:
        assert sum(one.many for one in ends_of_store(session, TODAY)) == 2


KINDS = [
    (ContainerState.OPEN, 5), (ContainerState.SEALED, None), (ContainerState.OPEN, 0),
    (ContainerState.EMPTY, 0), (ContainerState.GONE, 5),
]  # fmt: skip
