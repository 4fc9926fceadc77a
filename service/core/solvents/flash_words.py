"""What an answer about a flash point says beside the figure.

Doors: core/solvents/flash_judgement.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.core.findings import Finding, note, warn
from service.core.solvents.activity import Variant
from service.core.solvents.properties import Component

SOURCE: Final = "UN GHS 2.6.4.2"


def may_part(variants: tuple[Variant, ...]) -> Finding:
    """It may be two liquids."""
    sentence = (
        f"It may separate into two liquids at 25 °C (by the {' and '.join(variants)} variant). Stir it in a "
        "glass and look. A layer that floats flashes by itself, and a calculated value counts for one liquid "
        "only."
    )
    return warn("may-separate", sentence, SOURCE)


def stands_for(one: Component) -> Finding:
    """A cut is counted as one liquid."""
    own = "given" if one.flash_point and one.flash_point.source == "given" else "the lowest published one"
    sentence = (
        f"{one.name} is a cut of many liquids: it is counted as one pure liquid "
        f"({one.stand_in}) with its own flash point ({own})."
    )
    return note("cut-as-one-liquid", sentence, about=one.name)


def caution() -> Finding:
    """Calculated, not measured."""
    sentence = (
        "Calculated, not measured. A closed-cup test of the product, or its data sheet, counts before it. "
        "The figures show when a bench is not fit; none shows that it is."
    )
    return note("flash-calculated", sentence, SOURCE)


def one_liquid(alone: Component) -> Finding:
    """Its only liquid gives the flash point."""
    sentence = (
        f"{alone.name} is the only liquid in it that evaporates, so its own flash point is taken. The data "
        "sheet of the product, or a closed-cup test, counts before it."
    )
    return note("flash-of-its-only-liquid", sentence, about=alone.name)


def nothing_burns(stays: Sequence[Component]) -> Finding:
    """Nothing volatile burns."""
    also = " What stays in the film burns at flash points of its own." if stays else ""
    return note("nothing-volatile-burns", f"Nothing volatile in it burns.{also}")
