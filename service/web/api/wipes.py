"""``/api/wipes``: containers of solvent wipes kept apart, begun and handed over within 180 days."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.keep_wipes import BeginAsked, LeaveAsked, begin_wipes, send_wipes, wipes_standing
from service.core.materials import Unknown
from service.core.wipes import WipesWay
from service.records.book_time import book_now
from service.web.access_gate import Signed
from service.web.api.posting import (
    PROBLEMS,
    FindingOut,
    PlaceRef,
    PostModel,
    acting_for,
    place_number,
    told_now,
)
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Id, Name, Note

router = APIRouter(prefix="/api/wipes", tags=["jobs and rags"])


class BeginIn(PostModel):
    """A container in which solvent wipes are kept apart."""

    place: PlaceRef = Field(description="Number or code of the can or drum")
    started_on: date = Field(description="The day of the first wipe; the 180 days count from it")
    labelled: Unknown = Field(Unknown.NOT_KNOWN, description="The mandated words are on it")
    sound: Unknown = Field(Unknown.NOT_KNOWN, description="Closed, does not leak, could hold free liquid")
    note: Note = ""


class Begun(BaseModel):
    wipes: int
    place: int
    last_day: date
    findings: list[FindingOut]


class LeaveIn(PostModel):
    """That it was handed over."""

    way: WipesWay
    named: Name
    address: Annotated[str, Field(min_length=1, max_length=300)]
    no_liquid: Annotated[str, Field(min_length=1, max_length=300)] = Field(
        description="How it is known that no free liquid is in it"
    )
    trichloroethylene: Unknown = Field(Unknown.NOT_KNOWN, description="Asked when they are thrown away")


class Left(BaseModel):
    wipes: int
    sentence: str
    findings: list[FindingOut]


class WipesOut(BaseModel):
    """One container that stands."""

    id: int
    place: int
    name: str
    started_on: date
    last_day: date
    findings: list[FindingOut]


class AllWipes(BaseModel):
    wipes: list[WipesOut]


@router.get("", responses=PROBLEMS, summary="Containers of solvent wipes that stand")
def listing(data: Data, now: Now) -> AllWipes:
    """The one due first at the top."""
    with data.reading() as session:
        rows = wipes_standing(session, shop_zone(session), book_now(session, now))
        return AllWipes(wipes=[
            WipesOut(
                id=one.duty.id or 0, place=one.place.id or 0, name=one.place.name,
                started_on=one.started_on, last_day=one.last,
                findings=[FindingOut(**f.as_dict()) for f in one.verdict],
            )
            for one in rows
        ])  # fmt: skip


@router.post("", responses=PROBLEMS, status_code=201, summary="Begin a container of solvent wipes")
def begin(data: Data, now: Now, actor: Signed, asked: BeginIn) -> Begun:
    """409 with findings when it carries no label, is not sound, or holds wipes already."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        place = place_number(session, asked.place, "place")
        wanted = BeginAsked(
            asked.once, place or 0, asked.started_on, asked.labelled, asked.sound, asked.note
        )
        return Begun(**begin_wipes(session, person, now, wanted).result)


@router.post("/{duty_id}/sent", responses=PROBLEMS, status_code=201, summary="Wipes were handed over")
def sent(data: Data, now: Now, actor: Signed, duty_id: Id, asked: LeaveIn) -> Left:
    """After the last day it is written down with a violation."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = LeaveAsked(
            asked.once, duty_id, asked.way, asked.named, asked.address, asked.no_liquid,
            asked.trichloroethylene, asked.happened_at, asked.late_reason,
        )  # fmt: skip
        return Left(**send_wipes(session, person, now, wanted).result)
