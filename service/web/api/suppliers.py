"""`/api/suppliers`: whom the shop buys from, and another name for one."""

from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.rename_supplier import LONGEST_NAME, rename_supplier
from service.records.order_queries import suppliers
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, PostModel, acting_for, told_now
from service.web.deps import Data, Now
from service.web.fields import Id

router = APIRouter(prefix="/api/suppliers", tags=["planning"], responses=PROBLEMS)


class SupplierName(PostModel):
    """Another name; ``before`` is the one that was read. ``join``: it may be another supplier's, as they are
    one: the packs and orders become that one's."""

    before: Annotated[str, Field(max_length=LONGEST_NAME)]
    name: Annotated[str, Field(min_length=1, max_length=LONGEST_NAME)]
    join: bool = False


class SupplierOut(BaseModel):
    id: int
    name: str


class SupplierList(BaseModel):
    items: list[SupplierOut]


@router.get("", summary="Whom the shop buys from")
def listing(data: Data) -> SupplierList:
    """Every supplier of the book, in the order of their names."""
    with data.reading() as session:
        return SupplierList(items=[SupplierOut(id=row.id or 0, name=row.name) for row in suppliers(session)])


@router.post("/{supplier_id}", status_code=201, summary="Another name for a supplier")
def rename(supplier_id: Id, asked: SupplierName, data: Data, now: Now, actor: Signed) -> SupplierOut:
    """What was ordered of it, and the packs it sells, stay its own. Joined, the one that is left answers."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        done = rename_supplier(
            session, person, now, asked.once, supplier_id, asked.before, asked.name, join=asked.join
        ).result
        return SupplierOut(id=done["supplier"], name=done["name"])
