"""`/api/batches`: set aside, start, add, finish, release, give up; and reading batches."""

from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field, computed_field
from sqlmodel import Session

from service.actions.addition_amounts import amount_of, most_of
from service.actions.after_use import after_use, stir_words
from service.actions.drop_batch import GiveUpAsked, give_up, release
from service.actions.finish_batch import balance_of, jars_held, said
from service.actions.hold_back import lines_by_hand
from service.actions.make_batch import SetAsideAsked, StartAsked, set_aside, start
from service.actions.met_in_pot import after_batch, met_in_batch, stir_what_met
from service.actions.mixes_inside import what_is_in_batch
from service.actions.settle import Settled
from service.core.ledger import Destination
from service.core.materials import Basis
from service.core.shelf_codes import show_code
from service.records.mixing import Batch, BatchState, Recipe
from service.records.mixing_queries import additions_of, allocations_of, the_recipe
from service.records.stock import Container
from service.web.access_gate import Signed
from service.web.api.by_hand import ByHandOut, by_hand_out
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for
from service.web.batch_words import seen_batch, seen_batches
from service.web.deps import Data, Now
from service.web.fields import Id, Note, Offset, PageSize

router = APIRouter(prefix="/api/batches", tags=["mixing"], responses=PROBLEMS)

Text = Annotated[str, Field(max_length=200)]
CONFIRMATION: Any = Field(
    "", description="How the condition of what is otherwise never put together is met, or what a thing is "
    "that nobody can tell and how it is known: a sentence of three different words or more"
)
CodeText = Annotated[str, Field(max_length=120)]


class BeginIn(PostModel):
    """What a start says besides what it is made from."""

    job: Id | None = Field(None, description="The running job; self-heating material always needs one")
    open_job: bool = Field(
        True, description="Open a shop-work job where it needs one and none is named, as a draw does"
    )
    looked: Annotated[list[CodeText], Field(max_length=200)] = Field(
        [], description="Codes of containers that were looked at now and are sound"
    )
    already_done: bool = Field(False, description="It has happened: recorded, with a violation if need be")
    confirmation: Note = CONFIRMATION

    def asked(self, **more: Any) -> StartAsked:
        return StartAsked(
            once=self.once, job_id=self.job, open_job=self.open_job, looked=tuple(self.looked),
            happened_at=self.happened_at, already_done=self.already_done, late_reason=self.late_reason,
            confirmation=self.confirmation, **more,
        )  # fmt: skip


class BatchIn(BeginIn):
    """A batch from a stock check: started at once, or with ``set_aside`` only promised its stock."""

    fingerprint: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    recipe: Id | None = None
    planned_date: Id | None = Field(
        None, description="The planned date whose check it is; without it the batch stands for none"
    )
    set_aside: bool = False




class GiveUpIn(PostModel):
    reason: Note
    went_to: Destination | None = None


class AdditionOut(BaseModel):
    """What went in; amounts in whole mg, microlitres or pieces. ``amount`` null: not measured, at most
    ``at_most`` (null: nobody knows the most).
    """

    id: int | None = None
    how: str | None = None
    at_most: int | None = None
    code: str | None
    material: str
    amount: int | None
    basis: Basis | None
    written: str
    movement: int | None
    rag_load: int | None = None


class JarOut(BaseModel):
    code: str
    shown: str
    material: str
    amount: int
    basis: Basis
    written: str
    movement: int | None
    in_date_until: str | None
    self_heating: str


class BalanceOut(BaseModel):
    """``difference`` is in minus out in the smallest units of ``basis``; null where it cannot be told."""

    went_in: list[str]
    came_out: list[str]
    difference: int | None
    basis: Basis | None
    lost: int | None = Field(None, description="What was recorded as lost; null where nobody measured it")
    lost_words: str = ""
    unexplained: int | None = Field(None, description="Difference less what was recorded as lost")
    sentence: str = ""


class BatchAnswer(BaseModel):
    """What was booked."""

    posting: int
    repeated: bool
    batch: int
    findings: list[FindingOut]
    state: BatchState | None = None
    recipe: int | None = None
    job: int | None = None
    additions: list[AdditionOut] | None = None
    jars: list[JarOut] | None = None
    made: str | None = None
    made_how: str | None = None
    strained: bool | None = None
    balance: BalanceOut | None = None
    released: int | None = None
    went_to: str | None = None
    rag_load: int | None = Field(None, description="The load that pot, strainers and wipes of it joined")

    @computed_field  # type: ignore[prop-decorator]
    @property
    def id(self) -> int:
        """The same as ``batch``."""
        return self.batch


class PromiseOut(BaseModel):
    code: str
    shown: str
    amount: int
    state: str


class BatchBrief(BaseModel):
    id: int
    recipe: int
    name: str
    state: BatchState
    job: int | None
    amount: str
    times: Decimal | None
    started_at: datetime | None
    finished_at: datetime | None
    version: int


class FilledOut(BaseModel):
    """A jar with what was filled into it."""

    code: str
    shown: str
    amount: int


class AfterUseOut(BaseModel):
    """Common practice, no source: never a promise that something is dry."""

    clear_coat: str
    test: str
    left_over: str
    wiping: str
    stir: str


class BatchOut(BatchBrief):
    """One batch: what is promised or drawn, what went in, the jars, the balance."""

    allocations: list[PromiseOut]
    by_hand: list[ByHandOut] = Field(description="Lines that the start left to the bench")
    still_by_hand: list[int] = Field(description="The positions of those into which nothing has gone yet")
    additions: list[AdditionOut]
    jars: list[FilledOut]
    made: str
    made_how: str | None
    loss_note: str
    strained: bool | None
    stir_note: str
    after_use: AfterUseOut
    balance: BalanceOut | None
    met: list[FindingOut] = Field(description="What stands in it together and should never have met")
    findings: list[FindingOut]


class BatchList(BaseModel):
    items: list[BatchBrief]


@router.get("", summary="Batches")
def batches(
    data: Data, actor: Signed, state: BatchState | None = None, offset: Offset = 0, limit: PageSize = 50
) -> BatchList:
    """The newest first; a student sees those of their own jobs."""
    wanted = (state,) if state else tuple(BatchState)
    with data.reading() as session:
        rows = seen_batches(session, actor, wanted, limit, offset)
        return BatchList(items=[_brief(batch, recipe) for batch, recipe in rows])


@router.get("/{batch_id}", summary="One batch")
def one_batch(batch_id: Id, data: Data, actor: Signed) -> BatchOut:
    """With everything that went in; an addition that was taken back is left out."""
    with data.reading() as session:
        batch = seen_batch(session, actor, batch_id)
        recipe = the_recipe(session, batch.recipe_id)
        rows = allocations_of(session, batch_id)
        by_hand = lines_by_hand(batch)
        filled = {one.row.position for one in additions_of(session, batch_id) if not one.reversed}
        promised = [(row, session.get(Container, row.container_id)) for row in rows]
        done = batch.state is BatchState.FINISHED
        told = balance_of(session, batch) if done else None
        return BatchOut(
            **_brief(batch, recipe).model_dump(),
            allocations=[
                PromiseOut(code=c.code, shown=show_code(c.code), amount=row.amount, state=row.state)
                for row, c in promised
                if c is not None
            ],
            by_hand=[by_hand_out(line) for line in by_hand],
            still_by_hand=[line.position for line in by_hand if line.position not in filled],
            additions=[
                AdditionOut(
                    id=one.row.id, how=one.row.how, at_most=most_of(session, one),
                    code=one.container.code if one.container else None, material=one.material.name,
                    amount=amount_of(session, one), basis=one.row.basis, written=one.row.written,
                    movement=one.row.movement_id,
                    rag_load=one.movement.rag_load_id if one.movement else None,
                )
                for one in additions_of(session, batch_id)
                if not one.reversed
            ],
            jars=[
                FilledOut(code=box.code, shown=show_code(box.code), amount=amount or 0)
                for box, amount in jars_held(session, batch_id)
            ],
            made=batch.yield_written,
            made_how=batch.yield_how,
            loss_note=batch.loss_note,
            strained=batch.strained,
            stir_note=batch.stir_note or "",
            after_use=_after_use(session, batch_id),
            balance=BalanceOut(**said(told)) if told else None,
            met=[FindingOut(**f.as_dict()) for f in met_in_batch(session, batch_id)],
            findings=[FindingOut(**f.as_dict()) for f in told.findings] if told else [],
        )  # fmt: skip


@router.post("", status_code=201, summary="Start a batch from a stock check, or set its stock aside")
def post_batch(asked: BatchIn, data: Data, now: Now, actor: Signed) -> BatchAnswer:
    """The check is run again: 409 stale if an allocation no longer holds or a finding appeared or got worse.
    A start draws everything or nothing.
    """
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        if asked.set_aside:
            wanted = SetAsideAsked(
                once=asked.once, fingerprint=asked.fingerprint, recipe_id=asked.recipe,
                planned_date_id=asked.planned_date,
            )  # fmt: skip
            return answered(set_aside(session, person, now, wanted))
        begin = asked.asked(
            fingerprint=asked.fingerprint, recipe_id=asked.recipe, planned_date_id=asked.planned_date
        )
        return answered(start(session, person, now, begin))


@router.post("/{batch_id}/start", status_code=201, summary="Start what was set aside")
def post_start(batch_id: Id, asked: BeginIn, data: Data, now: Now, actor: Signed) -> BatchAnswer:
    """The check is run again, as for a batch from a fingerprint."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return answered(start(session, person, now, asked.asked(batch_id=batch_id)))


@router.post("/{batch_id}/release", status_code=201, summary="Let go of what was set aside")
def post_release(batch_id: Id, asked: PostModel, data: Data, now: Now, actor: Signed) -> BatchAnswer:
    """Nothing was drawn, so nothing is owed."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return answered(release(session, person, now, batch_id, asked.once))


@router.post("/{batch_id}/give-up", status_code=201, summary="Give a running batch up")
def post_give_up(batch_id: Id, asked: GiveUpIn, data: Data, now: Now, actor: Signed) -> BatchAnswer:
    """What was drawn stays drawn, its rags stay owed; says why and where it went."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = GiveUpAsked(
            once=asked.once, batch_id=batch_id, reason=asked.reason, went_to=asked.went_to
        )
        return answered(give_up(session, person, now, wanted))


def _after_use(session: Session, batch_id: int) -> AfterUseOut:
    lines = what_is_in_batch(session, batch_id)
    met = met_in_batch(session, batch_id)
    words = after_batch(session, batch_id, after_use(session, lines))
    return AfterUseOut(
        clear_coat=words.clear_coat, test=words.test, left_over=words.left_over, wiping=words.wiping,
        stir=stir_what_met(met, stir_words(session, lines)),
    )  # fmt: skip


def answered(settled: Settled) -> BatchAnswer:
    """What an act on a batch booked."""
    known = {name: value for name, value in settled.result.items() if name in BatchAnswer.model_fields}
    return BatchAnswer(posting=settled.posting_id, repeated=settled.repeated, **known)


def _brief(batch: Batch, recipe: Recipe) -> BatchBrief:
    return BatchBrief(
        id=batch.id or 0, recipe=recipe.id or 0, name=recipe.name, state=batch.state, job=batch.job_id,
        amount=batch.wanted_written, times=batch.times, started_at=batch.started_at,
        finished_at=batch.finished_at, version=batch.version,
    )  # fmt: skip
