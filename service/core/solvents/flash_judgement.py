"""The flash point of a mix as asked: what is left out, both variants, the lower one, and what it may decide.

Doors: web/api/calc_flash_point.py, actions/judge_air.py.

Anything that is missing makes the flash point not known; the category then is that of the most flammable
ingredient, and the answer is not complete.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.core.findings import Finding, Verdict, unknown, warn
from service.core.hazards.regimes import Regime
from service.core.solvents.activity import Variant, coefficients, missing_for
from service.core.solvents.flash_point import FlashOfMix, flash_of_mix
from service.core.solvents.flash_use import FlashCategory, flash_category_of, why_not_milder
from service.core.solvents.flash_words import SOURCE, caution, may_part, nothing_burns, one_liquid, stands_for
from service.core.solvents.phases import may_separate
from service.core.solvents.properties import Component, DataUsed, SolventFamily, used
from service.core.solvents.shares import Amount, missing_share, moles_of, readings
from service.core.solvents.vapour_pressure import ZERO_C_K

METHOD: Final = (
    "x·gamma·P(T)/P(flash point) of everything that burns sums to 1; gamma by UNIFAC, original and modified "
    "(Dortmund), the lower result stands; what stays in the film is left out"
)


@dataclass(frozen=True)
class LeftOut:
    """A component that does not count, and why."""

    name: str
    why: str


@dataclass(frozen=True)
class FlashJudgement:
    """Everything an answer about a flash point shows.

    ``flash_c`` is ``None`` when it is not known, or when nothing volatile burns (``nothing_burns``).
    """

    flash_c: float | None
    reading: FlashOfMix | None
    left_out: tuple[LeftOut, ...]
    separates: tuple[Variant, ...]
    nothing_burns: bool
    categories: tuple[FlashCategory, ...]
    verdict: Verdict
    data_used: tuple[DataUsed, ...]
    why_not: tuple[str, ...] = ()
    """What forbids it to make a category milder; empty: nothing."""
    initial_boiling_c: float | None = None
    """Of the first of its liquids to boil, water left out; None where one of them is not known."""

    @property
    def is_lower_than_all(self) -> bool:
        """Whether the mix flashes below each of its ingredients."""
        if self.flash_c is None or self.reading is None:
            return False
        own = [one.flash_point.value for one in self.reading.components if one.flash_point is not None]
        return self.flash_c < min(own) - 0.05


def judge_flash(
    components: Sequence[Component], found: Sequence[Finding] = (), *, measured_c: float | None = None,
    confirmed: bool = False,
) -> FlashJudgement:  # fmt: skip
    """The flash point of a mix and its category under each law.

    Args:
        components: with amounts; see ``shares.readings`` for what is refused.
        found: what looking them up brought to light.
        measured_c: a closed-cup flash point measured on this product in °C; it decides alone.
        confirmed: that very figure was confirmed, where it is milder than what is in it.

    Raises Invalid, naming the component, for amounts that cannot be.
    """
    corners = list(readings(components))
    components = [one for one in components if one.share is not None and one.share.high > 0]
    components = [replace(one, volatile=False) if one.flashes_high else one for one in components]
    corners = [tuple(_as_counted(one) for one in corner) for corner in corners]
    stays = [one for one in components if one.volatile is False]
    volatile = [one for one in components if one.volatile is not False]
    burning = [one for one in volatile if not one.water]
    nothing = not burning
    alone = burning[0] if len(volatile) == 1 and burning and burning[0].flash_point else None
    missing = [] if alone else _what_is_missing(volatile, corners)
    findings = [*found, *missing, *_untold(components)]
    lowest: FlashOfMix | None = None
    separates: tuple[Variant, ...] = ()
    flash: float | None = None
    if alone and alone.flash_point and Verdict.of(findings).complete:
        # One liquid that burns, whatever is dissolved in it: it keeps its own flash point.
        flash = alone.flash_point.value
        lowest = flash_of_mix([alone], [1.0]) if alone.curve else None
        findings += [stands_for(alone)] if alone.stand_in else []
    elif burning and Verdict.of(findings).complete:
        lowest, separates, more = _lowest(corners, volatile)
        findings += more
        decisive = lowest.decisive if lowest else None
        flash = decisive.celsius if decisive else None
    if burning and flash is None and Verdict.of(findings).complete:
        findings.append(_not_calculable("neither variant gives a flash point for these liquids"))
    if measured_c is None and not nothing:
        findings.append(caution() if alone is None else one_liquid(alone))
    why_not = why_not_milder(
        components, complete=Verdict.of(findings).complete and flash is not None, separates=bool(separates)
    )
    decides = measured_c if measured_c is not None else flash
    own = measured_c is not None or alone is not None
    sure = confirmed or measured_c is None
    categories = tuple(
        _none_of_them(regime)
        if nothing and measured_c is None
        else flash_category_of(burning, decides, regime, measured=own, confirmed=sure, why_not=why_not)
        for regime in Regime
    )
    if nothing and measured_c is None:
        findings.append(nothing_burns(stays))
    # A figure that was typed in the wrong unit is a question, whatever the law.
    findings += [one for one in categories[0].findings if one.code == "flash-point-to-confirm"]
    if alone is not None and measured_c is None:
        categories = tuple(replace(one, because=_of_its_only(one.because)) for one in categories)
    data = [one for part in volatile for one in _data(part)]
    return FlashJudgement(
        flash,
        lowest,
        tuple(LeftOut(one.name, _WHY_HIGH if one.flashes_high else _WHY_LEFT_OUT) for one in stays),
        separates,
        nothing,
        categories,
        Verdict.of(findings),
        tuple(dict.fromkeys(data)),
        why_not,
        _first_to_boil(burning),
    )


def _as_counted(amount: Amount) -> Amount:
    part = amount.component
    return replace(amount, component=replace(part, volatile=False)) if part.flashes_high else amount


def _first_to_boil(burning: Sequence[Component]) -> float | None:
    told = [one.boiling_point.value for one in burning if one.boiling_point is not None]
    return min(told) if told and len(told) == len(burning) else None


def coefficients_at(components: Sequence[Component], celsius: float) -> dict[Variant, tuple[float, ...]]:
    """Activity coefficients of the volatile components at a temperature, by each variant that can be used.

    At the first corner of written ranges; a component of which there is none gets its value at infinite
    dilution. Empty where amounts cannot be turned into moles.
    """
    volatile = [one for one in components if one.volatile is not False]
    amounts = [one for one in next(readings(components)) if one.component.volatile is not False]
    moles, _ = moles_of(amounts)
    if not moles or sum(moles) <= 0:
        return {}
    fractions = [one / sum(moles) for one in moles]
    return {
        variant: tuple(coefficients(volatile, fractions, variant)(celsius + ZERO_C_K))
        for variant in Variant
        if not missing_for(volatile, variant)
    }


_WHY_HIGH: Final = "the material it is part of flashes above every category as a whole"
_WHY_LEFT_OUT: Final = (
    "stays in the film; without it the solvents count for more, which gives the lower flash point"
)


def _what_is_missing(volatile: Sequence[Component], corners: Sequence[Sequence[Amount]]) -> list[Finding]:
    findings: list[Finding] = []
    for one in volatile:
        if one.water:
            continue
        if one.family is SolventFamily.HALOGENATED or one.no_flash_because:
            findings.append(
                _not_calculable(
                    f"{one.name} has no flash point or holds halogens, which put flames out until it has "
                    "evaporated; the rest burns then",
                    one.name,
                )
            )
        elif one.flash_point is None:
            findings.append(_missing(one, "flash point", "Its closed-cup flash point stands in section 9"))
        elif one.curve is None:
            findings.append(
                _missing(one, "vapour pressure", "Give one vapour pressure with its temperature and the "
                "boiling point from section 9")
            )  # fmt: skip
    counted = [one for one in corners[0] if one.component.volatile is not False]
    return findings + moles_of(counted)[1]


def _missing(one: Component, what: str, mend: str) -> Finding:
    sentence = (
        f"The {what} of {one.name} is not known, so that of the mix is not either. {mend} of its data sheet; "
        "if none of it evaporates, say so."
    )
    return unknown(f"{what.replace(' ', '-')}-not-known", sentence, about=one.name)


def _not_calculable(why: str, about: str = "") -> Finding:
    sentence = f"The flash point of this mix cannot be calculated: {why}. Have it tested."
    return unknown("flash-not-calculable", sentence, SOURCE, about)


def _untold(components: Sequence[Component]) -> list[Finding]:
    gap = missing_share(components)
    if not gap:
        return []
    sentence = f"{gap * 100:.3g} % of the mix is not told. Name what it is, or its flash point is not known."
    return [unknown("remainder-not-told", sentence, SOURCE)]


def _lowest(
    corners: Sequence[Sequence[Amount]], volatile: Sequence[Component]
) -> tuple[FlashOfMix | None, tuple[Variant, ...], list[Finding]]:
    """The reading with the lowest flash point of all corners, with and without its water if that may part."""
    done: list[FlashOfMix] = []
    parting: dict[Variant, None] = {}
    findings: list[Finding] = []
    for corner in corners:
        counted = [one for one in corner if one.component.volatile is not False]
        moles, _ = moles_of(counted)
        if moles is None or sum(moles) <= 0:
            continue
        parts = [one.component for one in counted]
        if not any(n > 0 and not part.water for n, part in zip(moles, parts, strict=True)):
            continue
        flash = flash_of_mix(parts, moles)
        done.append(flash)
        separates = may_separate(flash.components, flash.fractions)
        parting |= dict.fromkeys(separates)
        if separates and any(one.water for one in flash.components):
            dry = [(p, n) for p, n in zip(parts, moles, strict=True) if not p.water]
            done.append(flash_of_mix([p for p, _ in dry], [n for _, n in dry]))
    with_value = [one for one in done if one.decisive is not None]
    best = min(with_value, key=_celsius, default=done[0] if done else None)
    if best is not None:
        findings += _about_variants(best) + _about_curves(best)
    if parting:
        findings.append(may_part(tuple(parting)))
    findings += [stands_for(one) for one in volatile if one.stand_in]
    return best, tuple(parting), findings


def _celsius(one: FlashOfMix) -> float:
    decisive = one.decisive
    return decisive.celsius if decisive is not None and decisive.celsius is not None else float("inf")


def _about_variants(flash: FlashOfMix) -> list[Finding]:
    missing = [one for one in flash.variants if one.celsius is None]
    if len(missing) == len(flash.variants):
        why = "; ".join(f"{one.variant}: {one.why_not}" for one in missing)
        return [_not_calculable(f"neither variant can be used ({why})")]
    return [
        warn(
            "one-variant-only",
            f"Only one variant could be used; {one.variant}: {one.why_not}. "
            "Nothing shows how far the result may be off.",
        )
        for one in missing
    ]


def _about_curves(flash: FlashOfMix) -> list[Finding]:
    decisive = flash.decisive
    at = decisive.celsius if decisive else None
    outside = [
        one.name
        for one in flash.components
        if one.curve is not None
        and one.flash_point is not None
        and not (one.curve.covers(one.flash_point.value) and (at is None or one.curve.covers(at)))
    ]
    if not outside:
        return []
    sentence = (
        f"The vapour-pressure curve of {', '.join(outside)} was used outside the range its source vouches "
        "for. The flash point may be some degrees off."
    )
    return [warn("curve-outside-range", sentence)]


def _of_its_only(because: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(one.replace("flash point, measured", "flash point of its only liquid") for one in because)


def _none_of_them(regime: Regime) -> FlashCategory:
    return FlashCategory(regime, "", False, ("nothing volatile in it burns",), ())


def _data(one: Component) -> list[DataUsed]:
    rows = used(one, "molar_mass", "density", "flash_point", "boiling_point", "lower_limit", "viscosity")
    if one.curve is not None:
        curve = one.curve
        rows.append(
            DataUsed(one.name, "vapour_pressure_curve", curve.form.value, "", curve.source, curve.grade)
        )
    if one.groups_original is not None or one.groups_dortmund is not None:
        rows.append(DataUsed(one.name, "unifac_groups", _groups(one), "", one.groups_source, ""))
    return rows


def _groups(one: Component) -> str:
    def line(groups: tuple[tuple[int, int], ...] | None) -> str:
        return " ".join(f"{n}:{count}" for n, count in groups) if groups else "not assigned"

    return f"original {line(one.groups_original)}; Dortmund {line(one.groups_dortmund)}"
