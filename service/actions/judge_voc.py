"""The VOC of a recipe or batch: each material as the liquids it is known to hold, by the law of the shop.

Of a range of a solvent the high end counts, and film takes what is left; what nobody knows counts as VOC.
Measured figures of liquids are floats here; amounts of the book are not touched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from sqlmodel import Session

from service.actions.judge_hazards import Part
from service.actions.mix_components import components_of_mix
from service.core.findings import Finding, Verdict, unknown, warn
from service.core.hazards.regimes import Regime
from service.core.solvents.properties import Component, Known, Share, ShareKind, SolventFamily
from service.core.solvents.voc import VocFigures, work_out
from service.core.solvents.voc_limits import JudgedLimit, judge_limits
from service.core.solvents.voc_mix import SHRINKS_BY
from service.core.solvents.voc_parts import Part as VocPart
from service.core.solvents.voc_parts import part_of
from service.core.solvents.voc_rules import ExemptList, Jurisdiction
from service.records.knowledge_voc import exempt_list, voc_limits
from service.records.materials import Material
from service.records.solvent_facts import component_of

LAW_OF: Final = {Regime.US_HCS: Jurisdiction.US_FEDERAL, Regime.EU_CLP: Jurisdiction.EU}
_CATEGORIES: Final = {Jurisdiction.US_FEDERAL: ("stains", "varnishes"), Jurisdiction.EU: ("e", "f")}
_SAID_HERE: Final = frozenset({"density-not-known", "volatility-not-known", "boiling-point-not-known"})
_IN_THE_ROWS: Final = frozenset({"limit-not-judged", "over-voc-limit", "base-not-told"})
_SHRINKING: Final = frozenset({SolventFamily.ALCOHOL, SolventFamily.GLYCOL_ETHER, SolventFamily.KETONE})


@dataclass(frozen=True)
class JudgedVoc:
    """The figures of a mix and the rows a stain or varnish may fall under; the law None: only figures."""

    law: Jurisdiction | None
    figures: VocFigures
    limits: tuple[JudgedLimit, ...]
    verdict: Verdict


def judge_voc(session: Session, parts: Sequence[Part], regime: Regime) -> JudgedVoc:
    """The VOC of a mix of materials in shares by mass.

    Under a law for which no list is held nothing is exempt and no limit is looked up. Raises Invalid.
    """
    law = LAW_OF.get(regime)
    exempt = exempt_list(law)
    inside = components_of_mix(session, parts, regime).components
    components = _shares([(one, one.share.high) for one in inside if one.share is not None], exempt)
    density, findings = _density(parts, components)
    answer = work_out(components, exempt, density)
    findings += _not_known(components, exempt)
    findings += [one for one in answer.findings if one.code not in _SAID_HERE]
    limits: dict[str, JudgedLimit] = {}
    for category in _CATEGORIES.get(law, ()) if law else ():
        judged = judge_limits(answer, voc_limits(), law, category)
        limits |= {one.row.key: one for one in judged.limits}
        # The table of rows says itself which are not known, not met, or of another base.
        findings += [one for one in judged.findings if one.code not in _IN_THE_ROWS]
    return JudgedVoc(law, answer.ready, tuple(limits.values()), Verdict.of(findings))


def _not_known(components: Sequence[Component], exempt: ExemptList) -> list[Finding]:
    found: list[Finding] = []
    for one in components:
        parted = part_of(one, exempt)
        if VocPart.OPEN in (parted.local, parted.eu):
            whole = parted.local is VocPart.OPEN
            what = "How much of it evaporates" if whole else "At how many degrees it begins to boil"
            words = f"{one.name}: {what[0].lower()}{what[1:]} is not known, so all of it counts as VOC. Copy "
            words += "sections 3 and 9 of its sheet." if whole else "section 9 of its sheet."
            found.append(unknown("voc-not-known", words, about=one.name))
    return found


def _shares(held: Sequence[tuple[Component, float]], exempt: ExemptList) -> list[Component]:
    """In per cent of the mix: what evaporates first, then water and what is exempt, film takes the rest."""
    film, light, heavy = [], [], []
    for one, share in held:
        parted = part_of(one, exempt)
        if parted.local is VocPart.FILM and parted.eu is VocPart.FILM:
            film.append((one, share))
        elif parted.local in (VocPart.WATER, VocPart.EXEMPT):
            light.append((one, share))
        else:
            heavy.append((one, share))
    made: list[Component] = []
    left = 100.0
    for group in (heavy, light, film):
        total = sum(share for _, share in group)
        factor = min(1.0, left / total) if total > 0 else 0.0
        made += [_with(one, share * factor) for one, share in group if share * factor > 0]
        left = max(0.0, left - total * factor)
    if left > 1e-9:
        made.append(_with(Component("the film", None, volatile=False), left))
    return made


def _with(one: Component, percent: float) -> Component:
    return replace(one, share=Share(ShareKind.PERCENT, percent, percent))


def _density(parts: Sequence[Part], components: Sequence[Component]) -> tuple[float | None, list[Finding]]:
    """The highest density the mix may have in g/ml, from those of its materials; ``None`` without one."""
    sized: list[tuple[float, float, float]] = []
    findings: list[Finding] = []
    for part in parts:
        figure = _own_density(part.material)
        if figure is None:
            words = (
                f"The density of {part.material.name} is not known, so the VOC in a litre of the mix is not. "
                "Take it from section 9 of its sheet."
            )
            findings.append(unknown("density-not-known", words, about=part.material.name))
        else:
            sized.append((figure.value, float(part.low) / 100, float(part.high) / 100))
    if findings:
        return None, findings
    left = 1 - sum(low for _, low, _ in sized)
    volume, mass = 0.0, 0.0
    for gravity, low, high in sorted(sized, reverse=True):
        more = min(max(left, 0.0), high - low)
        left -= more
        mass, volume = mass + low + more, volume + (low + more) / gravity
    density = mass / volume if volume > 0 else None
    wet = any(one.water for one in components) and any(one.family in _SHRINKING for one in components)
    if density is not None and wet:
        words = "Water and a liquid that shrinks with it are in the mix: the figures are reckoned 4 % higher."
        return density * (1 + SHRINKS_BY), [warn("shrinks-on-mixing", words)]
    return density, []


def _own_density(material: Material) -> Known | None:
    if material.density_g_ml is not None:
        return Known(float(material.density_g_ml), "g/ml", material.density_source)
    known = component_of(material.known_key) if material.known_key else None
    return known.density if known else None
