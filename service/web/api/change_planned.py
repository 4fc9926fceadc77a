"""`/api/planned-jobs/{id}` and `/api/planned-dates/{id}/move`: a planned job or one of its days changes."""

from datetime import date

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.change_job import JobChange, MoveAsked, WhichVersion, change_job, move_date
from service.web.access_gate import Signed
from service.web.api.planned_numbers import Heads, Spare
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for, told_now
from service.web.deps import Data, Now
from service.web.fields import Id, Name, Version, WrittenAmount

Day = date
router = APIRouter(prefix="/api", tags=["planning"], responses=PROBLEMS)


class JobChangeIn(PostModel):
    """A planned job as it is to be, whole; ``version`` as it was read."""

    version: Version
    name: Name
    recipe: Id
    heads: Heads
    each: WrittenAmount = Field(description="What each gets: “60 ml”, “50 g” or “0.5 times” the recipe")
    spare_percent: Spare = 0
    which: WhichVersion = Field(
        WhichVersion.AS_KEPT, description="By which version of the recipe: as now, following it, or kept now"
    )
    meant: bool = Field(False, description="So much on one day was asked about, and is meant")


class JobChanged(BaseModel):
    """``dates`` are those that stand, and are planned so from now on."""

    planned: int
    name: str
    version: int
    dates: list[date]


class MoveIn(PostModel):
    """Another day of the term."""

    version: Version
    day: date


class DateMoved(BaseModel):
    date: int
    planned: int
    on: Day
    findings: list[FindingOut]


@router.post("/planned-jobs/{planned_id}", status_code=201, summary="Change a planned job")
def post_change(planned_id: Id, asked: JobChangeIn, data: Data, now: Now, actor: Signed) -> JobChanged:
    """For more people, by another recipe: its days stay where they are."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = JobChange(
            once=asked.once, planned_id=planned_id, version=asked.version, recipe_id=asked.recipe,
            name=asked.name, heads=asked.heads, each=asked.each, spare_percent=asked.spare_percent,
            which=asked.which, meant=asked.meant,
        )  # fmt: skip
        done = change_job(session, person, now, wanted).result
        return JobChanged(**{name: done[name] for name in JobChanged.model_fields})


@router.post("/planned-dates/{date_id}/move", status_code=201, summary="A day moved to another")
def post_move(date_id: Id, asked: MoveIn, data: Data, now: Now, actor: Signed) -> DateMoved:
    """A free day is kept, with a warning."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = MoveAsked(asked.once, date_id, asked.version, asked.day)
        done = move_date(session, person, now, wanted).result
        return DateMoved(**{name: done[name] for name in DateMoved.model_fields})
