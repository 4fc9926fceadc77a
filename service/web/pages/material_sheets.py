"""`/materials/N/sheets`: taking in a safety data sheet, and handing its file out as an attachment."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.keep_sheets import SheetAsked, keep_sheet, read_sheet_file
from service.actions.set_up_shop import REGIMES
from service.core.findings import Invalid
from service.core.sheet_files import ENDINGS
from service.records.material_queries import the_material
from service.records.materials import Material
from service.records.shop import ShopProfile
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Now, Secrets
from service.web.fields import DayText, Id, Once
from service.web.forms import FormModel, Posted, filled, posted
from service.web.guard import MAX_UPLOAD_BODY
from service.web.pages.materials import actor_is_keeper
from service.web.render import page

router = APIRouter(prefix="/materials", include_in_schema=False)


class SheetForm(FormModel):
    """What stands on the first page of a sheet."""

    regime: str = Field(title="Law")
    sheet_date: DayText | None = Field(default=None, title="Date of the sheet")
    copied_whole: bool = False
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("regime", "missing"): "Choose the law the sheet was written under.",
    }


def _sheet_page(
    request: Request, material: Material, p: Posted[Any], actor: Signed, status: int = 200
) -> Response:
    context = {"p": p, "m": material, "laws": list(REGIMES.items()), "keeper": actor_is_keeper(actor)}
    return page(request, "materials/sheet.html", context, status, section="store")


@router.get("/{material_id}/sheets/new")
def ask(request: Request, material_id: Id, data: Data, actor: Signed, secret: Secrets) -> Response:
    """The form for a sheet; the shop's own law is filled in."""
    with data.reading() as session:
        material = the_material(session, material_id)
        shop = session.get(ShopProfile, 1)
    p = filled(regime=shop.regime if shop else "", once=secret())
    return _sheet_page(request, material, p, actor)


@router.post("/{material_id}/sheets/new", max_body_size=MAX_UPLOAD_BODY)
def add(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed, settings: Config,
    p: Annotated[Posted[SheetForm], Depends(posted(SheetForm, uploads=True))],
) -> Response:  # fmt: skip
    """Keep the sheet. The file is told by its bytes and lies under its hash; its name is only text."""
    with data.reading() as session:
        material = the_material(session, material_id)
    if p.value is None:
        return _sheet_page(request, material, p, actor, 422)
    form, file = p.value, p.upload("sheet")
    asked = SheetAsked(
        form.once, form.regime, form.sheet_date, form.copied_whole,
        file.name if file else "", file.content if file else b"",
    )  # fmt: skip
    if file is not None and not file.content:
        p.refuse("sheet", "The file is empty. Choose the sheet again.")
        return _sheet_page(request, material, p, actor, 422)
    try:
        with data.writing() as session:
            keep_sheet(session, actor, now, material_id, asked, settings.files)
            flash(session, request, f"The sheet of {material.name} is kept.")
            return RedirectResponse(f"/materials/{material_id}", 303)
    except Invalid as wrong:
        p.take(wrong, "sheet")
        return _sheet_page(request, material, p, actor, 422)


@router.get("/{material_id}/sheets/{sheet_id}/file")
def hand_out(material_id: Id, sheet_id: Id, data: Data, actor: Signed, settings: Config) -> Response:
    """The file, never shown inside a page of ours: whatever it holds, it runs nowhere here."""
    with data.reading() as session:
        stored, content = read_sheet_file(session, material_id, sheet_id, settings.files)
    plain = f"sheet-{sheet_id}{ENDINGS[stored.media_type]}"
    named = f"filename=\"{plain}\"; filename*=UTF-8''{quote(stored.name, safe='')}"
    headers = {
        "Content-Disposition": f"attachment; {named}",
        "Content-Security-Policy": "sandbox; default-src 'none'",
        "X-Content-Type-Options": "nosniff",
    }
    return Response(content, media_type=stored.media_type, headers=headers)
