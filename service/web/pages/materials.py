"""`/materials`: what the shop keeps, one material with what is missing in it, and writing down a new one."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session, col, select

from service.actions.describe_material import (
    MaterialAsked,
    describe_material,
    published_description,
    twins,
)
from service.core.access import Permission, may
from service.core.findings import Invalid
from service.core.material_entry import Description
from service.core.material_facts import facts_self_heating, is_keeper_only
from service.core.materials import KIND_WORDS, Basis, Form, MaterialKind
from service.records.knowledge import KnownMaterial, find_known, is_ambiguous, known
from service.records.material_queries import facts_of, the_material
from service.records.material_search import count_containers, find_materials
from service.records.materials import Material
from service.records.stock import Posting
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets, shop_today
from service.web.fields import Id, Name, Note, Once, PageNumber, Sentence
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.material_view import view_material
from service.web.render import page

router = APIRouter(prefix="/materials", include_in_schema=False)

PER_PAGE = 50
KINDS = [(kind.value, words[:1].upper() + words[1:]) for kind, words in KIND_WORDS.items()]
FORMS = [
    (Form.LIQUID.value, "Liquid", "poured: oil, thinner, varnish"),
    (Form.PASTE.value, "Paste", "spread: colour in oil, wax"),
    (Form.POWDER.value, "Powder", "spooned: dry pigment, dye"),
    (Form.SOLID.value, "Solid", "lumps or flakes: shellac, hide glue"),
    (Form.PIECES.value, "Pieces", "counted: brushes, pads"),
]
BASES = [
    ("", "Settle it with the first delivery", "liquids as the first amount is written, all else by weight"),
    (Basis.MASS.value, "By weight", ""),
    (Basis.VOLUME.value, "By volume", ""),
    (Basis.PIECES.value, "In pieces", ""),
]


class MaterialForm(FormModel):
    """What a material is; its facts come afterwards."""

    name: Name = Field(title="Name")
    kind: MaterialKind = Field(title="Kind")
    form: Form = Field(title="Form")
    maker: Name | None = Field(default=None, title="Maker")
    ci_name: Annotated[Name, Field(max_length=60)] | None = Field(default=None, title="Colour Index name")
    cas: Annotated[Name, Field(max_length=60)] | None = Field(default=None, title="CAS number")
    basis: Basis | None = Field(default=None, title="How it is counted")
    note: Note = ""
    known: Sentence | None = None
    twin: bool = False
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Enter the name as it stands on the label.",
        ("kind", "missing"): "Choose what kind of material it is.",
        ("kind", "enum"): "Choose what kind of material it is.",
        ("form", "missing"): "Choose how it lies in its container.",
        ("form", "enum"): "Choose how it lies in its container.",
        ("basis", "enum"): "Choose how it is counted.",
    }

    def description(self) -> Description:
        return Description(
            self.name, self.kind, self.form, self.maker or "", self.ci_name or "", self.cas or "",
            self.basis, self.note,
        )  # fmt: skip


Search = Annotated[str, Query(max_length=120)]


@router.get("")
def look(
    request: Request,
    data: Data,
    actor: Signed,
    q: Search = "",
    number: Annotated[PageNumber, Query(alias="page")] = 1,
) -> Response:
    """Materials by name, with a search."""
    with data.reading() as session:
        found, total = find_materials(session, q, limit=PER_PAGE, offset=(number - 1) * PER_PAGE)
        held = count_containers(session, [row.id for row in found if row.id is not None])
        rows = [_row(session, row, held) for row in found]
    context = {
        "rows": rows,
        "q": q,
        "p": filled(q=q),
        "total": total,
        "page": number,
        "pages": max(1, -(-total // PER_PAGE)),
        "may_add": may(actor.role, Permission.DESCRIBE_MATERIAL),
    }
    return page(request, "materials/list.html", context, section="store", scan=True)


def _row(session: Session, row: Material, held: dict[int, int]) -> dict[str, Any]:
    facts = facts_of(session, row)
    marks = [
        words
        for words, is_so in (
            ("oily rags", facts_self_heating(facts)),
            ("keeper only", is_keeper_only(facts)),
            ("hazards not known", facts.supplier_classes is None),
        )
        if is_so
    ]
    return {
        "name": {"href": f"/materials/{row.id}", "words": row.name},
        "kind": KIND_WORDS[row.kind],
        "maker": row.maker or "–",
        "marks": {"lines": marks} if marks else "–",
        "held": held.get(row.id or 0, 0),
        "_act": {"href": f"/materials/{row.id}", "words": "Open"},
    }


@router.get("/new")
def search_published(request: Request, actor: Signed, q: Search = "") -> Response:
    """First the published facts: a row to start from, or none."""
    found = find_known(q)[:40] if q.strip() else ()
    context = {
        "p": filled(q=q),
        "q": q.strip(),
        "rows": [_published_row(row) for row in found],
        "ambiguous": bool(found) and is_ambiguous(q),
    }
    return page(request, "materials/new.html", context, section="store")


def _published_row(row: KnownMaterial) -> dict[str, Any]:
    return {
        "name": {"href": f"/materials/new/form?known={row.key}", "words": row.name},
        "also": ", ".join(row.synonyms[:6]) or "–",
        "ci": ", ".join(row.ci_generic) or "–",
        "cas": ", ".join(row.cas[:3]) or "–",
        "kind": KIND_WORDS[row.kind],
        "_act": {"href": f"/materials/new/form?known={row.key}", "words": "Start from this one"},
    }


@router.get("/new/form")
def ask(
    request: Request,
    actor: Signed,
    secret: Secrets,
    key: Annotated[str, Query(alias="known", max_length=60)] = "",
    name: Search = "",
) -> Response:
    """The form of a new material, filled from a published row when one was chosen."""
    row = known(key) if key else None
    values: dict[str, Any] = {"name": name}
    if row is not None:
        said = published_description(row)
        values = {"name": said.name, "kind": said.kind, "form": said.form, "ci_name": said.ci_name,
                  "cas": said.cas, "known": row.key}  # fmt: skip
    return _form(request, filled(**values, once=secret()), row, actor_is_keeper(actor))


def actor_is_keeper(actor: Signed) -> bool:
    """Whether this person may set the facts of a material."""
    return may(actor.role, Permission.MATERIAL_FACTS)


def _form(
    request: Request, p: Posted[Any], row: KnownMaterial | None, keeper: bool, status: int = 200,
    twin: Material | None = None,
) -> Response:  # fmt: skip
    context = {
        "p": p,
        "row": row,
        "keeper": keeper,
        "kinds": KINDS,
        "forms": FORMS,
        "bases": BASES,
        "twin": twin,
    }
    return page(request, "materials/form.html", context, status, section="store")


@router.post("/new")
def add(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[MaterialForm], Depends(posted(MaterialForm))],
) -> Response:  # fmt: skip
    """Write it down; the page of the new material says what is still missing."""
    row = known(p.text("known")) if p.text("known") else None
    keeper = actor_is_keeper(actor)
    if p.value is None:
        return _form(request, p, row, keeper, 422)
    form = p.value
    with data.reading() as session:
        twin = next(iter(twins(session, form.name, form.maker or "")), None)
        # A second tap finds the first one's material; its key settles that further in.
        repeat = session.exec(select(Posting.id).where(col(Posting.once) == form.once)).first()
    if twin is not None and not form.twin and repeat is None:
        p.refuse(
            "twin", f"There is a {twin.name} of this maker already. Use that one, or say that they differ."
        )
        return _form(request, p, row, keeper, 422, twin)
    asked = MaterialAsked(form.once, form.description(), known_key=row.key if row else None)
    try:
        with data.writing() as session:
            made = describe_material(session, actor, now, asked).result
            flash(
                session, request, f"{made['name']} is written down.", "/receive", "Take in a delivery of it"
            )
            return RedirectResponse(f"/materials/{made['material']}", 303)
    except Invalid as wrong:
        p.take(wrong, "name")
        return _form(request, p, row, keeper, 422)


@router.get("/{material_id}")
def one(request: Request, material_id: Id, data: Data, now: Now, actor: Signed, secret: Secrets) -> Response:
    """One material: facts with their sources, what is missing and how to mend it, sheets, containers."""
    with data.reading() as session:
        material = the_material(session, material_id)
        seen = view_material(session, material, actor, shop_today(session, now))
        context = {"m": seen, "p": filled(once=secret(), version=material.version)}
        return page(request, "materials/one.html", context, section="store", scan=True)
