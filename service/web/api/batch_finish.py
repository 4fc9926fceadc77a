"""`/api/batches/N/finish` and `/balance`: what a batch made, and the balance before it is booked."""

from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import Field

from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish, said
from service.actions.look_at_finish import look_at_finish
from service.actions.tell_rest import RestAsked, tell_rest
from service.core.materials import Form
from service.core.pot_waste import PotWentTo
from service.web.access_gate import Signed
from service.web.api.batches import CONFIRMATION, BalanceOut, BatchAnswer, Text, answered
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for
from service.web.api_model import ApiModel
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Note

router = APIRouter(prefix="/api/batches", tags=["mixing"], responses=PROBLEMS)


class JarIn(ApiModel):
    amount: Text
    place: Id | None = None
    capacity: Annotated[str, Field(max_length=60)] = ""
    note: Note = ""


class FinishIn(PostModel):
    """What it made. ``made`` missing: what is in the jars, or not measured."""

    made: Text = ""
    made_how: Literal["measured", "estimated"] | None = Field(None, description="How that is known")
    loss: Text = Field("", description="How much stayed in pot and strainer; missing: not measured")
    strained: bool | None = None
    stir_note: Annotated[str, Field(max_length=300)] = ""
    jars: Annotated[list[JarIn], Field(max_length=60)] = Field([])
    went_to: PotWentTo | None = Field(
        None, description="Where the rest went; missing: nobody said, and it counts as waste"
    )
    loss_note: Note = ""
    form: Form | None = Field(None, description="How the mix lies in a jar; counts for the first jar only")
    already_done: bool = False
    confirmation: Note = CONFIRMATION


class RestIn(PostModel):
    """Where all went that is in no jar, and of which nobody said so yet."""

    went_to: PotWentTo = Field(description="Where it went; what evaporated or is on the work is no waste")


class BalanceAnswer(BalanceOut):
    """A balance with what was found about it."""

    findings: list[FindingOut]


@router.post("/{batch_id}/finish", status_code=201, summary="Finish it and fill jars")
def post_finish(
    batch_id: Id, asked: FinishIn, data: Data, now: Now, actor: Signed, secrets: Secrets
) -> BatchAnswer:
    """A jar inherits the dates, lots, hazards and the self-heating mark of everything that went in."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return answered(finish(session, person, now, _finish_asked(batch_id, asked), secrets))


@router.post("/{batch_id}/balance", summary="The balance as it would be, booking nothing")
def post_balance(batch_id: Id, asked: FinishIn, data: Data, now: Now, actor: Signed) -> BalanceAnswer:
    """What `finish` with the same body would say of what went in and came out."""
    with data.reading() as session:
        told = look_at_finish(session, actor, now, _finish_asked(batch_id, asked))
        return BalanceAnswer(**said(told), findings=[FindingOut(**f.as_dict()) for f in told.findings])


def _finish_asked(batch_id: int, asked: FinishIn) -> FinishAsked:
    return FinishAsked(
        once=asked.once, batch_id=batch_id, made=asked.made, yield_how=asked.made_how or "",
        loss=asked.loss, loss_note=asked.loss_note, strained=asked.strained, stir_note=asked.stir_note,
        form=asked.form, went_to=asked.went_to,
        jars=tuple(JarAsked(j.amount, j.place, j.capacity, j.note) for j in asked.jars),
        happened_at=asked.happened_at, already_done=asked.already_done, late_reason=asked.late_reason,
        confirmation=asked.confirmation,
    )  # fmt: skip


@router.post("/{batch_id}/rest", status_code=201, summary="Say later where the rest of it went")
def post_rest(batch_id: Id, asked: RestIn, data: Data, now: Now, actor: Signed) -> BatchAnswer:
    """Of a batch that ended with something in no jar of which nobody said where it went."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return answered(tell_rest(session, person, now, RestAsked(asked.once, batch_id, asked.went_to)))
