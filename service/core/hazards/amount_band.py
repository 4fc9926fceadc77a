"""How much is used at a time, as control banding counts it: small, medium or large.

Doors: core/hazards/ventilation_class.py, actions/judge_ventilation.py.

Source: the schemes say grams and millilitres, kilograms and litres, tonnes and cubic metres (from memory);
the cuts at 1 and 1000 are a reading of that. On a border the larger. Small amounts wiped or brushed over more
than 1 m2 exceeded the prediction in carpenters' shops (Tischer and others 2003, read): they count as medium.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from service.core.hazards.ventilation_reasons import HSE, OURS, About, Reason
from service.core.sources import Provenance

SMALL_BELOW: Final = 1.0
LARGE_FROM: Final = 1000.0
WETTED_M2: Final = 1.0
# Where no density is known: no liquid of a shop is lighter, and no powder heavier than solid lead.
LIGHTEST_LIQUID: Final = 0.6
HEAVIEST_SOLID: Final = 11.4
_BORDER: Final = 1 - 1e-9


class AmountBand(StrEnum):
    """By the whole batch, or by the day where work goes on."""

    SMALL = "small"
    MEDIUM = "medium"
    LARGE = "large"


def band_of(amount: float) -> AmountBand:
    """The band of an amount in litres of a liquid or kilograms of a solid.

    >>> band_of(0.999).value, band_of(1).value, band_of(1000).value
    ('small', 'medium', 'large')
    """
    if amount >= LARGE_FROM * _BORDER:
        return AmountBand.LARGE
    return AmountBand.MEDIUM if amount >= SMALL_BELOW * _BORDER else AmountBand.SMALL


def litres_or_kilos(
    litres: float | None, kilos: float | None, *, liquid: bool, density: float | None
) -> tuple[float, str] | None:
    """The amount in the unit that counts and how it was come by; the larger where both are told. None: not
    told.

    >>> litres_or_kilos(None, 0.9, liquid=True, density=None)
    (1.5, '0.9 kg at 0.6 kg/l')
    """
    own, other, unit, told = (litres, kilos, "kg", "l") if liquid else (kilos, litres, "l", "kg")
    found: list[tuple[float, str]] = []
    if own is not None:
        found.append((own, f"{own:g} {told}"))
    if other is not None and (own is None or density is not None):
        by = density or (LIGHTEST_LIQUID if liquid else HEAVIEST_SOLID)
        made = other / by if liquid else other * by
        found.append((float(f"{made:.12g}"), f"{other:g} {unit} at {by:g} kg/l"))
    return max(found, default=None)


def amount_band(found: tuple[float, str] | None, *, liquid: bool, wetted_m2: float | None) -> (
    tuple[AmountBand | None, list[Reason]]
):  # fmt: skip
    """The band and its reasons; None where the amount is not told."""
    if found is None:
        words = "How much is used at a time is not told: no class without it."
        return None, [Reason(About.AMOUNT, words, OURS, Provenance.DERIVED)]
    amount, written = found
    band, unit = band_of(amount), "l" if liquid else "kg"
    word = {AmountBand.SMALL: "below 1", AmountBand.MEDIUM: "from 1", AmountBand.LARGE: "from 1000"}[band]
    words = f"{written}: {band.value} ({word} {unit}); the whole batch counts."
    reasons = [Reason(About.AMOUNT, words, HSE, Provenance.MEMORY, "", "", "amount", amount, unit)]
    if band is AmountBand.SMALL and wetted_m2 is not None and wetted_m2 > WETTED_M2:
        words = f"{wetted_m2:g} m2 are wetted, more than 1: the small amount counts as medium."
        reasons.append(
            Reason(About.AMOUNT, words, OURS, Provenance.DERIVED, "", "", "wetted_area", wetted_m2, "m2")
        )
        return AmountBand.MEDIUM, reasons
    return band, reasons
