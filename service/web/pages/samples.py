"""`/samples`: boards coloured by eye: begin one, what went onto it, how it came out, so much of it again."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.judge_sample import VerdictAsked, judge_sample
from service.actions.keep_as_made import make_this_much
from service.actions.start_sample import SampleAsked, board_of, describe_sample, start_sample
from service.core.access import Permission, may
from service.core.colour_samples import MOST_COATS, VERDICT_WORDS, Board, SampleVerdict, board_words
from service.core.findings import Invalid, NotFound, Refused
from service.core.materials import Unknown
from service.records.job_queries import running_jobs
from service.web.access_gate import Signed
from service.web.act_forms import take_wrong_choice
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Id, Name, Note, Once, PageNumber, Version, Whole, WrittenAmount
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.recipes import fresh_once
from service.web.pages.sample_view import sample_page
from service.web.render import instant, page
from service.web.sample_words import seen_sample, seen_samples, verdict_words

router = APIRouter(prefix="/samples", include_in_schema=False)

AT_ONCE = 30
NEW_JOB = "new"
SEALED = [
    (Unknown.NO.value, "Bare", ""),
    (Unknown.YES.value, "Sealed", "say with what, if you know"),
    (Unknown.NOT_KNOWN.value, "Not known", ""),
]


class BoardForm(FormModel):
    """The board and what it is to match."""

    target: Annotated[Note, Field(max_length=500)] = Field(default="", title="What is to be matched")
    wood: Name = Field(title="Wood")
    grit: Annotated[str, Field(max_length=40)] = Field(default="", title="Last grit")
    sealed: Unknown = Field(default=Unknown.NOT_KNOWN, title="Bare or sealed")
    sealed_with: Name | None = Field(default=None, title="Sealed with")
    coats: Annotated[Whole, Field(ge=1, le=MOST_COATS)] | None = Field(default=None, title="Coats")
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("wood", "missing"): "Say which wood the board is.",
        ("coats", "greater_than_equal"): f"Enter the coats from 1 to {MOST_COATS}.",
        ("coats", "less_than_equal"): f"Enter the coats from 1 to {MOST_COATS}.",
    }

    def board(self) -> Board:
        return Board(self.wood, self.grit, self.sealed, self.sealed_with or "", self.coats)


class NewForm(BoardForm):
    """A new sample."""

    job: Annotated[str, Field(max_length=12)] = Field(default="", title="Which job is it for?")
    purpose: Annotated[str, Field(max_length=60)] = Field(default="", title="What it is for")
    once: Once


class EditForm(BoardForm):
    """The words put right."""

    version: Version = 0


class VerdictForm(FormModel):
    """How it came out."""

    verdict: SampleVerdict = Field(title="How it came out")
    note: Note = Field(default="", title="What is to be known")
    version: Version = 0
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("verdict", "missing"): "Say how the dry board came out.",
    }


class MakeForm(FormModel):
    """So much of it."""

    amount: WrittenAmount = Field(title="How much of it")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("amount", "missing"): "Write how much to make, such as 1.5 l.",
    }


@router.get("")
def listing(
    request: Request, data: Data, actor: Signed, number: Annotated[PageNumber, Query(alias="page")] = 1
) -> Response:
    """The newest first."""
    with data.reading() as session:
        rows = seen_samples(session, actor, AT_ONCE + 1, (number - 1) * AT_ONCE)
        zone = shop_zone(session).key
        cards = [
            {
                "href": f"/samples/{one.sample.id}",
                "title": one.recipe.name,
                "state": verdict_words(one.sample),
                "board": board_words(board_of(one.sample)),
                "since": instant(one.sample.created_at, zone),
                "photo": one.sample.photo_sha256 is not None,
            }
            for one in rows[:AT_ONCE]
        ]
    context = {
        "cards": cards, "page_number": number, "pages": number + (1 if len(rows) > AT_ONCE else 0),
        "may_make": may(actor.role, Permission.BATCHES),
    }  # fmt: skip
    return page(request, "samples/list.html", context, section="bench")


@router.get("/new")
def new(request: Request, data: Data, now: Now) -> Response:
    """An empty form."""
    with data.reading() as session:
        return _new_page(request, session, now, filled(once=fresh_once(), sealed="not-known"))


@router.post("/new")
def begin(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[NewForm], Depends(posted(NewForm))],
) -> Response:  # fmt: skip
    """Start it, and go on at the bench."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                asked = SampleAsked(
                    once=form.once, target=form.target, board=form.board(), purpose=form.purpose,
                    **_job(form.job),
                )  # fmt: skip
                done = start_sample(session, actor, now, asked).result
                words = "The sample is begun. Put in what you add, spoon by spoon."
                flash(session, request, words, f"/samples/{done['sample']}", "Its board")
                return RedirectResponse(f"/bench/{done['batch']}", 303)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
        except (NotFound, Refused) as no:
            if not take_wrong_choice(p, no):
                raise
    with data.reading() as session:
        return _new_page(request, session, now, p, 422)


def _job(chosen: str) -> dict[str, Any]:
    if chosen == NEW_JOB:
        return {"open_job": True}
    if chosen.isdigit() and chosen.isascii():
        return {"job_id": int(chosen[:9])}
    if chosen == "none":
        return {}
    words = "Choose the job it is for. Oil, and what holds oil, can only be put in within a job."
    raise Invalid(words, {"job": words})


def _new_page(request: Request, session: Session, now: Now, p: Posted[Any], status: int = 200) -> Response:
    jobs = [
        (str(job.id), job.name, f"until {job.ends_by.astimezone(shop_zone(session)):%H:%M}")
        for job in running_jobs(session, now)
    ]
    context = {
        "p": p,
        "sealed": SEALED,
        "jobs": [
            *jobs,
            (NEW_JOB, "A new job for this", "Shop work; you lead it and owe its rags"),
            ("none", "No job", "Only for what holds no oil: water, alcohol, shellac, glue"),
        ],
    }
    return page(request, "samples/new.html", context, status, section="bench")


@router.get("/{sample_id}")
def one(sample_id: Id, request: Request, data: Data, actor: Signed) -> Response:
    """Board, target, verdict, and every addition in its order."""
    with data.reading() as session:
        return sample_page(request, session, actor, seen_sample(session, actor, sample_id))


@router.get("/{sample_id}/edit")
def edit(sample_id: Id, request: Request, data: Data, actor: Signed) -> Response:
    """The words as they stand."""
    with data.reading() as session:
        row = seen_sample(session, actor, sample_id).sample
        p = filled(
            target=row.target, wood=row.wood, grit=row.grit, sealed=row.sealed.value,
            sealed_with=row.sealed_with, coats=row.coats, version=row.version,
        )  # fmt: skip
    return _edit_page(request, sample_id, p)


@router.post("/{sample_id}/edit")
def put_right(
    sample_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[EditForm], Depends(posted(EditForm))],
) -> Response:  # fmt: skip
    """Keep the words."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                describe_sample(session, actor, now, sample_id, form.version, form.target, form.board())
                flash(session, request, "You put the words about this sample right.")
                return RedirectResponse(f"/samples/{sample_id}", 303)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
    with data.reading() as session:
        seen_sample(session, actor, sample_id)
    return _edit_page(request, sample_id, p, 422)


def _edit_page(request: Request, sample_id: int, p: Posted[Any], status: int = 200) -> Response:
    context = {"p": p, "sample_id": sample_id, "sealed": SEALED}
    return page(request, "samples/edit.html", context, status, section="bench")


@router.post("/{sample_id}/verdict")
def judge(
    sample_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[VerdictForm], Depends(posted(VerdictForm))],
) -> Response:  # fmt: skip
    """How the dry board came out."""
    form = p.value
    if form is not None:
        with data.writing() as session:
            asked = VerdictAsked(
                once=form.once, sample_id=sample_id, verdict=form.verdict, note=form.note,
                version=form.version,
            )  # fmt: skip
            judge_sample(session, actor, now, asked)
            flash(session, request, f"You judged the board: {VERDICT_WORDS[form.verdict].lower()}.")
            return RedirectResponse(f"/samples/{sample_id}", 303)
    with data.reading() as session:
        return sample_page(request, session, actor, seen_sample(session, actor, sample_id), 422, judged=p)


@router.post("/{sample_id}/make")
def make(
    sample_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[MakeForm], Depends(posted(MakeForm))],
) -> Response:  # fmt: skip
    """Keep what went in as a version, and check the stock for so much of it."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                done = make_this_much(session, actor, now, form.once, sample_id, form.amount).result
                if done["wrote"]:
                    words = f"What went in is version {done['version_number']} of the recipe now."
                    flash(session, request, words, f"/recipes/{done['recipe']}", "Look at it")
                return RedirectResponse(f"/checks/{done['check']}", 303)
        except Invalid as wrong:
            p.take(wrong, "amount")
    with data.reading() as session:
        return sample_page(request, session, actor, seen_sample(session, actor, sample_id), 422, wanted=p)
