"""The plan of a term from stored records, on both databases: nothing twice, early, dead or unknown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.actions.arrivals import ReceiveAsked
from service.actions.drop_batch import release
from service.actions.look_at_term import TermOutlook, look_at_term
from service.actions.place_order import (
    LineAsked,
    LineChange,
    OrderAsked,
    change_line,
    place_order,
    receive_ordered,
)
from service.actions.plan_job import DateAsked, JobAsked, drop_date, drop_job, plan_job, take_up_date
from service.actions.read_recipe import LineAsked as RecipeLineAsked
from service.actions.start_planned import LinkAsked, check_planned, link_batch
from service.actions.what_came import about_delivery, what_came
from service.actions.write_packs import MinimumAsked, PackAsked, set_minimum, write_pack
from service.actions.write_recipe import RecipeAsked, revise_recipe
from service.actions.write_term import TermAsked, write_term
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, Refused, Stale
from service.core.term_dates import Repeat
from service.records.engine import Database
from service.records.order_queries import the_line
from service.records.orders import LineState
from service.records.plan_queries import dates_of_job, the_date
from service.records.plans import DateState
from tests.builders import TODAY
from tests.mixing_shop import UNKNOWN_DATES, MixShop, make_mix_shop
from tests.store_builders import once

LAST = date(2026, 7, 3)


@dataclass
class Planned:
    """A mixing shop with one term."""

    mix: MixShop
    term: int

    def act(self, do: Any, *given: Any, **more: Any) -> dict[str, Any]:
        with self.mix.database.writing() as session:
            result: dict[str, Any] = do(session, self.mix.actor(), self.mix.now, *given, **more).result
            return result

    def job(self, first: date, each: str = "1 times", heads: int = 1, **more: Any) -> int:
        asked = JobAsked(
            **{"once": once(), "term_id": self.term, "recipe_id": self.mix.recipe, "name": "class",
               "heads": heads, "each": each, "first": first} | more
        )  # fmt: skip
        return int(self.act(plan_job, asked)["planned"])

    def pack(self, name: str, amount: str, **more: Any) -> int:
        asked = PackAsked(**{"once": once(), "material_id": self.mix.ids[name], "amount": amount} | more)
        return int(self.act(write_pack, asked)["pack"])

    def order(self, pack: int, count: int, expected: date | None) -> int:
        lines = (LineAsked(pack, count, expected),)
        asked = OrderAsked(once=once(), lines=lines, term_id=self.term, again=True)
        return int(self.act(place_order, asked)["lines"][0])

    def look(self, today: date = TODAY) -> TermOutlook:
        with self.mix.database.reading() as session:
            return look_at_term(session, self.term, today)

    def short(self, name: str, today: date = TODAY) -> dict[date, int]:
        return self.look(today).plan.stock.shortages(self.mix.ids[name])

    def dates(self, planned: int) -> list[Any]:
        with self.mix.database.reading() as session:
            return list(dates_of_job(session, planned))


def make_planned(database: Database) -> Planned:
    mix = make_mix_shop(database)
    asked = TermAsked(once=once(), name="Spring", first_day=date(2026, 2, 2), last_day=LAST)
    with database.writing() as session:
        term = write_term(session, mix.actor(), mix.now, asked).result["term"]
    return Planned(mix, term)


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


# One making takes 100 g raw umber, 200 ml boiled oil, 300 ml spirit.


def test_two_jobs_never_count_the_same_ounce(planned: Planned) -> None:
    planned.mix.can("spirit", 500_000)
    first, second = TODAY + timedelta(days=4), TODAY + timedelta(days=5)
    planned.job(first)
    planned.job(second)
    assert planned.short("spirit") == {second: 100_000}
    outlook = planned.look()
    order = {one.name: one for one in outlook.plan.orders.orders}["spirit"]
    assert (order.short, order.chosen, order.lines) == (100_000, False, ())
    assert any("No pack size of spirit is known" in f.sentence for f in outlook.verdict)


def test_heads_each_and_spare_come_to_the_upper_amount(planned: Planned) -> None:
    planned.job(TODAY + timedelta(days=4), "0.1 times", 20, spare_percent=10)
    needs = {one.material: one.high for one in planned.look().plan.needs.needs}
    assert needs == {"raw umber": 220_000, "boiled oil": 440_000, "spirit": 660_000}


def test_an_amount_of_a_recipe_that_does_not_say_what_it_makes_is_never_covered(planned: Planned) -> None:
    planned.mix.can("spirit", 9_000_000)
    planned.job(TODAY + timedelta(days=4), "60 ml", 10)
    outlook = planned.look()
    assert all(one.high is None for one in outlook.plan.needs.needs) and outlook.plan.needs.needs
    assert all(one.missing is None for one in outlook.plan.stock.covered)
    assert "job-not-known" in outlook.verdict.codes and not outlook.verdict.complete
    assert all(not one.complete for one in outlook.plan.orders.orders)


def test_a_line_without_density_is_said_and_never_covered(planned: Planned) -> None:
    planned.mix.can("raw umber", 9_000_000)
    recipe = planned.mix.write(("raw umber", "50 ml"), ("spirit", "100 ml"), name="By spoon")
    planned.job(TODAY + timedelta(days=4), recipe_id=recipe)
    outlook = planned.look()
    missing = {one.need.material: one.missing for one in outlook.plan.stock.covered}
    assert missing == {"raw umber": None, "spirit": 100_000}
    assert not outlook.verdict.complete
    assert any("raw umber" in f.sentence and f.severity.value == "unknown" for f in outlook.verdict)


def test_an_empty_recipe_is_not_known(planned: Planned) -> None:
    from service.records.mixing import Recipe, RecipeVersion

    with planned.mix.database.writing() as session:
        who = planned.mix.actor().person_id
        recipe = Recipe(name="By eye", created_by=who, created_at=planned.mix.now)
        session.add(recipe)
        session.flush()
        number = recipe.id or 0
        session.add(RecipeVersion(recipe_id=number, number=1, person_id=who, created_at=planned.mix.now))
    planned.job(TODAY + timedelta(days=4), recipe_id=number)
    assert "recipe-empty" in planned.look().verdict.codes and not planned.look().verdict.complete


def test_what_dies_before_the_day_is_past_or_not_known_is_never_counted(planned: Planned) -> None:
    planned.mix.can("spirit", 500_000, printed_date=TODAY + timedelta(days=3), is_open=False)
    planned.mix.can("spirit", 500_000, **UNKNOWN_DATES)
    planned.mix.can("spirit", None)
    planned.job(TODAY + timedelta(days=3))
    planned.job(TODAY + timedelta(days=4))
    assert planned.short("spirit") == {TODAY + timedelta(days=4): 300_000}


def test_what_a_running_or_waiting_batch_holds_is_taken(planned: Planned) -> None:
    for name in ("raw umber", "boiled oil", "spirit"):
        planned.mix.can(name, 400_000)
    planned.mix.set_aside(planned.mix.keep())
    planned.job(TODAY + timedelta(days=4))
    assert planned.short("spirit") == {TODAY + timedelta(days=4): 200_000}
    recipe = planned.mix.write(("spirit", "to suit, at most 50 ml"), ("raw umber", "1 g"), name="To suit")
    planned.mix.start(planned.mix.keep(recipe=recipe))
    assert planned.short("spirit") == {TODAY + timedelta(days=4): 250_000}


def test_an_order_counts_on_its_day_once_and_not_when_it_is_late(planned: Planned) -> None:
    day = TODAY + timedelta(days=12)
    planned.job(day)
    pack = planned.pack("spirit", "1 l", lead_days=3, supplier="Kilnwood Supplies", price=Decimal("8.50"))
    planned.order(pack, 1, day)
    assert planned.short("spirit") == {day: 300_000}
    planned.order(pack, 1, day - timedelta(days=1))
    assert planned.short("spirit") == {}
    late = planned.look(day)
    assert late.plan.stock.shortages(planned.mix.ids["spirit"]) == {day: 300_000}
    assert any("is late. It is not counted as here." in f.sentence for f in late.verdict)
    planned.order(pack, 1, None)
    assert "order-day-not-known" in planned.look().verdict.codes


def test_what_came_is_ticked_off_once_and_counted_as_stock(planned: Planned) -> None:
    day = TODAY + timedelta(days=12)
    planned.job(day, heads=4)
    pack = planned.pack("spirit", "1 l")
    line = planned.order(pack, 2, day - timedelta(days=1))
    asked = ReceiveAsked(
        once="came-1", material_id=planned.mix.ids["spirit"], count=1, amount="1 l", packed_on=TODAY
    )
    for _ in range(2):
        with planned.mix.database.writing() as session:
            actor, now = planned.mix.actor(), planned.mix.now
            receive_ordered(session, actor, now, asked, line, lambda: "a chance of its own")
    outlook = planned.look()
    (row,) = outlook.coming.lines
    assert (row.received_count, row.received_amount, row.state) == (1, 1_000_000, LineState.OPEN)
    assert planned.short("spirit") == {}
    free = sum(one.free for one in outlook.shelf if one.material_id == planned.mix.ids["spirit"])
    assert free == 2_000_000
    change = LineChange(once=once(), line_id=line, version=row.version, state=LineState.NO_MORE)
    planned.act(change_line, change)
    assert planned.short("spirit") == {day: 200_000}
    with pytest.raises(Stale):
        planned.act(change_line, change.__class__(**{**change.__dict__, "once": once()}))


def test_a_pack_that_holds_less_than_was_ordered_is_told(planned: Planned) -> None:
    """One litre was ordered and 250 ml came: the plan counts what came, and the order says what is short."""
    day = TODAY + timedelta(days=12)
    planned.job(day, heads=4)
    line = planned.order(planned.pack("spirit", "1 l"), 2, day - timedelta(days=1))
    both = {"short-delivery", "amount-that-came-not-known"}
    for amount, codes in (("250 ml", {"short-delivery"}), ("", both)):
        asked = ReceiveAsked(
            once=f"came-{amount}", material_id=planned.mix.ids["spirit"], count=1, amount=amount,
            packed_on=TODAY,
        )  # fmt: skip
        with planned.mix.database.writing() as session:
            actor, now = planned.mix.actor(), planned.mix.now
            receive_ordered(session, actor, now, asked, line, lambda amount=amount: f"a chance {amount}")
        with planned.mix.database.reading() as session:
            row = the_line(session, line)
            came = what_came(session, [row])[line]
            assert {f.code for f in about_delivery(row, came)} == codes and came.amount == 250_000


def test_the_order_list_says_when_to_order_or_that_nobody_knows(planned: Planned) -> None:
    day = date(2026, 4, 13)
    planned.job(day, heads=3)
    planned.pack("spirit", "500 ml", lead_days=5, price=Decimal("5"))
    planned.pack("spirit", "1 l", lead_days=5, price=Decimal("8"))
    planned.pack("boiled oil", "1 l")
    orders = {one.name: one for one in planned.look().plan.orders.orders}
    (spirit,) = orders["spirit"].lines
    assert (spirit.pack.amount, spirit.count, spirit.arrive, spirit.order_by) == (
        1_000_000, 1, date(2026, 4, 10), date(2026, 4, 3)
    )  # fmt: skip
    (oil,) = orders["boiled oil"].lines
    assert oil.order_by is None and oil.cost is None
    assert {"lead-not-known", "cost-not-known", "no-pack-size"} <= planned.look().verdict.codes | {
        f.code for f in planned.look().plan.orders.cost.findings
    }


def test_the_least_on_the_shelf_is_ordered_at_the_end_of_the_term(planned: Planned) -> None:
    planned.pack("spirit", "1 l", lead_days=5)
    least = MinimumAsked(once(), planned.mix.ids["spirit"], "500 ml")
    planned.act(set_minimum, least)
    (order,) = planned.look().plan.orders.orders
    assert (order.short, order.amount) == (500_000, 1_000_000)
    with pytest.raises(Stale):
        planned.act(set_minimum, MinimumAsked(once(), planned.mix.ids["spirit"], "1 l"))
    planned.act(set_minimum, MinimumAsked(once(), planned.mix.ids["spirit"], "", 1))
    assert planned.look().plan.orders.orders == ()


def test_a_dropped_date_takes_nothing_and_can_be_taken_up(planned: Planned) -> None:
    number = planned.job(date(2026, 3, 16), repeat=Repeat.WEEKLY, last=date(2026, 4, 6))
    assert len(planned.short("spirit")) == 4
    first = planned.dates(number)[0]
    asked = DateAsked(once(), first.id, first.version)
    planned.act(drop_date, asked)
    assert date(2026, 3, 16) not in planned.short("spirit")
    with pytest.raises(Stale):
        planned.act(drop_date, DateAsked(once(), first.id, first.version))
    planned.act(take_up_date, DateAsked(once(), first.id, first.version + 1))
    assert len(planned.short("spirit")) == 4
    with planned.mix.database.writing() as session:
        drop_job(session, planned.mix.actor(), planned.mix.now, once(), number)
    assert planned.short("spirit") == {}


def test_a_batch_made_for_a_date_stands_for_it(planned: Planned) -> None:
    for name in ("raw umber", "boiled oil", "spirit"):
        planned.mix.can(name, 600_000)
    one, other = planned.job(TODAY), planned.job(TODAY + timedelta(days=1))
    first, second = planned.dates(one)[0], planned.dates(other)[0]
    with planned.mix.database.writing() as session:
        check = check_planned(session, planned.mix.actor(), planned.mix.now, first.id).id
    batch = planned.mix.set_aside(check or 0)
    with planned.mix.database.reading() as session:
        row = the_date(session, first.id)
        assert (row.state, row.batch_id) == (DateState.STARTED, batch)
    # It is promised to the batch and not needed by the plan as well.
    assert planned.short("spirit") == {}
    with pytest.raises(Refused, match="was not dropped"):
        planned.act(take_up_date, DateAsked(once(), first.id, row.version))
    with pytest.raises(Invalid, match="another date"):
        planned.act(link_batch, LinkAsked(once(), second.id, batch, second.version))
    with planned.mix.database.writing() as session, pytest.raises(Refused):
        check_planned(session, planned.mix.actor(), planned.mix.now, first.id)
    with planned.mix.database.writing() as session:
        released = release(session, planned.mix.actor(), planned.mix.now, batch, once()).result
    assert "planned-again" in {f["code"] for f in released["findings"]}
    with planned.mix.database.reading() as session:
        again = the_date(session, first.id)
        assert (again.state, again.batch_id) == (DateState.PLANNED, None)


def test_students_and_readers_plan_nothing(planned: Planned) -> None:
    asked = JobAsked(
        once=once(), term_id=planned.term, recipe_id=planned.mix.recipe, name="x", heads=1, each="1 times",
        first=TODAY,
    )  # fmt: skip
    for role in (Role.STUDENT, Role.READER):
        with planned.mix.database.writing() as session, pytest.raises(NotAllowed):
            plan_job(session, planned.mix.actor(role), planned.mix.now, asked)


def test_a_job_that_keeps_its_version_is_planned_by_it_and_never_started_by_another(planned: Planned) -> None:
    kept = planned.job(TODAY, keep_version=True)
    free = planned.job(TODAY)
    with planned.mix.database.writing() as session:
        lines = (RecipeLineAsked(planned.mix.ids["spirit"], "50 ml"),)
        asked = RecipeAsked(once(), "Walnut stain", lines)
        revise_recipe(session, planned.mix.actor(), planned.mix.now, planned.mix.recipe, 1, asked)
    outlook = planned.look()
    needs = {(one.job, one.material): one.high for one in outlook.plan.needs.needs}
    assert (needs[kept, "spirit"], needs[free, "spirit"]) == (300_000, 50_000)
    assert "older-version" in outlook.verdict.codes
    first = planned.dates(kept)[0].id
    with planned.mix.database.writing() as session, pytest.raises(Stale, match="older version"):
        check_planned(session, planned.mix.actor(), planned.mix.now, first)


def test_the_jobs_of_another_term_take_what_they_need_before(planned: Planned) -> None:
    planned.mix.can("spirit", 500_000)
    days = {"first_day": TODAY, "last_day": date(2026, 12, 1)}
    with planned.mix.database.writing() as session:
        asked = TermAsked(once=once(), name="Evening", **days)
        evening = write_term(session, planned.mix.actor(), planned.mix.now, asked).result["term"]
    mine, theirs = TODAY + timedelta(days=9), TODAY + timedelta(days=8)
    planned.job(mine)
    assert planned.short("spirit") == {}
    planned.job(theirs, term_id=evening)
    assert planned.short("spirit") == {mine: 100_000}
    # A day that is gone in another term takes nothing and is not told here.
    later = planned.look(theirs + timedelta(days=1))
    assert later.plan.stock.shortages(planned.mix.ids["spirit"]) == {}
    assert "plan-day-gone" not in later.verdict.codes
