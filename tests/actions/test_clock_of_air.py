"""The second clock from the book: openings and head space by draws, and what it must never change."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import event
from sqlmodel import Session

from service.actions.clock_of_air import ClockOfAir, clocks_of_air
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, draw
from service.core.access import Role
from service.core.materials import Basis, Form, MaterialKind, SelfHeating
from service.records.engine import Database
from service.records.materials import Material
from service.records.stock import Container
from service.records.stock_queries import Held, material_of
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import container, holds, material, oil, once, received

LITRE: dict[str, Any] = {"capacity_ul": 1_000_000, "is_open": False}


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def pure(session: Session, share: int = 100) -> Material:
    row = oil(session)
    row.oil_share_percent = Decimal(share)
    session.add(row)
    session.flush()
    return row


def draws(session: Session, people: Cast, code: str, *amounts: str) -> list[int]:
    made = []
    for n, amount in enumerate(amounts):
        asked = DrawAsked(once=once(), code=code, amount=amount)
        made.append(draw(session, people.actor(Role.FINISHER), NOW + timedelta(minutes=n), asked).result)
    return [int(one["movement"]) for one in made]


def clock(session: Session, code: str) -> ClockOfAir | None:
    box = container(session, code)
    return clocks_of_air(session, [Held(box, material_of(session, box))]).get(box.id or 0)


def test_each_draw_shuts_in_the_air_above_what_is_left(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), pure(session), **LITRE)
        assert clock(session, code) is None, "sealed: no air of ours is in it"
        draws(session, people, code, "200 ml", "300 ml")
        told = clock(session, code)
    assert told is not None and told.all_told
    assert [one.air_l for one in told.clock.each] == [pytest.approx((0.2, 0.2)), pytest.approx((0.5, 0.5))]
    assert told.clock.oil_g == pytest.approx((0.7 * 1.7417, 0.7 * 2.3223), rel=1e-3)
    assert told.clock.oil_now_g == pytest.approx((465, 465)) and told.full == pytest.approx((0.5, 0.5))
    assert told.jar is not None and told.jar.ml == 750, "a jar of 500 ml would be full to the brim"
    holds(database)


def test_a_published_share_of_oil_stands_in_for_an_untold_one(database: Database, people: Cast) -> None:
    """Ohio Revised Code 3741.09: boiled linseed oil holds at most 4 % of driers by mass."""
    with database.writing() as session:
        row = oil(session)
        row.known_key = "linseed_boiled"
        session.flush()
        code = received(session, people.actor(Role.KEEPER), row, **LITRE)
        draws(session, people, code, "500 ml")
        told = clock(session, code)
    assert told is not None and told.clock.oil_now_g == pytest.approx((0.96 * 465, 465))


def test_it_never_moves_a_date_or_a_standing(database: Database, people: Cast) -> None:
    with database.writing() as session:
        stuff = pure(session)
        codes = [received(session, people.actor(Role.KEEPER), stuff, **LITRE) for _ in range(2)]
        draws(session, people, codes[0], *["50 ml"] * 10)
        draws(session, people, codes[1], "500 ml")
        often, once_only = (container(session, code) for code in codes)
        assert (often.in_date_until, often.standing, often.next_alert_on) == (
            once_only.in_date_until, once_only.standing, once_only.next_alert_on,
        )  # fmt: skip
        before = (often.in_date_until, often.version)
        told = clock(session, codes[0])
        assert told is not None and told.clock.openings == 10
        assert (often.in_date_until, often.version) == before


@pytest.mark.parametrize(
    ("facts", "amount", "code"),
    [
        ({"capacity_ul": None}, 1_000_000, "capacity-not-known"),
        ({}, None, "air-not-known"),
        ({"capacity_ul": 400_000}, 1_000_000, "air-not-known"),
    ],
)
def test_what_is_not_known_is_said_and_never_nothing(
    database: Database, people: Cast, facts: dict[str, Any], amount: int | None, code: str
) -> None:
    with database.writing() as session:
        box = received(session, people.actor(Role.KEEPER), pure(session), amount, **(LITRE | facts))
        asked = DrawAsked(once=once(), code=box, amount="100 ml", more_than_book=amount is None)
        if amount is None:
            row = container(session, box)
            row.ever_opened, row.opened_on = True, TODAY
            session.add(row)
        draw(session, people.actor(Role.FINISHER), NOW, asked)
        told = clock(session, box)
    assert told is not None and told.clock.openings == 1
    assert told.clock.oxygen_g is None and told.clock.oil_g is None and told.clock.share is None
    assert code in told.verdict.codes and not told.verdict.complete and not told.all_told
    assert told.standing.rank == 1, "in line it counts as the most"


def test_weight_meets_volume_by_density_or_not_at_all(database: Database, people: Cast) -> None:
    paste: dict[str, Any] = {"basis": Basis.MASS, "form": Form.PASTE, "kind": MaterialKind.COLOUR_IN_OIL}
    with database.writing() as session:
        keeper = people.actor(Role.KEEPER)
        known = material(session, "umber in oil", heats=True, density="1.6", **paste)
        dark = material(session, "sienna in oil", heats=True, **paste)
        boxes = [received(session, keeper, stuff, 800_000, **LITRE) for stuff in (known, dark)]
        for box in boxes:
            draws(session, people, box, "160 g")
        weighed, not_weighed = (clock(session, box) for box in boxes)
    assert weighed is not None and weighed.clock.each[0].air_l == pytest.approx((0.6, 0.6))
    assert weighed.clock.share is None and "oil-share-not-known" in weighed.verdict.codes
    assert not_weighed is not None and not_weighed.clock.each[0].air_l is None
    assert "volume-not-known" in not_weighed.verdict.codes


def test_who_has_no_such_clock(database: Database, people: Cast) -> None:
    with database.writing() as session:
        keeper = people.actor(Role.KEEPER)
        umber = received(session, keeper, material(session), capacity_ul=1_000_000)
        assert clock(session, umber) is None
        heir = received(
            session, keeper, material(session, "spirit", kind=MaterialKind.SOLVENT, form=Form.LIQUID),
            inherited_self_heating=SelfHeating.NOT_KNOWN,
        )  # fmt: skip
        told = clock(session, heir)
        assert told is not None and "oil-not-known" in told.verdict.codes
        assert "came-open" in told.verdict.codes and not told.all_told


def test_what_was_taken_back_and_what_was_poured_in(database: Database, people: Cast) -> None:
    with database.writing() as session:
        keeper = people.actor(Role.KEEPER)
        code = received(session, keeper, pure(session), **LITRE)
        _, wrong = draws(session, people, code, "50 ml", "900 ml")
        undo = ReverseAsked(once=once(), movement_id=wrong, reason="the wrong tin")
        reverse(session, keeper, NOW + timedelta(minutes=9), undo)
        told = clock(session, code)
        assert told is not None and [one.air_l for one in told.clock.each] == [pytest.approx((0.05, 0.05))]
        poured = DecantAsked(once=once(), code=code, amount="200 ml", capacity="250 ml")
        done = decant(session, keeper, NOW + timedelta(minutes=10), poured, lambda: "a chance for the jar")
        filled = clock(session, str(done.result["into"]["code"]))
    assert filled is not None and filled.clock.each[0].air_l == pytest.approx((0.05, 0.05))
    assert "poured-in" in filled.verdict.codes and not filled.all_told and filled.standing.rank == 1


def test_many_are_told_by_as_many_queries_as_one(database: Database, people: Cast) -> None:
    with database.writing() as session:
        stuff = pure(session)
        codes = [received(session, people.actor(Role.KEEPER), stuff, **LITRE) for _ in range(30)]
        for code in codes:
            draws(session, people, code, "10 ml")
    counts = []
    for some in (codes[:1], codes):
        with database.reading() as session:
            held = [Held(box, material_of(session, box)) for box in (container(session, c) for c in some)]
            seen: list[str] = []

            def count(*said: Any, seen: list[str] = seen) -> None:
                seen.append(said[2])

            event.listen(database.engine, "before_cursor_execute", count)
            told = clocks_of_air(session, held)
            event.remove(database.engine, "before_cursor_execute", count)
            assert len(told) == len(some)
            counts.append(len(seen))
    assert counts == [2, 2]


def test_a_box_holds_what_it_held(database: Database, people: Cast) -> None:
    """Reading the clock writes nothing: the whole book still follows from its acts."""
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), pure(session), **LITRE)
        draws(session, people, code, "10 ml")
    with database.writing() as session:
        box: Container = container(session, code)
        clocks_of_air(session, [Held(box, material_of(session, box))])
        assert not session.dirty and not session.new
    holds(database)
