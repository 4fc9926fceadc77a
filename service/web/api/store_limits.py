"""`GET /api/storage`: the store against its storage tables; and the facts that they ask."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.arrange_places import the_place
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
from service.actions.judge_store import look_at_store
from service.actions.settle import the_shop
from service.actions.store_moves import suggest_moves
from service.core.materials import Unknown
from service.core.storage_limits import NEAR_SHARE
from service.core.storage_places import PlaceKind
from service.core.storage_rules import RuleSet, UseGroup, Vessel
from service.core.store_limits import Area
from service.records.material_queries import the_material
from service.records.store_storage import MaterialStorage, PlaceStorage
from service.web.access_gate import Signed
from service.web.api.containers import CodePath
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.posting import PROBLEMS, PostModel, acting_for
from service.web.api.storage_answers import (
    LimitOut,
    PairOut,
    RuleSetOut,
    TotalOut,
    limit_out,
    pair_out,
    total_out,
)
from service.web.api.storage_measures import AreaIn, TemperatureIn
from service.web.deps import Data, Now
from service.web.fields import Id, Version
from service.web.store_view import CAUTION

router = APIRouter(prefix="/api", tags=["storage"], responses=PROBLEMS)


class PairHereOut(PairOut):
    """``of_a`` and ``of_b``: what stands there of each group."""

    of_a: list[str]
    of_b: list[str]


class AreaOut(BaseModel):
    """A room or a building. ``place`` null: nobody said which."""

    kind: PlaceKind
    place: int | None
    name: str
    met: bool | None
    rule_sets: list[RuleSetOut]
    limits: list[LimitOut]
    totals: list[TotalOut]
    pairs: list[PairHereOut]
    findings: list[FindingOut]


class MoveOut(BaseModel):
    """Take this container elsewhere. ``to`` empty: no cabinet or room of the book has room for it."""

    code: str
    what: str
    row: str
    where: str
    to: list[str]


class StoreOut(BaseModel):
    """``met`` true: within every row held here, for what the book knows. ``aside``: containers not judged."""

    met: bool | None
    rule_sets: list[RuleSet]
    chosen: bool = Field(description="false: nobody chose, so all tables of the shop's law hold")
    areas: list[AreaOut]
    moves: list[MoveOut]
    aside: dict[str, int]
    findings: list[FindingOut]
    complete: bool
    caution: str


@router.get("/storage", summary="The store against its storage limits")
def look(data: Data, actor: Signed) -> StoreOut:
    """Every room and building in which something stands, row by row in the row's own unit. Touches nothing.

    It does not replace the code in force where you are, nor the fire code official who reads it.
    """
    with data.reading() as session:
        judged = look_at_store(session)
        moves = suggest_moves(session, judged)
        chosen = bool(the_shop(session).storage_rules)
    verdict = judged.verdict
    return StoreOut(
        met=judged.met,
        rule_sets=list(judged.rule_sets),
        chosen=chosen,
        areas=[_area(one) for one in judged.areas],
        moves=[
            MoveOut(code=one.code, what=one.what, row=one.row, where=one.where, to=list(one.to))
            for one in moves
        ],
        aside=dict(judged.aside),
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        caution=CAUTION,
    )


def _area(area: Area) -> AreaOut:
    return AreaOut(
        kind=area.kind,
        place=area.number or None,
        name=area.name,
        met=area.met,
        rule_sets=[
            RuleSetOut(
                rule_set=one.rule_set, met=one.met, sentence=one.sentence, complete=one.verdict.complete
            )
            for one in area.answers
        ],
        limits=[limit_out(row, NEAR_SHARE) for row in area.rows],
        totals=[total_out(total) for one in area.answers for total in one.totals],
        pairs=[
            PairHereOut(
                **pair_out(one.judged, told=False).model_dump(), of_a=list(one.of_a), of_b=list(one.of_b)
            )
            for one in area.pairs
        ],
        findings=[finding_out(one) for one in area.verdict],
    )


class RulesIn(PostModel):
    """Which tables hold, all at once; none: all of the shop's law. ``version``: of the shop's settings."""

    rule_sets: Annotated[list[RuleSet], Field(default_factory=list, max_length=10)]
    version: Version


class RulesOut(BaseModel):
    rule_sets: list[RuleSet]
    chosen: bool
    version: int


@router.get("/storage/rules", summary="Which storage tables hold")
def rules(data: Data, actor: Signed) -> RulesOut:
    """``chosen`` false: nobody chose, and all tables of the shop's law hold."""
    with data.reading() as session:
        shop = the_shop(session)
        return RulesOut(
            rule_sets=[RuleSet(one) for one in shop.storage_rules or []],
            chosen=bool(shop.storage_rules),
            version=shop.version,
        )


@router.post("/storage/rules", status_code=201, summary="Say which storage tables hold")
def write_rules(asked: RulesIn, data: Data, now: Now, actor: Signed) -> RulesOut:
    """Keepers only; the change is kept with before and after."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = RulesAsked(asked.once, asked.version, tuple(one.value for one in asked.rule_sets))
        made = say_rule_sets(session, person, now, wanted).result
    kept = [RuleSet(one) for one in made["rule_sets"]]
    return RulesOut(rule_sets=kept, chosen=bool(kept), version=made["version"])


class PlaceStorageIn(PostModel):
    """What the tables ask of a place; what is left out is not known and allows nothing more."""

    version: Version = 0
    approved: Annotated[Unknown, Field(description="of a cabinet: approved for flammable liquids")] = (
        Unknown.NOT_KNOWN
    )
    sprinklered: Annotated[Unknown, Field(description="the whole building, to the standard")] = (
        Unknown.NOT_KNOWN
    )
    storey: Annotated[
        int | None, Field(ge=-50, le=200, description="1 is the storey at the ground, -1 the first basement")
    ] = None
    floor_area: AreaIn | None = None
    ambient_max: TemperatureIn | None = None
    use_group: UseGroup | None = None


class StorageMade(BaseModel):
    name: str
    version: int


@router.post("/places/{place_id}/storage", status_code=201, summary="Say what the tables ask of a place")
def write_place(place_id: Id, asked: PlaceStorageIn, data: Data, now: Now, actor: Signed) -> StorageMade:
    """Each change is kept with before and after. Keepers only."""
    area, warm = asked.floor_area, asked.ambient_max
    wanted = PlaceStorageAsked(
        asked.once,
        asked.version,
        asked.approved,
        asked.sprinklered,
        asked.storey,
        floor_area=None if area is None else area.value,
        floor_unit="ft2" if area is None else area.unit.value,
        ambient_max=None if warm is None else warm.value,
        ambient_unit="C" if warm is None else warm.unit.value,
        use_group=asked.use_group,
    )
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        made = describe_place_storage(session, person, now, place_id, wanted).result
    return StorageMade(name=made["name"], version=made["version"])


@router.get("/places/{place_id}/storage", summary="What is said of a place for the storage tables")
def look_place(place_id: Id, data: Data, actor: Signed) -> dict[str, Any]:
    """``null`` is not known; ``version`` 0: nobody wrote anything down."""
    with data.reading() as session:
        place, row = the_place(session, place_id), session.get(PlaceStorage, place_id)
        told = row or PlaceStorage(place_id=place_id, set_by=0, set_at=place.created_at, version=0)
        return {
            "place": place_id, "name": place.name, "approved": told.approved.value,
            "sprinklered": told.sprinklered.value, "storey": told.storey,
            "floor_area": _told(told.floor_area, told.floor_unit),
            "ambient_max": _told(told.ambient_max, told.ambient_unit), "use_group": told.use_group,
            "version": told.version,
        }  # fmt: skip


def _told(value: Any, unit: str) -> dict[str, Any] | None:
    return None if value is None else {"value": float(value), "unit": unit}


class MaterialStorageIn(PostModel):
    """As sections 9 and 14 of its sheet write it; what is left out is not known."""

    version: Version = 0
    flash_point: Annotated[TemperatureIn | None, Field(description="closed cup")] = None
    boiling_point: TemperatureIn | None = None
    category: Annotated[
        str | None, Field(max_length=60, description="as somebody says who knows it; null: by the figures")
    ] = None
    groups: Annotated[list[Annotated[str, Field(max_length=60)]], Field(default_factory=list, max_length=10)]
    source: Annotated[str, Field(max_length=200)] = ""


@router.post(
    "/materials/{material_id}/storage", status_code=201, summary="Say what the tables ask of a material"
)
def write_material(
    material_id: Id, asked: MaterialStorageIn, data: Data, now: Now, actor: Signed
) -> StorageMade:
    """Each change is kept with before and after. Keepers only."""
    flash, boiling = asked.flash_point, asked.boiling_point
    wanted = MaterialStorageAsked(
        asked.once,
        asked.version,
        None if flash is None else flash.value,
        "C" if flash is None else flash.unit.value,
        None if boiling is None else boiling.value,
        "C" if boiling is None else boiling.unit.value,
        asked.category,
        tuple(asked.groups),
        asked.source,
    )
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        made = describe_material_storage(session, person, now, material_id, wanted).result
    return StorageMade(name=made["name"], version=made["version"])


@router.get("/materials/{material_id}/storage", summary="What is said of a material for the storage tables")
def look_material(material_id: Id, data: Data, actor: Signed) -> dict[str, Any]:
    """``null`` is not known; ``version`` 0: nobody wrote anything down."""
    with data.reading() as session:
        material, row = the_material(session, material_id), session.get(MaterialStorage, material_id)
        if row is None:
            return {"material": material_id, "name": material.name, "version": 0}
        return {
            "material": material_id, "name": material.name,
            "flash_point": _told(row.flash_point, row.flash_unit),
            "boiling_point": _told(row.boiling_point, row.boiling_unit), "category": row.category,
            "groups": row.groups, "source": row.source, "version": row.version,
        }  # fmt: skip


class VesselIn(PostModel):
    """``null``: nobody knows."""

    vessel: Vessel | None = None


class VesselOut(BaseModel):
    code: str
    vessel: Vessel | None


@router.post("/containers/{code}/vessel", status_code=201, summary="Say what a container is made of")
def write_vessel(code: CodePath, asked: VesselIn, data: Data, now: Now, actor: Signed) -> VesselOut:
    """The largest container that a table allows goes by it."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        made = say_vessel(session, person, now, VesselAsked(asked.once, code, asked.vessel)).result
    return VesselOut(code=made["code"], vessel=Vessel(made["vessel"]) if made["vessel"] else None)


