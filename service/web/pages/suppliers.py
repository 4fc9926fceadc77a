"""`/suppliers`: whom the shop buys from, what each sells, and another name for one."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.rename_supplier import rename_supplier
from service.actions.settle import the_shop
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid
from service.core.shop_days import shop_day
from service.records.order_queries import joined_to, sold_by, suppliers, the_supplier
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now
from service.web.fields import Id, Name, Once
from service.web.forms import FormModel, Posted, filled, posted
from service.web.plan_amounts import pack as pack_words
from service.web.render import day, page

router = APIRouter(prefix="/suppliers", include_in_schema=False)


class NameForm(FormModel):
    """Another name; ``before`` is the one that was read."""

    supplier: Name = Field(title="Name")
    before: Annotated[str, Field(max_length=120)] = ""
    join: bool = False
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("supplier", "missing"): "Write the supplier's name."
    }


@router.get("")
def listing(request: Request, data: Data) -> Response:
    """Everybody the shop buys from, by name."""
    with data.reading() as session:
        sold = sold_by(session)
        cards = [
            {
                "id": row.id,
                "name": row.name,
                "packs": [
                    {"href": f"/materials/{pack.material_id}/packs",
                     "words": f"{material}, {pack_words(pack.amount, pack.basis, pack.written)}"}
                    for pack, material in sold.get(row.id or 0, [])
                ],
            }
            for row in suppliers(session)
        ]  # fmt: skip
    return page(request, "orders/suppliers.html", {"cards": cards}, section="term")


@router.get("/{supplier_id}")
def show(supplier_id: Id, request: Request, data: Data, actor: Signed) -> Response:
    """The form of its name."""
    with data.reading() as session:
        name = the_supplier(session, supplier_id).name
        return _form(request, session, actor, supplier_id, filled(supplier=name, before=name))


@router.post("/{supplier_id}")
def rename(
    supplier_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[NameForm], Depends(posted(NameForm))],
) -> Response:  # fmt: skip
    """Write the other name."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                done = rename_supplier(
                    session, actor, now, form.once, supplier_id, form.before, form.supplier, join=form.join
                ).result
                words = f"The supplier is called {done['name']}."
                if "joined" in done:
                    words = f"{done['joined']} is joined to {done['name']}, with its packs and orders."
                flash(session, request, words)
            to = f"/suppliers/{done['supplier']}" if "joined" in done else "/suppliers"
            return RedirectResponse(to, 303)
        except Invalid as wrong:
            p.take(wrong, "supplier")
    with data.reading() as session:
        return _form(request, session, actor, supplier_id, p, 422)


def _form(
    request: Request, session: Session, actor: Actor, supplier_id: int, p: Posted[Any], status: int = 200
) -> Response:
    zone = the_shop(session).time_zone
    context = {
        "p": p,
        "id": supplier_id,
        "name": the_supplier(session, supplier_id).name,
        "may_plan": may(actor.role, Permission.PLAN),
        "joined": [
            f"{day(shop_day(row.changed_at, zone))}: {row.before} was joined to it. {row.reason}"
            for row in joined_to(session, supplier_id)
        ],
        "key": lambda: uuid.uuid4().hex,
    }
    return page(request, "orders/supplier.html", context, status, section="term")
