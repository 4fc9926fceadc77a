"""What is thrown away from a pot is waste of its month, and stands in no drum until told."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction
from typing import Any

import pytest

from service.actions.add_to_batch import AddAsked, add
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.drop_batch import GiveUpAsked, give_up
from service.actions.fill_drum import SortAsked, put_discards_in
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.judge_store import look_at_store
from service.actions.settle import Settled
from service.actions.tell_rest import RestAsked, tell_rest
from service.core.access import Role
from service.core.findings import Invalid, Refused
from service.core.ledger import Destination
from service.core.materials import Form
from service.core.pot_waste import REST_NOT_TOLD, PotWentTo
from service.core.waste_drums import Held
from service.core.waste_record import WasteLine
from service.core.waste_rules import Kind
from service.records.engine import Database
from service.records.materials import Material
from service.records.pot_waste import nobody_said_where, pots_went
from tests.builders import NOW
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import holds, once
from tests.waste_yard import Yard

SPIRIT = Fraction(78, 100)


@pytest.fixture
def shop(database: Database) -> MixShop:
    return make_mix_shop(database)


@pytest.fixture
def yard(shop: MixShop) -> Yard:
    return Yard(shop.database, shop.people)


def pot(shop: MixShop, litres: int = 20) -> int:
    """A running batch of spirit alone; its number."""
    code = shop.can("spirit", litres * 1_000_000)
    recipe = shop.write(("spirit", f"{litres} l"), name=f"Rinse {code}")
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    assert shop.left(code) == 0
    return batch


def drop(shop: MixShop, batch: int, went_to: Destination | None = Destination.WASTE_DRUM) -> dict[str, Any]:
    with shop.database.writing() as session:
        asked = GiveUpAsked(once=once(), batch_id=batch, reason="Wrong colour.", went_to=went_to)
        return give_up(session, shop.actor(), shop.now, asked).result


def end(shop: MixShop, batch: int, *jars: str, **said: Any) -> dict[str, Any]:
    told = {"form": Form.LIQUID, "jars": tuple(JarAsked(jar) for jar in jars)} | said
    with shop.database.writing() as session:
        asked = FinishAsked(once=once(), batch_id=batch, **told)
        return finish(session, shop.actor(), shop.now, asked, once).result


def lines(yard: Yard) -> list[WasteLine]:
    return [line for _, many in yard.record().months for line in many]


def kg(yard: Yard) -> tuple[Fraction, bool]:
    [(month, _)] = yard.record().months
    mass = month.month.of(Kind.WASTE)
    return mass.kg, mass.more


def sort(shop: MixShop, drum: int, movements: list[int]) -> None:
    with shop.database.writing() as session:
        asked = SortAsked(once(), drum, tuple(movements))
        put_discards_in(session, shop.actor(Role.KEEPER), shop.now, asked)


def test_a_pot_given_up_is_waste_of_its_month_and_in_no_drum_until_told(shop: MixShop, yard: Yard) -> None:
    drop(shop, pot(shop, 120))
    assert kg(yard) == (120 * SPIRIT, False)
    [line] = lines(yard)
    assert line.where == "batch 1 given up: into the waste drum" and "mixed in batch 1" in line.what
    [loose] = yard.record().in_no_drum
    assert loose.batch_id == 1 and "waste-in-no-drum" in {one.code for one in yard.record().findings}
    assert [one.ref for one in yard.due()] == ["waste-in-no-drum"]
    drum = yard.begin()["drum"]
    sort(shop, drum, [loose.movement_id])
    assert yard.held(drum) == (Held(93_600_000), Held(120_000_000))
    assert yard.record().in_no_drum == [] and kg(yard) == (120 * SPIRIT, False)
    holds(shop.database)


@pytest.mark.parametrize("where", [Destination.HAULER, Destination.RAG_CAN, Destination.DRY_REFUSE])
def test_a_pot_given_up_elsewhere_counts_without_a_drum(
    shop: MixShop, yard: Yard, where: Destination
) -> None:
    drop(shop, pot(shop), where)
    assert kg(yard) == (20 * SPIRIT, False) and yard.record().in_no_drum == []


def test_no_supplier_takes_back_what_was_mixed_here(shop: MixShop, yard: Yard) -> None:
    batch = pot(shop)
    with pytest.raises(Invalid) as caught:
        drop(shop, batch, Destination.RETURNED_TO_SUPPLIER)
    assert set(caught.value.errors) == {"went_to"}
    [jar] = end(shop, batch, "20 l")["jars"]
    assert yard.record().months == []
    yard.throw(jar["code"], destination=Destination.RETURNED_TO_SUPPLIER)
    assert kg(yard) == (0, True), "the density of the mix is not known"


def test_a_loss_nobody_told_the_way_of_is_waste_of_unknown_destination(shop: MixShop, yard: Yard) -> None:
    end(shop, pot(shop), "5 l", loss="15 l", loss_note="poured into the waste drum")
    assert kg(yard) == (15 * SPIRIT, False)
    [line] = lines(yard)
    assert line.where == "batch 1 finished: nobody said where it went" and line.about
    assert yard.record().in_no_drum == []


def test_a_loss_into_the_waste_drum_is_in_no_drum_with_its_share(shop: MixShop, yard: Yard) -> None:
    end(shop, pot(shop), "5 l", loss="15 l", went_to=PotWentTo.WASTE_DRUM)
    [loose] = yard.record().in_no_drum
    drum = yard.begin()["drum"]
    sort(shop, drum, [loose.movement_id])
    assert yard.held(drum) == (Held(11_700_000), Held(15_000_000))


@pytest.mark.parametrize("where", [PotWentTo.EVAPORATED, PotWentTo.ON_THE_WORK])
def test_what_evaporated_or_went_onto_the_work_is_no_waste(
    shop: MixShop, yard: Yard, where: PotWentTo
) -> None:
    end(shop, pot(shop), "5 l", loss="15 l", went_to=where)
    assert yard.record().months == []
    end(shop, pot(shop), "5 l", loss="5 l", went_to=where)
    assert kg(yard) == (10 * SPIRIT, False), "10 l are not explained"


def test_a_pot_of_which_nobody_told_anything_is_a_line_of_unknown_amount(shop: MixShop, yard: Yard) -> None:
    end(shop, pot(shop, 8))
    assert kg(yard) == (0, True)


def test_what_is_in_no_jar_makes_its_month_at_least(shop: MixShop, yard: Yard) -> None:
    end(shop, pot(shop, 8), "1 l", made="8 l", loss="0 l")
    assert kg(yard) == (0, True)
    [line] = lines(yard)
    assert "in no jar" in line.where
    end(shop, pot(shop, 8), "1 l", made="8 l", went_to=PotWentTo.WASTE_DRUM)
    assert kg(yard) == (7 * SPIRIT, True) and len(yard.record().in_no_drum) == 1


def test_what_is_not_explained_beside_the_work_is_not_said_to_be_on_it(shop: MixShop, yard: Yard) -> None:
    end(shop, pot(shop, 8), made="1 l", loss="1 l", went_to=PotWentTo.ON_THE_WORK)
    [line] = lines(yard)
    assert "onto the work" not in line.where and "nobody said where it went" in line.where


def test_less_than_went_in_is_waste_and_used_straight_away_is_not(shop: MixShop, yard: Yard) -> None:
    end(shop, pot(shop), went_to=PotWentTo.ON_THE_WORK)
    end(shop, pot(shop), "19900 ml")
    assert yard.record().months == []
    end(shop, pot(shop), "15 l")
    assert kg(yard) == (5 * SPIRIT, False)
    end(shop, pot(shop), loss_note="the rest was poured away")
    assert kg(yard) == (5 * SPIRIT, True)


def test_jars_that_were_taken_back_made_nothing(shop: MixShop, yard: Yard) -> None:
    [jar] = end(shop, pot(shop), "20 l")["jars"]
    with shop.database.writing() as session:
        asked = ReverseAsked(once(), jar["movement"], "It was never filled.")
        reverse(session, shop.actor(Role.KEEPER), shop.now, asked)
    assert kg(yard) == (20 * SPIRIT, False)


def test_water_beside_it_weighs_and_takes_room_too(shop: MixShop, yard: Yard) -> None:
    batch = pot(shop)
    with shop.database.writing() as session:
        asked = AddAsked(once=once(), batch_id=batch, amount="30 l", material_id=shop.ids["tap water"])
        add(session, shop.actor(), shop.now, asked)
    drop(shop, batch)
    assert kg(yard) == (20 * SPIRIT + 30, False)
    drum = yard.begin()["drum"]
    sort(shop, drum, [one.movement_id for one in yard.record().in_no_drum])
    assert yard.held(drum) == (Held(45_600_000), Held(50_000_000))


def test_what_nobody_measured_or_has_no_density_is_at_least(shop: MixShop, yard: Yard) -> None:
    first, second = pot(shop), pot(shop)
    drop(shop, first)
    with shop.database.writing() as session:
        session.get_one(Material, shop.ids["spirit"]).density_g_ml = None
    drop(shop, second)
    assert kg(yard) == (0, True)
    assert {line.why_not[:24] for line in lines(yard)} == {"Its density is not known"}


def test_a_pot_of_which_no_share_is_known_is_one_line(shop: MixShop, yard: Yard) -> None:
    for name in ("raw umber", "boiled oil", "spirit"):
        shop.can(name)
    end(shop, int(shop.start(shop.keep()).result["batch"]), "300 ml")
    [line] = lines(yard)
    assert (line.what, line.kg) == ("What was mixed in batch 1 (Walnut stain)", None)


def test_a_past_day_had_not_heard_of_it(shop: MixShop, yard: Yard) -> None:
    batch = pot(shop)
    shop.now += timedelta(days=2)
    drop(shop, batch)
    record = yard.record(NOW, NOW + timedelta(days=1))
    assert (record.months, record.in_no_drum) == ([], []) and len(yard.record().in_no_drum) == 1


def test_a_pot_in_a_drum_that_left_is_not_taken_back(shop: MixShop, yard: Yard) -> None:
    drop(shop, pot(shop))
    [loose] = yard.record().in_no_drum
    drum = yard.begin()["drum"]
    sort(shop, drum, [loose.movement_id])
    yard.leave(drum, now=shop.now + timedelta(minutes=1))
    with pytest.raises(Refused) as caught, shop.database.writing() as session:
        asked = ReverseAsked(once(), loose.movement_id, "It never went in.")
        reverse(session, shop.actor(Role.KEEPER), shop.now + timedelta(minutes=2), asked)
    assert "drum-gone" in caught.value.verdict.codes


def tell(shop: MixShop, batch: int, where: PotWentTo | None) -> Settled:
    with shop.database.writing() as session:
        return tell_rest(session, shop.actor(), shop.now, RestAsked(once(), batch, where))


def left_in_store(shop: MixShop) -> list[tuple[float | None, bool]]:
    """Litres that the storage sums count of what pots left, and whether it may be elsewhere too."""
    with shop.database.reading() as session:
        return [
            (None if box.what.volume_l is None else float(box.what.volume_l), box.adrift)
            for box in look_at_store(session).boxes if "left in no jar" in box.what.name
        ]  # fmt: skip


def test_what_is_in_no_jar_stays_in_the_storage_sums_until_somebody_says_where_it_went(
    shop: MixShop, yard: Yard
) -> None:
    done = end(shop, pot(shop, 8), "1 l", made="8 l")
    assert REST_NOT_TOLD in {one["code"] for one in done["findings"]}
    assert left_in_store(shop) == [(None, True)]
    tell(shop, 1, PotWentTo.ON_THE_WORK)
    assert left_in_store(shop) == [] and yard.record().months == []
    with pytest.raises(Refused):
        tell(shop, 1, PotWentTo.EVAPORATED)
    done = end(shop, pot(shop), "5 l")
    assert REST_NOT_TOLD in {one["code"] for one in done["findings"]}
    assert left_in_store(shop) == [(15.0, True)]
    with pytest.raises(Invalid):
        tell(shop, 2, None)
    tell(shop, 2, PotWentTo.WASTE_DRUM)
    assert left_in_store(shop) == [] and len(yard.record().in_no_drum) == 1
    done = end(shop, pot(shop), "20 l")
    assert REST_NOT_TOLD not in {one["code"] for one in done["findings"]}


@pytest.mark.parametrize(
    ("where", "month"),
    [
        (PotWentTo.ON_THE_WORK, (Fraction(78, 100), False)), (PotWentTo.HAULER, (Fraction(78, 100), True)),
        (PotWentTo.WASTE_DRUM, (7 * SPIRIT, False)),
    ],
)  # fmt: skip
def test_a_loss_into_the_drum_says_nothing_of_what_is_in_no_jar_beside_it(
    shop: MixShop, yard: Yard, where: PotWentTo, month: tuple[Fraction, bool]
) -> None:
    end(shop, pot(shop, 8), "1 l", made="8 l", loss="1 l", went_to=PotWentTo.WASTE_DRUM)
    assert left_in_store(shop) == [(None, True)] and kg(yard) == (Fraction(78, 100), True)
    tell(shop, 1, where)
    assert left_in_store(shop) == [] and kg(yard) == month and len(yard.record().in_no_drum) == 1


def test_what_is_told_later_is_not_in_the_book_of_before(shop: MixShop, yard: Yard) -> None:
    end(shop, pot(shop), "5 l")
    before = shop.now
    shop.now += timedelta(days=2)
    tell(shop, 1, PotWentTo.WASTE_DRUM)
    record = yard.record(before, before + timedelta(days=1))
    assert record.in_no_drum == [] and [line.where for _, many in record.months for line in many] == [
        "batch 1 finished: nobody said where it went"
    ]
    assert len(yard.record().in_no_drum) == 1


def test_batches_of_which_all_is_told_are_left_out_before_they_are_read(shop: MixShop) -> None:
    for where in (None, *PotWentTo):
        for said in ({}, {"made": "19 l"}, {"loss": "1 l"}, {"made": "18 l", "loss": "1 l"}):
            end(shop, pot(shop), went_to=where, **said)
            end(shop, pot(shop), "5 l", went_to=where, **said)
    for drum in (Destination.WASTE_DRUM, Destination.HAULER):
        drop(shop, pot(shop), drum)
    with shop.database.reading() as session:
        every = [one for one in pots_went(session) if one.destination is None]
        assert nobody_said_where(session) == every and len({one.batch_id for one in every}) > 8
