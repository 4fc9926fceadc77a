"""`GET /api/ledger` and its check, and `POST /api/movements/{id}/reversal`."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from service.actions.check_ledger import check
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.witness import heads_in
from service.core.ledger import MovementKind
from service.core.quantities import show_amount
from service.records.stock_queries import container_by_code
from service.records.store_queries import LedgerRow, LedgerWanted, find_movements
from service.web.access_gate import Signed
from service.web.api.container_acts import After
from service.web.api.posting import PROBLEMS, FindingOut, PersonRef, acting_for, told_now
from service.web.api_model import ApiModel
from service.web.deps import Config, Data, Now, shop_zone
from service.web.fields import Id, InstantText, Offset, Once, PageSize

router = APIRouter(tags=["ledger"], responses=PROBLEMS)


class MovementOut(BaseModel):
    """One line. ``change`` in whole mg, microlitres or pieces by ``basis``; null: how much is not known."""

    id: int
    container: str
    material: int
    name: str
    kind: MovementKind
    change: int | None
    counted: int | None
    basis: str | None
    words: str
    known: str
    written: str
    how: str
    other_side: str
    other_text: str
    destination: str | None
    batch: int | None
    job: int | None
    rag_load: int | None
    reverses: int | None
    reversed_by: int | None
    reason: str
    self_heating: bool
    balance_after: int | None
    person: int
    person_name: str
    happened_at: datetime
    recorded_at: datetime
    late: bool


class LedgerPage(BaseModel):
    total: int
    items: list[MovementOut]


def movement_out(row: LedgerRow) -> MovementOut:
    """A line of the ledger as the API tells it."""
    m, basis = row.movement, row.material.basis
    assert m.id is not None
    assert row.material.id is not None
    return MovementOut(
        id=m.id,
        container=row.container.code,
        material=row.material.id,
        name=row.material.name,
        kind=m.kind,
        change=m.change,
        counted=m.counted,
        basis=basis.value if basis else None,
        words=show_amount(m.change, basis) if basis else "not known",
        known=m.known.value,
        written=m.written,
        how=m.how,
        other_side=m.other_side.value,
        other_text=m.other_text,
        destination=m.destination.value if m.destination else None,
        batch=m.batch_id,
        job=m.job_id,
        rag_load=m.rag_load_id,
        reverses=m.reverses_id,
        reversed_by=row.reversed_by,
        reason=m.reason,
        self_heating=m.self_heating,
        balance_after=m.balance_after,
        person=m.person_id,
        person_name=row.person,
        happened_at=m.happened_at,
        recorded_at=m.recorded_at,
        late=m.late,
    )


@router.get("/api/ledger", summary="The ledger, the newest entry first")
def ledger(
    data: Data,
    actor: Signed,
    container: Annotated[str | None, Query(max_length=120)] = None,
    material: Id | None = None,
    kind: MovementKind | None = None,
    person: Id | None = None,
    job: Id | None = None,
    batch: Id | None = None,
    late: bool | None = None,
    since: InstantText | None = None,
    before: InstantText | None = None,
    offset: Offset = 0,
    limit: PageSize = 50,
) -> LedgerPage:
    """Every movement stands here for good; one that was taken back names the entry that did."""
    with data.reading() as session:
        box = container_by_code(session, container).id if container is not None else None
        wanted = LedgerWanted(box, material, kind, person, job, batch, late, since, before)
        rows, total = find_movements(session, wanted, offset, limit)
        return LedgerPage(total=total, items=[movement_out(row) for row in rows])


class CheckOut(BaseModel):
    """``holds`` is true when everything kept ready follows from the acts."""

    holds: bool
    faults: list[str]
    counts: dict[str, int]
    rag_log: str = Field(description="What is proved of the rag log, and against which outside witness")


@router.get("/api/ledger/check", summary="Derive every balance, state and date from the acts")
def check_it(data: Data, settings: Config, actor: Signed) -> CheckOut:
    """Looks at everything; on a large book it takes a while."""
    with data.reading() as session:
        heads = heads_in(settings.data, shop_zone(session)).heads
        return CheckOut(**check(session, heads).as_dict())


class ReversalIn(ApiModel):
    once: Once
    reason: Annotated[str, Field(max_length=2000)]
    person: PersonRef | None = Field(None, description="Number or name; missing = the token's own")
    happened_at: datetime | None = Field(None, description="It counts from now: leave this out")


class ReversalOut(BaseModel):
    posting: int
    repeated: bool
    reversals: list[int] = Field(description="The new entries, one for each that was taken back")
    reversed: list[int]
    container: After
    others: list[After]
    findings: list[FindingOut]


@router.post("/api/movements/{movement_id}/reversal", status_code=201, summary="Take an entry back")
def post_reversal(movement_id: Id, asked: ReversalIn, data: Data, now: Now, actor: Signed) -> ReversalOut:
    """Own entries: a student for two minutes, a finisher on the same day; a keeper any. With a reason."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        who = acting_for(session, actor, asked.person, now)
        done = reverse(session, who, now, ReverseAsked(asked.once, movement_id, asked.reason))
        known = {name: value for name, value in done.result.items() if name in ReversalOut.model_fields}
        return ReversalOut(posting=done.posting_id, repeated=done.repeated, **known)
