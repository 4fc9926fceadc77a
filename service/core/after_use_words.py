"""What to do after a mix was used: when a clear coat may follow, the test for it, what is left in the pot.

Doors: actions/after_use.py, web/pages/finish_batch.py, web/pages/batch_sheet.py, web/jar_view.py.

All of it is common practice without a source, and never a promise that something is dry. What is in it
decides: oil that hardens by air, spirit (shellac, alcohol), water; what nobody can tell gets the most careful
words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Carrier(StrEnum):
    """What one material is on the wood before it is dry."""

    HEATING = "heating"
    """Its rags can ignite by themselves, or nobody knows."""
    SPIRIT = "spirit"
    WATER = "water"
    DRY = "dry"
    """A powder or solid that carries nothing."""
    OTHER = "other"


class Medium(StrEnum):
    """What a mix dries by."""

    OIL = "oil"
    SPIRIT = "spirit"
    WATER = "water"
    NOT_KNOWN = "not-known"


@dataclass(frozen=True)
class AfterUse:
    """Sentences for one medium.

    Args:
        clear_coat: when the earliest clear coat may follow.
        test: how to find out whether it is dry enough.
        left_over: what to do with what is left in the pot.
        wiping: what to do with rags, strainer and what was wiped up.
    """

    clear_coat: str
    test: str
    left_over: str
    wiping: str

    @property
    def sentences(self) -> tuple[str, ...]:
        return self.clear_coat, self.test, self.left_over, self.wiping


_RAGS: Final = (
    "Strainer, stick and rags are oily rags: they can ignite by themselves. They belong to the rags of its "
    "job: put them away and write it down."
)
_NO_DRAIN: Final = "Nothing of it goes down a drain."
AFTER_USE: Final[dict[Medium, AfterUse]] = {
    Medium.OIL: AfterUse(
        "No clear coat before the next morning; later when it is cold or damp.",
        "Test first: no smell of oil or thinner, and no colour on a white rag rubbed over it.",
        f"Fill what is left into a labelled jar, as full as you can, or wipe the pot out. {_NO_DRAIN}",
        _RAGS,
    ),
    Medium.SPIRIT: AfterUse(
        "A clear coat when it is dry to the touch and no longer feels cold; later when it is damp. Spirit in "
        "the next coat can lift it: try a hidden place.",
        "Test first: no smell of spirit, no colour on a white rag; then scuff it lightly.",
        f"Keep what is left closed, for spirit leaves fast and burns: away from every flame. {_NO_DRAIN}",
        "Rags wet with spirit burn: straight into a closed can for solvent wipes, away from every flame. "
        "Letting them dry out is no disposal.",
    ),
    Medium.WATER: AfterUse(
        "A clear coat when the wood is dry again all through, in damp air not before the next morning.",
        "Test first: it feels no colder than bare wood, and no colour on a white rag; then scuff the raised "
        "grain when dry.",
        "Use what is left within days: glue and size spoil. Look and smell before you use it again. Pigment "
        "and dye go into the waste, not down a drain.",
        "Wash out brush and strainer in a pot, let the pigment settle there, and put it into the waste.",
    ),
    Medium.NOT_KNOWN: AfterUse(
        "What is in it cannot be told for sure: no clear coat before the next morning, and later when it is "
        "cold or damp.",
        "Test first: no smell, no colour on a white rag; then try the clear coat on a hidden place.",
        f"Fill what is left into a labelled jar and keep it closed, away from every flame. {_NO_DRAIN}",
        "Treat strainer, stick and rags as oily rags that can ignite by themselves.",
    ),
}
NOT_KNOWN_STIR: Final = "Stir before each dip; how fast it settles is not known."
NOTHING_SETTLES: Final = "No powder or paste is written down in it; stir before use all the same."


def medium_of(carriers: Iterable[Carrier]) -> Medium:
    """What a mix of these dries by; oil as soon as anything of it heats by itself.

    >>> medium_of([Carrier.DRY, Carrier.WATER]), medium_of([Carrier.SPIRIT, Carrier.WATER, Carrier.DRY])
    (<Medium.WATER: 'water'>, <Medium.SPIRIT: 'spirit'>)
    >>> medium_of([Carrier.WATER, Carrier.HEATING]), medium_of([Carrier.DRY]), medium_of([Carrier.OTHER])
    (<Medium.OIL: 'oil'>, <Medium.NOT_KNOWN: 'not-known'>, <Medium.NOT_KNOWN: 'not-known'>)
    """
    found = set(carriers) - {Carrier.DRY}
    if Carrier.HEATING in found:
        return Medium.OIL
    if Carrier.OTHER in found or not found:
        return Medium.NOT_KNOWN
    return Medium.SPIRIT if Carrier.SPIRIT in found else Medium.WATER


NOT_KEPT: Final = (
    "Nothing of it is kept: it goes on giving off gas or heat, and a closed jar bursts. Use it up from the "
    "open pot; what is left stays open, outdoors or under extraction, as the sheet of what went in says."
)
"""In place of what is left in the pot, where a mix was allowed for use at once only."""
MET: Final = AfterUse(
    "Nothing of it goes onto wood, and it is not stirred.",
    "Leave it open outdoors or under extraction. Keep people and flames away, and air the room.",
    "It goes into no jar and not to other waste: follow the safety data sheets of what went in, and licensed "
    f"people. {_NO_DRAIN}",
    "What was wiped up lies by itself outdoors, not in a closed can and not with oily rags.",
)
"""For a pot in which things stand together that should never have met."""
DO_NOT_STIR: Final = "Do not stir it, and do not shut it tight."
