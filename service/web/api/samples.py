"""`/api/samples`: boards coloured by eye: begin one, read them, judge them."""

from datetime import datetime
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field, computed_field
from sqlmodel import Session

from service.actions.judge_sample import VerdictAsked, judge_sample
from service.actions.start_sample import SampleAsked, start_sample
from service.core.colour_samples import MOST_COATS, Board, SampleVerdict
from service.core.materials import Basis, Unknown
from service.records.mixing import BatchState
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for, told_now
from service.web.deps import Data, Now
from service.web.fields import Id, Name, Note, Offset, PageSize, Version
from service.web.sample_words import SeenSample, seen_sample, seen_samples, stepped

router = APIRouter(prefix="/api/samples", tags=["mixing"], responses=PROBLEMS)


class SampleIn(PostModel):
    """A board to be coloured by eye: an empty running batch, and a recipe named after the target."""

    target: Annotated[Note, Field(min_length=1, max_length=500)] = Field(
        description="What is to be matched, in words"
    )
    wood: Name
    grit: Annotated[str, Field(max_length=40)] = ""
    sealed: Unknown = Unknown.NOT_KNOWN
    sealed_with: Annotated[str, Field(max_length=120)] = ""
    coats: Annotated[int, Field(ge=1, le=MOST_COATS)] | None = None
    job: Id | None = Field(None, description="The running job; without one nothing self-heating can go in")
    open_job: bool = Field(False, description="Open a shop-work job for it")
    purpose: Annotated[str, Field(max_length=60)] = ""

    def asked(self) -> SampleAsked:
        board = Board(self.wood, self.grit, self.sealed, self.sealed_with, self.coats)
        return SampleAsked(
            once=self.once, target=self.target, board=board, job_id=self.job, open_job=self.open_job,
            purpose=self.purpose,
        )  # fmt: skip


class VerdictIn(PostModel):
    """How the dry board came out."""

    verdict: SampleVerdict
    note: Note = ""
    version: Version | None = Field(None, description="The sample's, as it was read; missing = not compared")


class SampleBegun(BaseModel):
    """What was begun; additions go to ``/api/batches/{batch}/additions``."""

    posting: int
    repeated: bool
    sample: int
    batch: int
    recipe: int
    name: str
    job: int | None
    findings: list[FindingOut]

    @computed_field  # type: ignore[prop-decorator]
    @property
    def id(self) -> int:
        """The same as ``sample``."""
        return self.sample


class SampleJudged(BaseModel):
    posting: int
    repeated: bool
    sample: int
    verdict: SampleVerdict
    version: int
    findings: list[FindingOut]


class SampleBrief(BaseModel):
    id: int
    name: str
    batch: int
    recipe: int
    state: BatchState
    job: int | None
    target: str
    wood: str
    grit: str
    sealed: Unknown
    sealed_with: str
    coats: int | None
    verdict: SampleVerdict | None
    verdict_note: str
    judged_by: int | None
    judged_at: datetime | None
    photo: bool
    target_photo: bool
    created_at: datetime
    version: int


class StepOut(BaseModel):
    """One addition. ``amount`` null = nobody measured it; ``at_most`` is then the most it was, if said.

    ``total_mg`` is what is known of all up to here, ``at_least`` when something in it is not; ``percent`` is
    the share of the whole by mass, null while anything is not known.
    """

    material: int
    name: str
    code: str | None
    amount: int | None
    basis: Basis | None
    written: str
    at_most: int | None
    mass_mg: int | None
    total_mg: int
    at_least: bool
    percent: Decimal | None
    added_at: datetime


class SampleOut(SampleBrief):
    """One sample with its additions in their order, those taken back left out."""

    additions: list[StepOut]
    findings: list[FindingOut]


class SampleList(BaseModel):
    items: list[SampleBrief]


@router.get("", summary="Colour samples")
def samples(data: Data, actor: Signed, offset: Offset = 0, limit: PageSize = 50) -> SampleList:
    """The newest first; a student sees those of their own jobs."""
    with data.reading() as session:
        return SampleList(items=[_brief(one) for one in seen_samples(session, actor, limit, offset)])


@router.get("/{sample_id}", summary="One colour sample")
def one_sample(sample_id: Id, data: Data, actor: Signed) -> SampleOut:
    """With everything that went onto it."""
    with data.reading() as session:
        return _whole(session, seen_sample(session, actor, sample_id))


@router.post("", status_code=201, summary="Begin a colour sample")
def post_sample(asked: SampleIn, data: Data, now: Now, actor: Signed) -> SampleBegun:
    """Nothing is drawn: what is put in goes to its batch, judged like any addition."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        done = start_sample(session, person, now, asked.asked())
        return SampleBegun(posting=done.posting_id, repeated=done.repeated, **done.result)


@router.post("/{sample_id}/verdict", status_code=201, summary="Judge a dry board")
def post_verdict(sample_id: Id, asked: VerdictIn, data: Data, now: Now, actor: Signed) -> SampleJudged:
    """A later verdict takes the place of an earlier one, which stays noted."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = VerdictAsked(
            once=asked.once, sample_id=sample_id, verdict=asked.verdict, note=asked.note,
            version=asked.version,
        )  # fmt: skip
        done = judge_sample(session, person, now, wanted)
        return SampleJudged(posting=done.posting_id, repeated=done.repeated, **done.result)


def _brief(one: SeenSample) -> SampleBrief:
    row = one.sample
    return SampleBrief(
        id=row.id or 0, name=one.recipe.name, batch=row.batch_id, recipe=one.recipe.id or 0,
        state=one.batch.state, job=one.batch.job_id, target=row.target, wood=row.wood, grit=row.grit,
        sealed=row.sealed, sealed_with=row.sealed_with, coats=row.coats,
        verdict=SampleVerdict(row.verdict) if row.verdict else None, verdict_note=row.verdict_note,
        judged_by=row.judged_by, judged_at=row.judged_at, photo=row.photo_sha256 is not None,
        target_photo=row.target_photo_sha256 is not None, created_at=row.created_at, version=row.version,
    )  # fmt: skip


def _whole(session: Session, seen: SeenSample) -> SampleOut:
    went_in, rows = stepped(session, seen.sample.batch_id)
    return SampleOut(
        **_brief(seen).model_dump(),
        additions=[
            StepOut(
                material=one.added.row.material_id, name=one.added.material.name,
                code=one.added.container.code if one.added.container else None,
                amount=one.span.high if one.span.known else None, basis=one.added.row.basis,
                written=one.added.row.written, at_most=None if one.span.known else one.span.high,
                mass_mg=one.step.mass_mg, total_mg=one.step.total_mg,
                at_least=one.step.at_least, percent=one.step.percent, added_at=one.added.row.added_at,
            )
            for one in rows
        ],
        findings=[FindingOut(**f.as_dict()) for f in went_in.made.findings],
    )  # fmt: skip
