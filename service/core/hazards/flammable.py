"""Flammable liquids: from the flash point of the mix, measured or calculated, and its initial boiling point.

Doors: core/hazards/classify.py.

Sources: UN GHS 2.6, CLP Annex I tables 2.6.1 and 2.6.4.2, HCS B.6. The 5 °C margin as a table of decisions
is our own reading of
GHS 2.6.4.2.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from service.core.findings import Finding, note, unknown, warn
from service.core.hazards.classes import Family, Hazard
from service.core.hazards.lines import Line
from service.core.hazards.mix import Mix, MixForm
from service.core.hazards.reasons import Because, Reached, in_words
from service.core.hazards.regimes import Rules
from service.core.sources import Provenance

LOW_C: Final = Decimal(23)
MIDDLE_C: Final = Decimal(60)
HIGH_C: Final = Decimal(93)
BOILING_C: Final = Decimal(35)
MARGIN_C: Final = Decimal(5)
WATER_CAS: Final = "7732-18-5"
_FLASHES: Final = {"1": "below 23 °C", "2": "below 23 °C", "3": "at 23 to 60 °C", "4": "at 60 to 93 °C"}
_BY_INGREDIENT: Final = "the most flammable ingredient, for want of a flash point of the mix"


@dataclass(frozen=True)
class Flammability:
    """The class, if any, with its reason; and what is missing."""

    reached: tuple[Reached, ...]
    findings: tuple[Finding, ...]


def flammability(lines: Sequence[Line], mix: Mix, rules: Rules) -> Flammability:
    """The category of a liquid mix.

    Without a flash point: that of the most flammable ingredient, and it is not known. A measured one that
    makes the mix milder than that ingredient counts once it is confirmed: a figure in °F typed as °C would
    else take the flame off a can of solvent. A calculated flash point within
    5 °C above a criterion, or one that makes the mix milder than its most flammable ingredient without
    meeting
    GHS 2.6.4.2, keeps the more severe category until a test.
    """
    worst = _worst_ingredient(lines)
    if mix.form is MixForm.SOLID or mix.does_not_flash:
        return Flammability((), _although(worst, mix, rules))
    flash = mix.flash_point_c
    if flash is None:
        return Flammability((), ()) if _only_water(lines) else _by_ingredient(worst, rules)
    findings: list[Finding] = []
    measured = _category(flash, mix, worst, findings)
    category = measured
    rule = "flash point, measured"
    doubtful = not mix.flash_point_is_calculated and not mix.flash_point_confirmed
    if worst is not None and doubtful and (not measured or measured > worst[0].category):
        return _to_confirm(flash, worst, findings, rules)
    if mix.flash_point_is_calculated:
        rule = "flash point, calculated"
        category = _category(flash - MARGIN_C, mix, worst, findings) if _in_margin(flash) else measured
        if category != measured:
            findings.append(
                unknown(
                    "flash-point-needs-test",
                    f"A calculated flash point of {flash:f} °C is less than 5 °C above a "
                    "criterion. The more severe "
                    "category stays until it is tested.",
                    "UN GHS 2.6.4.2",
                )
            )
        milder = worst is not None and (not category or category > worst[0].category)
        if worst is not None and milder and not mix.calculation_allowed:
            category = worst[0].category
            rule = "most flammable ingredient; a calculation may not make it milder here"
            findings.append(
                unknown(
                    "calculation-not-validated",
                    f"By its calculated flash point it would be milder than {worst[1]} in it. That "
                    "counts only where the "
                    "standard allows the calculation; until a test the category of that ingredient stays.",
                    "UN GHS 2.6.4.2",
                )
            )
    if not category or (Family.FLAMMABLE_LIQUID, category) in rules.categories_left_out:
        return Flammability((), tuple(findings))
    limit = {"1": LOW_C, "2": LOW_C, "3": MIDDLE_C, "4": HIGH_C}[category]
    hazard = Hazard(Family.FLAMMABLE_LIQUID, category)
    reached = [Reached(hazard, Because(rule, rules.flammable_paragraph, flash, limit, (), "°C"))]
    if category in ("1", "2"):
        reached.append(Reached(hazard, _boiling(mix, rules)))
    return Flammability(tuple(reached), tuple(findings))


def _boiling(mix: Mix, rules: Rules) -> Because:
    """What decides between categories 1 and 2, shown beside the flash point."""
    boiling = mix.initial_boiling_point_c
    words = "initial boiling point" if boiling is not None else "initial boiling point, not known"
    rule = f"{words}: category 1 at 35 °C or less"
    return Because(rule, rules.flammable_paragraph, boiling, BOILING_C, (), "°C")


def _only_water(lines: Sequence[Line]) -> bool:
    """Water alone has no flash point, and nobody needs to say so."""
    plain = (line.ingredient for line in lines)
    return bool(lines) and all(
        one.hazards == () and (one.cas == WATER_CAS or (one.plain_name == "water" and not one.cas))
        for one in plain
    )


def _to_confirm(
    flash: Decimal, worst: tuple[Hazard, str], findings: Sequence[Finding], rules: Rules
) -> Flammability:
    """A measured figure that would make the mix milder than what is in it: a question first."""
    hazard, name = worst
    celsius = in_words((flash - 32) * 5 / 9)
    words = (
        f"Is {flash:f} °C right, although {name} in it is {hazard.abbreviation} and flashes "
        f"{_FLASHES[hazard.category]}? If it was read in °F, it is {celsius} °C. Confirm that it is in °C "
        f"and was measured in a closed cup on this very mix; until then the category of {name} stays."
    )
    because = Because(
        "the most flammable ingredient, until the flash point is confirmed",
        rules.flammable_paragraph, None, None, (name,), "", Provenance.DERIVED,
    )  # fmt: skip
    return Flammability(
        (Reached(Hazard(Family.FLAMMABLE_LIQUID, hazard.category), because),),
        (*findings, unknown("flash-point-to-confirm", words, rules.flammable_paragraph, name)),
    )


def _although(worst: tuple[Hazard, str] | None, mix: Mix, rules: Rules) -> tuple[Finding, ...]:
    """A flammable ingredient in something that is called solid, or said not to flash."""
    if worst is None:
        return ()
    if mix.does_not_flash:
        words = f"It was given as examined and without a flash point, although {worst[1]} in it is flammable."
        return (warn("flammable-ingredient", words, rules.flammable_paragraph, worst[1]),)
    words = (
        f"{worst[1]} in it is a flammable liquid. Whether the solid is flammable, or gives off "
        "what burns, is found "
        "by a test only."
    )
    return (unknown("flammable-ingredient", words, "UN GHS 2.7", worst[1]),)


def _in_margin(flash: Decimal) -> bool:
    return any(edge <= flash < edge + MARGIN_C for edge in (LOW_C, HIGH_C)) or (
        MIDDLE_C < flash < MIDDLE_C + MARGIN_C
    )


def _category(flash: Decimal, mix: Mix, worst: tuple[Hazard, str] | None, findings: list[Finding]) -> str:
    """The category of a flash point in °C: below 23, up to 60, up to 93; empty above."""
    if flash < LOW_C:
        boiling = mix.initial_boiling_point_c
        if boiling is None:
            findings.append(
                unknown(
                    "boiling-point-not-known",
                    "The initial boiling point is not known: at 35 °C or less it is category 1, "
                    "extremely flammable.",
                    "UN GHS table 2.6.1",
                )
            )
            return "1" if worst and worst[0].category == "1" else "2"
        return "1" if boiling <= BOILING_C else "2"
    return flash_category(flash)


def flash_category(flash_c: Decimal) -> str:
    """The category of a measured flash point in °C without regard to boiling: "2" below 23, "3" to 60, "4"
    to 93.

    >>> flash_category(Decimal(23)), flash_category(Decimal("60.1")), flash_category(Decimal(94))
    ('3', '4', '')
    """
    if flash_c < LOW_C:
        return "2"
    if flash_c <= MIDDLE_C:
        return "3"
    return "4" if flash_c <= HIGH_C else ""


def _worst_ingredient(lines: Sequence[Line]) -> tuple[Hazard, str] | None:
    found = [
        (hazard, line.name) for line in lines for hazard in line.classes.get(Family.FLAMMABLE_LIQUID, ())
    ]
    return min(found, key=lambda one: one[0].rank, default=None)


def _by_ingredient(worst: tuple[Hazard, str] | None, rules: Rules) -> Flammability:
    missing = unknown(
        "flash-point-not-known",
        "The flash point of the mix is not known. A mix can flash below each of its ingredients: "
        "have it tested, or take it "
        "from section 9 of the sheet.",
        rules.flammable_paragraph,
    )
    if worst is None:
        return Flammability((), (missing,))
    hazard, name = worst
    because = Because(_BY_INGREDIENT, rules.flammable_paragraph, None, None, (name,), "", Provenance.DERIVED)
    return Flammability((Reached(Hazard(Family.FLAMMABLE_LIQUID, hazard.category), because),), (missing,))


def self_heating_note() -> Finding:
    """A drying oil carries no H251 or H252: the class is tested on the powder or the soaked solid, never
    worked out.
    """
    return note(
        "self-heating-not-from-label",
        "Self-heating classes are tested, never worked out from ingredients. Rags with a drying "
        "oil can ignite by themselves "
        "although no label says so.",
        "UN GHS 2.11",
    )
