"""Acute toxicity of a mix by the additivity formula, route by route, with the share about which nothing is
known.

Doors: core/hazards/classify.py, core/hazards/unknowns.py.

Sources: UN GHS tables 3.1.1, 3.1.2 and 3.1.3.6; CLP Annex I 3.1.3.6.1, 3.1.3.6.2.3; HCS A.1.3.6. The
converted values of
category 5 are from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from service.core.findings import Finding, unknown, warn
from service.core.hazards.classes import INHALED, Family, Hazard, Route
from service.core.hazards.cut_offs import not_counted
from service.core.hazards.inhaled import breathed, only_vapour, speaks_of
from service.core.hazards.lines import Line
from service.core.hazards.mix import HUNDRED, Mix
from service.core.hazards.reasons import NEARLY, Because, Reached, shown
from service.core.hazards.regimes import ACUTE_CUT_OFF_PERCENT, CUT_OFF_PERCENT, Rules


def _row(numbers: str) -> tuple[Decimal, ...]:
    return tuple(Decimal(number) for number in numbers.split())


# Upper ends of categories 1 to 5 (each includes its upper end); inhalation has no figures for category 5.
UPPER_ENDS: Final[dict[Route, tuple[Decimal, ...]]] = {
    Route.ORAL: _row("5 50 300 2000 5000"),
    Route.DERMAL: _row("50 200 1000 2000 5000"),
    Route.GAS: _row("100 500 2500 20000"),
    Route.VAPOUR: _row("0.5 2 10 20"),
    Route.DUST_MIST: _row("0.05 0.5 1 5"),
}
# What a category alone is worth in the formula.
CONVERTED: Final[dict[Route, tuple[Decimal, ...]]] = {
    Route.ORAL: _row("0.5 5 100 500 2500"),
    Route.DERMAL: _row("5 50 300 1100 2500"),
    Route.GAS: _row("10 100 700 4500"),
    Route.VAPOUR: _row("0.05 0.5 3 11"),
    Route.DUST_MIST: _row("0.005 0.05 0.5 1.5"),
}
UNITS: Final = {
    Route.ORAL: "mg/kg",
    Route.DERMAL: "mg/kg",
    Route.GAS: "ppmV, 4 h",
    Route.VAPOUR: "mg/l, 4 h",
    Route.DUST_MIST: "mg/l, 4 h",
}
FORMULA_ROUTES: Final = (Route.ORAL, Route.DERMAL, Route.GAS, Route.VAPOUR, Route.DUST_MIST)
# More than this share of unknown toxicity is taken out of the hundred.
UNKNOWN_CORRECTED_PERCENT: Final = Decimal(10)


_Entry = tuple[str, Decimal, Decimal]


@dataclass(frozen=True)
class Estimate:
    """The estimate of the mix by one route: ``value`` in ``unit``, None where no ingredient counts."""

    route: Route
    value: Decimal | None
    unit: str
    unknown_percent: Decimal
    entries: tuple[tuple[str, Decimal, Decimal], ...]


@dataclass(frozen=True)
class AcuteToxicity:
    """All routes: classes with reasons, estimates, unknown share by route, and what does not fit together."""

    reached: tuple[Reached, ...]
    estimates: tuple[Estimate, ...]
    unknown_percent: dict[Route, Decimal]
    findings: tuple[Finding, ...]


def acute_toxicity(lines: Sequence[Line], mix: Mix, rules: Rules, not_told: Decimal) -> AcuteToxicity:
    """Classifies each route by ATEmix = (100 - unknown over 10 %) / sum of share / ATE.

    Args:
        not_told: per cent of the mix about which nothing is told; it counts as unknown.
    """
    findings: list[Finding] = []
    reached: list[Reached] = []
    estimates: list[Estimate] = []
    shares = _unknown_shares(lines, not_told)
    for route in FORMULA_ROUTES:
        entries, small = _entries(lines, route, mix, rules, findings)
        whole = HUNDRED - shares[route] if shares[route] > UNKNOWN_CORRECTED_PERCENT else HUNDRED
        if small:
            findings += _small_shares(entries, small, whole, route, rules)
        if not entries:
            continue
        divided = sum((share / ate for _, share, ate in entries), Decimal(0))
        value = whole / divided
        estimates.append(Estimate(route, shown(value), UNITS[route], shares[route], tuple(entries)))
        category = _no_worse_than_its_parts(
            category_of(value, route, rules), entries, lines, route, mix, rules
        )
        if category:
            reached.append(_reached(route, category, whole, value, entries, rules))
    findings += _form_not_told(lines, mix, rules, shares)
    percents = {
        Route.ORAL: shares[Route.ORAL],
        Route.DERMAL: shares[Route.DERMAL],
        Route.INHALATION: shares[breathed(mix)],
    }
    return AcuteToxicity(tuple(reached), tuple(estimates), percents, tuple(dict.fromkeys(findings)))


def category_of(value: Decimal, route: Route, rules: Rules) -> str:
    """The category of an estimate in the route's unit; empty when it is outside all of them.

    >>> from service.core.hazards.regimes import CLP, UN
    >>> category_of(Decimal(2000), Route.ORAL, CLP), category_of(Decimal(2001), Route.ORAL, UN)
    ('4', '5')
    """
    for number, upper in enumerate(UPPER_ENDS[route][: rules.acute_categories], start=1):
        if value <= upper * (1 + NEARLY):
            return str(number)
    return ""


def _form_not_told(
    lines: Sequence[Line],
    mix: Mix,
    rules: Rules,
    unknown_shares: dict[Route, Decimal],
) -> list[Finding]:
    """A sheet often says "if inhaled" and not whether as vapour or as mist. In a liquid that is not sprayed a
    flammable liquid is judged as vapour, anything else as both; where mist makes it more severe, the form is
    not known.
    """
    told = [
        line
        for line in lines
        if any(h.route is Route.INHALATION for h in line.classes.get(Family.ACUTE_TOXICITY, ()))
        and not only_vapour(line)
    ]
    if not told or breathed(mix) is Route.DUST_MIST:
        return []
    share = unknown_shares[Route.DUST_MIST]
    whole = HUNDRED - share if share > UNKNOWN_CORRECTED_PERCENT else HUNDRED
    as_mist = _category_as(Route.DUST_MIST, whole, lines, replace(mix, sprayed=True), rules)
    # Against what is known of the vapour, so that knowing less of another ingredient never hides this.
    as_vapour = _category_as(Route.VAPOUR, HUNDRED, lines, mix, rules)
    if not as_mist or as_mist >= (as_vapour or "9"):
        return []
    names = ", ".join(line.name for line in told)
    words = f"The sheet of {names} does not say whether it is harmful as vapour or as mist; "
    if _category_as(Route.DUST_MIST, whole, lines, mix, rules) == as_mist:
        words += f"the more severe counts, as mist: Acute Tox. {as_mist}. Ask in which form."
    else:
        words += (
            "what is a flammable liquid was judged as vapour. As mist the mix would be Acute Tox. "
            f"{as_mist}: ask, or say that it is sprayed."
        )
    return [unknown("inhaled-form-not-told", words, rules.acute_paragraph, names)]


def _category_as(route: Route, whole: Decimal, lines: Sequence[Line], mix: Mix, rules: Rules) -> str:
    """The category by one route; empty where nothing counts or it is outside all."""
    entries, _ = _entries(lines, route, mix, rules, [])
    if not entries:
        return ""
    return category_of(whole / sum((share / ate for _, share, ate in entries), Decimal(0)), route, rules)


def _no_worse_than_its_parts(
    category: str,
    entries: list[tuple[str, Decimal, Decimal]],
    lines: Sequence[Line],
    route: Route,
    mix: Mix,
    rules: Rules,
) -> str:
    """The converted value of category 2 is the upper end of category 1 (5 mg/kg by mouth): a substance of
    category 2 would make itself category 1. The estimate of a mix is a mean: never worse than its worst part.
    """
    if not category:
        return category
    names = {name for name, _, _ in entries}
    parts = []
    for line in lines:
        if line.name in names:
            given = line.ingredient.ate.get(route)
            worth = _by_class(line, route, mix)
            by_class = str(CONVERTED[route].index(worth) + 1) if worth is not None else ""
            by_estimate = category_of(given[0], route, rules) if given else ""
            parts += [one for one in (by_class, by_estimate) if one]
    return max(category, min(parts, default=category))


def _entries(
    lines: Sequence[Line], route: Route, mix: Mix, rules: Rules, findings: list[Finding]
) -> tuple[list[_Entry], list[_Entry]]:
    """Name, share and estimate of what counts by one route; and apart of what is below its cut-off."""
    entries: list[_Entry] = []
    small: list[_Entry] = []
    for line in lines:
        ate = _ate(line, route, mix, rules, findings)
        category = "" if ate is None else category_of(ate, route, rules)
        if ate is None or not category:
            continue
        least = ACUTE_CUT_OFF_PERCENT if category in ("1", "2", "3") else CUT_OFF_PERCENT
        (entries if line.share >= least else small).append((line.name, line.share, ate))
    return entries, small


def _small_shares(
    entries: list[_Entry], small: list[_Entry], whole: Decimal, route: Route, rules: Rules
) -> list[Finding]:
    """What is below its cut-off and so does not count (CLP table 1.1), where with it the class is worse."""

    def category(of: list[_Entry]) -> str:
        return category_of(whole / sum((share / ate for _, share, ate in of), Decimal(0)), route, rules)

    counted, with_all = category(entries) if entries else "", category([*entries, *small])
    if not with_all or (counted and counted <= with_all):
        return []
    hazard = Hazard(Family.ACUTE_TOXICITY, with_all, route)
    told = [(name, share) for name, share, _ in small]
    return [not_counted(told, hazard, "", rules.acute_paragraph)]


def _ate(line: Line, route: Route, mix: Mix, rules: Rules, findings: list[Finding]) -> Decimal | None:
    """What the ingredient puts into the formula; None when it is not toxic by this route or not known to
    be.
    """
    one = line.ingredient
    by_class = _by_class(line, route, mix)
    if route not in one.ate:
        denied = route in one.not_acutely_toxic or (
            route in INHALED and Route.INHALATION in one.not_acutely_toxic
        )
        if denied and by_class is not None:
            words = (
                f"{one.name} is called not toxic by {route.value}, and its class says it is. The "
                "class counts; "
                "look at the sheet."
            )
            findings.append(warn("not-toxic-and-class", words, rules.acute_paragraph, one.name))
        return by_class
    given = one.ate[route][0]
    if by_class is None:
        return given
    told = str(CONVERTED[route].index(by_class) + 1)
    counts = category_of(given, route, rules)
    if counts != told:
        findings.append(
            warn(
                "estimate-and-class-differ",
                f"{one.name}: its class says category {told} by {route.value}, its estimate "
                f"{given:f} {UNITS[route]} "
                f"says {f'category {counts}' if counts else 'none'}. The more severe one counts; "
                "look at the sheet.",
                rules.acute_paragraph,
                one.name,
            )
        )
        if not counts or counts > told:
            return by_class
    return given


def _by_class(line: Line, route: Route, mix: Mix) -> Decimal | None:
    """The converted value of the most severe class for this route."""
    best: int | None = None
    for hazard in line.classes.get(Family.ACUTE_TOXICITY, ()):
        if not speaks_of(line, hazard.route, route, mix):
            continue
        number = int(hazard.category)
        if number <= len(CONVERTED[route]):
            best = number if best is None else min(best, number)
    return CONVERTED[route][best - 1] if best else None


def _unknown_shares(lines: Sequence[Line], not_told: Decimal) -> dict[Route, Decimal]:
    shares = dict.fromkeys(FORMULA_ROUTES, not_told)
    for line in lines:
        if line.share < CUT_OFF_PERCENT:
            continue
        for route in FORMULA_ROUTES:
            if _is_unknown(line, route):
                shares[route] += line.share
    return {route: min(share, HUNDRED) for route, share in shares.items()}


def _is_unknown(line: Line, route: Route) -> bool:
    one = line.ingredient
    if route in one.ate or route in one.not_acutely_toxic:
        return False
    if route in one.unknown_acute or (route in INHALED and Route.INHALATION in one.unknown_acute):
        return True
    return not line.known and not (route in INHALED and Route.INHALATION in one.not_acutely_toxic)


def _reached(
    route: Route,
    category: str,
    whole: Decimal,
    value: Decimal,
    entries: list[tuple[str, Decimal, Decimal]],
    rules: Rules,
) -> Reached:
    parts = " + ".join(f"{shown(share):f}/{shown(ate):f}" for _, share, ate in entries)
    taken_out = HUNDRED - whole
    counted = f"(100 - {shown(taken_out):f} % not known)" if taken_out else "100"
    because = Because(
        f"ATEmix {route.value} = {counted} / ({parts})",
        rules.acute_paragraph,
        shown(value),
        UPPER_ENDS[route][int(category) - 1],
        tuple(name for name, _, _ in entries),
        UNITS[route],
    )
    return Reached(Hazard(Family.ACUTE_TOXICITY, category, route), because)
