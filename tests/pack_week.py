"""A week of acts at random over the demo shop, for what is told of its past days afterwards.

Each act is one that a page could send. One that is refused is no act; the names of those that were done are
counted, so that a week in which a kind never happens is seen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from random import Random

from sqlmodel import Session, col

from service.actions.arrange_places import PlaceAsked, change_place
from service.actions.arrivals import ReceiveAsked
from service.actions.container_events import MoveAsked, NotedAsked, OpenAsked, move, open_container, relabel
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.count_stock import CountAsked, count
from service.actions.decant import DecantAsked, decant
from service.actions.describe_room import RoomAsked, describe_room
from service.actions.describe_storage import (
    MaterialStorageAsked,
    PlaceStorageAsked,
    RulesAsked,
    VesselAsked,
    describe_material_storage,
    describe_place_storage,
    say_rule_sets,
    say_vessel,
)
from service.actions.do_check import DoneAsked, do_check
from service.actions.draw_stock import DrawAsked, draw
from service.actions.handle_rags import StepAsked, add_step
from service.actions.keep_sheets import SheetAsked, keep_sheet
from service.actions.lose_stock import DiscardAsked, LossAsked, discard, lose
from service.actions.manage_people import Description as PersonSaid
from service.actions.manage_people import change_person
from service.actions.receive_stock import receive
from service.actions.revise_material import Revision, description_held, facts_held, revise_material
from service.actions.set_checks import ChangeCheck, end_check, give_check
from service.actions.set_policy import PolicyAsked, set_policy
from service.actions.set_up_shop import Profile, change_profile
from service.actions.train import TrainedAsked, train
from service.actions.write_components import ComponentsAsked, write_components
from service.core.ageing_policies import PolicyEnd
from service.core.component_lines import Component
from service.core.findings import NotFound
from service.core.ledger import Destination
from service.core.materials import MaterialKind
from service.core.rags import RagStep
from service.core.recurring_checks import Result
from service.core.shelf_codes import make_code
from service.core.sources import Grade
from service.core.storage_rules import RuleSet, Vessel
from service.core.training import Group
from service.records.checks import RecurringCheck
from service.records.jobs import Job
from service.records.materials import Material
from service.records.people import Person
from service.records.places import Place, PlaceKind
from service.records.policy_queries import Subject
from service.records.rags import RagLoad
from service.records.rooms import RoomAir
from service.records.shop import ShopProfile
from service.records.stock import Movement
from service.records.store_storage import MaterialStorage, PlaceStorage
from tests.pack_week_work import WORK
from tests.week_at_shop import Act, Week, numbers

REASON = "It was found to be otherwise when the sheet was read again."
CLASSES = ("Flam. Liq. 2", "Flam. Liq. 3", "Skin Irrit. 2", "Aquatic Chronic 2", "STOT SE 3 H336")


def take_some(week: Week, session: Session) -> None:
    asked = DrawAsked(**week.box(session), amount=week.dice.choice(["5 g", "5 ml", "1 piece"]), looked=True)
    job = week.pick(session, Job, col(Job.closed_at).is_(None), col(Job.ends_by) > week.now)
    draw(session, week.keeper, week.now, replace(asked, job_id=job.id if job else None, **week.late()))


def weigh(week: Week, session: Session) -> None:
    amount = week.dice.choice(["40 g", "300 ml", "about 120 g", "0 g", "0 ml"])
    count(session, week.keeper, week.now, CountAsked(**week.box(session), amount=amount, reason=REASON))


def throw_away(week: Week, session: Session) -> None:
    to = week.dice.choice(list(Destination))
    discard(session, week.keeper, week.now, DiscardAsked(**week.box(session), destination=to, **week.late()))


def spill(week: Week, session: Session) -> None:
    lose(session, week.keeper, week.now, LossAsked(**week.box(session), amount="2 g", note="It tipped over."))


def carry(week: Week, session: Session) -> None:
    shelves = [PlaceKind.SHELF, PlaceKind.CABINET, PlaceKind.BENCH]
    place = week.pick(session, Place, col(Place.kind).in_(shelves))
    asked = MoveAsked(**week.box(session), place_id=place.id)
    if week.dice.random() < 0.2:
        asked = replace(asked, place_id=None, handed_to="Ida of the boat yard")
    move(session, week.keeper, week.now, replace(asked, **week.late()))


def take_in(week: Week, session: Session) -> None:
    row = week.pick(session, Material, col(Material.kind) != MaterialKind.MADE_MIX)
    place = week.pick(session, Place, col(Place.kind) == PlaceKind.CABINET)
    asked = ReceiveAsked(week.once(), row.id, 2, "250 g", place_id=place.id, over_reason=REASON)
    receive(session, week.keeper, week.now, replace(asked, **week.late()), code_chance(week.dice))


def pour_over(week: Week, session: Session) -> None:
    asked = DecantAsked(**week.box(session), amount="20 g", looked=True)
    decant(session, week.keeper, week.now, asked, code_chance(week.dice))


def code_chance(dice: Random) -> Callable[[], str]:
    return lambda: make_code(dice.randrange(10_000_000))


def open_one(week: Week, session: Session) -> None:
    open_container(session, week.keeper, week.now, OpenAsked(**week.box(session), **week.late()))


def label(week: Week, session: Session) -> None:
    relabel(session, week.keeper, week.now, NotedAsked(**week.box(session)))


def take_back(week: Week, session: Session) -> None:
    entry = week.pick(session, Movement, col(Movement.id) > 40)
    reverse(session, week.keeper, week.now, ReverseAsked(week.once(), entry.id, REASON))


def other_classes(week: Week, session: Session) -> None:
    row = week.pick(session, Material)
    classes = week.dice.choice([None, (), tuple(sorted(week.dice.sample(CLASSES, 2)))])
    facts = replace(facts_held(row), hazards=classes, hazards_source="a sheet read again")
    flash = week.dice.choice([None, Decimal(21), Decimal(64)])
    facts = replace(facts, flash_point_c=flash, no_flash_reason="")
    asked = Revision(week.once(), row.version, facts=facts, reason=REASON)
    revise_material(session, week.keeper, week.now, row.id, asked)


def other_name(week: Week, session: Session) -> None:
    row = week.pick(session, Material)
    said = replace(description_held(row), name=f"{row.name[:60]} {next(numbers)}", maker="Another maker")
    revise_material(session, week.keeper, week.now, row.id, Revision(week.once(), row.version, said=said))


def other_make_up(week: Week, session: Session) -> None:
    row = week.pick(session, Material, col(Material.kind) != MaterialKind.MADE_MIX)
    lines = tuple(
        Component(name, "", Decimal(low), Decimal(low + 10), (week.dice.choice(CLASSES),))
        for name, low in (("White spirit", 10), ("Drier, unnamed", 1))[: week.dice.randint(0, 2)]
    )
    asked = ComponentsAsked(week.once(), row.version, lines, "the sheet of 2026" if lines else "", REASON)
    write_components(session, week.keeper, week.now, row.id, asked)


def newer_sheet(week: Week, session: Session) -> None:
    row = week.pick(session, Material)
    asked = SheetAsked(week.once(), week.dice.choice(["us-hcs", "eu-clp"]), date(2026, 2, 1), True)
    keep_sheet(session, week.keeper, week.now, row.id, asked, week.folder)


def say_for_storage(week: Week, session: Session) -> None:
    row = week.pick(session, Material)
    held = session.get(MaterialStorage, row.id)
    flash = Decimal(week.dice.choice([30, 75, 141]))
    asked = MaterialStorageAsked(
        week.once(), held.version if held else 0, flash, "F", Decimal(300), "F", source="sheet, section 9"
    )
    describe_material_storage(session, week.keeper, week.now, row.id, asked)


def say_of_place(week: Week, session: Session) -> None:
    kinds = [PlaceKind.ROOM, PlaceKind.CABINET, PlaceKind.BUILDING]
    place = week.pick(session, Place, col(Place.kind).in_(kinds))
    held = session.get(PlaceStorage, place.id)
    storey = week.dice.choice([None, 1, 2, -1])
    asked = PlaceStorageAsked(week.once(), held.version if held else 0, storey=storey)
    describe_place_storage(session, week.keeper, week.now, place.id, asked)


def other_place(week: Week, session: Session) -> None:
    row = week.pick(session, Place, col(Place.kind).in_([PlaceKind.SHELF, PlaceKind.CABINET, PlaceKind.ROOM]))
    asked = PlaceAsked(
        week.once(), f"{row.name[:40]} {next(numbers)}", row.kind, row.parent_id, version=row.version
    )
    change_place(session, week.keeper, week.now, row.id, asked)


def other_air(week: Week, session: Session) -> None:
    room = week.pick(session, Place, col(Place.kind) == PlaceKind.ROOM)
    held = session.get(RoomAir, room.id)
    warm = Decimal(week.dice.randint(15, 38))
    asked = RoomAsked(week.once(), held.version if held else 0, Decimal(80), temperature_c=warm)
    describe_room(session, week.keeper, week.now, room.id, asked)


def other_tables(week: Week, session: Session) -> None:
    shop = session.get_one(ShopProfile, 1)
    chosen = tuple(one.value for one in week.dice.sample(list(RuleSet), 2))
    say_rule_sets(session, week.keeper, week.now, RulesAsked(week.once(), shop.version, chosen))


def other_law(week: Week, session: Session) -> None:
    shop = session.get_one(ShopProfile, 1)
    law = week.dice.choice(["us-hcs", "eu-clp", "un-ghs"])
    said = Profile(f"Ash workshop {next(numbers)}", shop.time_zone, law, shop.unit_system, 0, shop.currency)
    change_profile(session, week.keeper, week.now, shop.version, said)


def of_glass(week: Week, session: Session) -> None:
    box = week.box(session)
    vessel = week.dice.choice([None, *Vessel])
    say_vessel(session, week.keeper, week.now, VesselAsked(box["once"], box["code"], vessel))


def a_policy(week: Week, session: Session) -> None:
    row = week.pick(session, Material)
    asked = PolicyAsked(
        once=week.once(), subject=Subject(material_id=row.id), end=PolicyEnd.RETEST, reason=REASON,
        sealed_months=week.dice.randint(6, 48), opened_months=3, grade=Grade.MEMORY,
    )  # fmt: skip
    set_policy(session, week.keeper, week.now, asked)


def check_made(week: Week, session: Session) -> None:
    row = week.pick(session, RecurringCheck)
    result = week.dice.choice([Result.FINE, Result.NOT_FINE])
    asked = DoneAsked(once=week.once(), check_id=row.id, result=result, sentence=REASON, **week.late())
    do_check(session, week.keeper, week.now, asked)


def check_given(week: Week, session: Session) -> None:
    row = week.pick(session, RecurringCheck)
    asked = ChangeCheck(week.once(), row.id, row.version, owner=week.keeper.person_id)
    give_check(session, week.keeper, week.now, asked)


def check_ended(week: Week, session: Session) -> None:
    row = week.pick(session, RecurringCheck)
    end_check(session, week.keeper, week.now, ChangeCheck(week.once(), row.id, row.version, reason=REASON))


def taught(week: Week, session: Session) -> None:
    asked = TrainedAsked(
        once=week.once(), people=(week.keeper.person_id,), groups=(week.dice.choice(list(Group)),),
        topic=REASON, taught_by="Tilda Marsh",
    )  # fmt: skip
    train(session, week.keeper, week.now, asked)


def renamed(week: Week, session: Session) -> None:
    row = week.pick(session, Person, col(Person.is_script).is_(False), col(Person.active))
    name = f"{row.name[:40]} {next(numbers)}"
    said = PersonSaid(name, row.role, row.sign_in_name, row.expires_on, row.email)
    today = week.now.date()
    change_person(session, week.keeper, week.now, today, row.id or 0, row.version, said)


def rags_away(week: Week, session: Session) -> None:
    load = week.pick(session, RagLoad, col(RagLoad.ended_at).is_(None))
    can = week.pick(session, Place, col(Place.kind) == PlaceKind.RAG_CAN)
    if load is None:
        raise NotFound("No load stands.")
    asked = StepAsked(step=RagStep.IN_CAN, loads=(load.id,), once=week.once(), can_id=can.id, **week.late())
    add_step(session, week.keeper, week.now, asked)


ACTS: tuple[Act, ...] = (
    take_some, take_some, weigh, throw_away, spill, carry, carry, open_one, label, take_back, take_in,
    pour_over, other_classes, other_classes, other_name, other_make_up, newer_sheet, say_for_storage,
    say_of_place, other_place, other_air, other_tables, other_law, of_glass, a_policy, check_made,
    check_given, check_ended, taught, renamed, rags_away, *WORK,
)  # fmt: skip
