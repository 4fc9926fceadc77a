"""The VOC of a mix against rows of limits; what rests on memory is never called met without "not checked".

Doors: web/api/calc_voc.py, actions/judge_voc.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.core.findings import Finding, note, unknown, warn
from service.core.solvents.voc import Figure, VocAnswer, VocFigures
from service.core.solvents.voc_mix import SHRINKS_BY
from service.core.solvents.voc_rules import Base, Jurisdiction, VocBasis, VocLimit, rows_for
from service.core.sources import Grade

SMALL_CONTAINER_ML: Final = 1000.0
_LOW_SOLIDS_SOURCE: Final = "40 CFR 59.406; SCAQMD, VOC calculations"
_ROUNDING: Final = 1e-9


@dataclass(frozen=True)
class JudgedLimit:
    """A row and what the mix does with it. ``met`` ``None``: not known. ``checked`` False: from memory."""

    row: VocLimit
    figure: Figure
    basis: VocBasis
    met: bool | None
    checked: bool
    because: str = ""

    @property
    def compared_g_l(self) -> float | None:
        """The figure it is held against, with what nobody knows counted as VOC."""
        return self.figure.value

    @property
    def word(self) -> str:
        """ "met", "not met" or "not known", and "not checked" with it where it rests on memory."""
        said = {True: "met", False: "not met", None: "not known"}[self.met]
        return said if self.checked else f"{said}, not checked"


@dataclass(frozen=True)
class JudgedLimits:
    limits: tuple[JudgedLimit, ...]
    findings: tuple[Finding, ...]


def judge_limits(
    answer: VocAnswer, held: tuple[VocLimit, ...], jurisdiction: Jurisdiction | None, category: str = "",
    base: Base | None = None, container_ml: float | None = None,
) -> JudgedLimits:  # fmt: skip
    """Every row in force that the product may fall under.

    Args:
        category: a category of the jurisdiction or the first words of several; empty: all are shown.
        base: water-borne or solvent-borne; ``None``: the rows of both.
        container_ml: what the product is sold in.

    Raises Invalid for a category that the jurisdiction does not have.
    """
    if jurisdiction is None:
        words = "No jurisdiction was told, so nothing was taken as exempt and no limit was looked up."
        return JudgedLimits((), (unknown("jurisdiction-not-told", words),))
    rows = rows_for(held, jurisdiction, category, base)
    found: list[Finding] = []
    if not rows:
        words = f"No VOC limit of {jurisdiction.value} is held here. That is no sign that there is none."
        found.append(unknown("no-limit-held", words))
    figures = answer.ready
    limits = [one for row in rows if (one := _judged(row, figures, answer.unchecked, category)) is not None]
    if rows and not category:
        words = "No product category was told, so every limit is shown. Which one holds is yours to say."
        found.append(note("category-not-told", words))
    if base is None and any(row.base for row in rows):
        words = "Whether it is water-borne or solvent-borne was not told; both limits are shown. Give base."
        found.append(unknown("base-not-told", words))
    if jurisdiction is Jurisdiction.OTC and rows:
        words = "States that follow the OTC model rule write their own lists and limits. Look at the state's."
        found.append(note("state-rules-differ", words))
    found += _about(limits, answer.unchecked)
    if container_ml is not None and container_ml <= SMALL_CONTAINER_ML and jurisdiction in _AIM:
        words = (
            "The federal rule does not apply to containers of 1 litre or less. State and district rules may."
        )
        found.append(note("small-container", words, "40 CFR 59.400(c)"))
    return JudgedLimits(tuple(limits), tuple(found))


_AIM: Final = frozenset({Jurisdiction.US_FEDERAL})


def _judged(
    row: VocLimit, figures: VocFigures, unchecked: Sequence[str], category: str
) -> JudgedLimit | None:
    """A row against its figure; ``None`` where it is a low-solids row and the product is none."""
    basis, because = row.basis, ""
    if row.is_low_solids and figures.low_solids is not True:
        if figures.low_solids is False:
            asked = category.casefold().replace("_", "-").replace(" ", "-").strip("-") == row.category
            because = "more than 120 g/l of solids: no low-solids product"
            return JudgedLimit(row, Figure(), basis, None, False, because) if asked else None
        because = "whether it has at most 120 g/l of solids is not known"
        return JudgedLimit(row, Figure(), basis, None, row.grade != Grade.MEMORY.value, because)
    if basis is VocBasis.REGULATORY and figures.low_solids is True and figures.mostly_water is True:
        basis, because = VocBasis.ACTUAL, "at most 120 g/l of solids and mostly water: water is not taken off"
    figure = {
        VocBasis.ACTUAL: figures.actual, VocBasis.REGULATORY: figures.regulatory, VocBasis.EU: figures.eu,
    }[basis]  # fmt: skip
    by_memory = row.grade == Grade.MEMORY.value or (bool(unchecked) and basis is not VocBasis.EU)
    met = _met(figure, row.limit_g_l, figures.shrinks)
    return JudgedLimit(row, figure, basis, met, not by_memory, because)


def _met(figure: Figure, limit: float, shrinks: bool) -> bool | None:
    """Not met as soon as what is sure lies over the limit; met only with nothing left open."""
    edge = limit * (1 + _ROUNDING)
    if figure.value is None or figure.sure is None:
        return None
    if figure.sure > edge:
        return False
    if not figure.known or (shrinks and figure.value * (1 + SHRINKS_BY) > edge):
        return None
    return figure.value <= edge


def _about(limits: Sequence[JudgedLimit], unchecked: Sequence[str]) -> list[Finding]:
    found: list[Finding] = []
    for one in limits:
        base = f", {one.row.base.value}" if one.row.base else ""
        name = f"{one.row.title}{base}"
        if one.met is False:
            words = f"{one.compared_g_l:.4g} g/l lies over the limit of {one.row.limit_g_l:g} g/l for {name}"
            found.append(warn("over-voc-limit", f"{words} ({one.word}).", one.row.citation, name))
        elif one.met is None:
            why = one.because or "what the mix holds is not all known"
            words = f"Whether the limit of {one.row.limit_g_l:g} g/l for {name} is met is not known: {why}."
            found.append(unknown("limit-not-judged", words, one.row.citation, name))
    memory = [one for one in limits if one.row.grade == Grade.MEMORY.value]
    if memory:
        words = (
            "These limits were written from memory and are not checked: look them up before relying on them."
        )
        found.append(
            warn("limits-not-checked", words, "; ".join(dict.fromkeys(m.row.citation for m in memory)))
        )
    for words in unchecked:
        found.append(warn("exemption-not-checked", f"{words}: not checked. Look it up before relying on it."))
    return found
