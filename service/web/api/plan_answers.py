"""The plan of a term as data: needs, what is missing, what to buy, what would die unused."""

from datetime import date
from decimal import Decimal

from pydantic import BaseModel, Field

from service.actions.look_at_term import TermOutlook
from service.core.costs import rounded
from service.core.materials import Basis
from service.core.plan_stock import Covered
from service.core.waste_avoided import Rescue
from service.web.api.posting import FindingOut
from service.web.order_view import missing_words
from service.web.render import HARD


class TakenOut(BaseModel):
    """So much out of a container, or of an order that has not come yet."""

    code: str | None = Field(description="Shelf code; null for what is only ordered")
    order: str = Field(description="The order it comes with; empty for what is on the shelf")
    amount: int
    opens: bool
    look_first: bool


class NeedOfDay(BaseModel):
    """What one job needs of one material on its day, in whole mg, microlitres or pieces by ``basis``.

    ``high`` is what counts; null = not known. ``missing`` null = not known. ``sure`` false: an earlier job
    takes an amount nobody knows, or it is on its way and nobody knows how long it keeps. ``job`` null: it is
    the least on the shelf, or a batch that stands for no planned day. ``term`` is the term of the job, which
    may be another one; null where there is no job.
    """

    job: int | None
    term: int | None
    job_name: str
    on: date
    material: int
    name: str
    low: int | None
    high: int | None
    basis: Basis | None
    taken: list[TakenOut]
    missing: int | None
    sure: bool


class OrderLineOut(BaseModel):
    """So many packs; ``order_by`` null: nobody knows how long it takes; ``cost`` null: no price. ``arrive``
    is the day to expect it: the last working day before its first use, or where that is too late (``late``)
    the day it comes if it is ordered today; ``comes`` is that day for every line, null: not known.
    """

    pack: int
    pack_amount: int
    count: int
    supplier: str
    lead_days: int | None = Field(description="Working days from ordering to delivery; null: not known")
    arrive: date
    order_by: date | None
    comes: date | None
    late: bool
    first_use: date
    last_use: date
    left: int
    cost: Decimal | None


class OrderOut(BaseModel):
    """What to buy of a material. ``short`` null: not known. ``chosen`` false: no packs could be chosen, the
    shortage stands; ``complete`` false: this is the least.
    """

    material: int
    name: str
    basis: Basis | None
    short: int | None
    words: str
    lines: list[OrderLineOut]
    chosen: bool
    complete: bool


class TakerOut(BaseModel):
    job: int
    job_name: str
    on: date
    amount: int


class DyingOut(BaseModel):
    """What dies unused, or wants a look; ``last_day`` null: not known."""

    code: str | None
    order: str
    material: int
    name: str
    amount: int
    last_day: date | None
    rescue: Rescue = Field(
        description="What would have to happen; “no-job”: no planned job is known to take it"
    )
    takers: list[TakerOut]


class PlanOut(BaseModel):
    """The plan. ``needs`` hold the jobs of other terms as well where they come before; ``findings`` are about
    this term. ``complete``: nothing in it is not known; what is missing stands in the needs and findings.
    """

    term: int
    as_of: date
    needs: list[NeedOfDay]
    orders: list[OrderOut]
    cost: Decimal
    cost_at_least: bool
    currency: str | None
    dying: list[DyingOut]
    findings: list[FindingOut]
    complete: bool


def plan_out(look: TermOutlook) -> PlanOut:
    """Everything of a plan."""
    cost = look.plan.orders.cost
    return PlanOut(
        term=look.term.id or 0,
        as_of=look.today,
        needs=[_need(look, one) for one in look.plan.stock.covered],
        orders=[
            OrderOut(
                material=order.material_id, name=order.name, basis=order.basis,
                short=order.short if order.short or order.complete else None,
                words=missing_words(order).replace(HARD, " "),
                chosen=order.chosen and bool(order.short or order.complete), complete=order.complete,
                lines=[
                    OrderLineOut(
                        pack=line.pack.pack_id, pack_amount=line.pack.amount, count=line.count,
                        supplier=line.pack.supplier, lead_days=line.pack.lead_days,
                        arrive=line.expected, order_by=line.order_by,
                        comes=line.comes, late=line.late, first_use=line.first_use, last_use=line.last_use,
                        left=line.left,
                        cost=None if line.cost is None else rounded(line.cost, look.currency),
                    )
                    for line in order.lines
                ],
            )
            for order in look.plan.orders.orders
        ],
        cost=rounded(cost.exact, look.currency, at_least=cost.at_least),
        cost_at_least=cost.at_least,
        currency=look.currency,
        dying=[
            DyingOut(
                code=one.code if one.container_id > 0 else None,
                order="" if one.container_id > 0 else one.code,
                material=one.material_id, name=look.bought[one.material_id].name, amount=one.amount,
                last_day=one.last_day, rescue=one.rescue,
                takers=[
                    TakerOut(job=t.job, job_name=t.job_name, on=t.on, amount=t.amount) for t in one.takers
                ],
            )
            for one in look.plan.dying
        ],
        findings=[FindingOut(**f.as_dict()) for f in [*look.verdict, *cost.findings]],
        complete=look.verdict.complete and not cost.at_least,
    )  # fmt: skip


def _need(look: TermOutlook, one: Covered) -> NeedOfDay:
    need = one.need
    job = look.jobs.get(need.job)
    return NeedOfDay(
        job=need.job if job else None, term=job.row.term_id if job else None,
        job_name=need.job_name, on=need.on,
        material=need.material_id, name=need.material, low=need.low, high=need.high, basis=need.basis,
        taken=[
            TakenOut(
                code=p.code if p.container_id > 0 else None, order="" if p.container_id > 0 else p.code,
                amount=p.amount, opens=p.opens, look_first=p.look_first,
            )
            for p in one.promises
        ],
        missing=one.missing, sure=one.sure,
    )  # fmt: skip
