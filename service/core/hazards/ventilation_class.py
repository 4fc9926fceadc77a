"""The ventilation class of a material or mix, 1 to 4, by published control banding, with every reason.

Doors: web/api/calc_ventilation.py, actions/judge_ventilation.py.

Health only: it says nothing about fire. It chooses a control; it neither predicts what is breathed nor
replaces a measurement. A respirator never lowers it. What is not known is never enough: without all hazards,
or without the amount, there is no class, only the least it can be. Liquids and the powders stirred into them
are judged apart and the worse counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.core.findings import Finding, Verdict, note, unknown
from service.core.hazards.amount_band import AmountBand, amount_band, litres_or_kilos
from service.core.hazards.dustiness import Dustiness
from service.core.hazards.hazard_band import Banded, Group, Scheme, Statements, band, worse_group
from service.core.hazards.mix import MixForm
from service.core.hazards.not_covered import NotCovered, above_boiling, not_covered
from service.core.hazards.ventilation_matrix import CLASS_NAMES, Column
from service.core.hazards.ventilation_parts import FLOOR_PERCENT, Part, Path, whole_of
from service.core.hazards.ventilation_paths import MIX, LiquidPart, TheWhole, liquid_paths, solid_paths
from service.core.hazards.ventilation_reasons import HSE, ILO, OURS, About, Reason
from service.core.hazards.volatility import Volatility, VolatilityFound, volatility_of
from service.core.solvents.properties import Component, DataUsed
from service.core.sources import Provenance

USUAL_C: Final = 25.0
NOT_GENERAL: Final = 2
OWN_LAW_FROM: Final = 3
RESPIRATOR: Final = "A respirator never lowers the class."
HEALTH_ONLY: Final = (
    "Health only: it says nothing about fire. The figures show when a bench is not fit; "
    "none shows that it is."
)


@dataclass(frozen=True)
class Task:
    """What is done with it.

    Args:
        operating_c: None = not told; 25 C is taken and said.
        litres, kilos: of the whole batch, or of a day; None = not told.
        wetted_m2: None = not told.
        amount: told as a band in place of litres or kilograms.
    """

    litres: float | None = None
    kilos: float | None = None
    operating_c: float | None = None
    spray: bool = False
    wetted_m2: float | None = None
    scheme: Scheme = Scheme.WORSE
    amount: AmountBand | None = None


@dataclass(frozen=True)
class VentilationClass:
    """The answer. ``number`` None: not known, and then it is ``at_least``; otherwise both are the same.

    ``group``, ``skin``, ``volatility``, ``dustiness``, ``amount`` are None where not known or not asked.
    """

    number: int | None
    at_least: int
    group: Group | None
    group_at_least: Group
    skin: bool | None
    volatility: Volatility | None
    dustiness: Dustiness | None
    amount: AmountBand | None
    not_covered: tuple[NotCovered, ...]
    because: tuple[Reason, ...]
    verdict: Verdict
    used: tuple[DataUsed, ...]

    @property
    def name(self) -> str | None:
        return None if self.number is None else CLASS_NAMES[self.number]


def ventilation_class(
    parts: Sequence[Part], task: Task, form: MixForm, *, own: Statements | None = None,
    whole: Component | None = None, untold_percent: float = 0.0, called: str = "the mix",
) -> VentilationClass:  # fmt: skip
    """The class of one material (a single part) or of a mix.

    Args:
        form: of the whole; powders in a liquid are parts of their own form.
        own: the statements of the mix itself, from its supplier or worked out; they come before those of its
            parts. None: the worst part counts.
        whole: what is known of the whole liquid (boiling point, vapour pressure) beside its parts.
        called: the name of the whole, for the reasons.
        untold_percent: share of the mix that no part accounts for; it may be anything.

    >>> from service.core.solvents.properties import Known
    >>> acetone = Component("acetone", None, boiling_point=Known(56.1, "C"))
    >>> part = Part(acetone, Statements(("H319", "H336", "EUH066")))
    >>> ventilation_class([part], Task(litres=4, operating_c=25), MixForm.LIQUID).number
    2
    """
    operating = USUAL_C if task.operating_c is None else task.operating_c
    groups = [band(p.said, task.scheme, p.name, None if len(parts) == 1 else p.percent) for p in parts]
    group = _group_of_mix(groups, own, task.scheme, untold_percent, called)
    amount, amount_reasons = _amount(parts, task, form)
    heated = operating > USUAL_C
    liquids = [
        LiquidPart(part, one, volatility_of(part.component, operating))
        for part, one in zip(parts, groups, strict=True)
        if part.form is MixForm.LIQUID
    ]
    boiling = volatility_of(whole, operating) if whole is not None and form is MixForm.LIQUID else None
    mixed, untold = len(parts) > 1, untold_percent >= FLOOR_PERCENT
    paths = liquid_paths(liquids, TheWhole(group, boiling, heated, mixed, own is not None, untold))
    paths += solid_paths(parts, group, task.scheme)
    outside = not_covered(
        (name for part in parts for name in part.names),
        (number for part in parts for number in (part.component.cas, *part.numbers)),
        (code for said in (own, *(part.said for part in parts)) if said for code in said.codes),
    )
    everywhere = [*(one.found for one in liquids), *([boiling] if boiling else [])]
    outside += [above_boiling(v.name, operating) for v in everywhere if v.band is Volatility.NOT_APPLICABLE]
    judged = [path.judged(amount, heated) for path in paths]
    number, at_least, rules = _with_rules(
        [one[0] for one in judged], [one[1] for one in judged], task, outside
    )
    worst = max(zip(judged, paths, strict=True), key=lambda one: (one[0][1], one[0][0] is None))[1]
    temperature, findings = _temperature(task) if liquids else ([], [])
    because = (*group.because, *temperature, *worst.reasons, *_others(paths, worst), *amount_reasons,
               worst.in_matrix(amount), *rules)  # fmt: skip
    findings += [*group.findings, *_lacks(paths, liquids, amount), *_outside_findings(outside)]
    return VentilationClass(
        number=number,
        at_least=at_least,
        group=group.group,
        group_at_least=group.at_least,
        skin=group.skin,
        volatility=_shown(paths, everywhere),
        dustiness=_dustiest(parts),
        amount=amount,
        not_covered=tuple(outside),
        because=tuple(dict.fromkeys(because)),
        verdict=Verdict.of(findings),
        used=tuple(dict.fromkeys(used for one in everywhere for used in one.used)),
    )


def _group_of_mix(
    groups: Sequence[Banded], own: Statements | None, scheme: Scheme, untold_percent: float, called: str
) -> Banded:
    """The mix's own statements first, else the worst part; a part not known leaves the mix not known."""
    if own is not None:
        whole = band(own, scheme, called)
        return replace(whole, skin=True if any(one.skin for one in groups) else whole.skin)
    least = worse_group(*(one.at_least for one in groups))
    unknown_part = any(one.group is None for one in groups)
    because = [r for one in groups for r in one.because if r.cell in ("", least.value)]
    findings = [finding for one in groups for finding in one.findings]
    if untold_percent > 0:
        words = (
            f"{untold_percent:.3g} % of the mix is not told: it may be anything, and counts as C at least."
        )
        findings.append(unknown("remainder-not-told", words, OURS))
        because.append(Reason(About.GROUP, words, OURS, Provenance.DERIVED))
        least, unknown_part = worse_group(least, Group.C), True
    known = None if unknown_part and least is not Group.E else least
    return Banded(known, least, _any_skin(groups), tuple(because), tuple(findings))


def _any_skin(groups: Sequence[Banded]) -> bool | None:
    told = [one.skin for one in groups]
    return True if True in told else None if None in told else False


def _dustiest(parts: Sequence[Part]) -> Dustiness | None:
    """The highest of the powders; None without one, or where one is not known and none is high."""
    solids = [part.dustiness for part in parts if part.form is MixForm.SOLID]
    if Dustiness.HIGH in solids:
        return Dustiness.HIGH
    known = [one for one in solids if one is not None]
    return max(known, key=list(Dustiness).index) if known and len(known) == len(solids) else None


def _amount(parts: Sequence[Part], task: Task, form: MixForm) -> tuple[AmountBand | None, list[Reason]]:
    liquid = form is MixForm.LIQUID
    if task.amount is not None:
        words = f"Counted as a {task.amount.value} amount; the whole batch counts."
        return task.amount, [Reason(About.AMOUNT, words, HSE, Provenance.MEMORY, criterion="amount")]
    litres, kilos = task.litres, task.kilos
    if litres is None and kilos is None:
        litres, kilos = whole_of(parts)
    density = parts[0].component.density if len(parts) == 1 else None
    found = litres_or_kilos(litres, kilos, liquid=liquid, density=density.value if density else None)
    return amount_band(found, liquid=liquid, wetted_m2=task.wetted_m2)


def _with_rules(
    numbers: Sequence[int | None], least: Sequence[int], task: Task, outside: Sequence[NotCovered]
) -> tuple[int | None, int, list[Reason]]:
    """The worst path, then spraying and what the schemes do not cover."""
    at_least = max(least)
    number = at_least if None not in numbers or max(CLASS_NAMES) in numbers else None
    reasons: list[Reason] = []
    if task.spray and at_least < NOT_GENERAL:
        words = (
            "It is sprayed: never below class 2 (the ILO sheet for spray painting is one of the 200 series)."
        )
        reasons.append(Reason(About.RULE, words, f"{ILO}; {OURS}", Provenance.DERIVED, criterion="spray"))
        number, at_least = None if number is None else max(number, NOT_GENERAL), NOT_GENERAL
    for one in outside:
        reasons.append(
            Reason(About.RULE, one.sentence, HSE, _scope_grade(one), criterion=f"not covered: {one.what}")
        )
        if one.specialist:
            number = at_least = max(CLASS_NAMES)
    if outside and number is not None and number < OWN_LAW_FROM:
        words = "What is outside the scheme gets no class below 3 from it: ask what its own law asks for."
        reasons.append(Reason(About.RULE, words, OURS, Provenance.DERIVED))
        number = None
    # What is not known is never "general".
    return number, at_least if number is not None else max(at_least, NOT_GENERAL), reasons


def _scope_grade(one: NotCovered) -> Provenance:
    return Provenance.READ if one.what in ("gas", "liquid above its boiling point") else Provenance.MEMORY


def _temperature(task: Task) -> tuple[list[Reason], list[Finding]]:
    if task.operating_c is not None:
        return [], []
    words = f"The temperature at which it is used is not told: {USUAL_C:g} °C was taken. Warmer is worse."
    reason = Reason(
        About.TEMPERATURE, words, OURS, Provenance.DERIVED, "", "", "operating_temperature", USUAL_C, "C"
    )
    return [reason], [note("temperature-taken", words, OURS)]


def _lacks(paths: Sequence[Path], liquids: Sequence[LiquidPart], amount: AmountBand | None) -> list[Finding]:
    found: list[Finding] = []
    if amount is None:
        words = "How much is used at a time is not told. Give litres of a liquid, kilograms of a powder."
        found.append(unknown("amount-not-told", words, OURS))
    riddles = [one.part.name for one in liquids if one.found.band is None]
    measured = any(path.what == MIX and path.measured for path in paths)
    for name in riddles:
        words = f"It is not known how volatile {name} is. Give its boiling point, see section 9 of its sheet."
        if measured:
            found.append(
                note("volatility-not-known", f"{words} The figure of the whole stands for it.", OURS, name)
            )
        else:
            found.append(unknown("volatility-not-known", f"{words} It counts as high.", OURS, name))
    for path in paths:
        if path.column is None and (path.dry or not riddles):
            what = "dusty" if path.dry else "volatile"
            mend = "Say low, medium or high." if path.dry else "Give its boiling point."
            words = f"It is not known in full how {what} {path.what} is; it counts as high. {mend}"
            code = "dustiness-not-known" if path.dry else "volatility-not-known"
            found.append(unknown(code, words, OURS, path.what))
    return found


def _outside_findings(outside: Sequence[NotCovered]) -> list[Finding]:
    return [unknown("not-covered", one.sentence, HSE, one.what) for one in outside]


def _others(paths: Sequence[Path], worst: Path) -> list[Reason]:
    """What else was looked at, so that a reader sees why it did not drive the class."""
    return [reason for path in paths if path is not worst for reason in path.reasons]


def _shown(paths: Sequence[Path], found: Sequence[VolatilityFound]) -> Volatility | None:
    """The volatility of the mix; None for powders, and where it is not known in full."""
    if not found:
        return None
    liquid = next((path for path in paths if path.what == MIX), None)
    if any(one.at_least is Volatility.NOT_APPLICABLE for one in found):
        return Volatility.NOT_APPLICABLE
    if liquid is None or liquid.column is None:
        return None
    return {Column.LOW: Volatility.LOW, Column.MEDIUM_VOLATILITY: Volatility.MEDIUM}.get(
        liquid.column, Volatility.HIGH
    )
