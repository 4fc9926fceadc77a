"""Vapour of a mix in a room: every reading and both bases, the worse figures, and whether the air is enough.

Doors: web/api/calc_vapour.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.core.findings import Finding, Verdict, note, unknown, warn
from service.core.solvents.breathing_limits import limit_in_ppm, limits_of
from service.core.solvents.dilution import CITED
from service.core.solvents.evaporation import from_surface
from service.core.solvents.properties import Component, DataUsed
from service.core.solvents.room_codes import ONLY_WHILE_IT_BLOWS
from service.core.solvents.room_question import AirQuestion, Figures, figures_of
from service.core.solvents.shares import Amount, grams_of, millilitres_of, missing_share, readings
from service.core.solvents.vapour_activity import both_variants
from service.core.solvents.vapour_of_mix import (
    Above,
    Basis,
    Gammas,
    above_liquid,
    blend_of,
    data_used,
    evaporating,
    lower_limit_of,
)
from service.core.solvents.vapour_pressure import ATMOSPHERE_KPA
from service.core.solvents.worse_of import worse_of

AVERAGE: Final = note(
    "average-of-the-room",
    "This is the average of the room; near the can it is higher; above an open can it can burn.",
)
CAUTION: Final = note(
    "calculated",
    "Calculated figures. They show when a room is not fit; none shows that it is. The safety data sheet, "
    "local codes and a measurement decide.",
)


@dataclass(frozen=True)
class SaturatedVapour:
    """One vapour just above the open liquid, at its worst reading. What is not known is ``None``."""

    name: str
    key: str
    ppm: float
    percent_lel: float | None
    hazard_ratio: float | None


@dataclass(frozen=True)
class AirAnswer:
    """The worse figures, each basis by itself, the air above the liquid, and whether the room's is enough.

    ``enough`` True needs every figure known; False is certain from what is known; else ``None``.
    """

    worst: Figures | None
    by_basis: tuple[Figures, ...]
    above: tuple[SaturatedVapour, ...]
    surface_g_h: float | None
    enough: bool | None
    verdict: Verdict
    used: tuple[DataUsed, ...]


def judge_air(asked: AirQuestion, models: Sequence[Gammas] | None = None) -> AirAnswer:
    """Works out what a mix does to a room's air. Raises Invalid as ``shares.readings`` does.

    ``models`` give activity coefficients for the air above the liquid (missing: both variants of UNIFAC), of
    which the worse counts. Where none can be used the liquids are taken as ideal, and that is not known:
    it understates alcohol with hydrocarbons.
    """
    findings = [AVERAGE, CAUTION, *_told_and_missing(asked)]
    read = list(readings(asked.components))
    untold = missing_share(asked.components)
    if untold:
        sentence = f"{untold * 100:.3g} % of the mix is not told, so its vapour is not known. Name the rest."
        findings.append(unknown("share-not-told", sentence))
        never = _by_group(asked, findings) is False
        return AirAnswer(None, (), (), None, False if never else None, Verdict.of(findings), ())
    used = both_variants() if models is None else tuple(models)
    by_basis: list[Figures] = []
    wanted = [asked.basis] if asked.basis else list(Basis)
    for basis in Basis:
        made, said = _on_basis(asked, read, basis, used)
        if made is not None:
            by_basis.append(made)
        if basis in wanted:
            findings += said
    counted = [one for one in by_basis if one.basis in wanted]
    whole = len(counted) == len(wanted)
    worst = worse_of(counted) if counted else None
    findings += _why_amounts_missing(asked, read, worst)
    above = [one for amounts in read for one in _above_one(amounts, asked.celsius, used)]
    if len(above) < len(read):
        above = []
    findings += _about_room(asked, worst, above)
    surface = _from_surface(asked, above, findings)
    enough = _enough(asked, worst if whole else None, counted, findings)
    return AirAnswer(
        worst,
        tuple(by_basis),
        _above(asked, above),
        surface,
        enough,
        Verdict.of(findings),
        tuple(dict.fromkeys(figure for one in read for figure in data_used(one, asked.celsius))),
    )


def _on_basis(
    asked: AirQuestion, read: Sequence[Sequence[Amount]], basis: Basis, models: Sequence[Gammas]
) -> tuple[Figures | None, list[Finding]]:
    made: list[Figures] = []
    findings: list[Finding] = []
    told = 0
    for amounts in read:
        blends = [blend_of(amounts, basis, asked.celsius, one) for one in models]
        if basis is Basis.ALL_EVAPORATES or all(blend is None for blend, _ in blends):
            blends = [blend_of(amounts, basis, asked.celsius, None)]
        for blend, said in blends:
            if blend is not None:
                made.append(figures_of(asked, amounts, blend))
            if blend is not None or len(blends) == 1:
                findings += said
        told += any(blend is not None for blend, _ in blends)
    return (worse_of(made) if told == len(read) else None), findings


def _above_one(amounts: Sequence[Amount], celsius: float, models: Sequence[Gammas]) -> list[Above]:
    by_model = [one for model in models if (one := above_liquid(amounts, celsius, model)) is not None]
    ideal = None if by_model else above_liquid(amounts, celsius, None)
    return by_model or ([ideal] if ideal is not None else [])


def _from_surface(asked: AirQuestion, above: Sequence[Above], findings: list[Finding]) -> float | None:
    """Grams an hour from the open liquid asked about, of the worst reading."""
    if asked.surface is None:
        return None
    rates: list[float] = []
    for one in above:
        parts = [
            from_surface(asked.surface, c.molar_mass.value, ppm / 1e6 * ATMOSPHERE_KPA, asked.celsius)
            for c, ppm in one.ppm
            if c.molar_mass is not None
        ]
        if len(parts) == len(one.ppm):
            rates.append(3600 * sum(parts))
    if not rates or len(rates) < len(above):
        sentence = "How fast the open liquid evaporates is not known. Give vapour pressure and molar mass."
        findings.append(unknown("surface-not-known", sentence))
        return None
    return max(rates)


def _told_and_missing(asked: AirQuestion) -> list[Finding]:
    found: list[Finding] = []
    if not asked.is_about_air:
        if asked.volume_m3 is not None or asked.airflow_m3_h is not None or asked.times_min:
            sentence = (
                "How much goes into the air of the room is not told. Give liquid_ml, emission or start_ppm."
            )
            found.append(unknown("release-not-told", sentence))
        return found
    if asked.amounts_left_open:
        sentence = (
            "The grams or millilitres are taken to say only what the vapour is made of. If they evaporate "
            "too, give evaporation_min; if not, give fractions."
        )
        found.append(unknown("amounts-left-open", sentence))
    if asked.mixing_factor is None:
        sentence = "No mixing factor was told; 10 is taken, as for an open window with no plan behind it."
        found.append(note("mixing-taken-as-10", sentence))
    for name, value in (("volume_m3", asked.volume_m3), ("airflow_m3_h", asked.airflow_m3_h)):
        if value is None:
            words = name.split("_")[0]
            mend = "its size in m³" if words == "volume" else "the fresh air it gets, in m³ an hour"
            sentence = f"The {words} of the room is not known, so its levels are not either. Tell {mend}."
            found.append(unknown(f"{words}-not-known", sentence))
    if asked.releases and asked.emission is None and not asked.evaporation_min:
        sentence = "No time was told in which it evaporates; all of it is taken to go at once."
        found.append(note("evaporates-at-once", sentence))
    if asked.releases and asked.target_ppm is None:
        found.append(note("purge-to-a-tenth", "The time to clear the air is to a tenth of the level."))
    if asked.airflow_is_natural:
        found.append(ONLY_WHILE_IT_BLOWS)
    return found


def _why_amounts_missing(
    asked: AirQuestion, read: Sequence[Sequence[Amount]], worst: Figures | None
) -> list[Finding]:
    """Why a figure by the litre or a release could not be told, although the shares of the vapours could."""
    if worst is None:
        return []
    found: list[Finding] = []
    for amounts in read:
        if worst.vapour_l_per_l is None:
            found += millilitres_of(amounts)[1]
        if asked.releases and not _release_told(worst):
            found += grams_of(evaporating(amounts))[1]
    if asked.releases and not _release_told(worst) and not found:
        sentence = "How much vapour goes into the air is not known. Give molar mass and density of each part."
        found.append(unknown("release-not-known", sentence))
    return found


def _release_told(worst: Figures) -> bool:
    return worst.vapour_m3_h is not None or worst.peak is not None or worst.ppm_if_no_air is not None


def _about_room(asked: AirQuestion, worst: Figures | None, above: Sequence[Above]) -> list[Finding]:
    if worst is None or not asked.is_about_air:
        return []
    found: list[Finding] = []
    if worst.rises_for_good:
        sentence = "Without fresh air the level rises as long as the work goes on; it has no highest point."
        found.append(warn("rises-for-good", sentence))
    most = max((one.total_ppm for one in above), default=None)
    peak = worst.peak.ppm if worst.peak else None
    if peak is not None and peak > (1_000_000.0 if most is None else most):
        sentence = (
            "The level worked out is more than air can hold: part of the liquid would stay liquid longer. "
            "The air itself can then be above what burns."
        )
        found.append(warn("more-than-air-holds", sentence))
    return found


def _enough(
    asked: AirQuestion, worst: Figures | None, counted: Sequence[Figures], findings: list[Finding]
) -> bool | None:
    """Adds to ``findings`` why. False where what is known already says so."""
    if not asked.is_about_air:
        return None
    by_group = _by_group(asked, findings)
    over = any(figures.rises_for_good for figures in counted)
    breath = max((_percent_of_limits(one) for one in counted), default=0.0)
    burning = max((one.known_percent_lel or 0.0 for one in counted), default=0.0)
    if breath > 100:
        over = True
        findings.append(_over("over-exposure-limits", f"{breath:.3g} % of the exposure limits"))
    if burning > 25:
        over = True
        findings.append(_over("over-quarter-of-limit", f"{burning:.3g} % of the lower limit of burning"))
    if over or by_group is False:
        return False
    top = worst.peak if worst else None
    if top is None or top.percent_lel is None or top.exposure_index is None or top.index_is_at_least:
        return None
    return None if by_group is None or asked.airflow_is_natural or _open_ends(findings) else True


def _open_ends(findings: Sequence[Finding]) -> bool:
    return not Verdict.of(findings).complete


def _percent_of_limits(figures: Figures) -> float:
    """At the peak, by known limits; a lower bound where some are not known."""
    return 100 * ((figures.peak.exposure_index if figures.peak else None) or 0.0)


def _over(code: str, what: str) -> Finding:
    return warn(code, f"The highest level is {what}. This air is not enough.")


def _by_group(asked: AirQuestion, findings: list[Finding]) -> bool | None:
    """True: no component forbids it; False: one is of a group that thinning is never enough for."""
    answer: bool | None = True if len(asked.dilution) == len(asked.components) else None
    for component, dilution in zip(asked.components, asked.dilution, strict=False):
        if component.water or (component.share is not None and component.share.high == 0):
            continue
        if dilution.may is False:
            sentence = (
                f"{component.name} ({dilution.because}) is of a group for which fresh air in the room is "
                "never enough by itself. Take a hood, a booth or a closed way of working."
            )
            findings.append(warn("never-by-air-alone", sentence, CITED.line(), component.name))
            answer = False
        elif dilution.may is None and component.volatile is not False:
            sentence = (
                f"Whether fresh air may be enough for {component.name} is not known: {dilution.because}. "
                "Copy its hazard statements from section 2 of its data sheet."
            )
            findings.append(unknown("group-not-known", sentence, about=component.name))
            answer = None if answer else answer
    return answer


def _above(asked: AirQuestion, above: Sequence[Above]) -> tuple[SaturatedVapour, ...]:
    most: dict[str, tuple[Component, float]] = {}
    for one in above:
        for component, ppm in one.ppm:
            held = most.get(component.name)
            if held is None or ppm > held[1]:
                most[component.name] = (component, ppm)
    found = []
    for name, (component, ppm) in most.items():
        strictest = limits_of(component).strictest
        limit = limit_in_ppm(component, strictest) if strictest else None
        burning = lower_limit_of(component, asked.celsius)
        found.append(
            SaturatedVapour(
                name,
                component.key,
                ppm,
                None if burning is None else ppm / (burning * 100),
                None if limit is None else ppm / limit,
            )
        )
    return tuple(found)
