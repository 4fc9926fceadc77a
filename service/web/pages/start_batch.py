"""Starting a batch, of a check or of what was set aside: which job, and who looked at what is not known."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.judge_never_with import conditions
from service.actions.make_batch import StartAsked, promised_check, start
from service.core.access import Actor
from service.core.check_again import from_summary
from service.core.findings import Invalid, NotFound, Refused, Severity
from service.core.shelf_codes import show_code
from service.core.stock_check import StockCheck
from service.records.job_queries import running_jobs
from service.records.mixing_queries import kept_check, the_batch, the_recipe
from service.web.access_gate import Signed
from service.web.act_forms import take_wrong_choice
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Code, Id, Note
from service.web.forms import Posted, filled, posted
from service.web.pages.check_mix import by_hand, taking
from service.web.pages.recipes import fresh_once
from service.web.render import page
from service.web.when_done import WHEN_CHOICES, WhenDone

router = APIRouter(include_in_schema=False)

NEW_JOB = "new"


class StartForm(WhenDone):
    """Which job, and which containers were looked at."""

    job: Annotated[str, Field(max_length=12)] = Field(default="", title="Which job is it for?")
    looked: list[Code] = Field(default=[], title="I looked at it, and it is sound")
    confirmation: Note = Field(default="", title="How the conditions are met")


Form = Annotated[Posted[StartForm], Depends(posted(StartForm))]


@dataclass(frozen=True)
class _Source:
    """What is to be started."""

    name: str
    amount: str
    done: StockCheck
    heats: bool
    here: str
    back: str
    asked: dict[str, Any]

    @property
    def to_look_at(self) -> list[tuple[str, str]]:
        """Codes of containers drawn from whose standing is not known or doubted, and the sentence why."""
        drawn = {one.code for one in self.done.allocations if one.at_start}
        return [
            (f.about, f.sentence)
            for f in self.done.verdict
            if f.code in ("not-known", "doubted") and f.severity is not Severity.NOTE and f.about in drawn
        ]


def _of_check(session: Session, check_id: int) -> _Source:
    kept = kept_check(session, check_id)
    recipe = the_recipe(session, kept.recipe_id)
    here = f"/checks/{check_id}"
    return _Source(
        recipe.name, kept.wanted_written, from_summary(kept.result), kept.heats, f"{here}/start", here,
        {"check_id": check_id},
    )  # fmt: skip


def _of_batch(session: Session, batch_id: int) -> _Source:
    batch = the_batch(session, batch_id)
    checked = promised_check(batch)
    recipe = the_recipe(session, batch.recipe_id)
    here = f"/bench/{batch_id}"
    heats = "rag-duty-starts" in checked.old.verdict.codes
    return _Source(
        recipe.name, batch.wanted_written, checked.old, heats, f"{here}/start", here, {"batch_id": batch_id}
    )


@router.get("/checks/{check_id}/start")
def ask(check_id: Id, request: Request, data: Data, now: Now) -> Response:
    """The questions before a start from a check."""
    with data.reading() as session:
        return _page(request, session, now, _of_check(session, check_id), _fresh())


@router.post("/checks/{check_id}/start")
def start_checked(
    check_id: Id, request: Request, p: Form, data: Data, now: Now, actor: Signed
) -> Response:
    """Draw everything the check allocated, or nothing."""
    with data.reading() as session:
        source = _of_check(session, check_id)
    return _start(request, p, data, now, actor, source)


@router.get("/bench/{batch_id}/start")
def ask_promised(batch_id: Id, request: Request, data: Data, now: Now) -> Response:
    """The questions before a start of what was set aside."""
    with data.reading() as session:
        return _page(request, session, now, _of_batch(session, batch_id), _fresh())


@router.post("/bench/{batch_id}/start")
def start_promised(
    batch_id: Id, request: Request, p: Form, data: Data, now: Now, actor: Signed
) -> Response:
    """Draw everything that was set aside, or nothing."""
    with data.reading() as session:
        if p.value is not None and the_batch(session, batch_id).state.value == "running":
            return RedirectResponse(f"/bench/{batch_id}", 303)
        source = _of_batch(session, batch_id)
    return _start(request, p, data, now, actor, source)


def _fresh() -> Posted[Any]:
    return filled(once=fresh_once(), when="about")


def _start(
    request: Request, p: Posted[StartForm], data: Data, now: Now, actor: Actor, source: _Source
) -> Response:
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                asked = StartAsked(
                    once=form.once, looked=tuple(form.looked), confirmation=form.confirmation,
                    **source.asked, **_job(form, source),
                    **form.times(shop_zone(session)),
                )  # fmt: skip
                _all_looked(form, source)
                _all_confirmed(form, source)
                done = start(session, actor, now, asked).result
                flash(session, request, _said(source, done))
                return RedirectResponse(f"/bench/{done['batch']}", 303)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
        except (NotFound, Refused) as no:
            if not take_wrong_choice(p, no):
                raise
    with data.reading() as session:
        return _page(request, session, now, source, p, 422)


def _job(form: StartForm, source: _Source) -> dict[str, Any]:
    if form.job == NEW_JOB:
        return {"open_job": True}
    if form.job.isdigit() and form.job.isascii():
        return {"job_id": int(form.job[:9])}
    if form.job or source.heats:
        words = "Its rags can ignite by themselves. Choose the job they belong to, or open a new one."
        raise Invalid(words, {"job": words})
    return {}


def _all_looked(form: StartForm, source: _Source) -> None:
    """Asked here in one go; the gate asks again, one container at a time."""
    seen = {code.replace(" ", "") for code in form.looked}
    missing = [show_code(code) for code, _ in source.to_look_at if code not in seen]
    if missing and form.when == "about":
        words = f"Look at {', '.join(missing)}, and say that you looked and it is sound."
        raise Invalid(words, {"looked": words})


def _all_confirmed(form: StartForm, source: _Source) -> None:
    """Asked here beside the conditions; the start asks again, and by whom."""
    if conditions(source.done.verdict) and not form.confirmation.strip() and form.when == "about":
        words = "Say in a sentence how each condition is met, or do not start it."
        raise Invalid(words, {"confirmation": words})


def _said(source: _Source, done: dict[str, Any]) -> str:
    many = len({one["code"] for one in done["additions"]})
    words = f"You started batch {done['batch']}, {source.name}: drew from {many} "
    words += "container." if many == 1 else "containers."
    left = len(source.done.by_hand)
    if left:
        words += f" {left} {'line is' if left == 1 else 'lines are'} still to be put in by hand."
    opened = [f["sentence"] for f in done["findings"] if f["code"] == "job-opened"]
    return " ".join([words, *opened])


def _page(
    request: Request, session: Session, now: Any, source: _Source, p: Posted[Any], status: int = 200
) -> Response:
    jobs = [
        (str(job.id), job.name, f"until {job.ends_by.astimezone(shop_zone(session)):%H:%M}")
        for job in running_jobs(session, now)
    ]
    none = [] if source.heats else [("", "No job", "Nothing in it can heat by itself")]
    context = {
        "p": p,
        "source": source,
        "jobs": [*jobs, (NEW_JOB, "A new job for this", "Shop work; you lead it and owe its rags"), *none],
        "look": [
            (code, f"{show_code(code)}: I looked, and it is sound", why) for code, why in source.to_look_at
        ],
        "rows": taking(source.done, at_start=True),
        "by_hand": by_hand(source.done),
        "conditions": conditions(source.done.verdict),
        "when": WHEN_CHOICES,
    }
    return page(request, "bench/start.html", context, status, section="bench")
