"""The storage category of a liquid under each law, from its flash and boiling point; what is open stays open.

Doors: core/storage_items.py, web/api/storage_question.py.

A liquid counts in every category it may be in. So what is not known never gives a milder answer than what is.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, Severity, note, unknown
from service.core.material_facts import FlashMethod
from service.core.storage_ladders import ACROSS, NONE, Ladder, Scheme, Temperature, ladder

MARGIN_C: Final = Fraction(5)
HEATED_WITHIN_F: Final = Fraction(30)
_RAISED: Final = {"4": "3", NONE: "4"}


@dataclass(frozen=True)
class LiquidFacts:
    """What is known of a liquid. ``None`` is not known; ``no_flash_point``: examined, and it has none.

    A flash point whose ``method`` nobody wrote down counts like one of an open cup.

    ``part_flash`` and ``part_boiling`` are of its most flammable volatile part, which guards a calculated
    flash point; ``calculation_allowed``: GHS 2.6.4.2 lets the calculation stand in place of a test.

    ``heat_not_known``: it is in use and nobody knows whether it is heated.

    ``also``: what else was said of it; it counts as that too wherever that is the stricter.
    """

    name: str
    category: str | None = None
    flash: Temperature | None = None
    boiling: Temperature | None = None
    method: FlashMethod | None = FlashMethod.CLOSED_CUP
    no_flash_point: bool = False
    calculation_allowed: bool = False
    part_flash: Temperature | None = None
    part_boiling: Temperature | None = None
    heated_to: Temperature | None = None
    heat_not_known: bool = False
    also: tuple[Reading, ...] = ()


@dataclass(frozen=True)
class Reading:
    """What something else says of a liquid. ``because``: what says it, to begin a sentence with.

    ``least``: the mildest category it leaves open; the rest of what was told contradicts it where it is
    milder than that. Empty: where it is milder than the reading itself.
    """

    facts: LiquidFacts
    because: str
    least: str = ""


@dataclass(frozen=True)
class Placed:
    """The categories a liquid may be in, worst first; it counts in each of them. ``sure``: there is just one.

    ``below_100f`` is the branch of category 3 that 1910.106 treats as the more dangerous one; ``None``: not
    known.
    """

    scheme: Scheme
    categories: tuple[str, ...]
    sure: bool
    below_100f: bool | None
    findings: tuple[Finding, ...]

    @property
    def category(self) -> str:
        """The worst of them."""
        return self.categories[0]


def place_liquid(facts: LiquidFacts, scheme: Scheme, ambient_max_c: Fraction | None = None) -> Placed:
    """The category of a liquid under one scheme.

    What is not known stays open: the liquid counts in every category it may be in, the most restrictive
    first. A calculated flash point less than 5 °C above a cut counts on both sides of it; one that nobody may
    use in place of a test never makes a mix milder than its most flammable part.

    >>> flash = Temperature(Fraction("73.2"), "F")
    >>> facts = LiquidFacts("spirit", flash=flash, boiling=Temperature(Fraction(200), "F"))
    >>> place_liquid(facts, Scheme.OSHA).category, place_liquid(facts, Scheme.IFC).category
    ('2', 'IC')
    """
    steps = ladder(scheme, ambient_max_c)
    names, low, findings = _read(facts, scheme, ambient_max_c)
    for reading in contradicting(facts, scheme, ambient_max_c):
        same = replace(
            reading.facts, name=facts.name, heated_to=facts.heated_to, heat_not_known=facts.heat_not_known
        )
        more, lower, said = _read(same, scheme, ambient_max_c)
        words = (
            f"{facts.name}: {reading.because}, and what else was told of it is milder. It counts as both "
            "until one of them is put right."
        )
        findings += [*said, unknown("told-facts-differ", words, "", facts.name)]
        names |= more
        low = True if True in (low, lower) else None if None in (low, lower) else False
    ordered = tuple(name for name in dict.fromkeys((*steps.names, NONE)) if name in names)
    if len(ordered) > 1 and not any(f.severity is Severity.UNKNOWN for f in findings):
        words = f"{facts.name} may be in {' or '.join(ordered)} of {scheme.value}. It counts in each."
        findings.append(unknown("category-open", words, "", facts.name))
    sure = len(ordered) == 1 and not any(f.severity is Severity.UNKNOWN for f in findings)
    return Placed(scheme, ordered, sure, low, tuple(findings))


def contradicting(
    facts: LiquidFacts, scheme: Scheme, ambient_max_c: Fraction | None = None
) -> tuple[Reading, ...]:
    """The readings that are stricter than everything else that was told of a liquid.

    >>> flash = Temperature(Fraction(65), "C")
    >>> sheet = Reading(LiquidFacts("", category="H225"), "its sheet says H225", "H225")
    >>> len(contradicting(LiquidFacts("thinner", flash=flash, also=(sheet,)), Scheme.OSHA))
    1
    """
    return tuple(one for one in facts.also if _is_stricter(one, facts, scheme, ambient_max_c))


def _is_stricter(one: Reading, facts: LiquidFacts, scheme: Scheme, ambient_max_c: Fraction | None) -> bool:
    """Compared in the law whose word the reading is, for there its cut is exact."""
    if one.least:
        scheme = next(home for home, words in ACROSS.items() if one.least in words)
    steps = ladder(scheme, ambient_max_c)
    order = (*steps.names, *(() if NONE in steps.names else (NONE,)))
    told = _met(replace(facts, also=()), steps, _by_category(facts, scheme, steps), [])
    said = frozenset({one.least})
    if not one.least:
        said = _met(one.facts, steps, _by_category(one.facts, scheme, steps), [])
    return min(map(order.index, said)) < min(map(order.index, told))


def _read(
    facts: LiquidFacts, scheme: Scheme, ambient_max_c: Fraction | None
) -> tuple[frozenset[str], bool | None, list[Finding]]:
    """What the facts of one reading leave open, whether it flashes below 100 °F, and what is said of it."""
    steps = ladder(scheme, ambient_max_c)
    findings: list[Finding] = []
    names = _met(facts, steps, _by_category(facts, scheme, steps), findings)
    low = _below_100(facts, names)
    if facts.heated_to is not None and not facts.no_flash_point:
        names, low = _heated(facts, facts.heated_to, scheme, names, low, findings)
    elif facts.heat_not_known and scheme is Scheme.OSHA and not facts.no_flash_point:
        names, low = _perhaps_heated(facts, names, low, findings)
    return names, low, findings


def _met(facts: LiquidFacts, steps: Ladder, told: frozenset[str], findings: list[Finding]) -> frozenset[str]:
    """What the flash point and a told category leave open together."""
    if facts.flash is None and not facts.no_flash_point:
        if told:
            return told
        words = (
            f"The flash point of {facts.name} is not known. It counts in every row, the most "
            "restrictive first."
        )
        findings.append(unknown("flash-not-known", words, "", facts.name))
        return frozenset(steps.names)
    by_flash: list[Finding] = []
    names = _by_flash(facts, steps, by_flash)
    if told and facts.method is FlashMethod.CLOSED_CUP and names & told:
        if names <= told:
            findings.extend(by_flash)
        return names & told
    findings.extend(by_flash)
    if told and not names <= told:
        words = (
            f"{facts.name}: the category told ({facts.category}) and the flash point do not agree. "
            "It counts in both."
        )
        findings.append(unknown("category-and-flash-differ", words, "", facts.name))
        return names | told
    return names


def _by_category(facts: LiquidFacts, scheme: Scheme, steps: Ladder) -> frozenset[str]:
    """What the told category leaves open under ``scheme``; empty without one."""
    told = facts.category
    if told is None:
        return frozenset()
    if told in steps.names and (told != NONE or scheme is Scheme.OSHA):
        return frozenset({told})
    for home, words in ACROSS.items():
        if told in words and scheme is not home:
            names = frozenset(words[told].get(scheme, " ".join(steps.names)).split())
            contradicted = _boils_too_high(facts, ladder(home), {told})
            return names if contradicted else _as_it_boils(facts, steps, names)
    return frozenset(steps.names)


def _as_it_boils(facts: LiquidFacts, steps: Ladder, names: frozenset[str]) -> frozenset[str]:
    """Without the categories that its boiling point rules out; it never rules out all of them."""
    return names - _boils_too_high(facts, steps, names) or names


def _boils_too_high(facts: LiquidFacts, steps: Ladder, names: Collection[str]) -> frozenset[str]:
    """Which of these categories a liquid that boils so high is never in."""
    if facts.boiling is None:
        return frozenset()
    boiling = facts.boiling.in_unit(steps.unit)
    return frozenset(step.name for step in steps.steps if step.name in names and step.boils_over(boiling))


def _by_flash(facts: LiquidFacts, steps: Ladder, findings: list[Finding]) -> frozenset[str]:
    if facts.no_flash_point or facts.flash is None:
        return frozenset({NONE})
    boiling = None if facts.boiling is None else facts.boiling.in_unit(steps.unit)
    names = steps.possible(facts.flash.in_unit(steps.unit), boiling)
    if facts.method in (None, FlashMethod.OPEN_CUP):
        words = (
            f"The flash point of {facts.name} was measured in an open cup, which reads higher than "
            "the closed cup of "
            "the tables. It counts in every row from the worst down to this one."
        )
        if facts.method is None:
            words = (
                f"How the flash point of {facts.name} was found is not known; an open cup reads higher than "
                "the closed cup of the tables. It counts in every row from the worst down to this one."
            )
        code = "open-cup" if facts.method else "flash-method-not-known"
        findings.append(unknown(code, words, "", facts.name))
        return frozenset(steps.names[: max(map(steps.names.index, names)) + 1])
    if facts.method is FlashMethod.CALCULATED:
        names = _calculated(facts, facts.flash, steps, boiling, findings)
    if boiling is None and len(names) > 1 and not findings:
        words = (
            f"The boiling point of {facts.name} is not known, and at this flash point it decides. It "
            "counts in both "
            "rows."
        )
        findings.append(unknown("boiling-not-known", words, "", facts.name))
    return names


def _calculated(
    facts: LiquidFacts, flash: Temperature, steps: Ladder, boiling: Fraction | None, findings: list[Finding]
) -> frozenset[str]:
    """A calculated flash point: 5 °C of margin, and never milder than its worst part without the "
    "right to be."""
    names = steps.possible(flash.in_unit(steps.unit), boiling)
    lower = steps.possible(flash.lowered_c(MARGIN_C).in_unit(steps.unit), boiling)
    if lower != names:
        words = (
            f"The flash point of {facts.name} is calculated and less than 5 °C above a cut of the "
            "table. It counts on "
            "the worse side too, until it is tested."
        )
        findings.append(unknown("flash-point-needs-test", words, "UN GHS 2.6.4.2", facts.name))
        names = names | lower
    if facts.calculation_allowed:
        return names
    part = frozenset(steps.names)
    if facts.part_flash is not None:
        part_boiling = None if facts.part_boiling is None else facts.part_boiling.in_unit(steps.unit)
        part = steps.possible(facts.part_flash.in_unit(steps.unit), part_boiling)
        if min(map(steps.names.index, part)) >= min(map(steps.names.index, names)):
            return names
    words = (
        f"The calculated flash point of {facts.name} may not make it milder than its most flammable "
        "part, unless the "
        "standard allows the calculation. It counts as that part too."
    )
    findings.append(unknown("calculation-not-validated", words, "UN GHS 2.6.4.2", facts.name))
    return names | part


def _lowest_flash(facts: LiquidFacts) -> Temperature | None:
    """The lowest flash point it may have; ``None``: not known."""
    if facts.flash is None or facts.method in (None, FlashMethod.OPEN_CUP):
        return None
    if facts.method is not FlashMethod.CALCULATED:
        return facts.flash
    lowered = facts.flash.lowered_c(MARGIN_C)
    if facts.calculation_allowed:
        return lowered
    if facts.part_flash is None:
        return None
    return min(lowered, facts.part_flash, key=lambda one: one.in_unit("F"))


def _below_100(facts: LiquidFacts, names: frozenset[str]) -> bool | None:
    """Whether the flash point is below 100 °F, with the margin of a calculated one; ``None``: not known."""
    if facts.no_flash_point:
        return False
    lowest = _lowest_flash(facts)
    if lowest is None:
        return True if names <= {"1", "2"} else None
    return lowest.in_unit("F") < 100


def _heated(
    facts: LiquidFacts, heated_to: Temperature, scheme: Scheme, names: frozenset[str], low: bool | None,
    findings: list[Finding],
) -> tuple[frozenset[str], bool | None]:  # fmt: skip
    """1910.106 moves a liquid up that is heated for use to within 30 °F of its flash point."""
    lowest = _lowest_flash(facts)
    if lowest is None:
        words = (
            f"{facts.name} is heated for use and its flash point is not known well enough, so it "
            "counts as heated to "
            "within 30 °F of it."
        )
        findings.append(unknown("heated-flash-not-known", words, "1910.106(a)(19)", facts.name))
    elif heated_to.in_unit("F") < lowest.in_unit("F") - HEATED_WITHIN_F:
        return names, low
    if scheme is not Scheme.OSHA:
        words = (
            f"{facts.name} is heated close to its flash point. No rule of this scheme about that was "
            "read, so its rows "
            "say nothing about the heated liquid."
        )
        findings.append(unknown("heated-rule-not-held", words, "", facts.name))
        return names, low
    words = (
        f"{facts.name} is heated for use to within 30 °F of its flash point and is treated as the "
        "next worse kind "
        "(for category 4 that rule is from memory)."
    )
    findings.append(note("heated-counts-higher", words, "1910.106(a)(19)", facts.name))
    return frozenset(_RAISED.get(name, name) for name in names), True if "3" in names else low


def _perhaps_heated(
    facts: LiquidFacts, names: frozenset[str], low: bool | None, findings: list[Finding]
) -> tuple[frozenset[str], bool | None]:
    """The stricter of both readings, where it changes the category: as heated."""
    if not names & _RAISED.keys():
        return names, True if "3" in names else low
    words = (
        f"Whether {facts.name} is heated where it is used is not known, so it is treated as the next worse "
        "kind. Say how warm it is at work in that room, under its ventilation, and it counts by that."
    )
    findings.append(note("heat-not-known", words, "1910.106(a)(19)", facts.name))
    return frozenset(_RAISED.get(name, name) for name in names), True if "3" in names else low
