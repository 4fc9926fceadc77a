"""`/api/materials`: what is bought or made, and the published facts to start from."""

from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field, computed_field, model_validator

from service.actions.describe_material import MaterialAsked, describe_material
from service.core.findings import Finding, Invalid, Verdict
from service.core.material_entry import Description, KeeperFacts
from service.core.material_facts import (
    FlashMethod,
    MaterialFacts,
    facts_self_heating,
    is_keeper_only,
    review,
)
from service.core.materials import USUAL_FORM, Basis, Form, MaterialKind, SelfHeating, Unknown
from service.records.knowledge import facts_of as published_facts
from service.records.knowledge import find_known, is_ambiguous, known
from service.records.material_queries import facts_of, the_material
from service.records.material_search import find_materials
from service.records.materials import Material
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for
from service.web.api_model import ApiModel
from service.web.deps import Data, Now
from service.web.fields import Id, Name, Note, Offset, PageSize, Sentence

router = APIRouter(prefix="/api/materials", tags=["materials"], responses=PROBLEMS)

Density = Annotated[Decimal, Field(ge=Decimal("0.0001"), le=25, max_digits=20)]
ShortText = Annotated[str, Field(max_length=200)]


_BULK = {"bulk_low_g_ml", "bulk_high_g_ml"}


class FactsIn(ApiModel):
    """Facts that only a keeper gives. Missing or null is not known; an empty list is "examined and none"."""

    density_g_ml: Density | None = None
    density_source: ShortText = ""
    bulk_low_g_ml: Density | None = None
    bulk_high_g_ml: Density | None = None
    bulk_source: ShortText = ""
    oil_share_percent: Annotated[Decimal, Field(ge=0, le=100, max_digits=12)] | None = None
    binder: Annotated[str, Field(max_length=120)] = ""
    has_drier: Unknown = Unknown.NOT_KNOWN
    flash_point_c: Annotated[Decimal, Field(ge=-120, le=500, max_digits=8)] | None = None
    flash_point_method: FlashMethod | None = None
    no_flash_reason: ShortText = ""
    hazards: Annotated[list[Name], Field(max_length=40)] | None = Field(
        None, description="Supplier's classes as on the sheet, like “Flam. Liq. 3 H226”"
    )
    hazards_source: ShortText = ""
    toxic_metals: Annotated[list[Name], Field(max_length=20)] | None = None
    ventilation_class: Annotated[int, Field(ge=1, le=4)] | None = None
    ventilation_source: ShortText = ""
    self_heating: SelfHeating = SelfHeating.NOT_KNOWN
    self_heating_reason: Note = ""
    keeper_only: bool | None = Field(None, description="A keeper's own decision; null = by rule")
    keeper_only_reason: Note = ""
    not_stocked: bool = False

    @model_validator(mode="before")
    @classmethod
    def _one_bulk_density(cls, sent: Any) -> Any:
        """``bulk_density_g_ml`` as the calculators take it and as it is answered: one figure, or two."""
        if isinstance(sent, dict) and "bulk_density_g_ml" in sent and not _BULK & sent.keys():
            rest = {key: value for key, value in sent.items() if key != "bulk_density_g_ml"}
            bulk = sent["bulk_density_g_ml"]
            low, high = bulk if isinstance(bulk, list) and len(bulk) == 2 else (bulk, bulk)
            return rest | {"bulk_low_g_ml": low, "bulk_high_g_ml": high}
        return sent

    def entry(self) -> KeeperFacts:
        values = self.model_dump()
        for name in ("hazards", "toxic_metals"):
            values[name] = None if values[name] is None else tuple(values[name])
        method = self.flash_point_method
        return KeeperFacts(**values | {"flash_point_method": method.value if method else ""})


class MaterialIn(PostModel):
    """A new material; with ``known`` a keeper who sends no ``facts`` takes the published ones.

    The facts may also stand beside the name instead of in ``facts``.
    """

    name: Name = Field(examples=["Raw umber"])
    kind: MaterialKind = Field(examples=["dry-pigment"])
    form: Form | None = Field(
        None, description="How it lies. Missing: as the published row says, else as its kind lies; a dye, a "
        "resin, a glue and an other chemical may lie in several ways, so there it is asked",
        examples=["powder"],
    )  # fmt: skip
    maker: Annotated[str, Field(max_length=120)] = ""
    ci_name: Annotated[str, Field(max_length=60)] = ""
    cas: Annotated[str, Field(max_length=60)] = ""
    basis: Basis | None = Field(None, description="Missing = settled by the first movement, for good")
    note: Note = ""
    known: Sentence | None = Field(None, description="Key of a published row, from `published`")
    facts: FactsIn | None = None

    @model_validator(mode="before")
    @classmethod
    def _facts_beside(cls, sent: Any) -> Any:
        if isinstance(sent, dict) and sent.get("facts") is None:
            names = FactsIn.model_fields.keys() | {"bulk_density_g_ml"}
            beside = {key: value for key, value in sent.items() if key in names}
            if beside:
                return {key: value for key, value in sent.items() if key not in beside} | {"facts": beside}
        return sent

    def lies(self) -> Form:
        """How it lies.

        Raises:
            Invalid: this kind may lie in several ways, and nobody said.
        """
        row = known(self.known) if self.known is not None else None
        form = self.form or (row.form if row is not None else USUAL_FORM.get(self.kind))
        if form is None:
            words = "Say how it lies: liquid, paste, powder, solid or pieces."
            raise Invalid(words, {"form": words})
        return form


class MaterialMade(BaseModel):
    material: int
    name: str
    version: int
    findings: list[FindingOut]

    @computed_field  # type: ignore[prop-decorator]
    @property
    def id(self) -> int:
        """The same as ``material``."""
        return self.material


class FactsOut(BaseModel):
    """What is known; null is not known, an empty list is "examined and none"."""

    form: str | None
    basis: str | None
    density_g_ml: str | None
    bulk_density_g_ml: list[str] | None
    oil_share_percent: str | None
    binder: str | None
    has_drier: str
    self_heating: str
    flash_point_c: str | None
    flash_point_method: str | None
    no_flash_reason: str | None
    hazards: list[str] | None
    toxic_metals: list[str] | None
    ventilation_class: int | None
    ci_name: str | None
    cas: str | None


class MaterialOut(BaseModel):
    """One material. ``counts_self_heating`` and ``keeper_only`` are what the rules make of its facts."""

    id: int
    name: str
    kind: str
    maker: str
    known: str | None
    active: bool
    not_stocked: bool
    version: int
    created_at: datetime
    counts_self_heating: bool
    keeper_only: bool
    facts: FactsOut


class MaterialReviewed(MaterialOut):
    """With every fact that is missing, and how to mend it."""

    findings: list[FindingOut]
    complete: bool


class MaterialList(BaseModel):
    materials: list[MaterialOut]
    total: int
    offset: int


class PublishedOut(BaseModel):
    """A row of the published facts; the hazards of a bought material still come from its sheet."""

    key: str
    name: str
    synonyms: list[str]
    kind: str
    form: str
    ci_name: list[str]
    cas: list[str]
    facts: FactsOut


class PublishedList(BaseModel):
    """``ambiguous``: the name alone does not say which is meant; choose by the Colour Index name."""

    published: list[PublishedOut]
    ambiguous: bool


@router.post("", status_code=201, summary="Write down a material")
def make_material(asked: MaterialIn, data: Data, now: Now, actor: Signed) -> MaterialMade:
    """A finisher writes down what it is; its facts stay not known until a keeper gives them."""
    said = Description(
        asked.name, asked.kind, asked.lies(), asked.maker, asked.ci_name, asked.cas, asked.basis, asked.note
    )
    facts = asked.facts.entry() if asked.facts is not None else None
    wanted = MaterialAsked(asked.once, said, facts, asked.known, asked.happened_at, asked.late_reason)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return MaterialMade(**describe_material(session, person, now, wanted).result)


@router.get("", summary="Materials by name")
def list_materials(
    data: Data,
    actor: Signed,
    q: Annotated[str, Query(max_length=120)] = "",
    kind: MaterialKind | None = None,
    limit: PageSize = 50,
    offset: Offset = 0,
) -> MaterialList:
    """In order of their names; ``q`` looks in name, maker, Colour Index name and CAS number."""
    with data.reading() as session:
        rows, total = find_materials(session, q, kind=kind, limit=limit, offset=offset)
        out = [MaterialOut(**_told(row, facts_of(session, row))) for row in rows]
    return MaterialList(materials=out, total=total, offset=offset)


@router.get("/published", summary="Published facts by a name")
def list_published(actor: Signed, q: Annotated[str, Query(min_length=1, max_length=120)]) -> PublishedList:
    """Every row a written name may mean; none is chosen for you."""
    rows = [
        PublishedOut(
            key=row.key,
            name=row.name,
            synonyms=list(row.synonyms),
            kind=row.kind.value,
            form=row.form.value,
            ci_name=list(row.ci_generic),
            cas=list(row.cas),
            facts=_facts(published_facts(row)),
        )
        for row in find_known(q)[:50]
    ]
    return PublishedList(published=rows, ambiguous=is_ambiguous(q))


@router.get("/{material_id}", summary="One material and what is missing")
def one_material(material_id: Id, data: Data, actor: Signed) -> MaterialReviewed:
    """Its facts, what the rules make of them, and a finding for each that is not known."""
    with data.reading() as session:
        row = the_material(session, material_id)
        facts = facts_of(session, row)
    verdict, told = review(facts), _told(row, facts)
    return MaterialReviewed(**told, findings=found(verdict), complete=verdict.complete)


def found(verdict: Verdict) -> list[FindingOut]:
    """Findings as they are answered."""
    return [_finding(one) for one in verdict]


def _finding(one: Finding) -> FindingOut:
    return FindingOut(**one.as_dict())


def _told(row: Material, facts: MaterialFacts) -> dict[str, Any]:
    return {
        "id": row.id,
        "name": row.name,
        "kind": row.kind.value,
        "maker": row.maker,
        "known": row.known_key,
        "active": row.active,
        "not_stocked": row.not_stocked,
        "version": row.version,
        "created_at": row.created_at,
        "counts_self_heating": facts_self_heating(facts),
        "keeper_only": is_keeper_only(facts),
        "facts": _facts(facts),
    }


def _facts(facts: MaterialFacts) -> FactsOut:
    bulk = facts.bulk_density_g_ml
    return FactsOut(
        form=facts.form.value if facts.form else None,
        basis=facts.basis.value if facts.basis else None,
        density_g_ml=_number(facts.density_g_ml),
        bulk_density_g_ml=[f"{end:f}" for end in bulk] if bulk else None,
        oil_share_percent=_number(facts.oil_share_percent),
        binder=facts.binder,
        has_drier=facts.has_drier.value,
        self_heating=facts.self_heating.value,
        flash_point_c=_number(facts.flash_point_c),
        flash_point_method=facts.flash_method.value if facts.flash_method else None,
        no_flash_reason=facts.flash_not_applicable,
        hazards=None if facts.supplier_classes is None else list(facts.supplier_classes),
        toxic_metals=None if facts.toxic_metals is None else list(facts.toxic_metals),
        ventilation_class=facts.ventilation_class,
        ci_name=facts.ci_generic,
        cas=facts.cas,
    )


def _number(value: Decimal | None) -> str | None:
    return None if value is None else f"{value:f}"
