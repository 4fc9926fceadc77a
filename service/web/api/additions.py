"""`/api/batches/N/additions`: putting something in, what it changed, and taking it back."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.actions.add_to_batch import AddAsked, add
from service.actions.change_of_addition import change_of_addition, change_of_undo
from service.actions.undo_addition import UndoAsked, the_addition, undo_addition
from service.core.additions import HowAdded, Span, WasIn
from service.core.mix_change import MixChange, MixState
from service.web.access_gate import Signed
from service.web.api.batches import CONFIRMATION, BatchAnswer, CodeText, Text, answered
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for
from service.web.batch_words import seen_batch
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id, Note
from service.web.pages.material_hazards import shop_regime

router = APIRouter(prefix="/api/batches", tags=["mixing"], responses=PROBLEMS)


class AddIn(PostModel):
    """One more addition: from the container ``code``, or of ``material`` in shelf order."""

    how: Literal["amount", "container", "pot", "not-measured"] = Field(
        "amount",
        description="`amount` as written; `container`: all that is left in it; `pot`: by the pot on the "
        "scale, `before` and `after`; `not-measured`: its container owes a count",
    )
    amount: Text = ""
    before: Annotated[Text, Field(description="The pot before; a bare figure is in grams")] = ""
    after: Annotated[Text, Field(description="The pot after; a bare figure is in grams")] = ""
    code: CodeText = ""
    material: Id | None = None
    looked: bool = False
    more_than_book: bool = False
    job: Id | None = Field(None, description="Another running job than the batch's own")
    already_done: bool = False
    confirmation: Note = CONFIRMATION


class UndoIn(PostModel):
    """Why it is taken back, and whether it was ever in the pot: what went in counts on."""

    reason: Note
    was_in: WasIn | None = Field(
        None,
        description="Needed. `never`: typed wrong, it was not put in; `went-in` is refused with the way on",
    )


class SpanOut(BaseModel):
    """Least and most in whole mg or microlitres; ``high`` null: nobody knows the most."""

    low: int
    high: int | None


class StatementOut(BaseModel):
    code: str
    text: str


class MixOut(BaseModel):
    """The mix at one moment. ``volume_ul`` null: the densities of ``volume_lacks`` are not known."""

    mass_mg: SpanOut
    volume_ul: SpanOut | None
    volume_lacks: list[str]
    pigment_percent: tuple[float, float] | None
    binder: str | None
    rags_heat: bool
    flash_point_c: Decimal | None
    flash_point_is_calculated: bool
    hazards: list[str]
    pictograms: list[str]
    signal_word: str | None
    hazard_statements: list[StatementOut]
    complete: bool


class ChangeOut(BaseModel):
    """What an addition changed, as the book stands now. ``findings``: what came, went, is newly not known;
    ``complete`` false: something of before or after is not known.
    """

    before: MixOut
    after: MixOut
    findings: list[FindingOut]
    complete: bool


class AddAnswer(BatchAnswer):
    """What was booked, and what it changed."""

    changed: ChangeOut | None = None


class AdditionSeen(BaseModel):
    """One addition of a batch. ``changed`` null: it was taken back and counts for nothing."""

    id: int
    batch: int
    material: str
    written: str
    how: str | None
    taken_back: bool
    added_at: datetime
    pot_before_mg: int | None
    pot_after_mg: int | None
    changed: ChangeOut | None


class UndoAnswer(BaseModel):
    """What was taken back; ``reversals`` is empty for what came by no movement, such as tap water."""

    posting: int
    repeated: bool
    batch: int
    addition: int
    reversals: list[int]
    changed: ChangeOut = Field(description="The mix with it and without it")
    findings: list[FindingOut]


@router.post("/{batch_id}/additions", status_code=201, summary="Put one more amount in")
def post_addition(batch_id: Id, asked: AddIn, data: Data, now: Now, actor: Signed) -> AddAnswer:
    """Judged like a draw. Tap water goes in without a movement. ``changed`` says what it made of the mix."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = AddAsked(
            once=asked.once, batch_id=batch_id, how=HowAdded(asked.how), amount=asked.amount,
            before=asked.before, after=asked.after, code=asked.code, material_id=asked.material,
            looked=asked.looked, more_than_book=asked.more_than_book, job_id=asked.job,
            happened_at=asked.happened_at, already_done=asked.already_done, late_reason=asked.late_reason,
            confirmation=asked.confirmation,
        )  # fmt: skip
        settled = add(session, person, now, wanted)
    booked = answered(settled).model_dump(exclude={"id"})
    ids = [one["id"] for one in settled.result["additions"] if one.get("id")]
    # Judged after the commit, so that nobody waits for the writer's lock meanwhile.
    with data.reading() as session:
        return AddAnswer(**booked, changed=_changed(session, now, batch_id, ids[-1]) if ids else None)


@router.get("/{batch_id}/additions/{addition_id}", summary="One addition and what it changed")
def get_addition(batch_id: Id, addition_id: Id, data: Data, now: Now, actor: Signed) -> AdditionSeen:
    """Judged as the book stands now: what was taken back since counts neither before nor after."""
    with data.reading() as session:
        seen_batch(session, actor, batch_id)
        one = the_addition(session, batch_id, addition_id)
        return AdditionSeen(
            id=addition_id, batch=batch_id, material=one.material.name, written=one.row.written,
            how=one.row.how, taken_back=one.reversed, added_at=one.row.added_at,
            pot_before_mg=one.row.pot_before_mg, pot_after_mg=one.row.pot_after_mg,
            changed=_changed(session, now, batch_id, addition_id),
        )  # fmt: skip


@router.post("/{batch_id}/additions/{addition_id}/undo", status_code=201, summary="Take one addition back")
def post_undo(
    batch_id: Id, addition_id: Id, asked: UndoIn, data: Data, now: Now, actor: Signed
) -> UndoAnswer:
    """By a reversal, only what never went in; its rag load stays. A student two minutes, a finisher on the
    day, a keeper any. ``changed`` says what it made of the mix.
    """
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        seen_batch(session, person, batch_id)
        wanted = UndoAsked(asked.once, batch_id, addition_id, asked.reason, asked.was_in)
        settled = undo_addition(session, person, now, wanted)
    said = settled.result
    with data.reading() as session:
        regime, today = shop_regime(session), shop_today(session, now)
        changed = change_out(change_of_undo(session, batch_id, addition_id, regime, today))
    return UndoAnswer(
        posting=settled.posting_id, repeated=settled.repeated, batch=said["batch"], addition=said["addition"],
        reversals=said["reversals"], changed=changed,
        findings=[FindingOut(**one) for one in said["findings"]],
    )  # fmt: skip


def _changed(session: Session, now: datetime, batch_id: int, addition_id: int) -> ChangeOut | None:
    today = shop_today(session, now)
    change = change_of_addition(session, batch_id, addition_id, shop_regime(session), today).change
    return None if change is None else change_out(change)


def change_out(change: MixChange) -> ChangeOut:
    """A change as plain data."""
    return ChangeOut(
        before=_mix(change.before),
        after=_mix(change.after),
        findings=[FindingOut(**one.as_dict()) for one in change.all_findings],
        complete=change.complete,
    )


def _mix(state: MixState) -> MixOut:
    return MixOut(
        mass_mg=_span(state.mass),
        volume_ul=_span(state.volume) if state.volume is not None else None,
        volume_lacks=list(state.volume_lacks),
        pigment_percent=state.pigment_percent,
        binder=state.held,
        rags_heat=state.rags_heat,
        flash_point_c=state.flash_c,
        flash_point_is_calculated=state.flash_calculated,
        hazards=[one.text for one in state.hazards],
        pictograms=list(state.pictograms),
        signal_word=state.signal.value if state.signal else None,
        hazard_statements=[StatementOut(code=one.code, text=one.text) for one in state.statements],
        complete=state.complete,
    )


def _span(span: Span) -> SpanOut:
    return SpanOut(low=span.low, high=span.high)
