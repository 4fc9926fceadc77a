"""Playing one scene of the demo: the words of its data turned into the act of the same name.

Every act is handed the time of its scene as its `now`, so nothing is a late entry.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from sqlmodel import Session, col, select

from service.actions.arrange_places import PlaceAsked, add_place
from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.check_condition import CheckAsked, check_condition
from service.actions.check_mix import MixAsked, check_mix, keep_check
from service.actions.describe_material import (
    MaterialAsked,
    describe_material,
    published_description,
    published_entry,
)
from service.actions.describe_room import RoomAsked, describe_room
from service.actions.draw_stock import DrawAsked, ReturnAsked, draw, put_back
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.handle_rags import StepAsked, add_step
from service.actions.keep_sheets import SheetAsked, keep_sheet
from service.actions.keep_wipes import BeginAsked, begin_wipes
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.make_batch import SetAsideAsked, StartAsked, set_aside, start
from service.actions.read_recipe import LineAsked
from service.actions.receive_stock import receive
from service.actions.run_job import JobAsked, close_job, open_job
from service.actions.witness import witness_head
from service.actions.write_components import ComponentsAsked, write_components
from service.actions.write_recipe import RecipeAsked, write_recipe
from service.core.access import Actor
from service.core.component_lines import Component
from service.core.conditions import Found
from service.core.containers import Condition
from service.core.ledger import Destination
from service.core.material_entry import Description, KeeperFacts
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.core.pot_waste import PotWentTo
from service.core.rag_log import Head
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.demo_loader import sample_scene
from service.demo_loader.tale import FIRST_DAY, Scene, Times, read
from service.records.jobs import JobKind
from service.records.knowledge import known
from service.records.materials import Material
from service.records.places import PlaceKind
from service.records.rags import RagLoad
from service.records.rooms import AirFrom


@dataclass
class Stage:
    """What the scenes need to know of each other: who and what the short names of the data mean."""

    session: Session
    times: Times
    folder: Path
    actors: dict[str, Actor] = field(default_factory=dict)
    places: dict[str, int] = field(default_factory=dict)
    materials: dict[str, int] = field(default_factory=dict)
    boxes: dict[str, str] = field(default_factory=dict)
    jobs: dict[str, int] = field(default_factory=dict)
    recipes: dict[str, int] = field(default_factory=dict)
    batches: dict[str, int] = field(default_factory=dict)
    samples: dict[str, int] = field(default_factory=dict)
    heads: list[Head] = field(default_factory=list)
    counted: int = 0

    def once(self) -> str:
        """The next key. Also a chance of its own: the codes of the demo are the same on every machine."""
        self.counted += 1
        return f"demo-{self.counted:05}"

    def days_ago(self, days: int | None) -> date | None:
        return None if days is None else self.times.today - timedelta(days=days)


def set_places(stage: Stage) -> None:
    """The rooms, shelves and cans, on the first day."""
    keeper = stage.actors["tilda"]
    for n, row in enumerate(read("story")["places"]):
        at = stage.times.on(FIRST_DAY, _minute(2 + n // 2))
        said = {k: v for k, v in row.items() if k not in ("key", "kind", "name", "within", "air")}
        for name in ("metal", "lid", "self_closing", "listed", "detached", "floor_cannot_burn"):
            if name in said:
                said[name] = Unknown(said[name])
        asked = PlaceAsked(
            stage.once(), row["name"], PlaceKind(row["kind"]),
            stage.places[row["within"]] if "within" in row else None, **said,
        )
        answer = add_place(stage.session, keeper, at, asked, stage.once)
        stage.places[row["key"]] = answer.result["place"]
        if "air" in row:
            _set_air(stage, row["key"], row["air"])


def _set_air(stage: Stage, key: str, air: dict[str, str]) -> None:
    """What is known of a room's air; its key of its own leaves the codes of the places as they are."""
    asked = RoomAsked(
        f"demo-air-{key}", air_from=AirFrom(air["air_from"]), local_exhaust=Unknown(air["local_exhaust"]),
        volume_m3=Decimal(air["volume_m3"]), fresh_air_m3_h=Decimal(air["fresh_air_m3_h"]),
        mixing_factor=Decimal(air["mixing_factor"]), temperature_c=Decimal(air["temperature_c"]),
    )  # fmt: skip
    at = stage.times.on(FIRST_DAY, _minute(30))
    describe_room(stage.session, stage.actors["tilda"], at, stage.places[key], asked)


def _minute(minute: int) -> time:
    return time(9, minute)


def describe_materials(stage: Stage) -> None:
    """The materials with their facts and sheets, on the first day."""
    keeper = stage.actors["tilda"]
    for n, row in enumerate(read("materials")["materials"]):
        at = stage.times.on(FIRST_DAY, _minute(10 + n // 2))
        published = known(row["known"]) if "known" in row else None
        if published is not None:
            said, facts = published_description(published), published_entry(published)
        else:
            said = Description(row["name"], MaterialKind(row["kind"]), Form(row["form"]))
            facts = KeeperFacts()
        asked = MaterialAsked(stage.once(), _said(said, row), _facts(facts, row), row.get("known"))
        number = describe_material(stage.session, keeper, at, asked).result["material"]
        stage.materials[row["key"]] = number
        if row.get("sheet"):
            sheet = SheetAsked(stage.once(), read("shop")["regime"], stage.days_ago(400), copied_whole=True)
            keep_sheet(stage.session, keeper, at, number, sheet, stage.folder)
        if "components" in row:
            version = stage.session.get_one(Material, number).version
            lines = tuple(_component(one) for one in row["components"])
            said_in = "section 3 of the invented sheet of the demo"
            told = ComponentsAsked(stage.once(), version, lines, said_in)
            write_components(stage.session, keeper, at, number, told)


def _component(row: Mapping[str, Any]) -> Component:
    low, high = (Decimal(figure) for figure in row["percent"])
    classes = tuple(row["hazards"]) if "hazards" in row else None
    return Component(row["name"], row.get("cas", ""), low, high, classes)


def _said(said: Description, row: Mapping[str, Any]) -> Description:
    changes: dict[str, Any] = {k: row[k] for k in ("name", "maker", "ci_name", "note") if k in row}
    if "basis" in row:
        changes["basis"] = Basis(row["basis"])
    return replace(said, **changes)


def _facts(facts: KeeperFacts, row: Mapping[str, Any]) -> KeeperFacts:
    plain = ("binder", "self_heating_reason", "ventilation_class", "no_flash_reason", "not_stocked")
    changes: dict[str, Any] = {k: row[k] for k in plain if k in row}
    invented = "invented supplier's sheet of the demo"
    if "hazards" in row:
        changes |= {"hazards": tuple(row["hazards"]), "hazards_source": invented}
    if "toxic_metals" in row:
        changes["toxic_metals"] = tuple(row["toxic_metals"])
    if "self_heating" in row:
        changes["self_heating"] = SelfHeating(row["self_heating"])
    if "has_drier" in row:
        changes["has_drier"] = Unknown(row["has_drier"])
    if "oil_share" in row:
        changes["oil_share_percent"] = Decimal(row["oil_share"])
    if "density" in row:
        changes |= {"density_g_ml": Decimal(row["density"]), "density_source": invented}
    if "bulk" in row:
        low, high = (Decimal(figure) for figure in row["bulk"])
        changes |= {"bulk_low_g_ml": low, "bulk_high_g_ml": high, "bulk_source": invented}
    if "flash_point" in row:
        changes |= {"flash_point_c": Decimal(row["flash_point"]), "no_flash_reason": ""}
        changes["flash_point_method"] = row["flash_method"]
    if "ventilation_class" in row:
        changes["ventilation_source"] = invented
    return replace(facts, **changes)


def play(stage: Stage, scene: Scene) -> None:
    """One scene at its time, by its person."""
    at = stage.times.of(scene)
    _ACTS[scene["act"]](stage, stage.actors[scene["who"]], at, scene)


def _receive(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    plain = ("amount", "capacity", "supplier", "lot", "opened", "note")
    asked = ReceiveAsked(
        stage.once(),
        stage.materials[scene["material"]],
        count=len(scene["boxes"]),
        place_id=stage.places[scene["place"]],
        origin=Origin(scene.get("origin", "supplier")),
        packed_on=stage.days_ago(scene.get("packed_days")),
        opened_on=stage.days_ago(scene.get("opened_days")),
        condition=Condition(scene.get("condition", "sound")),
        sheet_came=Unknown(scene.get("sheet_came", "not-known")),
        price=Decimal(scene["price"]) if "price" in scene else None,
        **{name: scene[name] for name in plain if name in scene},
    )
    came = receive(stage.session, actor, at, asked, stage.once).result["containers"]
    stage.boxes |= {name: box["code"] for name, box in zip(scene["boxes"], came, strict=True)}


def _recipe(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    lines = tuple(LineAsked(stage.materials[row[0]], *row[1:]) for row in scene["lines"])
    plain = {name: scene[name] for name in ("makes", "purpose", "note") if name in scene}
    asked = RecipeAsked(stage.once(), scene["name"], lines, **plain)
    stage.recipes[scene["key"]] = write_recipe(stage.session, actor, at, asked).result["recipe"]


def _check(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    code = stage.boxes[scene["box"]]
    asked = CheckAsked(once=stage.once(), code=code, found=Found(scene["found"]), note=scene["note"])
    check_condition(stage.session, actor, at, asked)


def _discard(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    where = Destination(scene["destination"])
    code = stage.boxes[scene["box"]]
    asked = DiscardAsked(once=stage.once(), code=code, destination=where, note=scene["note"])
    discard(stage.session, actor, at, asked)


def _draw(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    job = stage.jobs.get(scene.get("job", ""))
    code = stage.boxes[scene["box"]]
    asked = DrawAsked(once=stage.once(), code=code, amount=scene["amount"], job_id=job)
    draw(stage.session, actor, at, asked)


def _return(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    code = stage.boxes[scene["box"]]
    asked = ReturnAsked(
        once=stage.once(), code=code, amount=scene["amount"], job_id=stage.jobs[scene["job"]]
    )
    put_back(stage.session, actor, at, asked)


def _job(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    ends = None
    if "ends" in scene:
        ends = stage.times.on(scene["day"], scene["ends"])
    elif "ends_part" in scene:
        ends = stage.times.part(scene["ends_part"])
    elif "ends_after_minutes" in scene:
        ends = stage.times.end + timedelta(minutes=scene["ends_after_minutes"])
    asked = JobAsked(
        stage.once(), scene["name"], JobKind(scene["kind"]), stage.places[scene["place"]],
        people=tuple(stage.actors[key].person_id for key in scene.get("people", ())), ends_at=ends,
    )
    stage.jobs[scene["key"]] = open_job(stage.session, actor, at, asked).result["job"]


def _close(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    close_job(stage.session, actor, at, stage.jobs[scene["job"]], stage.once(), scene["note"])


def _rags(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    wanted = select(RagLoad.id).where(col(RagLoad.job_id) == stage.jobs[scene["job"]])
    loads = tuple(number for number in stage.session.exec(wanted).all() if number is not None)
    days = scene.get("collected_in_days")
    asked = StepAsked(
        stage.once(),
        loads,
        RagStep(scene["step"]),
        can_id=stage.places.get(scene.get("can", "")),
        water=Water(scene["water"]) if "water" in scene else None,
        removal=Removal(RemovalHow(scene["how"]), scene["named"]) if "how" in scene else None,
        witness=scene.get("witness", ""),
        count=scene.get("count"),
        mass=scene.get("mass", ""),
        collected_on=None if days is None else stage.times.today + timedelta(days=days),
    )
    add_step(stage.session, actor, at, asked)


def _kept(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> int | None:
    mix = check_mix(
        stage.session, actor, at, MixAsked(stage.recipes[scene["recipe"]], scene["amount"])
    )
    return keep_check(stage.session, actor, at, mix).id


def _aside(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    asked = SetAsideAsked(once=stage.once(), check_id=_kept(stage, actor, at, scene))
    stage.batches[scene["key"]] = set_aside(stage.session, actor, at, asked).result["batch"]


def _batch(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    looked = tuple(stage.boxes.values()) if scene.get("look") else ()
    asked = StartAsked(
        once=stage.once(), check_id=_kept(stage, actor, at, scene), job_id=stage.jobs[scene["job"]],
        looked=looked,
    )
    stage.batches[scene["key"]] = start(stage.session, actor, at, asked).result["batch"]


def _finish(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    jars = tuple(JarAsked(amount, stage.places[place], holds) for amount, place, holds in scene["jars"])
    asked = FinishAsked(
        once=stage.once(), batch_id=stage.batches[scene["batch"]], jars=jars, made=scene.get("made", ""),
        loss_note=scene["loss_note"], form=Form(scene["form"]), went_to=PotWentTo(scene["went_to"]),
    )
    filled = finish(stage.session, actor, at, asked, stage.once).result["jars"]
    stage.boxes |= {name: jar["code"] for name, jar in zip(scene["boxes"], filled, strict=True)}


def _wipes(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    asked = BeginAsked(
        stage.once(), stage.places[scene["can"]], at.astimezone(stage.times.zone).date(), Unknown.YES,
        Unknown.YES, scene["note"],
    )  # fmt: skip
    begin_wipes(stage.session, actor, at, asked)


def _witness(stage: Stage, actor: Actor, at: datetime, scene: Scene) -> None:
    row = witness_head(stage.session, actor, at, stage.folder, scene["where"])
    stage.heads.append(Head(row.count, row.hash, row.at.astimezone(UTC), row.where))


_ACTS: Final[Mapping[str, Callable[[Stage, Actor, datetime, Scene], None]]] = {
    "receive": _receive, "recipe": _recipe, "check": _check, "discard": _discard, "draw": _draw,
    "return": _return, "job": _job, "close": _close, "rags": _rags, "aside": _aside, "batch": _batch,
    "finish": _finish, "witness": _witness, "wipes": _wipes, "sample": sample_scene.begin,
    "add": sample_scene.put_in, "judge": sample_scene.judge,
}  # fmt: skip
