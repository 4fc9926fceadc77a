"""`/materials/N/facts`: what a keeper writes of a material; each change is kept with before and after."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.revise_material import Revision, facts_held, revise_material
from service.core.findings import Invalid
from service.core.material_entry import KeeperFacts
from service.core.material_facts import FlashMethod
from service.core.materials import SelfHeating, Unknown
from service.core.written_classes import read_classes, read_metals
from service.records.material_queries import the_material
from service.records.materials import Material
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Name, Note, NumberText, Once, Sentence, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.material_view import METHODS
from service.web.render import page

router = APIRouter(prefix="/materials", include_in_schema=False)

YES_NO = [("yes", "Yes"), ("no", "No"), ("not-known", "Not known")]
LISTED = [
    ("not-known", "Not known", "nobody has read the sheet for it"),
    ("none", "Examined, none", "the sheet was read, and names none"),
    ("listed", "As listed below", ""),
]
HEATING = [
    ("yes", "Yes", "every oil, colour in oil, varnish, alkyd, drier"),
    ("no", "No", "only with the reason written below"),
    ("not-known", "Not known", "counts as yes"),
]
KEEPER_ONLY = [
    ("by-rule", "By rule", "from its classes, metals and kind; not known counts as yes"),
    ("yes", "Yes, keepers and finishers only", ""),
    ("no", "No, students may draw it", "only with the reason written below"),
]
Density = Annotated[NumberText, Field(ge=Decimal("0.0001"), le=25)]


class FactsForm(FormModel):
    """A keeper's facts. A field left empty is not known."""

    self_heating: SelfHeating = Field(title="Rags heat by themselves")
    self_heating_reason: Note = Field(default="", title="Reason for no")
    hazards_known: str = Field(default="not-known", pattern="^(not-known|none|listed)$")
    hazards: Note = Field(default="", title="Hazard classes")
    hazards_source: Annotated[Sentence, Field(max_length=200)] | None = Field(default=None, title="Source")
    metals_known: str = Field(default="not-known", pattern="^(not-known|none|listed)$")
    toxic_metals: Note = Field(default="", title="Toxic metals")
    ventilation_class: str = Field(default="", pattern="^[1-4]?$", title="Ventilation class")
    ventilation_source: Annotated[Sentence, Field(max_length=200)] | None = None
    flash_point_c: Annotated[NumberText, Field(ge=-120, le=500)] | None = Field(
        default=None, title="Flash point"
    )
    flash_point_method: FlashMethod | None = Field(default=None, title="Method")
    no_flash_reason: Annotated[Sentence, Field(max_length=200)] | None = None
    binder: Name | None = Field(default=None, title="Binder")
    oil_share_percent: Annotated[NumberText, Field(ge=0, le=100)] | None = Field(
        default=None, title="Oil share"
    )
    has_drier: Unknown = Unknown.NOT_KNOWN
    density_g_ml: Density | None = Field(default=None, title="Density")
    density_source: Annotated[Sentence, Field(max_length=200)] | None = None
    bulk_low_g_ml: Density | None = Field(default=None, title="Lowest loose density")
    bulk_high_g_ml: Density | None = Field(default=None, title="Highest loose density")
    bulk_source: Annotated[Sentence, Field(max_length=200)] | None = None
    keeper_only: str = Field(default="by-rule", pattern="^(by-rule|yes|no)$")
    keeper_only_reason: Note = ""
    not_stocked: bool = False
    reason: Note = Field(default="", title="Why it is changed")
    version: Version
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("self_heating", "missing"): "Choose whether its rags can heat by themselves.",
        ("self_heating", "enum"): "Choose whether its rags can heat by themselves.",
        ("flash_point_method", "enum"): "Choose the method from the list.",
    }

    def facts(self) -> KeeperFacts:
        """The facts to keep.

        Raises:
            Invalid: a class or metal cannot be read; `errors` names the field.
        """
        return KeeperFacts(
            density_g_ml=self.density_g_ml,
            density_source=self.density_source or "",
            bulk_low_g_ml=self.bulk_low_g_ml,
            bulk_high_g_ml=self.bulk_high_g_ml,
            bulk_source=self.bulk_source or "",
            oil_share_percent=self.oil_share_percent,
            binder=self.binder or "",
            has_drier=self.has_drier,
            flash_point_c=self.flash_point_c,
            flash_point_method=self.flash_point_method.value if self.flash_point_method else "",
            no_flash_reason=self.no_flash_reason or "",
            hazards=_list(self.hazards_known, self.hazards, "hazards"),
            hazards_source=self.hazards_source or "",
            toxic_metals=_list(self.metals_known, self.toxic_metals, "toxic_metals"),
            ventilation_class=int(self.ventilation_class) if self.ventilation_class else None,
            ventilation_source=self.ventilation_source or "",
            self_heating=self.self_heating,
            self_heating_reason=self.self_heating_reason,
            keeper_only={"by-rule": None, "yes": True, "no": False}[self.keeper_only],
            keeper_only_reason=self.keeper_only_reason,
            not_stocked=self.not_stocked,
        )


def _list(answer: str, text: str, field: str) -> tuple[str, ...] | None:
    if answer == "listed":
        try:
            found = read_classes(text) if field == "hazards" else read_metals(text)
        except Invalid as wrong:
            raise Invalid(wrong.sentence, {field: wrong.sentence}) from None
        if not found:
            raise Invalid(
                "The list is empty.", {field: "Copy the list from the sheet, or choose another answer."}
            )
        return found
    if text.strip():
        words = "You wrote a list but chose another answer. Choose “as listed below”, or empty the list."
        raise Invalid(words, {field: words})
    return () if answer == "none" else None


def _facts_page(request: Request, material: Material, p: Posted[Any], status: int = 200) -> Response:
    context = {
        "p": p,
        "m": material,
        "yes_no": YES_NO,
        "listed": LISTED,
        "heating": HEATING,
        "keeper_only": KEEPER_ONLY,
        "methods": [(method.value, words) for method, words in METHODS.items()],
    }
    return page(request, "materials/facts.html", context, status, section="store")


@router.get("/{material_id}/facts")
def ask_facts(request: Request, material_id: Id, data: Data, actor: Signed, secret: Secrets) -> Response:
    """The keeper's form, filled with what is known."""
    with data.reading() as session:
        material = the_material(session, material_id)
    held = facts_held(material)
    shown: dict[str, Any] = {k: v for k, v in vars(held).items() if v is not None}
    shown |= {
        "hazards_known": _answer(held.hazards), "hazards": "\n".join(held.hazards or ()),
        "metals_known": _answer(held.toxic_metals), "toxic_metals": ", ".join(held.toxic_metals or ()),
        "keeper_only": {None: "by-rule", True: "yes", False: "no"}[held.keeper_only],
        "version": material.version, "once": secret(),
    }  # fmt: skip
    return _facts_page(request, material, filled(**{k: _plain(v) for k, v in shown.items()}))


def _answer(values: tuple[str, ...] | None) -> str:
    return "not-known" if values is None else ("listed" if values else "none")


def _plain(value: Any) -> Any:
    return f"{value:f}" if isinstance(value, Decimal) else value


@router.post("/{material_id}/facts")
def set_facts(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[FactsForm], Depends(posted(FactsForm))],
) -> Response:  # fmt: skip
    """Keep the facts, each change with before and after."""
    with data.reading() as session:
        material = the_material(session, material_id)
    if p.value is None:
        return _facts_page(request, material, p, 422)
    form = p.value
    try:
        asked = Revision(form.once, form.version, facts=form.facts(), reason=form.reason)
        with data.writing() as session:
            result = revise_material(session, actor, now, material_id, asked).result
            said = " ".join(f["sentence"] for f in result["findings"])
            flash(session, request, f"The facts of {result['name']} are kept. {said}".strip())
            return RedirectResponse(f"/materials/{material_id}", 303)
    except Invalid as wrong:
        p.take(wrong)
        return _facts_page(request, material, p, 422)
