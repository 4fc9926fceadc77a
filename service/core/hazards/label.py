"""The label that hazard classes lead to: pictograms, signal word, statements, and what may be left out.

Doors: actions/judge_hazards.py, web/api/calc_classify.py, web/api/hazard_answers.py.

Sources: CLP Articles 18 to 28; UN GHS 1.4.10.5.3; HCS Appendix C.2. The precedence rules were held against
the label columns of CLP Annex
VI by whoever compiled the table in ``tests/published/ghs_label_vectors.csv``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.classes import AQUATIC, Family, Hazard, Route, Signal, most_severe
from service.core.hazards.mix import Audience
from service.core.hazards.precaution import Advice, LeftOut, advice_for, choose_precautions
from service.core.hazards.reasons import in_words
from service.core.hazards.regimes import RULES, Regime
from service.core.hazards.small_packs import MayLeave, Pack, may_leave_out
from service.core.hazards.statements import Statement, Statements, hazard_statement
from service.core.hazards.supplements import BURNING_DUST, NAMED, Supplement

EXPLODING_BOMB, FLAME, FLAME_OVER_CIRCLE = "GHS01", "GHS02", "GHS03"
GAS_CYLINDER, CORROSION, SKULL = "GHS04", "GHS05", "GHS06"
EXCLAMATION_MARK, HEALTH_HAZARD, ENVIRONMENT = "GHS07", "GHS08", "GHS09"
PICTOGRAM_WORDS: Final = {
    EXPLODING_BOMB: "exploding bomb",
    FLAME: "flame",
    FLAME_OVER_CIRCLE: "flame over circle",
    GAS_CYLINDER: "gas cylinder",
    CORROSION: "corrosion",
    SKULL: "skull and crossbones",
    EXCLAMATION_MARK: "exclamation mark",
    HEALTH_HAZARD: "health hazard",
    ENVIRONMENT: "environment",
}
# The order in which they stand on our labels: what kills first comes first.
_PLACES: Final = (SKULL, CORROSION, HEALTH_HAZARD, EXPLODING_BOMB, FLAME, FLAME_OVER_CIRCLE, GAS_CYLINDER)
_IRRITANTS: Final = frozenset({Family.SKIN, Family.EYE})
_LEAVES_A_NAME: Final = frozenset(
    {
        Family.ACUTE_TOXICITY,
        Family.SKIN,
        Family.EYE,
        Family.RESPIRATORY_SENSITISER,
        Family.SKIN_SENSITISER,
        Family.MUTAGEN,
        Family.CARCINOGEN,
        Family.REPRODUCTIVE,
        Family.STOT_SINGLE,
        Family.STOT_REPEATED,
        Family.ASPIRATION,
    }
)


class LabelFor(StrEnum):
    """A container that leaves the shop is supply: the whole label. ``WORKPLACE``: it is used up here."""

    SUPPLY = "supply"
    WORKPLACE = "workplace"


@dataclass(frozen=True, kw_only=True)
class LabelAsked:
    """What a label is wanted for.

    Args:
        volume_ml: what the container holds; None = not told, no relief for small ones.
        fold_out_possible: a fold-out, pull-out or tag would fit (US: then no relief).
        contains: names of the substances that bring the classes.
        unknown_acute_percent: by route; from 1 % it is said on the label.
        unknown_aquatic_percent: of which nobody says what it does in water; said where the law judges water.
    """

    regime: Regime
    hazards: tuple[Hazard, ...]
    volume_ml: Decimal | None = None
    audience: Audience = Audience.PUBLIC
    label_for: LabelFor = LabelFor.SUPPLY
    fold_out_possible: bool = True
    contains: tuple[str, ...] = ()
    unknown_acute_percent: dict[Route, Decimal] = field(default_factory=dict)
    unknown_aquatic_percent: Decimal = Decimal(0)
    supplements: tuple[Supplement, ...] = ()
    label_hinders_use: bool = False

    def __post_init__(self) -> None:
        if self.volume_ml is not None and not 0 < self.volume_ml <= 10_000_000:
            raise Invalid(
                "A container holds more than 0 ml and at most 10,000 litres.", {"volume_ml": "More than 0."}
            )


@dataclass(frozen=True)
class Label:
    """A label by one law. ``left_out``: precautions that were not chosen, each with the reason.

    ``outside_law``: classes that this law does not put on a label.
    ``without_advice``: classes for which no precautionary statements are held here; the sheet has them.
    """

    pictograms: tuple[str, ...]
    signal_word: Signal | None
    hazard_statements: tuple[Statement, ...]
    precautionary_statements: tuple[Statement, ...]
    supplemental: tuple[Statement, ...]
    contains: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    may_be_left_out: tuple[MayLeave, ...]
    dropped_pictograms: tuple[tuple[str, str], ...]
    without_advice: tuple[Hazard, ...] = ()
    outside_law: tuple[Hazard, ...] = ()


def make_label(asked: LabelAsked, statements: Statements, advice: Advice) -> Label:
    """The whole label; ``may_be_left_out`` names what a small container may do without."""
    hazards = _by_law(asked.hazards, asked.regime)
    pictograms, dropped = choose_pictograms(hazards, asked.regime)
    # P101 to P103 are for the public; what is used up in the shop never reaches it.
    reader = Audience.WORKPLACE if asked.label_for is LabelFor.WORKPLACE else asked.audience
    precautions = choose_precautions(hazards, asked.regime, reader, advice)
    pack = Pack(asked.volume_ml, asked.audience, asked.fold_out_possible, asked.label_hinders_use)
    shown = tuple(statements.precaution(code) for code in precautions.chosen)
    return Label(
        pictograms,
        signal_word(hazards) or _of_dust(asked),
        tuple(hazard_statement(hazard, statements) for hazard in stated(hazards)),
        shown,
        _supplemental(asked, statements),
        _contains(asked) if hazards else (),
        precautions.left_out,
        may_leave_out(hazards, asked.regime, pack, precautions.chosen, advice),
        dropped,
        tuple(hazard for hazard in hazards if hazard.code and not advice_for(hazard, advice).all),
        tuple(hazard for hazard in asked.hazards if not _in_law(hazard, asked.regime)),
    )


def _by_law(hazards: Sequence[Hazard], regime: Regime) -> list[Hazard]:
    """Only what the law knows: no water classes in the US, no category 5 in the EU."""
    return most_severe([hazard for hazard in hazards if _in_law(hazard, regime)])


def _in_law(hazard: Hazard, regime: Regime) -> bool:
    rules = RULES[regime]
    known = rules.aquatic or hazard.family not in AQUATIC | {Family.OZONE}
    return known and (hazard.family, hazard.category) not in rules.categories_left_out


def signal_word(hazards: Sequence[Hazard]) -> Signal | None:
    """Danger where any class has it; then no Warning."""
    words = {hazard.signal for hazard in hazards}
    return next((word for word in (Signal.DANGER, Signal.WARNING) if word in words), None)


def _contains(asked: LabelAsked) -> tuple[str, ...]:
    """The names asked for and those that a mix which is a sensitiser already has to name besides."""
    named = (name for one in asked.supplements if one.code == NAMED for name in one.names)
    return tuple(dict.fromkeys(name for name in (*asked.contains, *named) if name.strip()))


def _of_dust(asked: LabelAsked) -> Signal | None:
    return Signal.WARNING if any(one.code == BURNING_DUST for one in asked.supplements) else None


def choose_pictograms(
    hazards: Sequence[Hazard], regime: Regime
) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """The pictograms of a label and those that others make unnecessary, each with the rule.

    >>> from service.core.hazards.read_class import read_classes
    >>> skull = read_classes(["Acute Tox. 3 oral", "Skin Irrit. 2"]).hazards
    >>> choose_pictograms(skull, Regime.EU_CLP)
    (('GHS06',), (('GHS07', 'CLP Article 26(1)(b): the skull stands there'),))
    """
    wanted = {picture for hazard in hazards for picture in hazard.pictograms}
    dropped: list[tuple[str, str]] = []
    if EXCLAMATION_MARK in wanted:
        reason = _why_no_mark(hazards, wanted, regime)
        if reason:
            wanted.discard(EXCLAMATION_MARK)
            dropped.append((EXCLAMATION_MARK, reason))
    order = (*_PLACES, EXCLAMATION_MARK, ENVIRONMENT)
    return tuple(sorted(wanted, key=order.index)), tuple(dropped)


def _why_no_mark(hazards: Sequence[Hazard], wanted: set[str], regime: Regime) -> str:
    """Why the exclamation mark is not shown; empty when a reason for it is left."""
    us = regime is Regime.US_HCS
    if SKULL in wanted and not us:
        rule = "CLP Article 26(1)(b)" if regime is Regime.EU_CLP else "UN GHS 1.4.10.5.3.1"
        return f"{rule}: the skull stands there"
    left = [hazard for hazard in hazards if EXCLAMATION_MARK in hazard.pictograms]
    reasons = []
    if SKULL in wanted:
        left = [hazard for hazard in left if hazard.family is not Family.ACUTE_TOXICITY]
        reasons.append("the skull stands for acute toxicity")
    if any(CORROSION in hazard.pictograms and hazard.family in _IRRITANTS for hazard in hazards):
        left = [hazard for hazard in left if hazard.family not in _IRRITANTS]
        reasons.append("corrosion stands for skin and eye")
    if any(hazard.family is Family.RESPIRATORY_SENSITISER for hazard in hazards):
        left = [hazard for hazard in left if hazard.family not in _IRRITANTS | {Family.SKIN_SENSITISER}]
        reasons.append("the health hazard stands for the allergen")
    if left:
        return ""
    rule = {
        Regime.UN_GHS: "UN GHS 1.4.10.5.3.1",
        Regime.EU_CLP: "CLP Article 26",
        Regime.US_HCS: "HCS C.2.1",
    }[regime]
    return f"{rule}: {', '.join(reasons)}"


def stated(hazards: Sequence[Hazard]) -> list[Hazard]:
    """The classes whose statement is printed: each code once, without those that another covers.

    H314 covers H318; H410 covers H400; H400 beside any long-lasting class is printed as H410 (CLP Article
    27).
    """
    codes = {hazard.code for hazard in hazards}
    chronic = [hazard for hazard in hazards if hazard.family is Family.AQUATIC_CHRONIC]
    both = "H400" in codes and bool(chronic)
    kept: dict[str, Hazard] = {}
    for hazard in hazards:
        if not hazard.code or (hazard.code == "H318" and "H314" in codes):
            continue
        if both and hazard.family in AQUATIC:
            hazard = Hazard(Family.AQUATIC_CHRONIC, "1")
        kept.setdefault(hazard.code, hazard)
    return list(kept.values())


def _supplemental(asked: LabelAsked, statements: Statements) -> tuple[Statement, ...]:
    found = []
    for one in asked.supplements:
        if one.code != NAMED:
            found.append(statements.supplement(one.code, one.names, small=(asked.volume_ml or 1000) < 125))
    if asked.unknown_aquatic_percent and RULES[asked.regime].aquatic:
        share = in_words(asked.unknown_aquatic_percent)
        text = f"Contains {share} % of components with unknown hazards to the aquatic environment"
        found.append(Statement("", text))
    for route, percent in asked.unknown_acute_percent.items():
        if percent >= 1:
            text = (
                f"{in_words(percent)} percent of the mixture consists of ingredient(s) of unknown acute "
                f"{route.value.replace('_', '/')} toxicity"
            )
            found.append(Statement("", text))
    return tuple(found)


def names_on_label(classes: Sequence[tuple[Hazard, tuple[str, ...]]], most: int = 4) -> tuple[str, ...]:
    """The substances to be named: those that bring the health classes (CLP Article 18(3)(b)).

    Four suffice unless the severity needs more; every sensitiser and every CMR substance is named all the
    same.
    """
    always: list[str] = []
    others: list[str] = []
    severe = {
        Family.RESPIRATORY_SENSITISER,
        Family.SKIN_SENSITISER,
        Family.MUTAGEN,
        Family.CARCINOGEN,
        Family.REPRODUCTIVE,
    }
    for hazard, names in sorted(classes, key=lambda one: one[0].signal is not Signal.DANGER):
        if hazard.family in severe:
            always += names
        elif hazard.family in _LEAVES_A_NAME and (
            hazard.family not in _IRRITANTS or hazard.category[0] == "1"
        ):
            others += names
    named = list(dict.fromkeys(always))
    for name in dict.fromkeys(others):
        if name not in named and len(named) < most:
            named.append(name)
    return tuple(named)
