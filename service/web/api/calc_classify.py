"""POST /api/calc/classify and /api/calc/label: hazard classes of a mix, and the label that classes lead
to.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter
from pydantic import Field

from service.core.findings import Finding, Verdict, note, unknown
from service.core.hazards.classes import Family, Hazard, Route
from service.core.hazards.classify import Classification, classify
from service.core.hazards.label import LabelAsked, LabelFor, make_label
from service.core.hazards.mix import Audience, Mix
from service.core.hazards.read_class import read_classes
from service.core.hazards.regimes import RULES, Regime
from service.core.hazards.supplements import Supplement
from service.records.hazard_tables import advice_of, mandated_texts
from service.web.api.hazard_answers import (
    ClassifyOut,
    EstimateOut,
    FindingOut,
    LabelOut,
    SupplementOut,
    because_out,
    class_out,
    finding_out,
    label_of,
    label_out,
)
from service.web.api.hazard_lists import lists_beside
from service.web.api.hazard_mix import (
    MOST_CLASSES,
    MOST_INGREDIENTS,
    ClassText,
    IngredientIn,
    MixtureIn,
    mix_of,
)
from service.web.api_model import ApiModel

Name = Annotated[str, Field(max_length=120)]
router = APIRouter(prefix="/api/calc", tags=["calculators"])


class ClassifyIn(ApiModel):
    """A mix and the law to judge it by."""

    regime: Regime
    ingredients: Annotated[list[IngredientIn], Field(min_length=1, max_length=MOST_INGREDIENTS)]
    mixture: MixtureIn = MixtureIn()


class UnknownShares(ApiModel):
    """Per cent of the mix whose acute toxicity nobody knows, by route."""

    oral: Annotated[Decimal, Field(ge=0, le=100)] | None = None
    dermal: Annotated[Decimal, Field(ge=0, le=100)] | None = None
    inhalation: Annotated[Decimal, Field(ge=0, le=100)] | None = None


class LabelIn(ApiModel):
    """Hazard classes and the container they are to stand on. ``hazards`` null: not known, and no label can
    be made.
    """

    regime: Regime
    hazards: Annotated[list[ClassText], Field(max_length=MOST_CLASSES)] | None
    volume_ml: Annotated[Decimal, Field(gt=0, le=10_000_000)] | None = None
    audience: Audience = Audience.PUBLIC
    label_for: LabelFor = LabelFor.SUPPLY
    fold_out_possible: bool = True
    label_hinders_use: bool = False
    contains: Annotated[list[Name], Field(max_length=20)] = Field(default_factory=list)
    unknown_acute_percent: UnknownShares = UnknownShares()
    unknown_aquatic_percent: Annotated[Decimal, Field(ge=0, le=100)] = Decimal(0)


class LabelAnswer(LabelOut):
    """The label and what is missing for it."""

    findings: list[FindingOut]
    complete: bool


@router.post("/classify", summary="Hazard classes of a mix, each with its reasons")
def classify_mix(asked: ClassifyIn) -> ClassifyOut:
    """Works out the hazard classes of a mix from its ingredients, by the rules of one law. Touches no stock.

    Calculated classes do not replace a safety data sheet, a test, or the reading of the authority.
    """
    mix = mix_of(asked.ingredients, asked.mixture)
    result = classify(mix, asked.regime)
    verdict = result.verdict + lists_beside(mix, asked.regime)
    return _told(replace(result, verdict=verdict), mix)


@router.post("/label", summary="The label that hazard classes lead to")
def label(asked: LabelIn) -> LabelAnswer:
    """Pictograms, signal word and statements for given hazard classes. Touches no stock.

    What leaves the shop needs the whole label for the public unless a keeper decides otherwise.
    """
    read = read_classes(asked.hazards or [])
    contains = tuple(name.strip() for name in asked.contains if name.strip())
    shares = asked.unknown_acute_percent
    told = {Route.ORAL: shares.oral, Route.DERMAL: shares.dermal, Route.INHALATION: shares.inhalation}
    question = LabelAsked(
        regime=asked.regime,
        hazards=read.hazards,
        volume_ml=asked.volume_ml,
        # What leaves the shop goes to the public, whoever is said to get it, unless it is used up here.
        audience=asked.audience,
        label_for=asked.label_for,
        fold_out_possible=asked.fold_out_possible,
        label_hinders_use=asked.label_hinders_use,
        contains=contains,
        unknown_acute_percent={route: share for route, share in told.items() if share is not None},
        unknown_aquatic_percent=asked.unknown_aquatic_percent,
        supplements=tuple(Supplement(code, contains, "as given", "") for code in read.supplements)
        if RULES[asked.regime].supplements
        else (),
    )
    plain = make_label(question, mandated_texts(), advice_of(asked.regime))
    made = label_out(plain, asked.regime)
    missing = [_no_advice(hazard) for hazard in plain.without_advice]
    missing += [_outside(hazard, asked.regime) for hazard in plain.outside_law]
    missing += _allergen_not_named(question)
    if asked.hazards is None:
        sentence = "The hazard classes are not known, so this is no label: an empty one never means harmless."
        missing.append(unknown("hazards-not-known", sentence))
    verdict = Verdict.of(missing)
    return LabelAnswer(
        **made.model_dump(), findings=[finding_out(one) for one in verdict], complete=verdict.complete
    )


def _outside(hazard: Hazard, regime: Regime) -> Finding:
    sentence = (
        f"{hazard.text} is not put on a label by {RULES[regime].title}; that does not make it harmless."
    )
    return note("not-on-this-label", sentence)


def _allergen_not_named(question: LabelAsked) -> list[Finding]:
    """EU: an allergen is named on the label; without its name it is no whole label."""
    sensitiser = any(
        h.family in (Family.SKIN_SENSITISER, Family.RESPIRATORY_SENSITISER) for h in question.hazards
    )
    said = any(one.code == "EUH208" for one in question.supplements)
    if not RULES[question.regime].supplements or question.contains or not (sensitiser or said):
        return []
    sentence = "The allergen is not named. Give its name under contains: it has to stand on the label."
    return [unknown("allergen-not-named", sentence, "CLP Article 18(3)(b), Annex II 2.8")]


def _no_advice(hazard: Hazard) -> Finding:
    sentence = (
        f"No precautionary statements are held here for {hazard.text}. Take them from section 2 of the sheet."
    )
    return unknown("precautions-not-held", sentence)


def _told(result: Classification, mix: Mix) -> ClassifyOut:
    return ClassifyOut(
        regime=result.regime,
        regime_title=RULES[result.regime].title,
        classifications=[class_out(one) for one in result.classes],
        below_limits=[because_out(one) for one in result.below],
        ate={
            one.route.value: EstimateOut(
                value=None if one.value is None else float(one.value),
                unit=one.unit,
                unknown_percent=float(one.unknown_percent),
            )
            for one in result.acute.estimates
        },
        unknown_acute_percent={
            route.value: float(share) for route, share in result.unknown_acute_percent.items()
        },
        unknown_aquatic_percent=float(result.unknown_aquatic_percent),
        supplements=[
            SupplementOut(code=s.code, names=list(s.names), because=s.because, paragraph=s.paragraph)
            for s in result.supplements
        ],
        label=label_out(label_of(result, mix), result.regime),
        findings=[finding_out(one) for one in result.verdict],
        complete=result.verdict.complete,
        data_used=[
            {"ingredient": one.name, "property": "hazards", "value": _classes(one.hazards), "source": "given"}
            for one in mix.ingredients
        ],
    )


def _classes(hazards: tuple[object, ...] | None) -> str:
    if hazards is None:
        return "not known"
    return "; ".join(getattr(hazard, "text", "") for hazard in hazards) or "examined, not classified"
