"""Starting a batch: everything or nothing, what makes a check stale, set-asides, two who start at once."""

from __future__ import annotations

import threading
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.draw_stock import DrawAsked, draw
from service.actions.give_override import OverrideAsked, give_override
from service.actions.handle_rags import StepAsked, add_step
from service.actions.make_batch import StartAsked, start
from service.actions.read_recipe import LineAsked
from service.actions.run_job import JobAsked, open_job
from service.actions.write_recipe import RecipeAsked, revise_recipe
from service.core.access import Actor, Role
from service.core.findings import NotAllowed, NotFound, Refused, Stale, StaleKind
from service.core.life_facts import CheckOutcome
from service.core.materials import Unknown
from service.core.rag_override import OverrideFor
from service.core.rags import RagStep
from service.records.engine import Database
from service.records.mixing import Batch, BatchState
from service.records.mixing_queries import additions_of, allocations_of
from service.records.places import PlaceKind
from service.records.rags import RagLoad
from service.records.stock import Movement
from tests.builders import person
from tests.mixing_shop import UNKNOWN_DATES, MixShop, make_mix_shop
from tests.rag_shop import add_place
from tests.store_builders import holds, once


def filled(database: Database) -> tuple[MixShop, dict[str, str]]:
    shop = make_mix_shop(database)
    return shop, {name: shop.can(name) for name in ("raw umber", "boiled oil", "spirit")}


def stop_codes(caught: Any) -> set[str]:
    return set(caught.value.verdict.codes)


def drawn(shop: MixShop) -> int:
    """How many draws stand in the book."""
    with shop.database.reading() as session:
        return len(session.exec(select(Movement).where(col(Movement.batch_id).is_not(None))).all())


def test_a_start_draws_everything_and_starts_the_rag_duty(database: Database) -> None:
    shop, cans = filled(database)
    done = shop.start(shop.keep("2.5 times")).result
    assert {name: shop.left(code) for name, code in cans.items()} == {
        "raw umber": 750_000, "boiled oil": 500_000, "spirit": 250_000,
    }  # fmt: skip
    assert [a["written"] for a in done["additions"]] == ["250 g", "500 ml", "750 ml"]
    batch = shop.batch(done["batch"])
    assert (batch.state, batch.job_id, batch.times) == (BatchState.RUNNING, shop.job, Decimal("2.5"))
    with database.reading() as session:
        loads = session.exec(select(RagLoad)).all()
        assert [load.job_id for load in loads] == [shop.job]
        assert len(additions_of(session, done["batch"])) == 3
        assert {a.state for a in allocations_of(session, done["batch"])} == {"drawn"}
    holds(database)


def test_sent_twice_it_is_started_once(database: Database) -> None:
    shop, cans = filled(database)
    check, key = shop.keep(), once()
    one, two = shop.start(check, once=key), shop.start(check, once=key)
    assert two.repeated and one.result == two.result and shop.left(cans["spirit"]) == 700_000
    with pytest.raises(Stale) as caught:
        shop.start(check, once=key, open_job=True)
    assert caught.value.kind is StaleKind.ONCE_REUSED


def test_by_its_fingerprint(database: Database) -> None:
    shop, cans = filled(database)
    shop.keep()
    shop.start(fingerprint=shop.look().check.fingerprint)
    assert shop.left(cans["spirit"]) == 700_000
    for asked in ({"fingerprint": "0" * 64}, {}, {"check_id": 999}, {"batch_id": 999}):
        with pytest.raises(NotFound):
            shop.start(**({"check_id": None} | asked))


def test_everything_or_nothing_when_the_third_can_has_to_be_looked_at_first(database: Database) -> None:
    shop = make_mix_shop(database)
    first, second = shop.can("raw umber"), shop.can("boiled oil")
    third = shop.can("spirit", **UNKNOWN_DATES)
    check = shop.keep()
    with pytest.raises(Refused) as caught:
        shop.start(check)
    assert "look-before-use" in stop_codes(caught)
    assert [shop.left(code) for code in (first, second, third)] == [1_000_000] * 3
    assert drawn(shop) == 0
    with database.reading() as session:
        assert not session.exec(select(Batch)).all() and not session.exec(select(RagLoad)).all()
    shop.start(check, looked=(f"{third[:3].lower()} {third[3:]}",))
    assert shop.left(third) == 700_000
    holds(database)


def test_what_is_short_is_not_started(database: Database) -> None:
    shop, cans = filled(database)
    check = shop.keep("9 times")
    for act in (shop.start, shop.set_aside):
        with pytest.raises(Refused) as caught:
            act(check)
        assert "short" in stop_codes(caught)
    assert shop.left(cans["spirit"]) == 1_000_000


def by_hand(shop: MixShop, code: str, amount: str) -> None:
    with shop.database.writing() as session:
        asked = DrawAsked(once=once(), code=code, amount=amount, job_id=shop.job, looked=True)
        draw(session, shop.actor(), shop.now, asked)


def test_stale_when_an_allocation_is_gone(database: Database) -> None:
    shop, cans = filled(database)
    check = shop.keep("3 times")
    by_hand(shop, cans["spirit"], "200 ml")
    with pytest.raises(Stale) as caught:
        shop.start(check)
    assert {"allocation-gone", "more-missing"} & stop_codes(caught) and drawn(shop) == 0
    assert shop.left(cans["raw umber"]) == 1_000_000


def test_stale_when_a_finding_appeared(database: Database) -> None:
    shop, cans = filled(database)
    check = shop.keep()
    with database.writing() as session:
        asked = CheckAsked(once=once(), code=cans["spirit"], outcome=CheckOutcome.FAILED)
        check_condition(session, shop.actor(), shop.now, asked)
    with pytest.raises(Stale) as caught:
        shop.start(check)
    assert "finding-new" in stop_codes(caught)


def test_stale_when_a_finding_got_worse(database: Database) -> None:
    shop = make_mix_shop(database)
    shop.can("raw umber"), shop.can("boiled oil"), shop.can("spirit", 400_000)
    spare = shop.can("spirit", None)
    check = shop.keep()
    old = {f.about: f.severity.value for f in shop.look().check.verdict if f.code == "amount-not-known"}
    assert old == {spare: "note"}
    with database.writing() as session:
        box = shop.look().check.allocations[2]
        asked = DrawAsked(once=once(), code=box.code, amount="250 ml", job_id=shop.job, more_than_book=False)
        draw(session, shop.actor(), shop.now, asked)
    with pytest.raises(Stale) as caught:
        shop.start(check)
    assert "finding-worse" in stop_codes(caught)


def test_an_unrelated_change_is_not_stale(database: Database) -> None:
    shop, cans = filled(database)
    check = shop.keep()
    fingerprint = shop.look().check.fingerprint
    sooner = shop.can("spirit", 50_000, printed_date=shop.now.date() + timedelta(days=200))
    shop.can("drier")
    by_hand(shop, cans["raw umber"], "1 g")
    assert shop.look().check.fingerprint != fingerprint
    shop.start(check)
    assert shop.left(sooner) == 50_000 and shop.left(cans["spirit"]) == 700_000


def test_stale_when_the_recipe_was_changed(database: Database) -> None:
    shop, _ = filled(database)
    check = shop.keep()
    with database.writing() as session:
        asked = RecipeAsked(once(), "Walnut stain", (LineAsked(shop.ids["spirit"], "1 ml"),))
        revise_recipe(session, shop.actor(), shop.now, shop.recipe, 1, asked)
    with pytest.raises(Stale) as caught:
        shop.start(check)
    assert "needs-changed" in stop_codes(caught)


def test_a_self_heating_mix_needs_a_job_or_opens_one(database: Database) -> None:
    shop, cans = filled(database)
    check = shop.keep()
    with pytest.raises(Refused) as caught:
        shop.start(check, job_id=None)
    assert "needs-job" in stop_codes(caught) and shop.left(cans["raw umber"]) == 1_000_000
    done = shop.start(check, job_id=None, open_job=True)
    assert done.result["job"] not in (None, shop.job)


def test_a_mix_whose_oil_is_all_to_suit_needs_a_job_too(database: Database) -> None:
    shop, _ = filled(database)
    recipe = shop.write(("spirit", "10 ml"), ("boiled oil", "to suit"), name="To suit")
    with pytest.raises(Refused) as caught:
        shop.start(shop.keep(recipe=recipe), job_id=None)
    assert "needs-job" in stop_codes(caught)


def test_what_cannot_heat_needs_no_job(database: Database) -> None:
    shop, cans = filled(database)
    recipe = shop.write(("spirit", "10 ml"), ("tap water", "1 l"), name="Wash")
    done = shop.start(shop.keep(recipe=recipe), job_id=None)
    assert done.result["job"] is None and shop.left(cans["spirit"]) == 990_000
    with database.reading() as session:
        water = additions_of(session, done.result["batch"])[1]
    assert (water.material.name, water.row.amount, water.movement) == ("tap water", 1_000_000, None)


def overdue(shop: MixShop) -> None:
    """A first batch's rags are put into the can in time but stay in the house over night."""
    shop.start(shop.keep())
    with shop.database.writing() as session:
        can = add_place(session, "Rag can", PlaceKind.RAG_CAN, listed=Unknown.YES, self_closing=Unknown.YES)
        load = session.exec(select(RagLoad)).one()
        asked = StepAsked(once=once(), step=RagStep.IN_CAN, loads=(load.id or 0,), can_id=can)
        add_step(session, shop.actor(), shop.now + timedelta(minutes=5), asked)
    shop.now += timedelta(days=1)


def test_overdue_rags_refuse_the_start_but_not_the_set_aside(database: Database) -> None:
    shop, cans = filled(database)
    overdue(shop)
    check = shop.keep()
    with pytest.raises(Refused) as caught:
        shop.start(check, job_id=None, open_job=True)
    assert "rags-overdue" in stop_codes(caught) and shop.left(cans["spirit"]) == 700_000
    batch = shop.set_aside(check)
    with pytest.raises(Refused) as caught:
        shop.start(batch_id=batch, check_id=None, job_id=None, open_job=True)
    assert "rags-overdue" in stop_codes(caught)


def test_overdue_rags_refuse_also_when_they_became_overdue_after_the_check(database: Database) -> None:
    shop, _ = filled(database)
    shop.start(shop.keep())
    check = shop.keep()
    shop.now += timedelta(days=1)
    with pytest.raises(Refused) as caught:
        shop.start(check, job_id=None, open_job=True)
    assert "rags-overdue" in stop_codes(caught)


def test_an_override_of_this_recipe_lets_the_whole_batch_through_once(database: Database) -> None:
    shop = make_mix_shop(database)
    for name in ("raw umber", "spirit", "boiled oil"):
        shop.can(name)
    overdue(shop)
    shop.can("boiled oil", 100_000), shop.can("boiled oil", 100_000)
    recipe = shop.write(("boiled oil", "950 ml"), name="Much oil")
    with database.writing() as session:
        ruth = person(session, "Ruth Keller", Role.KEEPER)
        job = int(open_job(session, shop.actor(), shop.now, JobAsked(once(), "Urgent")).result["job"])
        assert ruth.id is not None
        asked = OverrideAsked(once(), OverrideFor.BATCH, str(recipe), job, "The glaze has to match today.")
        give_override(session, Actor(ruth.id, ruth.name, ruth.role), shop.now, asked)
    done = shop.start(shop.keep(recipe=recipe), job_id=job).result
    assert len(done["additions"]) == 3
    with pytest.raises(Refused):
        small = shop.write(("boiled oil", "1 ml"), name="Small")
        shop.start(shop.keep(recipe=small), job_id=job)


def test_a_set_aside_whose_can_was_drawn_from_is_stale(database: Database) -> None:
    shop, cans = filled(database)
    batch = shop.set_aside(shop.keep("3 times"))
    by_hand(shop, cans["spirit"], "200 ml")
    with pytest.raises(Stale) as caught:
        shop.start(batch_id=batch, check_id=None)
    assert "allocation-gone" in stop_codes(caught)


@pytest.mark.race
def test_two_who_start_the_same_set_aside_one_wins(database: Database) -> None:
    shop, cans = filled(database)
    batch = shop.set_aside(shop.keep())
    results: list[str] = []
    gate = threading.Barrier(2)

    def go() -> None:
        gate.wait()
        try:
            shop.start(batch_id=batch, check_id=None)
            results.append("started")
        except Stale:
            results.append("stale")

    threads = [threading.Thread(target=go) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(results) == ["stale", "started"]
    assert shop.left(cans["spirit"]) == 700_000 and drawn(shop) == 3
    holds(database)


@pytest.mark.race
def test_two_checks_of_the_last_of_it_one_wins(database: Database) -> None:
    shop, cans = filled(database)
    checks = [shop.keep("3 times"), shop.keep("3 times")]
    results: list[str] = []

    def go(check: int) -> None:
        try:
            shop.set_aside(check)
            results.append("mine")
        except (Stale, Refused):
            results.append("gone")

    threads = [threading.Thread(target=go, args=(check,)) for check in checks]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(results) == ["gone", "mine"] and shop.left(cans["spirit"]) == 1_000_000


def test_students_and_readers_start_nothing(database: Database) -> None:
    shop, _ = filled(database)
    check = shop.keep()
    for role in (Role.STUDENT, Role.READER):
        with pytest.raises(NotAllowed), database.writing() as session:
            asked = StartAsked(once=once(), check_id=check, job_id=shop.job)
            start(session, shop.actor(role), shop.now, asked)
