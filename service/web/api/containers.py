"""`GET /api/containers`: what is in the store, and one container with its dates, reasons and events."""

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Path, Query
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.core.containers import Condition, ContainerState, Standing
from service.core.materials import MaterialKind
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.records.ageing_queries import standing_of
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.materials import Material
from service.records.stock import Container, ContainerEvent
from service.records.stock_queries import container_by_code, events_of, material_of, place_of, promised
from service.records.store_queries import IN_THE_STORE, StoreWanted, find_containers
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id, Offset, PageSize, Sentence

router = APIRouter(prefix="/api/containers", tags=["containers"], responses=PROBLEMS)

CodePath = Annotated[str, Path(max_length=120, description="The shelf code, in any letter case")]


class ContainerBrief(BaseModel):
    """A container in a list. ``amount`` in whole mg, microlitres or pieces by ``basis``; null = not known."""

    code: str
    shown: str
    material: int
    name: str
    state: ContainerState
    amount: int | None
    basis: str | None
    known: str
    words: str
    place: str | None
    standing: Standing
    in_date_until: date | None


class ContainerList(BaseModel):
    total: int
    items: list[ContainerBrief]


class ReasonOut(BaseModel):
    """One step of how the date was found."""

    code: str
    sentence: str
    on: date | None
    source: str


class EventOut(BaseModel):
    id: int
    kind: str
    on_date: date | None = Field(description="null = asked and not known")
    outcome: str
    note: str
    person: int
    happened_at: datetime
    recorded_at: datetime
    late: bool


class ContainerOut(ContainerBrief):
    """One container. A date that is null is not known (``printed_date``: none is printed)."""

    condition: Condition
    capacity: str
    tare_mg: int | None
    supplier: str
    lot: str
    packed_on: date | None
    received_on: date | None
    opened_on: date | None
    ever_opened: bool
    printed_date: date | None
    self_heating: bool
    keeper_only: bool
    promised: int = Field(description="What is set aside for batches that have not drawn it yet")
    because: list[ReasonOut]
    findings: list[FindingOut]
    events: list[EventOut]
    version: int


@router.get("", summary="What is in the store")
def store(
    data: Data,
    now: Now,
    actor: Signed,
    q: Annotated[Sentence | None, Query(description="Part of a name, a maker, a lot or a code")] = None,
    standing: Standing | None = None,
    kind: MaterialKind | None = None,
    material: Id | None = None,
    place: Annotated[Id | None, Query(description="This place and everything in it")] = None,
    state: ContainerState | None = None,
    offset: Offset = 0,
    limit: PageSize = 50,
) -> ContainerList:
    """Containers by material and code. Without ``state`` all that are not gone."""
    states = IN_THE_STORE if state is None else (state,)
    wanted = StoreWanted(q or "", kind, material, place, standing, states)
    with data.reading() as session:
        rows, total = find_containers(session, wanted, shop_today(session, now), offset, limit)
        items = [
            ContainerBrief(**_brief(r.container, r.material, r.place.name if r.place else None),
                           standing=r.standing, in_date_until=r.in_date_until)
            for r in rows
        ]  # fmt: skip
    return ContainerList(total=total, items=items)


def _brief(box: Container, material: Material, place: str | None) -> dict[str, object]:
    basis = material.basis
    return {
        "code": box.code,
        "shown": show_code(box.code),
        "material": material.id,
        "name": material.name,
        "state": box.state,
        "amount": box.balance,
        "basis": basis.value if basis else None,
        "known": box.balance_known.value,
        "words": show_amount(box.balance, basis) if basis else "not known",
        "place": place,
    }


@router.get("/{code}", summary="One container")
def one(code: CodePath, data: Data, now: Now, actor: Signed) -> ContainerOut:
    """How it stands today, with every reason, and everything that happened to it."""
    with data.reading() as session:
        return describe(session, container_by_code(session, code), shop_today(session, now))


def describe(session: Session, box: Container, today: date) -> ContainerOut:
    """A container as the API tells it."""
    assert box.id is not None
    material, place = material_of(session, box), place_of(session, box)
    ageing = standing_of(session, box, material, today)
    return ContainerOut(
        **_brief(box, material, place.name if place else None),
        standing=ageing.standing,
        in_date_until=ageing.in_date_until,
        condition=box.condition,
        capacity=box.capacity_written,
        tare_mg=box.tare_mg,
        supplier=box.supplier,
        lot=box.lot,
        packed_on=box.packed_on,
        received_on=box.received_on,
        opened_on=box.opened_on,
        ever_opened=box.ever_opened,
        printed_date=box.printed_date,
        self_heating=counts_self_heating(session, material, box),
        keeper_only=counts_keeper_only(session, material, box),
        promised=promised(session, [box.id]).get(box.id, 0),
        because=[
            ReasonOut(code=r.code, sentence=r.sentence, on=r.on, source=r.source) for r in ageing.because
        ],
        findings=[FindingOut(**f.as_dict()) for f in ageing.verdict],
        events=[_event(e) for e in events_of(session, box.id)],
        version=box.version,
    )


def _event(event: ContainerEvent) -> EventOut:
    assert event.id is not None
    return EventOut(
        id=event.id,
        kind=event.kind.value,
        on_date=event.on_date,
        outcome=event.outcome,
        note=event.note,
        person=event.person_id,
        happened_at=event.happened_at,
        recorded_at=event.recorded_at,
        late=event.late,
    )
