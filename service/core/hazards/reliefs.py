"""What makes an ingredient count for less than its classes alone: each relief is said, a large one loudly.

Doors: core/hazards/unknowns.py.

Sources: CLP Article 10 and Annex VI (own limits, Note 1, Note P); Annex I 1.1.2.2.
"""

from __future__ import annotations

from decimal import Decimal

from service.core.findings import Finding, note, unknown, warn
from service.core.hazards.classes import AQUATIC, Hazard
from service.core.hazards.lines import Line
from service.core.hazards.reasons import in_words
from service.core.hazards.regimes import Rules
from service.core.hazards.singly import rows_of
from service.core.hazards.sums import looser_limit


def reliefs(line: Line, rules: Rules) -> list[Finding]:
    """Own limits, metal shares, Note P, and water classes that a law does not judge."""
    one, found = line.ingredient, []
    if rules.own_limits_bind and one.limits:
        words = f"{line.name} was judged by limits of its own, as given."
        found.append(note("own-limits-used", words, "CLP Annex VI; CLP Article 10", line.name))
        found += _looser(line, rules)
    if rules.percent_as_metal and one.metal_fraction is not None:
        share = in_words(line.counted)
        if one.metal:
            words = f"Of {line.name} only its {one.metal} counts, {share} % (Note 1)."
            found.append(note("metal-share-used", words, "CLP Annex VI, Note 1", line.name))
        else:
            words = f"Of {line.name} only a metal counts, {share} %, and which one is not told. Name it."
            found.append(unknown("metal-not-named", words, "CLP Annex VI, Note 1", line.name))
        found += _lifted_by_metal(line, rules)
    if line.note_p_used:
        words = (
            f"{line.name} holds less than 0.1 % benzene as given, so Carc. 1B and Muta. 1B do not apply "
            "(Note P)."
        )
        found.append(note("note-p-used", words, "CLP Annex VI, Note P", line.name))
    if not rules.aquatic and any(family in AQUATIC for family in line.classes):
        words = f"{line.name} is dangerous to water. US hazard communication does not judge that."
        found.append(note("water-not-judged", words, about=line.name))
    return found


def _looser(line: Line, rules: Rules) -> list[Finding]:
    """Classes that the general limit would give and a looser one of the substance's own does not."""
    lifted: dict[str, tuple[Decimal, Decimal]] = {}
    for family, hazards in line.classes.items():
        own = line.limits.get(family, ())
        for hazard in hazards if own else ():
            for row in rows_of(rules.regime, family, hazard.category):
                same = [limit.at_least for limit in own if limit.hazard.category == row.mix]
                if same and row.at_least <= line.counted < min(same):
                    lifted[Hazard(family, row.mix).abbreviation] = min(same), row.at_least
    for sum_row in rules.sums:
        looser = looser_limit(line, sum_row)
        if looser is not None and looser[1] <= line.counted < looser[0]:
            lifted.setdefault(Hazard(sum_row.family, sum_row.mix).abbreviation, looser)
    return [
        warn(
            "own-limit-looser",
            f"By the limit given for {line.name} alone it is {name} from {mine:f} %; in general from "
            f"{in_words(general)} %. Its {in_words(line.counted)} % would count by the general one. Only "
            "the EU list, or a supplier's proof, allows the looser: check that it stands there.",
            "CLP Article 10",
            line.name,
        )
        for name, (mine, general) in lifted.items()
    ]


def _lifted_by_metal(line: Line, rules: Rules) -> list[Finding]:
    """Classes that the whole compound would give and its metal alone does not."""
    lifted: dict[str, Decimal] = {}
    for family, hazards in line.classes.items():
        for hazard in hazards:
            for row in rows_of(rules.regime, family, hazard.category):
                if line.counted < row.at_least <= line.share:
                    lifted[Hazard(family, row.mix).abbreviation] = row.at_least
    return [
        warn(
            "metal-share-lifts",
            f"Counted whole, {line.name} ({in_words(line.share)} %) would make the mix {name}, from "
            f"{limit:f} %. Only a substance with Note 1 in the EU list counts by its metal: check that it "
            "stands there.",
            "CLP Annex VI, Note 1",
            line.name,
        )
        for name, limit in lifted.items()
    ]
