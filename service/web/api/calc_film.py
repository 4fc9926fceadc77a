"""POST /api/calc/film: pigment and binder of a mix when it has dried, and whether the binder is enough."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Final

from fastapi import APIRouter
from pydantic import BaseModel, Field, field_validator

from service.core.drier_dosage import Dosed, dosed, metal_named
from service.core.film import OIL_DENSITY_G_ML, Film, FilmPart, film_of
from service.core.film_ranges import Span
from service.core.film_reading import ROUGH, loading_of, reading_of
from service.core.findings import Finding, Invalid, Verdict, note, unknown, warn
from service.core.solvents.properties import GIVEN, DataUsed
from service.web.api.film_figures import MOST_G, MOST_PARTS, Figure, span_of, told
from service.web.api.film_parts import (
    MAY_BE_RANGES,
    BinderIn,
    PasteIn,
    PigmentIn,
    ReadPart,
    SolventIn,
    read_binder,
    read_paste,
    read_pigment,
    read_solvent,
)
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.hazard_mix import Span as SpanIn
from service.web.api.hazard_mix import span_or_sentence
from service.web.api.solvent_components import DataUsedOut, data_used_out
from service.web.api_model import ApiModel

MOST_DRIERS: Final = 12
router = APIRouter(prefix="/api/calc", tags=["calculators"])


class DrierIn(ApiModel):
    """A drier by its metal. What stays of its carrier stands under ``binders``, if it is known."""

    name: Annotated[str, Field(max_length=120)] = ""
    mass_g: SpanIn
    metal: Annotated[str, Field(min_length=1, max_length=40, examples=["cobalt"])]
    metal_percent: Annotated[Decimal, Field(gt=0, le=100, description="of the drier, from its label")]

    @field_validator(*MAY_BE_RANGES, mode="before", check_fields=False)
    @classmethod
    def _range(cls, value: Any) -> Any:
        return value if value is None else span_or_sentence(value)


class FilmIn(ApiModel):
    """What went in, by mass. Masses, densities and oil absorptions are numbers or ranges, low end first."""

    pigments: Annotated[list[PigmentIn], Field(max_length=MOST_PARTS)] = Field(default_factory=list)
    pastes: Annotated[list[PasteIn], Field(max_length=MOST_PARTS)] = Field(default_factory=list)
    binders: Annotated[list[BinderIn], Field(max_length=MOST_PARTS)] = Field(default_factory=list)
    solvents: Annotated[list[SolventIn], Field(max_length=MOST_PARTS)] = Field(default_factory=list)
    driers: Annotated[list[DrierIn], Field(max_length=MOST_DRIERS)] = Field(default_factory=list)
    oil_density_g_ml: Annotated[
        Decimal | None,
        Field(ge=Decimal("0.5"), le=2, description="of the oil of oil absorption; missing: 0.935"),
    ] = None


class DosedOut(BaseModel):
    """Metal on what stays of the binder. ``stands``: below, within or above the usual range, or null."""

    metal: str
    percent_on_binder: Figure
    usual_percent: list[float] | None
    stands: str | None
    does: str
    grade: str


class FilmOut(BaseModel):
    """Shares of volume 0 to 1; each figure a number, lowest and highest, or null where it is not known.

    ``reading``: how the pigment is held, both ends where they differ. ``loading``: a rough house reading of
    how far it hides the grain.
    """

    pvc: Figure
    cpvc: Figure
    reduced_pvc: Figure
    density_g_ml: Figure
    mass_solids_percent: Figure
    volume_solids_percent: Figure
    pigment_mass_percent: Figure
    reading: str | None
    loading: str | None
    driers: list[DosedOut]
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/film", summary="Pigment and binder of a mix: PVC, CPVC, solids, and how it is bound")
def film(asked: FilmIn) -> FilmOut:
    """Pigment volume concentration against the critical one, solids, density. Volumes are taken to add up.

    A workable paste holds more oil than its pigment absorbs: never send a paste's oil as oil absorption. The
    words are a rough house reading; a rag on a dry sample tells more. Touches no stock.
    """
    oil_density = OIL_DENSITY_G_ML if asked.oil_density_g_ml is None else float(asked.oil_density_g_ml)
    reads = [
        *(read_pigment(one, n) for n, one in enumerate(asked.pigments, 1)),
        *(read_paste(one, n, oil_density) for n, one in enumerate(asked.pastes, 1)),
        *(read_binder(one, n) for n, one in enumerate(asked.binders, 1)),
        *(read_solvent(one, n) for n, one in enumerate(asked.solvents, 1)),
    ]
    if not any(one.part.mass[1] > 0 for one in reads):
        words = "Send at least one pigment, paste, binder or solvent with a mass above nothing."
        raise Invalid(words, {"pigments": words})
    parts = [one.part for one in reads]
    made = film_of(parts, oil_density)
    metals = _driers(asked.driers, made.binder_g)
    findings = [finding for one in reads for finding in one.findings]
    return _answer(made, metals, [*findings, *_said(made, parts, metals)], _used(reads, asked, oil_density))


def _driers(driers: list[DrierIn], binder_g: Span) -> list[Dosed]:
    added: dict[str, list[tuple[Span, float]]] = {}
    for number, one in enumerate(driers, 1):
        mass = span_of(one.mass_g, "mass_g", (0, MOST_G), about=one.name or f"drier {number}")
        assert mass is not None
        metal = metal_named(one.metal)
        added.setdefault(metal, []).append((mass, float(one.metal_percent)))
    return [dosed(metal, rows, binder_g) for metal, rows in added.items()]


def _said(made: Film, parts: list[FilmPart], metals: list[Dosed]) -> list[Finding]:
    found: list[Finding] = []
    if made.pigment_g[1] > 0:
        found.append(note("loading-is-rough", ROUGH))
    if made.pigment_g[1] > 0 and made.binder_g[1] == 0:
        found.append(warn("no-binder", "No binder is in it: the pigment will rub off."))
    if made.reduced_pvc is not None and made.reduced_pvc[1] > 1:
        words = "It may hold more pigment than its binder can hold, and then rubs off on a rag."
        found.append(warn("may-be-under-bound", words))
    for one in metals:
        if one.metal == "lead":
            found.append(warn("lead-drier", "Lead driers are poisonous and barred from paints. Use another."))
        elif one.stands == "above":
            words = f"More {one.metal} than usual: it wrinkles, darkens, or dries slower below the skin."
            found.append(warn("much-drier", words))
        elif one.usual is None:
            words = f"What is usual of {one.metal} is not known here: follow the label of the drier."
            found.append(unknown("drier-metal-not-known", words, about=one.metal))
    if metals:
        words = "What is usual of each metal is from memory of the trade: follow the label of the drier."
        found.append(note("drier-range-from-memory", words))
    return found


def _used(reads: list[ReadPart], asked: FilmIn, oil_density: float) -> list[DataUsed]:
    used = [row for one in reads for row in one.used]
    own = asked.oil_density_g_ml is not None
    source, grade = (GIVEN, GIVEN) if own else ("textbook constant, Patton", "memory")
    return [*used, DataUsed("oil of oil absorption", "density", oil_density, "g/ml", source, grade)]


def _answer(made: Film, metals: list[Dosed], findings: list[Finding], used: list[DataUsed]) -> FilmOut:
    verdict = Verdict.of(findings)
    return FilmOut(
        pvc=told(made.pvc),
        cpvc=told(made.cpvc),
        reduced_pvc=told(made.reduced_pvc),
        density_g_ml=told(made.density_g_ml),
        mass_solids_percent=told(made.mass_solids_percent),
        volume_solids_percent=told(made.volume_solids_percent),
        pigment_mass_percent=told(made.pigment_mass_percent),
        reading=reading_of(made),
        loading=loading_of(made),
        driers=[_dosed(one) for one in metals],
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out(used),
    )


def _dosed(one: Dosed) -> DosedOut:
    usual = one.usual
    return DosedOut(
        metal=one.metal,
        percent_on_binder=told(one.percent_on_binder),
        usual_percent=[usual.low, usual.high] if usual else None,
        stands=one.stands,
        does=usual.does if usual else "",
        grade=usual.grade if usual else "",
    )
