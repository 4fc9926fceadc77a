"""Physical classes that are tested and not worked out: what an ingredient brings, and what nobody can say
of the mix.

Doors: core/hazards/classify.py.

Sources: UN GHS 2.1 to 2.17; the EU list's own limits for oxidisers, CLP Annex VI.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from service.core.findings import Finding, unknown
from service.core.hazards.classes import PHYSICAL, Family
from service.core.hazards.lines import Line
from service.core.hazards.mix import HUNDRED
from service.core.hazards.reasons import Because, Reached, in_words
from service.core.sources import Provenance

_ELSEWHERE = frozenset({Family.FLAMMABLE_LIQUID})


def physical(lines: Sequence[Line]) -> tuple[list[Reached], list[Finding]]:
    """Classes by an ingredient's own limits, and of what is not a mix at all; every other is a question for
    a test.
    """
    reached: list[Reached] = []
    findings: list[Finding] = []
    alone = len(lines) == 1 and lines[0].share >= HUNDRED - Decimal("0.5")
    for line in lines:
        for family, hazards in line.classes.items():
            if family not in PHYSICAL or family in _ELSEWHERE:
                continue
            own = line.limits.get(family, ())
            for limit in own:
                if line.share >= limit.at_least and (limit.below is None or line.share < limit.below):
                    because = Because(
                        f"own limit of {line.name}", "CLP Annex VI", line.share, limit.at_least, (line.name,)
                    )
                    reached.append(Reached(limit.hazard, because))
            if own:
                continue
            if alone:
                because = Because(
                    "it is this substance", "", line.share, None, (line.name,), "%", Provenance.DERIVED
                )
                reached += [Reached(hazard, because) for hazard in hazards]
                continue
            findings.append(
                unknown(
                    "physical-class-needs-test",
                    f"{line.name} is {hazards[0].abbreviation}. Whether {in_words(line.share)} "
                    "% of it makes the mix so is "
                    "found by a test only; until then treat it as that.",
                    "UN GHS part 2",
                    line.name,
                )
            )
    return reached, findings
