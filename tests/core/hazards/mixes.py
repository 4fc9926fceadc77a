"""Small mixes for the tests of the hazard rules: invented, by class and share."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from service.core.hazards.classes import Hazard
from service.core.hazards.classify import Classification, classify
from service.core.hazards.mix import Ingredient, Mix
from service.core.hazards.read_class import read_classes
from service.core.hazards.regimes import Regime


def part(name: str, percent: str | Decimal, *classes: str, known: bool = True, **more: Any) -> Ingredient:
    """An ingredient by the text of its classes; ``known=False``: nobody knows them."""
    share = Decimal(percent)
    hazards = read_classes(list(classes)).hazards if known else None
    return Ingredient(name, share, share, hazards, **more)


def whole(*parts: Ingredient, **more: Any) -> Mix:
    """A mix filled up to 100 % with examined, harmless filler; no flash point unless told."""
    left = Decimal(100) - sum((one.high for one in parts), Decimal(0))
    filler = (part("filler", left),) if left > 0 else ()
    flash = {} if "flash_point_c" in more else {"does_not_flash": True}
    return Mix((*parts, *filler), **{**flash, **more})


def classed(regime: Regime, *parts: Ingredient, **more: Any) -> Classification:
    """The classification of such a mix."""
    return classify(whole(*parts, **more), regime)


def texts(result: Classification) -> list[str]:
    """Classes as written, without organs."""
    return [one.hazard.text.split(" (")[0] for one in result.classes]


def find(result: Classification, family: str) -> list[Hazard]:
    """The classes of one family."""
    return [hazard for hazard in result.hazards if hazard.family.value == family]
