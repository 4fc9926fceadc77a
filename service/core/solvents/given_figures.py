"""Figures of a question that make a known liquid look milder than it is held here: the stricter counts.

Doors: web/api/solvent_components.py.

A flash point typed in °F, or "does not evaporate" said of acetone, is more often a slip than news. Pure
liquids of the tables are doubted; of a petroleum cut the product's own figure counts.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from service.core.findings import Finding, unknown
from service.core.solvents.properties import GIVEN, Component, Known

HIGHER_C: Final = 10.0
"""Published flash and boiling points of one pure liquid lie within so much of each other."""
HIGHER_LIMIT: Final = 1.5


def doubted(made: Component, held: Component, name: str) -> tuple[Component, tuple[Finding, ...]]:
    """The component with the stricter of given and published figures, and what was doubted.

    >>> acetone = Component("acetone", None, flash_point=Known(-20, "C", "IEC-60079", "S"), key="acetone")
    >>> given = replace(acetone, flash_point=Known(200, "C"))
    >>> made, said = doubted(given, acetone, "acetone")
    >>> made.flash_point.value, [one.code for one in said]
    (-20, ['given-contradicts-published'])
    """
    if not held.key or held.is_cut:
        return made, ()
    findings: list[Finding] = []
    for field, most in (("flash_point", HIGHER_C), ("boiling_point", HIGHER_C)):
        told, published = getattr(made, field), getattr(held, field)
        if _is_doubtful(told, published, None if published is None else published.value + most):
            findings.append(_contradicts(name, field, told, published, " Was it °F?"))
            made = replace(made, **{field: published})
    told, published = made.lower_limit, held.lower_limit
    if told and published and _is_doubtful(told, published, published.value * HIGHER_LIMIT):
        findings.append(_contradicts(name, "lower_limit", told, published, ""))
        made = replace(made, lower_limit=published)
    if made.volatile is False and held.volatile:
        words = f"{name} was said to stay in the film. It is held here as a liquid that evaporates."
        findings.append(unknown("said-not-to-evaporate", words, about=name))
        made = replace(made, volatile=True)
    if made.no_flash_because and held.flash_point is not None:
        words = f"{name} was said not to flash. Published: {held.flash_point.value:g} °C, which counts."
        findings.append(unknown("given-contradicts-published", words, held.flash_point.source, name))
        made = replace(made, flash_point=held.flash_point, no_flash_because="")
    return made, tuple(findings)


def _is_doubtful(told: Known | None, published: Known | None, most: float | None) -> bool:
    if told is None or published is None or most is None:
        return False
    return told.source == GIVEN and told.value > most


def _contradicts(name: str, field: str, told: Known, published: Known, also: str) -> Finding:
    words = (
        f"{name}: {field.replace('_', ' ')} {told.value:g} {told.unit} given, {published.value:g} "
        f"{published.unit} published.{also} The published figure counts."
    )
    return unknown("given-contradicts-published", words, published.source, name)
