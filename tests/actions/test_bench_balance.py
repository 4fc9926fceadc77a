"""Whatever happens at a bench, the books balance: what left the containers is in the jars, or written off.

And two people at one batch lose nothing of each other's.
"""

from __future__ import annotations

import threading
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from sqlmodel import Session, col, select

from service.actions.add_to_batch import AddAsked, add
from service.actions.addition_amounts import amount_of, span_of
from service.actions.count_stock import CountAsked, count
from service.actions.draw_stock import ReturnAsked, put_back
from service.actions.finish_batch import FinishAsked, JarAsked, balance_of, finish, jars_held
from service.actions.lose_stock import LossAsked, LossKind, lose
from service.actions.mix_of_materials import lines_of_batch
from service.actions.undo_addition import UndoAsked, undo_addition
from service.core.access import Role
from service.core.additions import HowAdded, WasIn
from service.core.findings import Invalid, Refused
from service.core.ledger import MovementKind, fold
from service.core.reversals import check_lines
from service.records.engine import Database, open_database
from service.records.materials import Material
from service.records.mixing_queries import additions_of, returns_of, the_batch
from service.records.stock import Container, Movement
from service.records.stock_queries import lines_of
from tests.builders import Cast, cast
from tests.mixing_shop import make_mix_shop
from tests.store_builders import holds, once

ACTS = st.lists(
    st.tuples(
        st.sampled_from(["amount", "pot", "all", "blind", "water", "undo", "return", "count", "loss"]),
        st.integers(0, 3),
        st.integers(1, 40),
    ),
    min_size=2,
    max_size=12,
)


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


class Bench:
    """One running batch, its containers, and a book of its own of what went in: grams times a thousand."""

    def __init__(self, database: Database, people: Cast) -> None:
        self.shop = make_mix_shop(database, people)
        self.database = database
        with database.writing() as session:
            for name in ("boiled oil", "spirit"):
                liquid = session.get_one(Material, self.shop.ids[name])
                liquid.density_g_ml, liquid.density_source = Decimal("0.8"), "made up"
                session.add(liquid)
        self.codes = [self.shop.can("raw umber", 60_000), self.shop.can("raw umber", 90_000)]
        self.codes += [self.shop.can("boiled oil", 100_000), self.shop.can("boiled oil", None)]
        self.shop.can("spirit", 200_000)
        recipe = self.shop.write(("spirit", "50 ml"), name=f"Bench mix {once()}")
        self.batch = int(self.shop.start(self.shop.keep(recipe=recipe)).result["batch"])

    def do(self, session: Session, kind: str, which: int, much: int) -> None:
        shop, code, key = self.shop, self.codes[which], once()
        who, unit = shop.actor(Role.KEEPER), "g" if which < 2 else "ml"
        told: dict[str, Any] = {"once": key, "batch_id": self.batch, "code": code}
        match kind:
            case "amount":
                add(session, who, shop.now, AddAsked(**told, amount=f"{much} {unit}"))
            case "pot":
                pot = {"before": "400", "after": str(400 + much)}
                add(session, who, shop.now, AddAsked(**told, how=HowAdded.POT, **pot))
            case "all":
                add(session, who, shop.now, AddAsked(**told, how=HowAdded.CONTAINER))
            case "blind":
                add(session, who, shop.now, AddAsked(**told, how=HowAdded.NOT_MEASURED))
            case "water":
                told |= {"code": "", "material_id": shop.ids["tap water"]}
                add(session, who, shop.now, AddAsked(**told, amount=f"{much} ml"))
            case "undo":
                rows = [one.row.id or 0 for one in additions_of(session, self.batch)]
                asked = UndoAsked(key, self.batch, rows[-1 - much % len(rows)], "random day", WasIn.NEVER)
                undo_addition(session, who, shop.now, asked)
            case "return":
                back = ReturnAsked(once=key, code=code, amount=f"{much} {unit}", batch_id=self.batch)
                put_back(session, who, shop.now, back)
            case "count":
                count(session, who, shop.now, CountAsked(once=key, code=code, amount=f"{much} {unit}"))
            case "loss":
                gone = LossAsked(once=key, code=code, amount=f"{much} {unit}", loss=LossKind.STUCK)
                lose(session, who, shop.now, gone)

    def left_the_containers(self, session: Session) -> tuple[int, bool]:
        """mg that the ledger says went into this batch, less what came back; and whether all is known."""
        rows = session.exec(select(Movement).where(col(Movement.batch_id) == self.batch)).all()
        undone = {row.reverses_id for row in rows if row.kind is MovementKind.REVERSAL}
        total, known = 0, True
        for row in rows:
            if row.kind not in (MovementKind.DRAW, MovementKind.RETURN) or row.id in undone:
                continue
            box = session.get_one(Container, row.container_id)
            stuff = session.get_one(Material, box.material_id)
            if row.change is None:
                known = False
                continue
            total -= row.change if stuff.name == "raw umber" else row.change * 4 // 5
        return total, known


@settings(
    max_examples=15,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(acts=ACTS, jars=st.lists(st.integers(1, 90), max_size=3), spare=st.integers(0, 30))
def test_what_left_the_containers_is_in_the_jars_or_written_off(
    database: Database, people: Cast, acts: list[tuple[str, int, int]], jars: list[int], spare: int
) -> None:
    bench = Bench(database, people)
    for kind, which, much in acts:
        try:
            with database.writing() as session:
                bench.do(session, kind, which, much)
        except (Refused, Invalid):
            continue
    with database.reading() as session:
        rows = [one for one in additions_of(session, bench.batch) if not one.reversed]
        drawn, known = bench.left_the_containers(session)
        water = sum(one.row.amount or 0 for one in rows if one.movement is None)
        # What nobody measured, and a count settled: that is what left, though no movement says how much.
        blind = [one for one in rows if one.row.amount is None and one.movement is not None]
        assert known is not bool(blind)
        settled = [amount_of(session, one) for one in blind]
        drawn += sum(amount if one.material.name == "raw umber" else amount * 4 // 5
                     for one, amount in zip(blind, settled, strict=True) if amount is not None)  # fmt: skip
        for one in rows:
            span = span_of(session, one)
            assert span.low >= 0 and (span.high is None or span.high >= span.low)
        lines = lines_of_batch(session, bench.batch)
        assert all((line.low or 0) >= 0 for line in lines)
    asked = FinishAsked(
        once=once(), batch_id=bench.batch, made=f"{sum(jars) + spare} g" if sum(jars) + spare else "",
        jars=tuple(JarAsked(f"{much} g") for much in jars), loss_note="pot and strainer",
        loss=f"{spare} g" if spare % 2 else "",
    )  # fmt: skip
    try:
        with database.writing() as session:
            finish(session, bench.shop.actor(), bench.shop.now, asked, lambda: once())
    except Refused as no:
        assert "nothing-went-in" in no.verdict.codes
        jars = []
    except Invalid as no:
        # More than went in is not told as made, however it is typed.
        assert "cannot have come out" in no.sentence and (sum(jars) + spare) * 1000 > drawn + water
        jars = []
    with database.reading() as session:
        batch = the_batch(session, bench.batch)
        told = balance_of(session, batch)
        in_jars = sum(amount or 0 for _, amount in jars_held(session, bench.batch))
        assert in_jars == sum(jars) * 1000
        _tells_the_difference(told, batch.yield_amount, drawn + water, in_jars, None in settled)
        for box in session.exec(select(Container)).all():
            mine = lines_of(session, box.id or 0)
            assert list(check_lines(mine)) == [] and box.balance == fold(mine).amount
    holds(database)


def _tells_the_difference(
    told: Any, made: int | None, went_in: int, in_jars: int, not_known: bool
) -> None:
    if not_known or made is None:
        assert told.difference is None, "what nobody knows is never told as balanced"
        return
    if not told.went_in:
        return
    assert told.difference is not None, "every density is known, so that it can be told"
    # Every amount is a whole number of g or of 0.8 g: each part of the sum rounds by at most half a mg.
    assert abs(went_in - (in_jars + (made - in_jars) + told.difference)) <= 12
    assert told.unexplained == told.difference - (told.lost or 0)


def test_two_people_at_one_batch_lose_nothing(database: Database) -> None:
    shop = make_mix_shop(database)
    code, spirit = shop.can("raw umber"), shop.can("spirit")
    recipe = shop.write(("spirit", "100 ml"), name="Crowd")
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    opened = open_database(database.engine.url.render_as_string(hide_password=False), threads=4)
    start, wrong = threading.Barrier(4), []

    def work(number: int) -> None:
        who = shop.actor(Role.FINISHER if number % 2 else Role.KEEPER)
        start.wait()
        try:
            for turn in range(5):
                with opened.writing() as session:
                    asked = AddAsked(
                        once=f"crowd-{number}-{turn}", batch_id=batch, amount="1 g" if number < 2 else "1 ml",
                        code=code if number < 2 else spirit,
                    )  # fmt: skip
                    add(session, who, shop.now, asked)
        except Exception as error:  # a thread's error is looked at below
            wrong.append(error)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    opened.dispose()
    assert wrong == []
    with database.reading() as session:
        rows = additions_of(session, batch)
        assert len(rows) == 1 + 20 and the_batch(session, batch).version >= 21
        assert sum(one.row.amount or 0 for one in rows if one.material.name == "raw umber") == 10_000
        assert sum(one.row.amount or 0 for one in rows if one.material.name == "spirit") == 110_000
        assert returns_of(session, batch) == []
    assert shop.left(code) == 990_000
    holds(database)


def test_two_people_take_the_last_of_a_container_one_gets_it(database: Database) -> None:
    shop = make_mix_shop(database)
    shop.can("spirit")
    last = shop.can("raw umber", 5000)
    batch = int(shop.start(shop.keep(recipe=shop.write(("spirit", "1 ml"), name="Last"))).result["batch"])
    opened = open_database(database.engine.url.render_as_string(hide_password=False), threads=2)
    start, answers = threading.Barrier(2), []

    def work(number: int) -> None:
        start.wait()
        try:
            with opened.writing() as session:
                key = f"last-{number}-of-it"
                asked = AddAsked(once=key, batch_id=batch, code=last, how=HowAdded.CONTAINER)
                answers.append(add(session, shop.actor(), shop.now, asked).result["additions"][0]["amount"])
        except Invalid as no:
            answers.append(no.sentence)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    opened.dispose()
    assert 5000 in answers and sum("nothing is left" in str(one) for one in answers) == 1
    assert shop.left(last) == 0


def test_what_came_back_from_a_batch_is_known_to_its_balance(database: Database) -> None:
    shop = make_mix_shop(database)
    shop.can("spirit")
    code, other = shop.can("raw umber"), shop.can("raw umber")
    batch = int(shop.start(shop.keep(recipe=shop.write(("spirit", "1 ml"), name="Back"))).result["batch"])

    def give_back(amount: str, of: str = code) -> None:
        with database.writing() as session:
            asked = ReturnAsked(once=once(), code=of, amount=amount, batch_id=batch)
            put_back(session, shop.actor(), shop.now, asked)

    with database.writing() as session:
        add(session, shop.actor(), shop.now, AddAsked(once=once(), batch_id=batch, code=code, amount="50 g"))
    give_back("20 g")
    for amount, of in (("31 g", code), ("1 g", other)):
        try:
            give_back(amount, of)
        except Refused as no:
            assert "more-back" in no.verdict.codes
        else:
            raise AssertionError("more came back than went into the batch from there")
    with database.reading() as session:
        umber = next(line for line in lines_of_batch(session, batch) if line.material.name == "raw umber")
        assert umber.high == 30_000
        assert "20 g raw umber" in balance_of(session, the_batch(session, batch)).came_out
    assert shop.left(code) == 970_000
