"""`/api/terms`: terms, planned jobs and their days, and the whole plan of a term."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.look_at_term import look_at_term
from service.actions.plan_job import (
    DateAsked,
    JobAsked,
    MoreDates,
    add_date,
    drop_date,
    plan_job,
    take_up_date,
)
from service.actions.planned_amount import amount_or_why, each_written
from service.actions.settle import Settled
from service.actions.start_planned import LinkAsked, link_batch, look_planned
from service.actions.write_term import MOST_EXTRA, TermAsked, write_term
from service.core.school_calendar import MOST_FREE, FreeDays
from service.core.term_dates import MOST_STEP, OnFreeDay, Repeat
from service.records.mixing import Batch, BatchState, Recipe
from service.records.plan_queries import all_terms, batches_of, dates_of_job, jobs_of_term, the_term
from service.records.plans import DateState, PlannedDate, PlannedJobRow, Term
from service.web.access_gate import Signed
from service.web.api.plan_answers import PlanOut, plan_out
from service.web.api.planned_numbers import Heads, Spare
from service.web.api.posting import PROBLEMS, FindingOut, PersonRef, PostModel, acting_for, told_now
from service.web.api.recipes import CheckOut, checked_out
from service.web.api_model import ApiModel
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id, Name, Once, Version, WrittenAmount

router = APIRouter(prefix="/api", tags=["planning"], responses=PROBLEMS)


class FreeIn(ApiModel):
    """A stretch without lessons, both days included."""

    first: date
    last: date
    name: Annotated[str, Field(max_length=60)] = ""


Weekdays = Annotated[list[Annotated[int, Field(ge=0, le=6)]], Field(min_length=1, max_length=7)]


class TermIn(PostModel):
    """A term. Holidays by country and part (ISO 3166); none are asked without a country."""

    name: Name
    first_day: date
    last_day: date
    weekdays: Weekdays = Field([0, 1, 2, 3, 4], description="With lessons; 0 is Monday")
    country: Annotated[str, Field(max_length=2)] = ""
    part: Annotated[str, Field(max_length=12)] = ""
    breaks: bool = Field(True, description="School holidays are free as well, where they are known")
    free: Annotated[list[FreeIn], Field(max_length=MOST_FREE)] = Field(
        [], description="The school's own free days"
    )
    extra: Annotated[list[date], Field(max_length=MOST_EXTRA)] = Field(
        [], description="Days with lessons though they would be free"
    )


class TermOut(BaseModel):
    id: int
    name: str
    first_day: date
    last_day: date
    weekdays: list[int]
    country: str
    part: str
    breaks: bool
    free: list[FreeIn]
    extra: list[date]
    version: int


class TermList(BaseModel):
    items: list[TermOut]


class DateOut(BaseModel):
    """One day of a planned job; ``version`` goes into the next press on it."""

    id: int
    on: date
    state: DateState = Field(description="“started”: a batch stands for it; `batch_state` says how far it is")
    batch: int | None
    batch_state: BatchState | None = Field(
        description="Of that batch: “set-aside” until it is begun; null where none stands for the day"
    )
    version: int


class JobOut(BaseModel):
    id: int
    name: str
    recipe: int
    recipe_name: str
    heads: int
    each: str
    spare_percent: int
    repeated: str
    version: int
    amount: str | None = Field(
        description="What is made on each day, as a check takes it; null: not known, and `why` says why"
    )
    why: str
    dates: list[DateOut]


class TermWhole(TermOut):
    """A term with its planned jobs."""

    jobs: list[JobOut]


class JobIn(PostModel):
    """A job to plan: a recipe for so many people on its days."""

    name: Name
    recipe: Id
    heads: Heads
    each: WrittenAmount = Field(description="What each gets: “60 ml”, “50 g” or “0.5 times” the recipe")
    spare_percent: Spare = 0
    keep_version: bool = Field(False, description="Keep to the recipe's present version")
    first: date
    repeat: Repeat = Repeat.ONCE
    every: Annotated[int, Field(ge=1, le=MOST_STEP)] = Field(1, description="With school-days: so many")
    last: date | None = Field(None, description="Missing: to the end of the term")
    on_free: OnFreeDay = Field(OnFreeDay.LEAVE_OUT, description="What becomes of a day that is free")
    meant: bool = Field(False, description="So much on one day was asked about, and is meant")


class PlannedOut(BaseModel):
    """``findings`` name every day that was moved or left out."""

    posting: int
    repeated: bool
    planned: int
    name: str
    dates: list[date]
    findings: list[FindingOut]


class PressIn(PostModel):
    """One press on a day."""

    version: Version


class DayIn(PostModel):
    """One more day."""

    day: date


class BatchIn(PressIn):
    """The batch that stands for a day."""

    batch: Id


class DateAnswer(BaseModel):
    posting: int
    repeated: bool
    date: int
    planned: int
    state: DateState
    findings: list[FindingOut]


class PlannedCheckIn(ApiModel):
    """Nothing has to be said; it looks at the stock of now."""

    once: Once | None = None
    person: PersonRef | None = None


class PlannedCheckOut(CheckOut):
    """The check result as of the day. A batch from this fingerprint stands for the day."""


@router.get("/terms", summary="The terms of the shop")
def terms(data: Data) -> TermList:
    """The latest first."""
    with data.reading() as session:
        return TermList(items=[term_out(row) for row in all_terms(session)])


@router.post("/terms", status_code=201, summary="Write a term down")
def post_term(asked: TermIn, data: Data, now: Now, actor: Signed) -> TermOut:
    """Its days, whose holidays are free, and what the school frees or adds itself."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        done = write_term(session, person, now, term_asked(asked)).result
        return term_out(the_term(session, done["term"]))


@router.get("/terms/{term_id}", summary="One term with its planned jobs")
def one_term(term_id: Id, data: Data) -> TermWhole:
    """Each job with its days, what they are, and the batch that stands for them."""
    with data.reading() as session:
        row = the_term(session, term_id)
        planned = [
            (job, recipe, dates_of_job(session, job.id or 0))
            for job, recipe in jobs_of_term(session, term_id)
        ]
        made = batches_of(session, [one.batch_id for _, _, dates in planned for one in dates if one.batch_id])
        jobs = [
            _job_out(job, recipe, dates, made)
            for job, recipe, dates in planned
        ]
        return TermWhole(**dict(term_out(row)), jobs=jobs)


def _job_out(
    job: PlannedJobRow, recipe: Recipe, dates: Sequence[PlannedDate], made: Mapping[int, Batch]
) -> JobOut:
    amount, why = amount_or_why(job)
    return JobOut(
        id=job.id or 0, name=job.name, recipe=job.recipe_id, recipe_name=recipe.name, heads=job.heads,
        each=each_written(job), spare_percent=job.spare_percent, repeated=job.repeated, version=job.version,
        amount=amount, why=why,
        dates=[
            DateOut(
                id=one.id or 0, on=one.on_day, state=one.state, batch=one.batch_id,
                batch_state=made[one.batch_id].state if one.batch_id else None,
                version=one.version,
            )
            for one in dates
        ],
    )  # fmt: skip


@router.get("/terms/{term_id}/plan", summary="What a term needs, what is missing, what to buy")
def plan(term_id: Id, data: Data, now: Now) -> PlanOut:
    """As the book stands now. ``complete`` is false while anything is not known."""
    with data.reading() as session:
        return plan_out(look_at_term(session, term_id, shop_today(session, now)))


@router.post("/terms/{term_id}/jobs", status_code=201, summary="Plan a job")
def post_job(term_id: Id, asked: JobIn, data: Data, now: Now, actor: Signed) -> PlannedOut:
    """On one day, or repeated over the term."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = JobAsked(
            once=asked.once, term_id=term_id, recipe_id=asked.recipe, name=asked.name, heads=asked.heads,
            each=asked.each, first=asked.first, spare_percent=asked.spare_percent,
            keep_version=asked.keep_version, repeat=asked.repeat, every=asked.every, last=asked.last,
            on_free=asked.on_free, meant=asked.meant,
        )  # fmt: skip
        done = plan_job(session, person, now, wanted)
        return PlannedOut(**_answer(done, PlannedOut))


@router.post("/planned-jobs/{planned_id}/dates", status_code=201, summary="One more day of a job")
def post_date(planned_id: Id, asked: DayIn, data: Data, now: Now, actor: Signed) -> DateAnswer:
    """A free day is kept, with a warning."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        done = add_date(session, person, now, MoreDates(asked.once, planned_id, asked.day))
        return DateAnswer(**_answer(done, DateAnswer))


@router.post("/planned-dates/{date_id}/drop", status_code=201, summary="A day out of the plan")
def post_drop(date_id: Id, asked: PressIn, data: Data, now: Now, actor: Signed) -> DateAnswer:
    """It can be taken up again."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        done = drop_date(session, person, now, DateAsked(asked.once, date_id, asked.version))
        return DateAnswer(**_answer(done, DateAnswer))


@router.post("/planned-dates/{date_id}/take-up", status_code=201, summary="A day back into the plan")
def post_take_up(date_id: Id, asked: PressIn, data: Data, now: Now, actor: Signed) -> DateAnswer:
    """Of one that was dropped, or whose batch was given up."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        done = take_up_date(session, person, now, DateAsked(asked.once, date_id, asked.version))
        return DateAnswer(**_answer(done, DateAnswer))


@router.post("/planned-dates/{date_id}/batch", status_code=201, summary="Which batch stands for a day")
def post_batch(date_id: Id, asked: BatchIn, data: Data, now: Now, actor: Signed) -> DateAnswer:
    """For one that was made without the plan."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = LinkAsked(asked.once, date_id, asked.batch, asked.version)
        return DateAnswer(**_answer(link_batch(session, person, now, wanted), DateAnswer))


@router.post("/planned-dates/{date_id}/check", summary="The stock check for a day")
def post_check(date_id: Id, asked: PlannedCheckIn, data: Data, now: Now, actor: Signed) -> PlannedCheckOut:
    """Needs, from which containers, what is short, and everything to read first, judged on the day. Nothing
    is drawn. Start or set aside a batch by its fingerprint and name the day as its `planned_date`: it then
    stands for the day."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        mix, _ = look_planned(session, person, now, date_id)
        return PlannedCheckOut(**dict(checked_out(mix)))


def term_asked(asked: TermIn) -> TermAsked:
    """A term that was sent, as it is written down."""
    return TermAsked(
        once=asked.once, name=asked.name, first_day=asked.first_day, last_day=asked.last_day,
        weekdays=tuple(asked.weekdays), country=asked.country.upper(), part=asked.part.upper(),
        breaks=asked.breaks, free=tuple(FreeDays(one.first, one.last, one.name) for one in asked.free),
        extra=tuple(asked.extra),
    )  # fmt: skip


def term_out(row: Term) -> TermOut:
    """A term as it stands; sent back with another figure it is that term changed."""
    return TermOut(
        id=row.id or 0, name=row.name, first_day=row.first_day, last_day=row.last_day,
        weekdays=[int(digit) for digit in row.weekdays], country=row.country, part=row.part,
        breaks=row.breaks, free=[FreeIn.model_validate(one) for one in row.free_days],
        extra=[date.fromisoformat(one) for one in row.extra_days], version=row.version,
    )  # fmt: skip


def _answer(settled: Settled, model: type[BaseModel]) -> dict[str, Any]:
    whole = {"posting": settled.posting_id, "repeated": settled.repeated, **settled.result}
    return {name: whole[name] for name in model.model_fields}
