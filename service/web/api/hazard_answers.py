"""Hazard answers as JSON: classes with their reasons, estimates, label."""

from __future__ import annotations

from pydantic import BaseModel

from service.core.findings import Finding
from service.core.hazards.classify import Classification, Classified
from service.core.hazards.label import Label, LabelAsked, LabelFor, make_label, names_on_label
from service.core.hazards.mix import Mix
from service.core.hazards.reasons import Because, shown
from service.core.hazards.regimes import Regime
from service.records.hazard_tables import advice_of, mandated_texts


class BecauseOut(BaseModel):
    """One comparison: ``sum`` against ``limit``, both in ``unit``."""

    rule: str
    paragraph: str
    sum: float | None
    limit: float | None
    unit: str
    ingredients: list[str]
    grade: str


class ClassOut(BaseModel):
    hazard: str
    hazard_class: str
    category: str
    route: str | None
    organ: str | None
    code: str
    because: list[BecauseOut]
    source: str


class EstimateOut(BaseModel):
    value: float | None
    unit: str
    unknown_percent: float


class StatementOut(BaseModel):
    code: str
    text: str


class MayLeaveOut(BaseModel):
    what: str
    paragraph: str
    sentence: str


class LeftOutOut(BaseModel):
    code: str
    because: str


class FindingOut(BaseModel):
    severity: str
    code: str
    sentence: str
    source: str
    about: str


class LabelOut(BaseModel):
    """What the label carries. ``may_be_left_out`` is allowed, not done; ``left_out`` were not chosen, and
    why.
    """

    regime: Regime
    pictograms: list[str]
    signal_word: str | None
    hazard_statements: list[StatementOut]
    precautionary_statements: list[StatementOut]
    supplemental: list[StatementOut]
    contains: list[str]
    may_be_left_out: list[MayLeaveOut]
    left_out: list[LeftOutOut]
    pictograms_left_out: list[LeftOutOut]
    without_advice: list[str]


class SupplementOut(BaseModel):
    code: str
    names: list[str]
    because: str
    paragraph: str


class ClassifyOut(BaseModel):
    """The classes of a mix by calculation. The safety data sheet and the law in force decide."""

    regime: Regime
    regime_title: str
    classifications: list[ClassOut]
    below_limits: list[BecauseOut]
    ate: dict[str, EstimateOut]
    unknown_acute_percent: dict[str, float]
    unknown_aquatic_percent: float
    supplements: list[SupplementOut]
    label: LabelOut
    findings: list[FindingOut]
    complete: bool
    data_used: list[dict[str, str]]


def because_out(one: Because) -> BecauseOut:
    """A reason with its figures cut to six significant ones."""
    total, limit = shown(one.sum), shown(one.limit)
    return BecauseOut(
        rule=one.rule,
        paragraph=one.paragraph,
        sum=None if total is None else float(total),
        limit=None if limit is None else float(limit),
        unit=one.unit,
        ingredients=list(one.ingredients),
        grade=one.provenance.value,
    )


def class_out(one: Classified) -> ClassOut:
    """One class of the mix."""
    hazard = one.hazard
    return ClassOut(
        hazard=hazard.text,
        hazard_class=hazard.family.value,
        category=hazard.category,
        route=hazard.route.value if hazard.route else None,
        organ=", ".join(hazard.organs) or None,
        code=hazard.code,
        because=[because_out(reason) for reason in one.because],
        source=one.because[0].paragraph if one.because else "",
    )


def finding_out(finding: Finding) -> FindingOut:
    """A finding as the calls tell it."""
    return FindingOut(**finding.as_dict())


def label_of(result: Classification, mix: Mix) -> Label:
    """The supply label of a classified mix, for the audience it was asked for."""
    brought = [
        (one.hazard, tuple(name for reason in one.because for name in reason.ingredients))
        for one in result.classes
    ]
    asked = LabelAsked(
        regime=result.regime,
        hazards=result.hazards,
        audience=mix.audience,
        label_for=LabelFor.SUPPLY,
        contains=names_on_label(brought),
        unknown_acute_percent=result.unknown_acute_percent,
        unknown_aquatic_percent=result.unknown_aquatic_percent,
        supplements=result.supplements,
    )
    return make_label(asked, mandated_texts(), advice_of(result.regime))


def label_out(label: Label, regime: Regime) -> LabelOut:
    """A label as the calls tell it."""
    return LabelOut(
        regime=regime,
        pictograms=list(label.pictograms),
        signal_word=label.signal_word.value if label.signal_word else None,
        hazard_statements=[StatementOut(code=s.code, text=s.text) for s in label.hazard_statements],
        precautionary_statements=[
            StatementOut(code=s.code, text=s.text) for s in label.precautionary_statements
        ],
        supplemental=[StatementOut(code=s.code, text=s.text) for s in label.supplemental],
        contains=list(label.contains),
        may_be_left_out=[
            MayLeaveOut(what=one.what, paragraph=one.paragraph, sentence=one.sentence)
            for one in label.may_be_left_out
        ],
        left_out=[LeftOutOut(code=one.code, because=one.because) for one in label.left_out],
        without_advice=[hazard.text for hazard in label.without_advice],
        pictograms_left_out=[LeftOutOut(code=code, because=why) for code, why in label.dropped_pictograms],
    )
