"""The blanks and choices in precautionary statements, filled for a finishing shop.

Doors: outreach/hazard_labels.py.

Sources (from memory of the texts): CLP Annex IV Part 1 and UN GHS Annex 3 A3.3.2: a slash means a choice,
three full stops a blank for the supplier, square brackets words that may be left out; HCS Appendix C.2.4.2 to
C.2.4.5 say the same. Everything else keeps its mandated words. Where the right filling hangs on the one
substance (what it is wetted with, how cold it is kept) the statement points to the safety data sheet: a guess
would be worse than none.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from service.core.hazards.statements import Statement

WASTE_WORDS: Final = "a collection point for hazardous waste, according to local rules"
"""Where contents and container go when the shop has not said it in its own words."""


@dataclass(frozen=True)
class Gap:
    """One place: what is ``written`` in the standard, what is ``said`` here, and what allows it."""

    written: str
    said: str
    rule: str


_CHOICE: Final = "a slash is a choice; both are kept"
_BLANK: Final = "three full stops are the supplier's to fill or to leave out"
_BRACKET: Final = "words in brackets may stand"
_SHEET: Final = "the filling depends on the substance; the data sheet has it"

GAPS: Final = (
    Gap("POISON CENTER/doctor/...", "POISON CENTER or doctor", _CHOICE),
    Gap("medical advice/attention", "medical advice or attention", _CHOICE),
    Gap("(see ... on this label)", "(see the first aid on this label)", _BLANK),
    Gap("Wash ... thoroughly", "Wash hands thoroughly", _BLANK),
    Gap("plenty of water/...", "plenty of water", _BLANK),
    Gap("cool water [or wrap in wet bandages]", "cool water or wrap in wet bandages", _BRACKET),
    Gap("water [or shower]", "water or shower", _BRACKET),
    Gap("[In case of inadequate ventilation] wear", "In case of inadequate ventilation wear", _BRACKET),
    Gap("explosion-proof [electrical/ventilating/lighting/...] equipment",
        "explosion-proof electrical, ventilating and lighting equipment", _CHOICE),
    Gap("under inert gas/...", "under inert gas", _BLANK),
    Gap("corrosion resistant/... container", "corrosion resistant container", _BLANK),
    Gap("manufacturer/supplier/... for information on disposal/recovery/recycling",
        "manufacturer or supplier for information on disposal, recovery or recycling", _CHOICE),
    Gap("Keep wetted with ...", "Keep wetted as the safety data sheet says", _SHEET),
    Gap("in accordance with ...", "in accordance with the safety data sheet", _SHEET),
    Gap("Store bulk masses greater than ... kg/... lbs at temperatures not exceeding ... °C/... °F.",
        "Store bulk masses no warmer than the safety data sheet says.", _SHEET),
    Gap("at temperatures not exceeding ... °C/... °F", "no warmer than the safety data sheet says", _SHEET),
)  # fmt: skip
_DUSTS: Final = "dust/fume/gas/mist/vapours/spray"
_BREATHED: Final = {
    True: "mist, vapours or spray",
    False: "dust or fume",
    None: "dust, fume, gas, mist, vapours or spray",
}
_LIQUIDS_BURN: Final = frozenset({"H224", "H225", "H226", "H227"})
_GEAR: Final = (
    ("protective gloves", {"310", "311", "312", "314", "315", "316", "317", "318"}),
    ("protective clothing", {"310", "311", "314"}),
    ("eye protection", {"314", "318", "319", "320"}),
    ("face protection", {"314"}),
)
"""P280 by health class, after the conditions of its use."""
_NEEDS_ALL: Final = {"340", "341", "350", "351", "360", "361", "362"}
_GEAR_WRITTEN: Final = (
    "protective gloves/protective clothing/eye protection/face protection/hearing protection/..."
)
_EXTINGUISH: Final = "Use ... to extinguish"


def filled(
    statement: Statement, codes: Iterable[str], *, liquid: bool | None = None, waste: str = WASTE_WORDS
) -> Statement:
    """A statement without blanks and choices.

    Args:
        codes: the H-codes on the same label; protective gear and extinguisher follow from them.
        liquid: True for a liquid or paste, False for a powder or solid, None = not told: everything is named.
        waste: where contents and container go, to stand after "Dispose of contents and container to".

    >>> filled(Statement("P264", "Wash ... thoroughly after handling."), ["H315"]).text
    'Wash hands thoroughly after handling.'
    >>> filled(Statement("P501", "Dispose of contents/container to ..."), []).text
    'Dispose of contents and container to a collection point for hazardous waste, according to local rules.'
    """
    codes = list(codes)
    goes_to = waste.strip().rstrip(".")
    text = statement.text
    for gap in GAPS:
        text = text.replace(gap.written, gap.said)
    text = text.replace(_DUSTS, _BREATHED[liquid]).replace(_GEAR_WRITTEN, gear(codes))
    text = text.replace(_EXTINGUISH, _extinguisher(codes))
    text = text.replace("contents/container to ...", f"contents and container to {goes_to}.")
    return Statement(statement.code, text)


def gear(codes: Iterable[str]) -> str:
    """What P280 asks to wear, chosen by the classes on the label; everything where that says nothing.

    >>> gear(["H226", "H304"]), gear(["H317"])
    ('protective gloves and eye protection', 'protective gloves')
    """
    codes = set(codes)
    figures = {code[1:4] for code in codes}
    physical = {code for code in codes if code.startswith("H2")}
    chosen = {words for words, needed in _GEAR if figures & needed}
    if physical:
        chosen |= {"protective gloves", "eye protection"}
    if physical - _LIQUIDS_BURN:
        chosen.add("face protection")
    if figures & _NEEDS_ALL or not chosen:
        chosen |= {"protective gloves", "protective clothing", "eye protection"}
    said = [words for words, _ in _GEAR if words in chosen]
    return " and ".join(filter(None, (", ".join(said[:-1]), said[-1])))


def _extinguisher(codes: Iterable[str]) -> str:
    """Only for liquids that burn and nothing else of the physical kind; else the sheet decides."""
    physical = {code for code in codes if code.startswith("H2")}
    if physical and physical <= _LIQUIDS_BURN:
        return "Use dry powder, alcohol-resistant foam or carbon dioxide to extinguish"
    return "Use what the safety data sheet names to extinguish"
