"""What is found in a tin reaches everything that holds some of it, in whatever order it is written down."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.container_events import OpenAsked, open_container
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.draw_stock import DrawAsked, ReturnAsked, draw, put_back
from service.actions.revise_material import Revision, description_held, revise_material
from service.core.access import Role
from service.core.conditions import Found
from service.core.containers import Standing
from service.core.findings import Invalid, Refused
from service.core.ledger import MovementKind
from service.core.life_facts import CheckOutcome
from service.core.materials import Form, MaterialKind
from service.records.ageing_queries import checks_of
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow, Material
from service.records.stock import Container, Movement
from tests.builders import TODAY
from tests.jar_acts import LATE, OIL_LIVES, ends, jar_of, look, oil_shop, pour, stands
from tests.mixing_shop import MixShop
from tests.store_builders import container, holds, material, once


@pytest.fixture
def shop(database: Database) -> MixShop:
    return oil_shop(database)


def tin(shop: MixShop, **dates: Any) -> str:
    usual = {"packed_on": TODAY - days(100), "received_on": TODAY - days(90), "opened_on": TODAY - days(60)}
    return shop.can("boiled oil", **usual | dates)


def mix_with(shop: MixShop, code: str) -> str:
    """A jar of a batch made with what is in this jar."""
    with shop.database.reading() as session:
        shop.ids[code] = container(session, code).material_id
    return jar_of(shop, (code, "20 ml"), ("spirit", "80 ml"))


def days(number: int) -> timedelta:
    return timedelta(days=number)


def test_a_doubt_written_down_late_is_a_doubt_in_the_jar_that_was_called_sound_since(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil, happened_at=shop.now - days(15))
    look(shop, jar, Found.SOUND, happened_at=shop.now - days(4))
    look(shop, oil, Found.THICKENED, happened_at=shop.now - days(8))
    assert (stands(shop, oil), stands(shop, jar)) == (Standing.LOOK_FIRST, Standing.LOOK_FIRST)


def test_a_finding_goes_on_through_jars_and_batches_to_the_end(shop: MixShop) -> None:
    oil = tin(shop)
    mixed = jar_of(shop, ("boiled oil", "50 ml"), ("spirit", "50 ml"))
    again = mix_with(shop, mixed)
    poured = pour(shop, again)
    shop.now += timedelta(minutes=1)
    look(shop, oil, Found.RANCID)
    assert [stands(shop, code) for code in (mixed, again, poured)] == [Standing.LOOK_FIRST] * 3


def test_what_was_poured_after_it_was_found_dead_is_dead(shop: MixShop) -> None:
    oil = tin(shop)
    early, late = pour(shop, oil, happened_at=shop.now - days(9)), pour(shop, oil)
    look(shop, oil, Found.RANCID, happened_at=shop.now - days(2))
    assert (stands(shop, early), stands(shop, late)) == (Standing.LOOK_FIRST, Standing.PAST)


def test_peroxides_end_what_was_made_with_it_over_two_batches(shop: MixShop) -> None:
    mixed = jar_of(shop, ("spirit", "100 ml"))
    again = mix_with(shop, mixed)
    with shop.database.writing() as session:
        of_it = col(Container.material_id) == shop.ids["spirit"]
        can = session.exec(select(Container.code).where(of_it)).one()
        asked = CheckAsked(once=once(), code=can, peroxide_mg_l=Decimal(150))
        check_condition(session, shop.actor(Role.KEEPER), shop.now, asked)
    assert (stands(shop, mixed), stands(shop, again)) == (Standing.PAST, Standing.PAST)


def test_a_jar_that_was_empty_meanwhile_is_told_when_its_draw_is_taken_back(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil)
    with shop.database.writing() as session:
        asked = DrawAsked(once=once(), code=jar, amount="50 ml", job_id=shop.job)
        drawn = draw(session, shop.actor(Role.KEEPER), shop.now, asked).result["movement"]
    look(shop, oil, Found.THICKENED)
    with shop.database.writing() as session:
        reverse(session, shop.actor(Role.KEEPER), shop.now, ReverseAsked(once(), drawn, LATE))
    assert stands(shop, jar) is Standing.LOOK_FIRST


def test_what_was_found_in_a_jar_stands_with_the_tin_its_pouring_is_taken_back_to(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil)
    look(shop, jar, Found.RANCID)
    with shop.database.writing() as session:
        number = container(session, jar).id
        into = col(Movement.container_id) == number, col(Movement.kind) == MovementKind.DECANT_IN
        poured = session.exec(select(Movement.id).where(*into)).one() or 0
        reverse(session, shop.actor(Role.KEEPER), shop.now, ReverseAsked(once(), poured, LATE))
    assert stands(shop, oil) is Standing.LOOK_FIRST


def test_a_late_pouring_takes_over_no_look_that_came_after_it(shop: MixShop) -> None:
    dates = {"packed_on": TODAY - days(400), "received_on": TODAY - days(390), "opened_on": TODAY - days(360)}
    oil = tin(shop, **dates)
    before = ends(shop, oil)
    look(shop, oil, Found.SOUND)
    moved = ends(shop, oil)
    assert before is not None and moved is not None and moved > before
    late = pour(shop, oil, happened_at=shop.now - days(1))
    now = pour(shop, oil)
    assert (ends(shop, late), ends(shop, now)) == (before, moved)


def test_a_look_made_before_something_was_poured_in_does_not_count_for_it(shop: MixShop) -> None:
    old = tin(shop, packed_on=TODAY - days(400), received_on=TODAY - days(390), opened_on=TODAY - days(360))
    end = ends(shop, old)
    jar = pour(shop, tin(shop, opened_on=TODAY - days(30)), happened_at=shop.now - days(5))
    pour(shop, old, into=jar)
    assert ends(shop, jar) == end
    look(shop, jar, Found.SOUND, happened_at=shop.now - days(1))
    assert ends(shop, jar) == end


def test_nobody_looked_into_a_jar_before_it_was_filled(shop: MixShop) -> None:
    jar = pour(shop, tin(shop))
    with pytest.raises(Invalid, match="It was filled at") as no:
        look(shop, jar, Found.SOUND, happened_at=shop.now - days(3))
    assert set(no.value.errors) == {"happened_at"}


@pytest.mark.parametrize(
    ("name", "kind", "form", "days_kept"),
    [
        ("Casein powder", MaterialKind.BINDER, Form.POWDER, 7),
        ("Gum arabic, lump", MaterialKind.BINDER, Form.PIECES, 7),
        ("Milk paint, barn red", MaterialKind.READY_MADE_FINISH, Form.POWDER, 7),
        ("Casein", MaterialKind.BINDER, Form.LIQUID, 7),  # a form that nobody looked at
        ("Binder powder of nobody's", MaterialKind.BINDER, Form.POWDER, 7),
        ("raw umber of a kind", MaterialKind.DRY_PIGMENT, Form.POWDER, None),
    ],
)
def test_what_is_wetted_with_water_keeps_a_week(
    shop: MixShop, name: str, kind: MaterialKind, form: Form, days_kept: int | None
) -> None:
    with shop.database.writing() as session:
        stuff = material(session, name, kind=kind, form=form, policy=OIL_LIVES)
        shop.ids[name] = stuff.id or 0
    shop.can(name)
    end = ends(shop, jar_of(shop, (name, "20 g"), ("tap water", "100 ml")))
    assert (end == TODAY + days(days_kept)) if days_kept else (end is None or end > TODAY + days(60))


def test_a_jar_emptied_into_a_pot_takes_what_was_found_meanwhile_along(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil, amount="50 ml")
    with shop.database.writing() as session:
        asked = DrawAsked(once=once(), code=jar, amount="50 ml", job_id=shop.job)
        draw(session, shop.actor(Role.KEEPER), shop.now, asked)
    shop.now += timedelta(minutes=1)
    look(shop, oil, Found.RANCID)
    with shop.database.reading() as session:
        box = container(session, jar)
        assert [one.found for one in checks_of(session, box.id or 0)] == ["rancid"]
        assert box.state.value == "empty"
    with shop.database.writing() as session:
        back = ReturnAsked(once=once(), code=jar, amount="20 ml", job_id=shop.job)
        put_back(session, shop.actor(Role.KEEPER), shop.now, back)
    assert stands(shop, jar) is Standing.LOOK_FIRST
    holds(shop.database)


def test_an_opening_written_late_reaches_the_jars_and_the_mixes(shop: MixShop) -> None:
    oil = tin(shop, is_open=False, opened_on=None)
    jar, mixed = pour(shop, oil), jar_of(shop, ("boiled oil", "50 ml"), ("spirit", "50 ml"))
    early = TODAY - days(30)
    before = ends(shop, jar)
    with shop.database.writing() as session:
        asked = OpenAsked(once=once(), code=oil, happened_at=shop.now - days(30), late_reason=LATE)
        open_container(session, shop.actor(Role.KEEPER), shop.now, asked)
    assert before is not None and ends(shop, oil) == before - (TODAY - early)
    assert ends(shop, jar) == ends(shop, oil) and ends(shop, mixed) == ends(shop, oil)
    holds(shop.database)


def test_a_pouring_written_late_reaches_what_left_the_jar_since(shop: MixShop) -> None:
    old = tin(shop, packed_on=TODAY - days(400), received_on=TODAY - days(390), opened_on=TODAY - days(340))
    jar = pour(shop, tin(shop, opened_on=TODAY - days(30)), amount="400 ml", happened_at=shop.now - days(5))
    second = pour(shop, jar)
    fresh = ends(shop, second)
    pour(shop, old, into=jar, happened_at=shop.now - days(1))
    assert ends(shop, jar) == ends(shop, old) == ends(shop, second) != fresh
    holds(shop.database)


def test_an_earlier_opening_day_told_with_an_opening_counts(shop: MixShop) -> None:
    oil = tin(shop)
    with shop.database.writing() as session:
        asked = OpenAsked(once=once(), code=oil, opened_on=TODAY - days(80), job_id=shop.job)
        open_container(session, shop.actor(Role.KEEPER), shop.now, asked)
        assert container(session, oil).opened_on == TODAY - days(80)
    holds(shop.database)


def test_two_answers_that_contradict_are_refused(shop: MixShop) -> None:
    oil = tin(shop)
    with pytest.raises(Invalid, match="contradict each other"):
        look(shop, oil, Found.SOUND, outcome=CheckOutcome.FAILED)
    look(shop, oil, Found.SOUND, outcome=CheckOutcome.PASSED)


def test_nothing_goes_back_into_a_can_over_the_limit(shop: MixShop) -> None:
    can = shop.can("spirit")
    with shop.database.writing() as session:
        asked = DrawAsked(once=once(), code=can, amount="50 ml", job_id=shop.job)
        draw(session, shop.actor(Role.KEEPER), shop.now, asked)
        strip = CheckAsked(once=once(), code=can, peroxide_mg_l=Decimal(300))
        check_condition(session, shop.actor(Role.KEEPER), shop.now, strip)
    with pytest.raises(Refused, match="Do not open"), shop.database.writing() as session:
        back = ReturnAsked(once=once(), code=can, amount="20 ml", job_id=shop.job)
        put_back(session, shop.actor(Role.KEEPER), shop.now, back)


def test_a_name_put_right_to_a_peroxide_former_reaches_the_mixes_made_with_it(shop: MixShop) -> None:
    """Tetrahydrofuran, 109-99-9: Cornell's list B, opened 12 months."""
    with shop.database.writing() as session:
        lives = {"sealed_months": 60, "opened_months": 60}
        session.add(AgeingPolicyRow(kind=MaterialKind.SOLVENT, end="retest", set_at=shop.now, **lives))
    mixed = jar_of(shop, ("spirit", "100 ml"))
    again = mix_with(shop, mixed)
    before = ends(shop, again)
    with shop.database.writing() as session:
        stuff = session.get(Material, shop.ids["spirit"])
        assert stuff is not None
        said = replace(description_held(stuff), name="Tetrahydrofuran", cas="109-99-9")
        asked = Revision(once(), stuff.version, said=said, reason="Read the can again")
        revise_material(session, shop.actor(Role.KEEPER), shop.now, stuff.id or 0, asked)
    for code in (mixed, again):
        end = ends(shop, code)
        assert before is not None and end is not None and end < before
        assert end <= TODAY + days(366)
