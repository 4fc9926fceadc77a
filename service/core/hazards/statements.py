"""Hazard, precautionary and supplemental statements in the wording the standards mandate.

Doors: core/hazards/label.py; the texts come from ``seed_data/knowledge`` by records/knowledge_hazards.py.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from service.core.hazards.classes import Family, Hazard, Route

_ORGANS: Final = re.compile(r"organs <[^>]*>")
_BLANK: Final = re.compile(r"\s*<[^>]*>")
_NAME: Final = re.compile(r"<name of sensitising substance>")
_PLACE: Final = re.compile(r"\s*\.\.\.")
_BY_ROUTE: Final = {
    Route.ORAL: "if swallowed",
    Route.DERMAL: "in contact with skin",
    Route.INHALATION: "if inhaled",
    Route.VAPOUR: "if inhaled",
    Route.DUST_MIST: "if inhaled",
    Route.GAS: "if inhaled",
}
_TELLS_ROUTE: Final = frozenset(
    {Family.MUTAGEN, Family.CARCINOGEN, Family.REPRODUCTIVE, Family.STOT_SINGLE, Family.STOT_REPEATED}
)


@dataclass(frozen=True)
class Statement:
    """A code (empty where the law gives none) and the sentence that is printed."""

    code: str
    text: str


@dataclass(frozen=True)
class Statements:
    """The mandated texts by code."""

    hazard_texts: Mapping[str, str]
    precaution_texts: Mapping[str, str]

    def precaution(self, code: str) -> Statement:
        """A precautionary statement; a combined one without a row of its own is put together from its parts.

        Raises KeyError for a code without a text.

        >>> texts = Statements({}, {"P402": "Store in a dry place.", "P235": "Keep cool."})
        >>> texts.precaution("P402+P235").text
        'Store in a dry place. Keep cool.'
        """
        text = self.precaution_texts.get(code)
        if text is None:
            text = " ".join(self.precaution_texts[part] for part in code.split("+"))
        return Statement(code, text)

    def supplement(self, code: str, names: tuple[str, ...], *, small: bool) -> Statement:
        """A supplemental statement; lead on a package under 125 ml has a shorter one (EUH201A)."""
        if code == "EUH201" and small:
            code = "EUH201A"
        return Statement(code, _NAME.sub(", ".join(names) or "…", self.hazard_texts[code]))


def hazard_statement(hazard: Hazard, statements: Statements) -> Statement:
    """The statement of a class, its blanks filled with organs and the only route where they are known.

    Letters of the EU (H360Df, H350i) keep their own text.

    >>> texts = {"H373": "May cause damage to organs <or state all> through prolonged exposure <state route>"}
    >>> ears = Hazard(Family.STOT_REPEATED, "2", organs=("hearing organs",))
    >>> hazard_statement(ears, Statements(texts, {})).text
    'May cause damage to hearing organs through prolonged exposure'
    """
    text = statements.hazard_texts.get(hazard.code) or statements.hazard_texts[hazard.code[:4]]
    organs = ", ".join(hazard.organs) or "organs"
    text = _BLANK.sub("", _ORGANS.sub(organs, text))
    if hazard.route and hazard.family in _TELLS_ROUTE and _BY_ROUTE[hazard.route] not in text:
        text = f"{text} {_BY_ROUTE[hazard.route]}"
    return Statement(hazard.code, text)
