"""`/materials/N/describe` and the buttons of its page: published facts, spoons weighed, retiring."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.revise_material import Revision, adopt_published, description_held, revise_material
from service.actions.weigh_spoons import WeighingAsked, weigh_spoons
from service.core.findings import Invalid
from service.records.material_queries import the_material
from service.records.materials import Material
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Once, Version, WrittenAmount
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.materials import BASES, FORMS, KINDS, MaterialForm, actor_is_keeper
from service.web.render import page

router = APIRouter(prefix="/materials", include_in_schema=False)


class WeighForm(FormModel):
    written: WrittenAmount = Field(title="What you weighed")
    version: Version
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("written", "missing"): "Write what you weighed, like ten level teaspoons weighed 23 g.",
    }


class DescribeForm(MaterialForm):
    version: Version


class PlainForm(FormModel):
    """A button that needs a key and the version that was shown."""

    version: Version
    once: Once
    active: bool = False


@router.get("/{material_id}/describe")
def ask_description(
    request: Request, material_id: Id, data: Data, actor: Signed, secret: Secrets
) -> Response:
    """Name, maker and note; kind, form and numbers for a keeper."""
    with data.reading() as session:
        material = the_material(session, material_id)
    held = vars(description_held(material))
    p = filled(**{k: v for k, v in held.items() if v is not None}, version=material.version, once=secret())
    return _description_page(request, material, p, actor)


def _description_page(
    request: Request, material: Material, p: Posted[Any], actor: Signed, status: int = 200
) -> Response:
    context = {
        "p": p, "m": material, "kinds": KINDS, "forms": FORMS, "bases": BASES,
        "keeper": actor_is_keeper(actor),
    }  # fmt: skip
    return page(request, "materials/describe.html", context, status, section="store")


@router.post("/{material_id}/describe")
def set_description(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[DescribeForm], Depends(posted(DescribeForm))],
) -> Response:  # fmt: skip
    """Keep the description, each change with before and after."""
    with data.reading() as session:
        material = the_material(session, material_id)
    if p.value is None:
        return _description_page(request, material, p, actor, 422)
    asked = Revision(p.value.once, p.value.version, said=p.value.description())
    try:
        with data.writing() as session:
            result = revise_material(session, actor, now, material_id, asked).result
            said = " ".join(f["sentence"] for f in result["findings"])
            flash(session, request, f"{result['name']} is changed. {said}".strip())
            return RedirectResponse(f"/materials/{material_id}", 303)
    except Invalid as wrong:
        p.take(wrong, "name")
        return _description_page(request, material, p, actor, 422)


@router.post("/{material_id}/published")
def take_published(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[PlainForm], Depends(posted(PlainForm))],
) -> Response:  # fmt: skip
    """Take the published facts over where the shop has none."""
    form = _needed(p)
    with data.writing() as session:
        result = adopt_published(session, actor, now, material_id, form.once, form.version).result
        flash(
            session,
            request,
            f"The published facts of {result['name']} were taken over. Check them with the sheet.",
        )
        return RedirectResponse(f"/materials/{material_id}", 303)


@router.post("/{material_id}/active")
def set_active(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[PlainForm], Depends(posted(PlainForm))],
) -> Response:  # fmt: skip
    """Retire a material of which nothing is left, or bring it back."""
    form = _needed(p)
    with data.writing() as session:
        asked = Revision(form.once, form.version, active=form.active)
        result = revise_material(session, actor, now, material_id, asked).result
        flash(session, request, f"{result['name']} is {'in use again' if form.active else 'retired'}.")
        return RedirectResponse(f"/materials/{material_id}", 303)


def _needed(p: Posted[PlainForm]) -> PlainForm:
    if p.value is None:
        raise Invalid("Open the page of the material again and press the button there.", p.errors)
    return p.value


@router.get("/{material_id}/spoons")
def ask_spoons(request: Request, material_id: Id, data: Data, actor: Signed, secret: Secrets) -> Response:
    """How ten level spoons are weighed, and the line to write."""
    with data.reading() as session:
        material = the_material(session, material_id)
    return _spoons_page(request, material, filled(version=material.version, once=secret()))


def _spoons_page(request: Request, material: Material, p: Posted[Any], status: int = 200) -> Response:
    return page(request, "materials/spoons.html", {"p": p, "m": material}, status, section="store")


@router.post("/{material_id}/spoons")
def weigh(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[WeighForm], Depends(posted(WeighForm))],
) -> Response:  # fmt: skip
    """Keep the weighing; it beats the table from now on."""
    with data.reading() as session:
        material = the_material(session, material_id)
    if p.value is None:
        return _spoons_page(request, material, p, 422)
    asked = WeighingAsked(p.value.once, p.value.version, p.value.written)
    try:
        with data.writing() as session:
            result = weigh_spoons(session, actor, now, material_id, asked).result
            said = " ".join(f["sentence"] for f in result["findings"])
            flash(
                session,
                request,
                f"A level spoon of {material.name} holds {result['g_ml']} g/ml. {said}".strip(),
            )
            return RedirectResponse(f"/materials/{material_id}", 303)
    except Invalid as wrong:
        p.take(wrong, "written")
        return _spoons_page(request, material, p, 422)
