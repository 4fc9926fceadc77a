"""What a teacher may show of why oily rags heat: published figures with their limits. No rule asks for them.

Doors: web/pages/heat_lesson.py.

Nothing here is read by a rule, and no size below which a heap is harmless is named: the theory that gives
such sizes, fed with bulk figures, says metres where rags have burned at the size of a hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class LessonFigure:
    """One published figure in words, with its source and what it does not say."""

    what: str
    figure: str
    source: str
    limit: str


OXYGEN: Final = (
    LessonFigure(
        "Linseed oil film on glass, until it is dry", "about 16 % of its mass",
        "Gardner, Paint Technology and Tests (1911)", "A film on glass, not oil in cloth",
    ),
    LessonFigure(
        "Boiled linseed oil, first day, four observers", "10.2 to 14.4 % of its mass",
        "Gardner, Table I(a)", "One oil of a century ago; the observers differ by two fifths",
    ),
    LessonFigure(
        "Another lot, first and third day", "0.57 % and 10.5 %",
        "Gardner, Table I(b)", "A slow beginning is no promise: it jumps afterwards",
    ),
    LessonFigure(
        "Seven modern drying oils on steel", "at most 12 %, within 7 days",
        "Surface Coatings International B", "What is weighed is less than what was taken up: vapours leave",
    ),
    LessonFigure(
        "Air above the oil in a closed can", "0.2787 g of oxygen in each litre",
        "worked out: 20.95 % of 101 325 Pa at 20 °C",
        "That is why the lid is shut. With the lid open it says nothing",
    ),
)  # fmt: skip

SEEN: Final = (
    LessonFigure(
        "Oiled linen cloth, wadded in the sun", "smouldering after about 1 hour",
        "a hobby report", "One trial; not the shortest time there is",
    ),
    LessonFigure(
        "Boiled linseed rags in a box", "43 °C after 1 hour, smoke after 2",
        "a test on television", "One trial",
    ),
    LessonFigure(
        "Rags in a container of a workshop", "smoke at 05:53, overnight", "a UK fire service", "One fire",
    ),
)  # fmt: skip

LIMITS: Final = (
    "These figures are for teaching. They loosen no rule of this program and say nothing about a heap.",
    "The iodine value counts double bonds, not speed: tung oil at about 165 dries faster than linseed at "
    "about 185. Look at the number, not at a class: the books draw their lines in different places.",
    "A drier counts for more than the oil: without one drying takes months, with one hours.",
    "No size is harmless. Theory with bulk figures says metres where rags have burned at the size of a hand, "
    "so no such size stands here.",
    "Air-drying first changes little (ASTM D6801, on its significance): dried rags go into the can too.",
)
