"""``/api/rag-cans``: everything in a can at once: emptied into another one, or the can carried elsewhere."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.empty_can import CarryAsked, EmptyAsked, carry_can, empty_can
from service.core.rags import Water
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PlaceRef, PostModel, acting_for, place_number
from service.web.api.rags import EntryOut
from service.web.deps import Data, Now
from service.web.fields import Id, Note

router = APIRouter(prefix="/api/rag-cans/{place_id}", tags=["jobs and rags"])


class EmptyIn(PostModel):
    """Emptied into another can or drum; every load in it goes along."""

    into: PlaceRef = Field(description="Number or code of the can or drum")
    water: Water | None = None
    mass: Annotated[str, Field(max_length=60)] = Field("", description="Of all of them, in an outside drum")
    collected_on: date | None = None
    witness: Annotated[str, Field(max_length=120)] = ""
    note: Note = ""


class CarryIn(PostModel):
    """Carried to another place with what is in it."""

    to: PlaceRef = Field(description="Number or code of the place it stands in now")
    note: Note = ""


class Carried(BaseModel):
    can: int
    to: int
    loads: list[int]
    sentence: str
    findings: list[FindingOut]


@router.post("/empty", responses=PROBLEMS, status_code=201, summary="Empty a can into another one")
def empty(data: Data, now: Now, actor: Signed, place_id: Id, asked: EmptyIn) -> EntryOut:
    """All its loads or none; the times by which they must leave stay as they were."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        into = place_number(session, asked.into, "into") or 0
        wanted = EmptyAsked(
            asked.once, place_id, into, asked.water, asked.mass, asked.collected_on, asked.witness,
            asked.note, asked.happened_at, asked.late_reason,
        )  # fmt: skip
        said: dict[str, Any] = empty_can(session, person, now, wanted).result
        return EntryOut(loads=said["loads"], findings=said["findings"])


@router.post("/carry", responses=PROBLEMS, status_code=201, summary="Carry a can to another place")
def carry(data: Data, now: Now, actor: Signed, place_id: Id, asked: CarryIn) -> Carried:
    """From a customer's site home, for one; its rags stay owed by the same time."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        to = place_number(session, asked.to, "to") or 0
        wanted = CarryAsked(asked.once, place_id, to, asked.note, asked.happened_at, asked.late_reason)
        return Carried(**carry_can(session, person, now, wanted).result)
