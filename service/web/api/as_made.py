"""`/api/batches/N/as-made`: plan against made, what it cost, and keeping it as the recipe's next version."""

from decimal import Decimal

from fastapi import APIRouter
from pydantic import BaseModel, Field, computed_field

from service.actions.cost_of_batch import BatchCost, cost_of_batch
from service.actions.keep_as_made import AsMadeAsked, AsMadeSeen, keep_as_made, look_at_as_made
from service.core.as_made import Compared, Differs
from service.core.costs import rounded
from service.core.findings import Verdict
from service.core.materials import Basis
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for, told_now
from service.web.batch_words import seen_batch, sees_all
from service.web.deps import Data, Now
from service.web.fields import Id, Note

router = APIRouter(prefix="/api/batches", tags=["mixing"], responses=PROBLEMS)


class AsMadeIn(PostModel):
    """Keep what went in as the next version of the recipe."""

    note: Note = ""


class ComparedOut(BaseModel):
    """One material, in whole mg, microlitres or pieces by ``basis``; null = not known, or not in it.

    ``made`` is what was measured, null where nothing was; with ``unmeasured`` more went in, at most
    ``made_at_most`` in all. ``difference`` counts from the nearer end of the plan, ``percent`` of that end.
    """

    material: int
    name: str
    differs: Differs
    basis: Basis | None
    planned_low: int | None
    planned_high: int | None
    to_suit: bool
    made: int | None
    unmeasured: bool
    made_at_most: int | None
    difference: int | None
    percent: Decimal | None


class MakesOut(BaseModel):
    amount: int
    basis: Basis
    because: str


class CostOut(BaseModel):
    """``amount`` in ``currency``, rounded once: halves up, ``at_least`` down. ``per``: l, kg or piece."""

    amount: Decimal
    currency: str | None
    at_least: bool
    words: str
    per_amount: Decimal | None
    per: str | None
    findings: list[FindingOut]


class AsMadeOut(BaseModel):
    """Plan against made. ``cost`` is told to those who see the store."""

    batch: int
    recipe: int
    name: str
    planned_version: int
    kept_versions: list[int] = Field(description="Versions written from this batch, the newest first")
    makes: MakesOut | None
    lines: list[ComparedOut]
    cost: CostOut | None
    complete: bool
    findings: list[FindingOut]


class AsMadeKept(BaseModel):
    """What was written; it is the recipe's present version now."""

    posting: int
    repeated: bool
    batch: int
    recipe: int
    name: str
    version_number: int
    version: int
    makes: str
    findings: list[FindingOut]

    @computed_field  # type: ignore[prop-decorator]
    @property
    def id(self) -> int:
        """The same as ``recipe``."""
        return self.recipe


@router.get("/{batch_id}/as-made", summary="What a batch was really made of")
def one_as_made(batch_id: Id, data: Data, actor: Signed) -> AsMadeOut:
    """Beside the plan, grown to this batch. What was taken back is left out, what was put back taken off."""
    with data.reading() as session:
        batch = seen_batch(session, actor, batch_id)
        seen = look_at_as_made(session, batch)
        cost = _cost(cost_of_batch(session, batch)) if sees_all(actor) and seen.went_in.added else None
        return _out(seen, cost)


@router.post("/{batch_id}/as-made", status_code=201, summary="Keep it as the recipe's next version")
def post_as_made(batch_id: Id, asked: AsMadeIn, data: Data, now: Now, actor: Signed) -> AsMadeKept:
    """In the order of first addition; what nobody measured becomes “to suit, at most …”."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = AsMadeAsked(once=asked.once, batch_id=batch_id, note=asked.note)
        done = keep_as_made(session, person, now, wanted)
        return AsMadeKept(posting=done.posting_id, repeated=done.repeated, **done.result)


def _out(seen: AsMadeSeen, cost: CostOut | None) -> AsMadeOut:
    verdict = Verdict.of(seen.findings)
    makes = seen.makes
    return AsMadeOut(
        batch=seen.batch.id or 0, recipe=seen.recipe.id or 0, name=seen.recipe.name,
        planned_version=seen.plan_number, kept_versions=[version.number for version in seen.kept],
        makes=MakesOut(amount=makes.amount, basis=makes.basis, because=makes.because) if makes else None,
        lines=[_line(one) for one in seen.lines], cost=cost, complete=verdict.complete,
        findings=[FindingOut(**f.as_dict()) for f in verdict],
    )  # fmt: skip


def _line(one: Compared) -> ComparedOut:
    planned, made = one.planned, one.made
    return ComparedOut(
        material=one.material_id, name=one.name, differs=one.differs,
        basis=made.basis if made else planned.basis if planned else None,
        planned_low=planned.low if planned else None, planned_high=planned.high if planned else None,
        to_suit=planned.to_suit if planned else False,
        made=None if made is None or (made.unmeasured and not made.amount) else made.amount,
        unmeasured=made.unmeasured if made else False,
        made_at_most=made.at_most if made else None,
        difference=one.difference, percent=one.percent,
    )  # fmt: skip


def _cost(told: BatchCost) -> CostOut:
    at_least, currency = told.cost.at_least, told.currency
    return CostOut(
        amount=rounded(told.cost.exact, currency, at_least=at_least), currency=currency, at_least=at_least,
        words=told.words,
        per_amount=rounded(told.per[0], currency, at_least=at_least) if told.per else None,
        per=told.per[1] if told.per else None,
        findings=[FindingOut(**f.as_dict()) for f in told.findings],
    )  # fmt: skip
