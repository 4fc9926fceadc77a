"""Labels to print, from an invented shop: everyday ones, the longest that happen, ones nobody can judge."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from service.core.hazards.label import Label, LabelAsked, make_label
from service.core.hazards.read_class import read_classes
from service.core.hazards.regimes import Regime
from service.core.hazards.supplements import Supplement
from service.core.materials import Form
from service.outreach.hazard_label_words import Basis, HazardLabelAsked, Maker
from service.records.hazard_tables import advice_of, mandated_texts

ELM_YARD = Maker("Elm Yard Finishing", "2 Elm Yard, Oldport", "555 0100")
EVERYDAY = ("Skin Sens. 1",)
STAIN = ("Flam. Liq. 3", "Asp. Tox. 1", "STOT SE 3 H336", "Aquatic Chronic 3")
LONGEST = (
    "Flam. Liq. 2",
    "Acute Tox. 4 oral",
    "Skin Irrit. 2",
    "Eye Dam. 1",
    "STOT SE 3 H336",
    "STOT RE 2 H373 (nervous system, hearing organs)",
    "Asp. Tox. 1",
    "Repr. 2",
    "Aquatic Chronic 2",
)
"""Nine statements, five pictograms."""
ALLERGENS = ("2-butanone oxime", "1,2-benzisothiazol-3(2H)-one", "cobalt bis(2-ethylhexanoate)")


def label(
    classes: Sequence[str] = EVERYDAY,
    regime: Regime = Regime.EU_CLP,
    contains: tuple[str, ...] = (),
    allergens: tuple[str, ...] = (),
) -> Label:
    named = (Supplement("EUH208", allergens, "", ""),) if allergens else ()
    asked = LabelAsked(
        regime=regime,
        hazards=tuple(read_classes(list(classes)).hazards),
        contains=contains,
        supplements=named,
    )
    return make_label(asked, mandated_texts(), advice_of(regime))


def longest(regime: Regime = Regime.EU_CLP) -> Label:
    return label(LONGEST, regime, ("Hydrocarbons, C9-C11, n-alkanes, cyclics", "toluene"), ALLERGENS)


def asked(of: Label, volume_ml: int | None = 1000, **changed: Any) -> HazardLabelAsked:
    told: dict[str, Any] = {
        "product": "Walnut wiping stain",
        "maker": ELM_YARD,
        "code": "K7Q F2B",
        "volume": f"{volume_ml} ml",
        "volume_ml": None if volume_ml is None else Decimal(volume_ml),
        "label": of,
        "regime": Regime.EU_CLP,
        "basis": Basis.CALCULATED,
        "complete": True,
        "printed_on": date(2026, 11, 26),
        "form": Form.LIQUID,
    }
    return HazardLabelAsked(**{**told, **changed})
