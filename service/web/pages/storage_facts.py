"""What the storage tables ask of a place, a material and a container, as forms."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Final, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.arrange_places import the_place
from service.actions.describe_storage import (
    CATEGORIES,
    MaterialStorageAsked,
    PlaceStorageAsked,
    VesselAsked,
    describe_material_storage,
    describe_place_storage,
    say_vessel,
)
from service.core.findings import Invalid
from service.core.materials import Unknown
from service.core.shelf_codes import show_code
from service.core.storage_rules import UseGroup, Vessel
from service.core.stored_stuff import GROUP_WORDS, category_words
from service.records.material_queries import the_material
from service.records.materials import Material
from service.records.places import Place, PlaceKind
from service.records.stock_queries import container_by_code, material_of
from service.records.store_storage import MaterialStorage, PlaceStorage
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Name, NumberText, Once, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import number, page

router = APIRouter(include_in_schema=False)

YES_NO: Final = [("yes", "Yes"), ("no", "No"), ("not-known", "Not known")]
VESSEL_WORDS: Final = {
    Vessel.GLASS: "glass", Vessel.PLASTIC: "plastic", Vessel.METAL: "metal can",
    Vessel.SAFETY_CAN: "safety can", Vessel.DRUM: "metal drum", Vessel.TANK: "portable tank",
}  # fmt: skip
USE_WORDS: Final = {
    UseGroup.SCHOOL: "A school", UseGroup.LABORATORY: "A laboratory of higher education",
    UseGroup.MERCANTILE: "A shop for sale", UseGroup.OTHER: "Something else",
}  # fmt: skip
VESSELS: Final = [("", "not known"), *((one.value, words) for one, words in VESSEL_WORDS.items())]
Degrees = Annotated[NumberText, Field(ge=-1000, le=2000)]


class PlaceStorageForm(FormModel):
    """What is left empty is not known."""

    approved: Unknown = Unknown.NOT_KNOWN
    sprinklered: Unknown = Unknown.NOT_KNOWN
    storey: Annotated[NumberText, Field(ge=-50, le=200)] | None = Field(default=None, title="Storey")
    floor_area: Annotated[NumberText, Field(gt=0, le=1_000_000)] | None = Field(default=None, title="Floor")
    floor_unit: Literal["ft2", "m2"] = "ft2"
    ambient_max: Degrees | None = Field(default=None, title="Hottest day")
    ambient_unit: Literal["C", "F"] = "C"
    use_group: UseGroup | None = Field(default=None, title="Use of the building")
    version: Version = 0
    once: Once

    def asked(self) -> PlaceStorageAsked:
        """Raises Invalid where the storey is no whole number."""
        if self.storey is not None and self.storey != int(self.storey):
            words = "Enter the storey as a whole number: 1 is the one at the ground, -1 the first basement."
            raise Invalid(words, {"storey": words})
        return PlaceStorageAsked(
            self.once, self.version, self.approved, self.sprinklered,
            None if self.storey is None else int(self.storey), self.floor_area, self.floor_unit,
            self.ambient_max, self.ambient_unit, self.use_group,
        )  # fmt: skip


class MaterialStorageForm(FormModel):
    """What is left empty is not known."""

    flash_point: Degrees | None = Field(default=None, title="Flash point")
    flash_unit: Literal["C", "F"] = "C"
    boiling_point: Degrees | None = Field(default=None, title="Boiling point")
    boiling_unit: Literal["C", "F"] = "C"
    category: Annotated[str, Field(max_length=40)] = Field(default="", title="Category")
    groups: list[Annotated[str, Field(max_length=40)]] = Field(default=[], title="Kept apart as")
    source: Name | None = Field(default=None, title="Where that was read")
    version: Version = 0
    once: Once

    def asked(self) -> MaterialStorageAsked:
        return MaterialStorageAsked(
            self.once, self.version, self.flash_point, self.flash_unit, self.boiling_point,
            self.boiling_unit, self.category or None, tuple(self.groups), self.source or "",
        )  # fmt: skip


class VesselForm(FormModel):
    vessel: Vessel | None = Field(default=None, title="What it is made of")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("vessel", "enum"): "Choose what it is made of from the list."
    }


@router.get("/places/{place_id}/storage")
def ask_place(request: Request, place_id: Id, data: Data, actor: Signed, secret: Secrets) -> Response:
    """The form, filled with what is known."""
    with data.reading() as session:
        place, row = the_place(session, place_id), session.get(PlaceStorage, place_id)
        p = filled(**_of_place(row), once=secret())
        return _place_form(request, p, place)


@router.post("/places/{place_id}/storage")
def keep_place(
    request: Request, place_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[PlaceStorageForm], Depends(posted(PlaceStorageForm))],
) -> Response:  # fmt: skip
    """Keep it, with before and after."""
    if p.value is not None:
        try:
            with data.writing() as session:
                made = describe_place_storage(session, actor, now, place_id, p.value.asked()).result
                words = f"What the storage tables ask of {made['name']} is written down."
                flash(session, request, words, f"/storage/{place_id}", "Look how full it is")
                return RedirectResponse(f"/places/{place_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "storey")
    with data.reading() as session:
        return _place_form(request, p, the_place(session, place_id), 422)


def _place_form(request: Request, p: Posted[Any], place: Place, status: int = 200) -> Response:
    context = {
        "p": p, "place": place, "kind": place.kind.value, "yes_no": YES_NO,
        "house": place.kind in (PlaceKind.ROOM, PlaceKind.BUILDING),
        "groups": [(one.value, words) for one, words in USE_WORDS.items()],
    }  # fmt: skip
    return page(request, "storage/place.html", context, status, section="store")


def _of_place(row: PlaceStorage | None) -> dict[str, Any]:
    if row is None:
        return {
            "approved": "not-known", "sprinklered": "not-known", "floor_unit": "ft2", "ambient_unit": "C",
            "version": 0,
        }  # fmt: skip
    return {
        "approved": row.approved.value, "sprinklered": row.sprinklered.value, "storey": row.storey,
        "floor_area": _shown(row.floor_area), "floor_unit": row.floor_unit,
        "ambient_max": _shown(row.ambient_max), "ambient_unit": row.ambient_unit,
        "use_group": row.use_group, "version": row.version,
    }  # fmt: skip


def _shown(value: Decimal | None) -> str | None:
    return None if value is None else number(value)


@router.get("/materials/{material_id}/storage")
def ask_material(
    request: Request, material_id: Id, data: Data, actor: Signed, secret: Secrets
) -> Response:
    """The form, filled with what is known."""
    with data.reading() as session:
        material = the_material(session, material_id)
        row = session.get(MaterialStorage, material_id)
        values: dict[str, Any] = {"flash_unit": "C", "boiling_unit": "C", "version": 0}
        if row is not None:
            values = {
                "flash_point": _shown(row.flash_point), "flash_unit": row.flash_unit,
                "boiling_point": _shown(row.boiling_point), "boiling_unit": row.boiling_unit,
                "category": row.category, "groups": [str(one) for one in row.groups],
                "source": row.source, "version": row.version,
            }  # fmt: skip
        return _material_form(request, filled(**values, once=secret()), material)


@router.post("/materials/{material_id}/storage")
def keep_material(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[MaterialStorageForm], Depends(posted(MaterialStorageForm))],
) -> Response:  # fmt: skip
    """Keep it, with before and after."""
    if p.value is not None:
        try:
            with data.writing() as session:
                made = describe_material_storage(session, actor, now, material_id, p.value.asked()).result
                words = f"What the storage tables ask of {made['name']} is written down."
                flash(session, request, words, "/storage", "Look how full the store is")
                return RedirectResponse(f"/materials/{material_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "flash_point")
    with data.reading() as session:
        return _material_form(request, p, the_material(session, material_id), 422)


def _material_form(request: Request, p: Posted[Any], material: Material, status: int = 200) -> Response:
    context = {
        "p": p, "material": material, "categories": [(one, category_words(one)) for one in CATEGORIES],
        "group_words": list(GROUP_WORDS.items()),
    }  # fmt: skip
    return page(request, "storage/material.html", context, status, section="store")


@router.get("/containers/{code}/vessel")
def ask_vessel(request: Request, code: str, data: Data, actor: Signed, secret: Secrets) -> Response:
    """What it is made of."""
    with data.reading() as session:
        box = container_by_code(session, code)
        return _vessel_form(request, session, filled(vessel=box.vessel or "", once=secret()), code)


@router.post("/containers/{code}/vessel")
def keep_vessel(
    request: Request, code: str, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[VesselForm], Depends(posted(VesselForm))],
) -> Response:  # fmt: skip
    """Keep it, with before and after."""
    if p.value is not None:
        with data.writing() as session:
            asked = VesselAsked(p.value.once, code, p.value.vessel)
            made = say_vessel(session, actor, now, asked).result
            told = VESSEL_WORDS[p.value.vessel] if p.value.vessel else "not known"
            flash(session, request, f"What {made['shown']} is made of: {told}.")
        return RedirectResponse(f"/containers/{made['code']}", 303)
    with data.reading() as session:
        return _vessel_form(request, session, p, code, 422)


def _vessel_form(
    request: Request, session: Session, p: Posted[Any], code: str, status: int = 200
) -> Response:
    box = container_by_code(session, code)
    context = {
        "p": p, "code": box.code, "shown": show_code(box.code), "name": material_of(session, box).name,
        "vessels": VESSELS,
    }  # fmt: skip
    return page(request, "storage/vessel.html", context, status, section="store")
