"""What published lists say of the numbers in a question, beside what was given: told, never reckoned with."""

from __future__ import annotations

from service.core.findings import Finding, note
from service.core.hazards.mix import Ingredient, Mix
from service.core.hazards.regimes import Regime
from service.records.substance_facts import Listed, listed

# So many classes are told of a longer list.
_TOLD = 8
# Of this pigment people give the class and not the number.
_BY_NAME = {"titanium dioxide": "13463-67-7", "titanium white": "13463-67-7", "tio2": "13463-67-7"}


def lists_beside(mix: Mix, regime: Regime) -> list[Finding]:
    """One note for each substance of which a list knows more than was given, and for each annulled class.

    In these calls a CAS number joins the lines of one substance and raises the statements on lead,
    isocyanates and epoxy; its classes, limits and factors count only as given.
    """
    found: list[Finding] = []
    for one in mix.ingredients:
        cas = one.cas or _BY_NAME.get(one.plain_name, "")
        if not cas:
            continue
        said = listed(cas, regime)
        found += [*_more(one, said), *_annulled(one, said)]
    return found


def _more(one: Ingredient, said: Listed) -> list[Finding]:
    """Kinds of hazard that a list has and the question has not."""
    if one.hazards is None or not one.cas:
        return []
    given = {hazard.kind for hazard in one.hazards}
    more = [hazard.text for hazard in said.hazards or () if hazard.kind not in given]
    if not more:
        return []
    told = ", ".join(more[:_TOLD]) + (f" and {len(more) - _TOLD} more" if len(more) > _TOLD else "")
    words = (
        f"Published lists say of {one.name} ({one.cas}) also: {told}. Only what is given was reckoned with; "
        "the number joins lines of one substance and adds no class, limit or factor. Compare it with the "
        "sheet."
    )
    return [note("list-says-more", words, about=one.name)]


def _annulled(one: Ingredient, said: Listed) -> list[Finding]:
    classes = [hazard.abbreviation for hazard in one.hazards or ()]
    return [
        note(
            finding.code,
            f"{one.name}: {finding.sentence} It counts here all the same, because it was given; EUH211 and "
            "EUH212 came with that entry and are not raised.",
            finding.source,
            one.name,
        )
        for finding in said.findings
        if finding.code == "class-annulled" and any(finding.sentence.startswith(name) for name in classes)
    ]
