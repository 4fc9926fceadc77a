"""The properties of a plan once more through stored records: random jobs, cans, packs and orders."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.actions.look_at_term import TermOutlook
from service.actions.plan_job import drop_job
from service.core.ageing import judge
from service.core.containers import Standing
from service.core.term_dates import Repeat
from service.records.engine import open_database
from tests.actions.test_term_plan_stored import LAST, Planned, make_planned
from tests.builders import TODAY
from tests.conftest import fresh_sqlite
from tests.store_builders import once

NAMES = ("raw umber", "boiled oil", "spirit")
WORKDAYS = [TODAY + timedelta(days=n) for n in range((LAST - TODAY).days)]
DAYS = st.sampled_from([day for day in WORKDAYS if day.weekday() < 5])


def holds(look: TermOutlook) -> None:
    """No ounce twice, none that is dead or has not come, and what is bought covers what is missing."""
    boxes = {box.container_id: box for box in look.shelf}
    taken: dict[int, int] = {}
    opened: dict[int, date] = {}
    for one in look.plan.stock.covered:
        assert one.missing is not None and one.need.high is not None
        assert sum(promise.amount for promise in one.promises) + one.missing == one.need.high
        for promise in one.promises:
            box, day = boxes[promise.container_id], one.need.on
            taken[promise.container_id] = taken.get(promise.container_id, 0) + promise.amount
            if box.comes is not None:
                assert day > box.comes
                continue
            assert judge(box.facts, day).standing in (Standing.IN_DATE, Standing.LOOK_FIRST)
            first = opened.setdefault(promise.container_id, day)
            assert first <= day
    assert all(amount <= boxes[number].free for number, amount in taken.items())
    for order in look.plan.orders.orders:
        if order.chosen:
            assert order.amount - sum(line.left for line in order.lines) == order.short


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_the_stored_plan_keeps_what_the_rules_promise(
    sqlite_template: Path, tmp_path: Path, data: st.DataObject
) -> None:
    database = open_database(fresh_sqlite(sqlite_template, tmp_path), pooled=False)
    try:
        played(make_planned(database), data)
    finally:
        database.dispose()


def played(planned: Planned, data: st.DataObject) -> None:
    """A few cans, packs, orders and jobs; then the same without the first job."""
    for _ in range(data.draw(st.integers(0, 4))):
        until, is_open = data.draw(st.none() | DAYS), data.draw(st.booleans())
        amount, name = data.draw(st.integers(1, 900_000)), data.draw(st.sampled_from(NAMES))
        planned.mix.can(name, amount, printed_date=until, is_open=is_open)
    for name in NAMES:
        for size in data.draw(st.sets(st.sampled_from((250, 400, 1000)), max_size=2)):
            lead = data.draw(st.none() | st.integers(0, 9))
            pack = planned.pack(name, f"{size} {'g' if name == 'raw umber' else 'ml'}", lead_days=lead)
            if data.draw(st.booleans()):
                planned.order(pack, data.draw(st.integers(1, 3)), data.draw(st.none() | DAYS))
    jobs = [
        planned.job(
            data.draw(DAYS), "0.1 times", data.draw(st.integers(1, 30)), spare_percent=10,
            repeat=data.draw(st.sampled_from([Repeat.ONCE, Repeat.WEEKLY])),
        )
        for _ in range(data.draw(st.integers(1, 3)))
    ]  # fmt: skip
    whole = planned.look()
    holds(whole)
    with planned.mix.database.writing() as session:
        drop_job(session, planned.mix.actor(), planned.mix.now, once(), jobs[0])
    smaller = planned.look()
    holds(smaller)
    most = {one.material_id: one.amount for one in whole.plan.orders.orders}
    for one in smaller.plan.orders.orders:
        assert one.amount <= most.get(one.material_id, 0)
