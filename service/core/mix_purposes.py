"""What sort of mix a recipe is for, with hints that fit it; nothing is taken for an oil unless it is one.

Doors: actions/write_recipe.py, web/pages/recipes.py, web/pages/write_recipe.py, web/api/recipes.py.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class MixPurpose(StrEnum):
    """The sorts of mix a finishing shop makes."""

    OIL_STAIN = "oil-stain"
    TOUCH_UP = "touch-up"
    GLUE_SIZE = "glue-size"
    GLAZE = "glaze"
    WASH = "wash"
    THINNER_BLEND = "thinner-blend"
    OTHER = "other"


PURPOSE_WORDS: Final[dict[MixPurpose, str]] = {
    MixPurpose.OIL_STAIN: "oil stain",
    MixPurpose.TOUCH_UP: "touch-up in shellac",
    MixPurpose.GLUE_SIZE: "glue size",
    MixPurpose.GLAZE: "glaze",
    MixPurpose.WASH: "wash",
    MixPurpose.THINNER_BLEND: "thinner blend",
    MixPurpose.OTHER: "something else",
}

PURPOSE_HINTS: Final[dict[MixPurpose, str]] = {
    MixPurpose.OIL_STAIN: "Colour, carrier and binder. The colour settles: stir before each dip. "
    "Its rags heat by themselves.",
    MixPurpose.TOUCH_UP: "Dry colour or dye in shellac and alcohol. Write the cut of the shellac; "
    "thin it with alcohol, never with water or spirits.",
    MixPurpose.GLUE_SIZE: "Water and glue, usually 2 parts water to 1 part white glue by volume. "
    "It stays colourless; scuff when dry.",
    MixPurpose.GLAZE: "Colour in a slow clear medium, over a sealed ground. "
    "Write which medium: oil, water or shellac.",
    MixPurpose.WASH: "Dye or colour in much water or alcohol, little or no binder. "
    "Try it on a board: it dries lighter.",
    MixPurpose.THINNER_BLEND: "Solvents only. Write it by volume, and look at its flash point on the page "
    "Air.",
    MixPurpose.OTHER: "Write in the remark what it is for and what it is thinned with.",
}
"""Common practice, no source."""


def words_of(purpose: str | None) -> str:
    """The words of a purpose as stored; empty where nobody said.

    >>> words_of("glue-size"), words_of(None)
    ('glue size', '')
    """
    return PURPOSE_WORDS[MixPurpose(purpose)] if purpose else ""


def hint_of(purpose: str | None) -> str:
    """The hint that fits; empty where nobody said what it is for.

    >>> "oil" in hint_of("glue-size").casefold(), hint_of(None)
    (False, '')
    """
    return PURPOSE_HINTS[MixPurpose(purpose)] if purpose else ""
