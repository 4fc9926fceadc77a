"""`POST /api/containers`: take in one or several containers alike."""

from datetime import date
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.place_order import receive_ordered
from service.actions.receive_stock import receive
from service.core.containers import Condition
from service.core.costs import MOST_PAID
from service.core.materials import Unknown
from service.core.storage_rules import Vessel
from service.core.take_in import MOST_AT_ONCE
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PlaceRef, PostModel, acting_for, place_number
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Note

router = APIRouter(prefix="/api/containers", tags=["containers"], responses=PROBLEMS)

Short = Annotated[str, Field(max_length=120)]


class ReceiveIn(PostModel):
    """What came in. Whatever is missing is not known; nothing is guessed for it."""

    material: Id
    count: Annotated[int, Field(ge=1, le=MOST_AT_ONCE)] = 1
    amount: Annotated[str, Field(max_length=200)] = Field(
        "", description="In each, as written: “250 g”, “about half” (with `capacity`); empty = not known",
        examples=["250 g"],
    )
    estimated: bool = False
    capacity: Annotated[str, Field(max_length=60)] = ""
    place: PlaceRef | None = Field(None, description="Number or code of the place")
    origin: Origin = Field(Origin.SUPPLIER, description="stock-take: it stood in the room already")
    supplier: Short = ""
    lot: Short = ""
    packed_on: date | None = None
    received_on: date | None = Field(None, description="Missing: the day of taking in, on a delivery")
    printed_date: date | None = Field(None, description="A use-by date printed on it")
    opened: bool = False
    opened_on: date | None = Field(None, description="Of what came open; missing = not known")
    condition: Condition = Condition.NOT_KNOWN
    sheet_came: Unknown = Unknown.NOT_KNOWN
    note: Note = ""
    price: Annotated[Decimal, Field(ge=0, le=MOST_PAID, max_digits=12)] | None = Field(
        None, description="What each cost, in the shop's currency; missing = not known"
    )
    code: Annotated[str, Field(max_length=120)] = Field(
        "", description="Of a label printed ahead, for one container; empty = a new code"
    )
    vessel: Vessel | None = Field(None, description="What each is made of; missing = not known")
    over_reason: Annotated[str, Field(max_length=300)] = Field(
        "", description="Why a keeper takes it in over a storage limit, in a sentence"
    )
    order_line: Id | None = Field(None, description="The line of an order that it is of: it is ticked off")


class TakenIn(BaseModel):
    id: int
    code: str
    shown: str = Field(description="The code in two groups, as on the label")


class ReceiveAnswer(BaseModel):
    """``amount`` is what is in each, in whole mg, microlitres or pieces by ``basis``; null = not known."""

    containers: list[TakenIn]
    material: int
    name: str
    place: int | None
    amount: int | None
    basis: str | None
    missing: list[str] = Field(description="Codes of what is missing or wrong; see `findings`")
    findings: list[FindingOut]


@router.post("", status_code=201, summary="Take in containers")
def take_in(asked: ReceiveIn, data: Data, now: Now, actor: Signed, secrets: Secrets) -> ReceiveAnswer:
    """Each container gets a shelf code and a movement of its own. What is missing is said, not refused."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = ReceiveAsked(
            once=asked.once,
            material_id=asked.material,
            count=asked.count,
            amount=asked.amount,
            estimated=asked.estimated,
            capacity=asked.capacity,
            place_id=place_number(session, asked.place, "place"),
            origin=asked.origin,
            supplier=asked.supplier,
            lot=asked.lot,
            packed_on=asked.packed_on,
            received_on=asked.received_on,
            printed_date=asked.printed_date,
            opened=asked.opened,
            opened_on=asked.opened_on,
            condition=asked.condition,
            sheet_came=asked.sheet_came,
            note=asked.note,
            price=asked.price,
            code=asked.code,
            happened_at=asked.happened_at,
            late_reason=asked.late_reason,
            vessel=asked.vessel,
            over_reason=asked.over_reason,
        )
        if asked.order_line is None:
            return ReceiveAnswer(**receive(session, person, now, wanted, secrets).result)
        done = receive_ordered(session, person, now, wanted, asked.order_line, secrets)
        return ReceiveAnswer(**done.result)
