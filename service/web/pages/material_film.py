"""`/materials/N/film`: what a keeper writes of a material for the film, beside what is published of it."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.write_film_figures import (
    PIGMENT_TABLE,
    FilmFigures,
    FilmFiguresAsked,
    film_figures_held,
    write_film_figures,
)
from service.core.findings import Invalid
from service.records.film_facts import Held, film_facts
from service.records.knowledge import load_known_materials
from service.records.material_queries import the_material
from service.records.materials import Material
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Note, NumberText, Once, Sentence, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import page

router = APIRouter(prefix="/materials", include_in_schema=False)
Share = Annotated[NumberText, Field(ge=0, le=100)]
Absorbed = Annotated[NumberText, Field(gt=0, le=1000)]


class FilmForm(FormModel):
    """A keeper's figures for the film. A field left empty is not known."""

    oil_absorption_low: Absorbed | None = Field(default=None, title="Lowest oil absorption")
    oil_absorption_high: Absorbed | None = Field(default=None, title="Highest oil absorption")
    non_volatile_percent: Share | None = Field(default=None, title="What stays when dry")
    pigment_percent: Share | None = Field(default=None, title="Pigment")
    pigment_key: str = Field(default="", max_length=60, title="Which pigment")
    film_source: Annotated[Sentence, Field(max_length=200)] | None = Field(default=None, title="Source")
    reason: Note = Field(default="", title="Why it is changed")
    version: Version
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {}

    def figures(self) -> FilmFigures:
        return FilmFigures(
            oil_absorption_low=self.oil_absorption_low,
            oil_absorption_high=self.oil_absorption_high,
            non_volatile_percent=self.non_volatile_percent,
            pigment_percent=self.pigment_percent,
            pigment_key=self.pigment_key or None,
            film_source=self.film_source or None,
        )


def _page(request: Request, material: Material, p: Posted[Any], status: int = 200) -> Response:
    pigments = [(one.key, one.name) for one in load_known_materials() if one.table == PIGMENT_TABLE]
    context = {"p": p, "m": material, "pigments": sorted(pigments, key=lambda one: one[1].casefold()),
               "published": _published(material)}  # fmt: skip
    return page(request, "materials/film.html", context, status, section="store")


def _published(material: Material) -> list[tuple[str, str]]:
    """What the tables hold of it, or of the pigment in it, with source and grade."""
    held = film_facts(material.pigment_key or material.known_key or "")
    if held is None:
        return []
    figures = (
        ("Density", held.density), ("Oil absorption", held.oil_absorption),
        ("What stays when dry", held.non_volatile), ("Size of the grains", held.particle_um),
        ("Oil of a historic paste (no oil absorption)", held.paste_oil),
    )  # fmt: skip
    return [(f"{name} of {held.name}", _words(one)) for name, one in figures if one is not None]


def _words(held: Held) -> str:
    low, high = held.span
    span = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    return f"{span} {held.unit.replace('um', 'µm')} ({held.source}, grade {held.grade})"


@router.get("/{material_id}/film")
def ask_film(request: Request, material_id: Id, data: Data, actor: Signed, secret: Secrets) -> Response:
    """The keeper's form, filled with what is known."""
    with data.reading() as session:
        material = the_material(session, material_id)
    shown: dict[str, Any] = {k: v for k, v in vars(film_figures_held(material)).items() if v is not None}
    shown |= {"version": material.version, "once": secret()}
    plain = {k: f"{v:f}" if isinstance(v, Decimal) else v for k, v in shown.items()}
    return _page(request, material, filled(**plain))


@router.post("/{material_id}/film")
def set_film(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[FilmForm], Depends(posted(FilmForm))],
) -> Response:  # fmt: skip
    """Keep the figures, each change with before and after."""
    with data.reading() as session:
        material = the_material(session, material_id)
    if p.value is None:
        return _page(request, material, p, 422)
    form = p.value
    try:
        asked = FilmFiguresAsked(form.once, form.version, form.figures(), form.reason)
        with data.writing() as session:
            result = write_film_figures(session, actor, now, material_id, asked).result
            flash(session, request, f"The film figures of {result['name']} are kept.")
            return RedirectResponse(f"/materials/{material_id}", 303)
    except Invalid as wrong:
        p.take(wrong)
        return _page(request, material, p, 422)
