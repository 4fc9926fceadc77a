"""Loading the demo: the shop and its people, then every scene at its time, all or nothing."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from datetime import datetime, time, timedelta
from functools import partial
from heapq import merge
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from service.actions.manage_people import Description, add_person, set_password, set_pin
from service.actions.passwords import Hasher
from service.actions.set_up_shop import (
    FirstKeeper,
    Profile,
    add_number,
    add_shifts,
    change_emergency_text,
    change_profile,
    set_up,
)
from service.actions.tablets import make_device
from service.actions.witness import FILE_NAME, append_head
from service.clock import machine_zone
from service.config import Settings
from service.core.access import Actor, Role
from service.core.jobs import ShiftHours
from service.demo_loader.checks_scene import Round
from service.demo_loader.drums_scene import Drums
from service.demo_loader.scenes import Stage, describe_materials, play, set_places
from service.demo_loader.storage_scene import fill_cabinet
from service.demo_loader.tale import FIRST_DAY, read, shifts, times
from service.demo_loader.term_scene import lay_out
from service.records.engine import Database
from service.records.people import Person
from service.records.shop import ShopProfile


def load_demo(
    database: Database,
    settings: Settings,
    now: datetime,
    zone: str | None = None,
    hasher: Hasher | None = None,
) -> None:
    """Fill an empty, migrated database with the demo shop as it would be at ``now`` (aware).

    Args:
        settings: their data folder gets the file of witnessed heads.
        zone: the shop's zone; None = the one this machine is set to.
        hasher: makes the hashes of the demo's password and PIN; slow, so it is asked before the write.

    Raises:
        NotAllowed: there is a keeper already.
    """
    shop = read("shop")
    hasher = hasher or Hasher()
    hashes = hasher.make(shop["password"]), hasher.make(shop["pin"])
    zone = zone or machine_zone()
    when = times(now, ZoneInfo(zone))
    # The file of heads is written only once the entries it names are in the database for good.
    with tempfile.TemporaryDirectory() as folder:
        with database.writing() as session:
            stage = Stage(session, when, Path(folder))
            _set_the_shop_up(stage, zone, hashes, shifts(now, when.zone))
            set_places(stage)
            describe_materials(stage)
            _play_all(stage)
            lay_out(session, stage.actors["tilda"], when.end, when.today, stage.materials, stage.recipes)
            fill_cabinet(session, stage.actors["tilda"], when.end, stage.places)
            profile = session.get_one(ShopProfile, 1)
            profile.is_demo = True
            session.add(profile)
        for head in stage.heads:
            append_head(settings.data / FILE_NAME, head)


load = load_demo
"""What the command calls."""


def _play_all(stage: Stage) -> None:
    """The story, and the checks and the waste drums between its scenes, in the order of time."""
    rounds, drums = Round(stage), Drums(stage)
    tellers: dict[str, Callable[[Any], None]] = {
        "story": partial(play, stage), "checks": rounds.play, "drums": drums.play,
    }  # fmt: skip
    told = [
        [(stage.times.of(scene), scene, tell) for scene in read(name)["scenes"]]
        for name, tell in tellers.items()
    ]
    for _, scene, tell in merge(*told, key=lambda one: one[0]):
        tell(scene)


def _set_the_shop_up(stage: Stage, zone: str, hashes: tuple[str, str], week: list[ShiftHours]) -> None:
    """The profile, the people, the week, the page Spill or fire, the tablet."""
    shop, session = read("shop"), stage.session
    at = stage.times.on(FIRST_DAY, time(9))
    today = at.astimezone(stage.times.zone).date()
    first = shop["people"][0]
    keeper = set_up(
        session, at, today, FirstKeeper(first["name"], first["key"], hashes[0], shop["name"], zone)
    )
    tilda = _actor(keeper)
    stage.actors[first["key"]] = tilda
    set_pin(session, tilda, at, tilda.person_id, hashes[1])
    for row in shop["people"][1:]:
        until = stage.times.today + timedelta(days=row["days_left"]) if "days_left" in row else None
        said = Description(row["name"], Role(row["role"]), row["key"], until)
        person = add_person(session, tilda, at, today, said)
        actor = _actor(person)
        stage.actors[row["key"]] = actor
        set_password(session, None, at, actor.person_id, hashes[0])
        if person.role is not Role.READER:
            set_pin(session, tilda, at, actor.person_id, hashes[1])
    version = session.get_one(ShopProfile, 1).version
    profile = Profile(shop["name"], zone, shop["regime"], shop["unit_system"], 0, shop["currency"])
    version = change_profile(session, tilda, at, version, profile).version
    change_emergency_text(session, tilda, at, version, shop["emergency_text"].strip())
    for number in shop["numbers"]:
        add_number(session, tilda, at, number["who"], number["number"])
    for one in week:
        add_shifts(session, tilda, at, one.name, [one.weekday], one.starts, one.ends)
    make_device(session, tilda, at, shop["tablet"])


def _actor(person: Person) -> Actor:
    assert person.id is not None
    return Actor(person.id, person.name, person.role)

