"""`/materials/{id}/packs`: the packs a material is sold in, and the least of it on the shelf."""

import uuid
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.read_amount import remember_choice
from service.actions.write_packs import (
    MinimumAsked,
    PackAsked,
    put_away_pack,
    set_minimum,
    write_pack,
)
from service.core.access import Actor, Permission, may
from service.core.costs import say_minor
from service.core.findings import Invalid, NotFound
from service.records.material_queries import the_material
from service.records.order_queries import MOST_PACKS, packs_of, supplier_names, the_pack
from service.records.orders import MaterialMinimum, PackSizeRow
from service.records.shop import ShopProfile
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now
from service.web.fields import Id, Name, NumberText, Once, Version, Whole, WrittenAmount
from service.web.forms import FormModel, Posted, filled, posted
from service.web.order_view import lead_words
from service.web.plan_amounts import pack as pack_words
from service.web.render import page

router = APIRouter(prefix="/materials/{material_id}", include_in_schema=False)


class PackForm(FormModel):
    """One more pack size."""

    amount: WrittenAmount = Field(title="What is in one")
    price: NumberText | None = Field(default=None, title="Price of one")
    supplier: Name | None = Field(default=None, title="Supplier")
    lead_days: Whole | None = Field(default=None, title="Lead time")
    doubt: Annotated[str, Field(max_length=200)] = ""
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("amount", "missing"): "Write what is in one pack, such as 500 ml or 2.5 kg."
    }


class LeastForm(FormModel):
    """The least on the shelf; empty = nothing is asked."""

    least: WrittenAmount | None = Field(default=None, title="The least on the shelf")
    doubt: Annotated[str, Field(max_length=200)] = ""
    version: Version = 0
    once: Once


class AwayForm(FormModel):
    """One press."""

    version: Version = 0
    once: Once


@router.get("/packs")
def show(material_id: Id, request: Request, data: Data, actor: Signed) -> Response:
    """The packs, the least, and the forms for both."""
    with data.reading() as session:
        return _page(request, session, actor, material_id, filled(), filled())


def _page(
    request: Request, session: Session, actor: Actor, material_id: int, p: Posted[Any], q: Posted[Any],
    status: int = 200,
) -> Response:  # fmt: skip
    material = the_material(session, material_id)
    row = session.get(MaterialMinimum, material_id)
    shop = session.get(ShopProfile, 1)
    names = supplier_names(session)
    if not q.raw:
        q = filled(least=row.written if row else "")
    context = {
        "p": p,
        "q": q,
        "m": material,
        "packs": [_card(pack, names) for pack in packs_of(session, [material_id])],
        "most": MOST_PACKS,
        "suppliers": sorted(names.values(), key=str.casefold),
        "least": row.written if row and row.amount is not None else "",
        "least_version": row.version if row else 0,
        "currency": (shop.currency if shop else None) or "",
        "may_plan": may(actor.role, Permission.PLAN),
        "key": lambda: uuid.uuid4().hex,
    }
    return page(request, "orders/packs.html", context, status, section="store")


def _card(pack: PackSizeRow, names: Mapping[int, str]) -> dict[str, Any]:
    lead = pack.lead_days
    return {
        "id": pack.id,
        "version": pack.version,
        "words": pack_words(pack.amount, pack.basis, pack.written),
        "written": pack.written,
        "facts": [
            ("Supplier", names.get(pack.supplier_id or 0, "not known")),
            ("Price of one", say_minor(pack.price_minor, pack.currency)),
            ("Lead time", lead_words(lead)),
        ],
    }


@router.post("/packs")
def write(
    material_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[PackForm], Depends(posted(PackForm))],
) -> Response:  # fmt: skip
    """One more pack, or the same one with another price."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                if form.doubt:
                    material = the_material(session, material_id)
                    remember_choice(session, actor, material, form.doubt, form.amount)
                asked = PackAsked(
                    once=form.once, material_id=material_id, amount=form.amount, price=form.price,
                    supplier=form.supplier or "", lead_days=form.lead_days,
                )  # fmt: skip
                write_pack(session, actor, now, asked)
                flash(session, request, f"Wrote down the pack of {form.amount}.")
            return RedirectResponse(f"/materials/{material_id}/packs", 303)
        except Invalid as wrong:
            p.take(wrong, "amount")
    with data.reading() as session:
        return _page(request, session, actor, material_id, p, filled(), 422)


@router.post("/least")
def least(
    material_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    q: Annotated[Posted[LeastForm], Depends(posted(LeastForm))],
) -> Response:  # fmt: skip
    """The least on the shelf at the end of a term."""
    form = q.value
    if form is not None:
        try:
            with data.writing() as session:
                if form.doubt and form.least:
                    material = the_material(session, material_id)
                    remember_choice(session, actor, material, form.doubt, form.least)
                set_minimum(
                    session, actor, now, MinimumAsked(form.once, material_id, form.least or "", form.version)
                )
                flash(session, request, f"The least on the shelf: {form.least or 'nothing is asked'}.")
            return RedirectResponse(f"/materials/{material_id}/packs", 303)
        except Invalid as wrong:
            q.take(wrong, "least")
    with data.reading() as session:
        return _page(request, session, actor, material_id, filled(), q, 422)


@router.post("/packs/{pack_id}/away")
def put_away(
    material_id: Id, pack_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[AwayForm], Depends(posted(AwayForm))],
) -> Response:  # fmt: skip
    """A pack that is not sold any more."""
    if p.value is not None:
        with data.writing() as session:
            if the_pack(session, pack_id).material_id != material_id:
                raise NotFound("This pack is of another material.")
            put_away_pack(session, actor, now, p.value.once, pack_id, p.value.version)
            flash(session, request, "Put the pack away.")
    return RedirectResponse(f"/materials/{material_id}/packs", 303)
