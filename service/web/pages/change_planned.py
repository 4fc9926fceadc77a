"""`/term/jobs/{id}/edit` and `/term/dates/{id}/move`: a planned job or one of its days becomes another."""

import uuid
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.change_job import JobChange, MoveAsked, WhichVersion, change_job, move_date
from service.actions.planned_amount import each_written
from service.core.findings import Invalid
from service.records.mixing_queries import all_recipes
from service.records.plan_queries import the_date, the_planned_job
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now
from service.web.fields import DayText, Id, Name, Once, Version, Whole, WrittenAmount
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.planned_jobs import ABOUT_DAY, HEADS_DIGITS, SPARE_DIGITS, job_page
from service.web.render import page
from service.web.term_view import weekday_of

router = APIRouter(prefix="/term", include_in_schema=False)

WHICH = [
    (WhichVersion.AS_KEPT.value, "As it is planned now", ""),
    (WhichVersion.FOLLOW.value, "As the recipe stands on the day", "the plan follows the recipe"),
    (WhichVersion.NOW.value, "By the version that stands now", "it keeps to it"),
]


class ChangeForm(FormModel):
    """A planned job as it is to be."""

    name: Name = Field(title="Name of the job")
    recipe_id: Id = Field(title="Recipe")
    heads: Whole = Field(title="For how many people")
    each: WrittenAmount = Field(title="How much each")
    spare_percent: Whole = Field(default=0, title="Spare")
    which: WhichVersion = Field(default=WhichVersion.AS_KEPT, title="By which version")
    meant: bool = False
    version: Version = 0
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Give the job a name.",
        ("recipe_id", "missing"): "Choose the recipe.",
        ("heads", "missing"): "Enter for how many people.",
        ("each", "missing"): "Write what each gets, such as 60 ml or 0.5 times.",
        ("heads", "sentence"): HEADS_DIGITS,
        ("spare_percent", "sentence"): SPARE_DIGITS,
    }


class MoveForm(FormModel):
    """Another day for a date."""

    to: DayText = Field(title="The other day")
    version: Version = 0
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("to", "missing"): "Enter the other day."}


@router.get("/jobs/{planned_id}/edit")
def edit(planned_id: Id, request: Request, data: Data) -> Response:
    """The job as it stands, to be changed."""
    with data.reading() as session:
        row = the_planned_job(session, planned_id)
        p = filled(
            once=uuid.uuid4().hex, name=row.name, recipe_id=row.recipe_id, heads=row.heads,
            each=each_written(row), spare_percent=row.spare_percent, which=WhichVersion.AS_KEPT.value,
            version=row.version,
        )  # fmt: skip
        return _form(request, session, p, planned_id)


@router.post("/jobs/{planned_id}/edit")
def change(
    planned_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[ChangeForm], Depends(posted(ChangeForm))],
) -> Response:  # fmt: skip
    """Its days stay where they are."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                asked = JobChange(
                    once=form.once, planned_id=planned_id, version=form.version, recipe_id=form.recipe_id,
                    name=form.name, heads=form.heads, each=form.each, spare_percent=form.spare_percent,
                    which=form.which, meant=form.meant,
                )  # fmt: skip
                done = change_job(session, actor, now, asked).result
                many = len(done["dates"])
                days = "1 day is" if many == 1 else f"{many} days are"
                told = [one["sentence"] for one in done["findings"]]
                flash(session, request, " ".join([f"Changed {done['name']}. {days} planned so.", *told]))
            return RedirectResponse(f"/term/jobs/{planned_id}", 303)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), "each"))
    with data.reading() as session:
        return _form(request, session, p, planned_id, 422)


def _form(
    request: Request, session: Session, p: Posted[Any], planned_id: int, status: int = 200
) -> Response:
    context = {
        "p": p,
        "planned": the_planned_job(session, planned_id),
        "recipes": [(row.id, row.name) for row in all_recipes(session)],
        "which": WHICH,
    }
    return page(request, "term/job_edit.html", context, status, section="term")


@router.post("/dates/{date_id}/move")
def move(
    date_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[MoveForm], Depends(posted(MoveForm))],
) -> Response:  # fmt: skip
    """The job is made on another day."""
    form = p.value
    with data.reading() as session:
        before = the_date(session, date_id)
        planned_id, was = before.planned_job_id, before.on_day
    if form is not None:
        try:
            with data.writing() as session:
                settled = move_date(session, actor, now, MoveAsked(form.once, date_id, form.version, form.to))
                free = [f["sentence"] for f in settled.result["findings"] if f["code"] in ABOUT_DAY]
                moved = f"Moved it from {weekday_of(was)} to {weekday_of(form.to)}."
                flash(session, request, " ".join([moved, *free]))
            return RedirectResponse(f"/term/jobs/{planned_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "to")
    with data.reading() as session:
        return job_page(request, session, now, actor, planned_id, p, 422, date_id)
