"""Planned jobs of a term: planning one, its days, dropping and taking up, the batch of a day."""

import uuid
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.look_at_term import look_at_term
from service.actions.plan_job import (
    DateAsked,
    JobAsked,
    MoreDates,
    add_date,
    drop_date,
    drop_job,
    plan_job,
    take_up_date,
)
from service.actions.settle import Settled
from service.actions.start_planned import LinkAsked, check_planned, link_batch
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid
from service.core.recipe import RecipeLine
from service.core.term_dates import MOST_STEP, OnFreeDay, Repeat
from service.records.mixing import BATCH_WORDS
from service.records.mixing_queries import all_recipes
from service.records.plan_queries import (
    batches_of,
    batches_to_link,
    dates_of_job,
    the_date,
    the_planned_job,
    the_term,
)
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_today
from service.web.fields import DayText, Id, Name, Once, Version, Whole, WrittenAmount
from service.web.forms import FormModel, Posted, filled, posted
from service.web.plan_amounts import span
from service.web.planned_words import made_words, whom
from service.web.render import day, page
from service.web.term_view import covered_by_date, date_card, unfolded, weekday_of

router = APIRouter(prefix="/term", include_in_schema=False)

HEADS_DIGITS = "For how many people: enter a whole number in digits."
SPARE_DIGITS = "Spare: enter a whole number of per cent in digits."
ABOUT_DAY = ("on-free-day", "day-is-gone", "holiday-expected", "holidays-not-known")
REPEATS = [
    (Repeat.ONCE.value, "Once", "on that day alone"),
    (Repeat.WEEKLY.value, "Every week", "on the same weekday"),
    (Repeat.FORTNIGHTLY.value, "Every second week", "on the same weekday"),
    (Repeat.SCHOOL_DAYS.value, "Every so many school days", "how many, below"),
]
ON_FREE = [
    (OnFreeDay.LEAVE_OUT.value, "Leave it out", ""),
    (OnFreeDay.NEXT_SCHOOL_DAY.value, "Put it on the next school day", ""),
]


class JobForm(FormModel):
    """A job to plan."""

    name: Name = Field(title="Name of the job")
    recipe_id: Id = Field(title="Recipe")
    heads: Whole = Field(title="For how many people")
    each: WrittenAmount = Field(title="How much each")
    spare_percent: Whole = Field(default=0, title="Spare")
    keep_version: bool = False
    first: DayText = Field(title="First day")
    repeat: Repeat = Field(default=Repeat.ONCE, title="How often")
    every: Annotated[int, Field(ge=1, le=MOST_STEP)] = Field(default=1, title="Every how many school days")
    last: DayText | None = Field(default=None, title="Last day")
    on_free: OnFreeDay = Field(default=OnFreeDay.LEAVE_OUT, title="What falls on a free day")
    meant: bool = False
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Give the job a name.",
        ("recipe_id", "missing"): "Choose the recipe.",
        ("heads", "missing"): "Enter for how many people.",
        ("each", "missing"): "Write what each gets, such as 60 ml or 0.5 times.",
        ("first", "missing"): "Enter the first day.",
        ("heads", "sentence"): HEADS_DIGITS,
        ("spare_percent", "sentence"): SPARE_DIGITS,
    }

    def asked(self, term_id: int) -> JobAsked:
        """The job as the action takes it."""
        return JobAsked(
            once=self.once, term_id=term_id, recipe_id=self.recipe_id, name=self.name, heads=self.heads,
            each=self.each, first=self.first, spare_percent=self.spare_percent,
            keep_version=self.keep_version, repeat=self.repeat, every=self.every, last=self.last,
            on_free=self.on_free, meant=self.meant,
        )  # fmt: skip


class PressForm(FormModel):
    """One press on a date."""

    version: Version = 0
    once: Once


class DayForm(FormModel):
    """One more day."""

    day: DayText = Field(title="Day")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("day", "missing"): "Enter the day."}


class BatchForm(FormModel):
    """Which batch stands for a date."""

    batch_id: Id = Field(title="Batch")
    version: Version = 0
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("batch_id", "missing"): "Choose the batch."}


Press = Annotated[Posted[PressForm], Depends(posted(PressForm))]


@router.get("/{term_id}/jobs/new")
def new(
    term_id: Id, request: Request, data: Data, recipe: Annotated[Id | None, Query()] = None
) -> Response:
    """An empty job."""
    p = filled(
        once=uuid.uuid4().hex, recipe_id=recipe, repeat=Repeat.ONCE.value, every=1, spare_percent=10,
        on_free=OnFreeDay.LEAVE_OUT.value,
    )  # fmt: skip
    with data.reading() as session:
        return _form(request, session, p, term_id)


@router.post("/{term_id}/jobs/new")
def plan(
    term_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[JobForm], Depends(posted(JobForm))],
) -> Response:  # fmt: skip
    """A planned job; then its days."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                settled = plan_job(session, actor, now, form.asked(term_id))
                flash(session, request, _planned_words(settled))
            return RedirectResponse(f"/term/jobs/{settled.result['planned']}", 303)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), "each"))
    with data.reading() as session:
        return _form(request, session, p, term_id, 422)


def _planned_words(settled: Settled) -> str:
    many = len(settled.result["dates"])
    words = f"Planned {settled.result['name']} on {many} {'day' if many == 1 else 'days'}."
    said = [
        one["sentence"]
        for one in settled.result["findings"]
        if one["code"] in ("date-moved", "date-left-out", *ABOUT_DAY)
    ]
    more = f" And {len(said) - 5} more." if len(said) > 5 else ""
    return " ".join([words, *said[:5]]) + more


def _form(request: Request, session: Session, p: Posted[Any], term_id: int, status: int = 200) -> Response:
    term = the_term(session, term_id)
    context = {
        "p": p,
        "term": term,
        "days": f"{day(term.first_day)} to {day(term.last_day)}",
        "recipes": [(row.id, row.name) for row in all_recipes(session)],
        "repeats": REPEATS,
        "on_free": ON_FREE,
    }
    return page(request, "term/job_new.html", context, status, section="term")


@router.get("/jobs/{planned_id}")
def show(planned_id: Id, request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """One planned job with its days."""
    with data.reading() as session:
        return job_page(request, session, now, actor, planned_id, filled())


def job_page(
    request: Request, session: Session, now: Now, actor: Actor, planned_id: int, p: Posted[Any],
    status: int = 200, about: int = 0,
) -> Response:  # fmt: skip
    """The page of a planned job; ``about`` is the date that the form ``p`` speaks of."""
    planned = the_planned_job(session, planned_id)
    look = look_at_term(session, planned.term_id, shop_today(session, now))
    job = look.jobs[planned_id]
    met = covered_by_date(look)
    dates = [one for one in look.dates if one.row.planned_job_id == planned_id]
    batches = batches_of(session, [one.row.batch_id for one in dates if one.row.batch_id])
    cards = [
        date_card(one, met.get((planned_id, one.row.on_day), []), job, look.today, batches)
        for one in dates
    ]
    context = {
        "p": p,
        "about": about,
        "planned": planned,
        "term": look.term,
        "recipe": job.recipe,
        "cards": cards,
        "unfolded": unfolded(cards, about),
        "facts": [
            ("For whom", whom(job)),
            ("Makes in all, each day", made_words(planned)),
            ("Repeated", planned.repeated),
            ("Recipe", {"href": f"/recipes/{job.recipe.id}", "words": job.recipe.name}, _version_words(job)),
        ],
        "lines": [(line.name, _line_words(line), line.why) for line in job.lines],
        "found": [f.sentence for f in job.found],
        "link": [
            (row.id, f"Batch {row.id}, {row.wanted_written}, {BATCH_WORDS[row.state]}")
            for row in batches_to_link(session, planned.recipe_id)
        ],
        "standing": sum(1 for card in cards if card.open),
        "may_plan": may(actor.role, Permission.PLAN),
        "keys": [uuid.uuid4().hex for _ in range(2)],
        "key": lambda: uuid.uuid4().hex,
    }
    return page(request, "term/job.html", context, status, section="term")


def _line_words(line: RecipeLine) -> str:
    if line.high is None or line.to_suit:
        return line.grown or line.written
    return span(line.low, line.high, line.basis, line.unit_written)


def _version_words(job: Any) -> str:
    return "kept to one version" if job.row.recipe_version_id else "as it stands"


@router.post("/jobs/{planned_id}/days")
def more_days(
    planned_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[DayForm], Depends(posted(DayForm))],
) -> Response:  # fmt: skip
    """One more day of a job."""
    if p.value is not None:
        try:
            with data.writing() as session:
                asked = MoreDates(p.value.once, planned_id, p.value.day)
                settled = add_date(session, actor, now, asked)
                free = [f["sentence"] for f in settled.result["findings"] if f["code"] in ABOUT_DAY]
                flash(session, request, " ".join([f"Planned it on {weekday_of(asked.day)} as well.", *free]))
            return RedirectResponse(f"/term/jobs/{planned_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "day")
    with data.reading() as session:
        return job_page(request, session, now, actor, planned_id, p, 422)


@router.post("/jobs/{planned_id}/drop")
def drop_all(
    planned_id: Id, request: Request, p: Press, data: Data, now: Now, actor: Signed
) -> Response:
    """Every day of it that still stands goes out of the plan."""
    if p.value is not None:
        with data.writing() as session:
            done = drop_job(session, actor, now, p.value.once, planned_id).result
            many = len(done["dropped"])
            days = "1 day" if many == 1 else f"{many} days"
            flash(session, request, f"Dropped {days} of {done['name']}.")
    return RedirectResponse(f"/term/jobs/{planned_id}", 303)


@router.post("/dates/{date_id}/drop")
def drop_one(date_id: Id, request: Request, p: Press, data: Data, now: Now, actor: Signed) -> Response:
    """Out of the plan; it stays on the page."""
    return _press(request, p, data, now, actor, date_id, drop=True)


@router.post("/dates/{date_id}/take-up")
def take_up(date_id: Id, request: Request, p: Press, data: Data, now: Now, actor: Signed) -> Response:
    """Back into the plan."""
    return _press(request, p, data, now, actor, date_id, drop=False)


def _press(
    request: Request, p: Posted[PressForm], data: Data, now: Now, actor: Actor, date_id: int, *, drop: bool
) -> Response:
    with data.writing() as session:
        planned_id = the_date(session, date_id).planned_job_id
        if p.value is not None:
            asked = DateAsked(p.value.once, date_id, p.value.version)
            done = (drop_date if drop else take_up_date)(session, actor, now, asked).result
            told = [f["sentence"] for f in done["findings"] if f["code"] in ABOUT_DAY]
            on = weekday_of(next(r.on_day for r in dates_of_job(session, planned_id) if r.id == done["date"]))
            flash(session, request, " ".join([f"{'Dropped' if drop else 'Took up'} {on}.", *told]))
    return RedirectResponse(f"/term/jobs/{planned_id}", 303)


@router.post("/dates/{date_id}/check")
def check(date_id: Id, request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """The stock check for this day; a batch made from it stands for the day."""
    with data.writing() as session:
        kept = check_planned(session, actor, now, date_id)
        return RedirectResponse(f"/checks/{kept.id}", 303)


@router.post("/dates/{date_id}/batch")
def link(
    date_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[BatchForm], Depends(posted(BatchForm))],
) -> Response:  # fmt: skip
    """A batch made without the plan stands for this day."""
    form = p.value
    with data.reading() as session:
        planned_id = the_date(session, date_id).planned_job_id
    if form is not None:
        try:
            with data.writing() as session:
                asked = LinkAsked(form.once, date_id, form.batch_id, form.version)
                done = link_batch(session, actor, now, asked).result
                flash(session, request, f"Batch {done['batch']} stands for this day now.")
            return RedirectResponse(f"/term/jobs/{planned_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "batch_id")
    with data.reading() as session:
        return job_page(request, session, now, actor, planned_id, p, 422, date_id)
