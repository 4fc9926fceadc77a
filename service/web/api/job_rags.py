"""``/api/jobs/{id}/rags`` and ``/api/day-closings``: pieces handed out, in or found loose; a day closed."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.close_day import close_day
from service.actions.hand_rags import MOST_PIECES, HandAsked, hand_rags
from service.core.oily_things import OilyThing, Way
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for, told_now
from service.web.deps import Data, Now
from service.web.fields import Id, Note

router = APIRouter(prefix="/api", tags=["jobs and rags"])


class HandIn(PostModel):
    """Pieces handed out for a job, handed in again, or seen loose with oil on them."""

    way: Way = Field(description="out, in, or loose: that one begins or joins the job's rag load")
    thing: OilyThing = OilyThing.RAGS
    pieces: Annotated[int, Field(ge=1, le=MOST_PIECES)]
    note: Note = ""


class LoadOut(BaseModel):
    id: int
    step: str
    contained: bool
    ended: bool
    sentence: str


class HandAnswer(BaseModel):
    """Pieces of that kind so far; the load when they were loose."""

    job: int
    out: int
    come_in: int = Field(serialization_alias="in")
    load: LoadOut | None
    findings: list[FindingOut]


class ClosingIn(PostModel):
    """A shop day to close."""

    day: date
    note: Note = ""


class ClosingOut(BaseModel):
    """The head of the rag log with the closing in it."""

    day: date
    entries: int
    hash: str
    findings: list[FindingOut]


@router.post("/jobs/{job_id}/rags", responses=PROBLEMS, status_code=201, summary="Count rags and oily things")
def hand(data: Data, now: Now, actor: Signed, job_id: Id, asked: HandIn) -> HandAnswer:
    """What is counted out and not in stands in the short list when the job closes."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = HandAsked(
            asked.once, job_id, asked.way, asked.thing, asked.pieces, asked.note, asked.happened_at,
            asked.late_reason,
        )  # fmt: skip
        said = hand_rags(session, person, now, wanted).result
        load = LoadOut(**{k: said["load"][k] for k in LoadOut.model_fields}) if said.get("load") else None
        return HandAnswer(
            job=said["job"], out=said["out"], come_in=said["in"], load=load, findings=said["findings"]
        )


@router.post("/day-closings", responses=PROBLEMS, status_code=201, summary="Close a day")
def closing(data: Data, now: Now, actor: Signed, asked: ClosingIn) -> ClosingOut:
    """Refused while a job of the day is open, rags are loose, or rags are here that had to leave."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return ClosingOut(**close_day(session, person, now, asked.day, asked.once, asked.note).result)
