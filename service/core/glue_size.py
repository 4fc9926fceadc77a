"""Glue size: thin glue that evens how wood takes a stain, and stays colourless under it.

Doors: web/api/calc_glue_size.py.

Common practice, no source: two parts of water to one of white glue by volume, scuffed lightly when dry. Hide
glue is weighed: dry glue to water 1 to 1 strong, 1 to 2 general, 1 to 3 or more as a size (a supplier's
page); 1 to 10 is a thin size (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

WATER_TO_WHITE_GLUE: Final = 2.0
"""Parts by volume."""
WATER_TO_HIDE_GLUE: Final = (3.0, 10.0)
"""Parts by weight, from a strong size to a thin one."""


class Glue(StrEnum):
    """White glue is measured by volume, dry hide glue by weight."""

    WHITE = "white-glue"
    HIDE = "hide-glue"


@dataclass(frozen=True)
class Size:
    """What goes together: millilitres of white glue and of water, or grams of dry hide glue and of water."""

    glue: Glue
    glue_amount: tuple[float, float]
    water_amount: tuple[float, float]
    unit: str


def size_of(glue: Glue, wanted: float) -> Size:
    """Glue and water for so much size: ml with white glue, g with hide glue; hide glue from thin to strong.

    >>> size_of(Glue.WHITE, 300).glue_amount
    (100.0, 100.0)
    """
    parts = (WATER_TO_WHITE_GLUE, WATER_TO_WHITE_GLUE) if glue is Glue.WHITE else WATER_TO_HIDE_GLUE
    least, most = wanted / (1 + parts[1]), wanted / (1 + parts[0])
    unit = "ml" if glue is Glue.WHITE else "g"
    return Size(glue, (least, most), (wanted - most, wanted - least), unit)


def water_to_glue(glue_g: float, water_g: float) -> float:
    """Parts of water to one of dry glue by weight.

    >>> round(water_to_glue(157.5, 177.1), 2)
    1.12
    """
    return water_g / glue_g
