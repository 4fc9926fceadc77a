"""Aspiration: the sum of dangerous ingredients, and whether the mix is thin enough to run into the lungs.

Doors: core/hazards/classify.py.

Sources: UN GHS 3.10.3.3, CLP Annex I 3.10.3.3, HCS A.10.3.3. That a mix which is mostly thin solvents is not
believed to be thick on a bare figure is this program's own rule, on the strict side.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Final

from service.core.findings import Finding, unknown
from service.core.hazards.classes import Family
from service.core.hazards.mix import HUNDRED, Mix
from service.core.hazards.reasons import in_words
from service.core.hazards.regimes import ASPIRATION_VISCOSITY, SumLimit
from service.core.hazards.sums import Summed

# From so many per cent of aspiration hazards a mix is mostly thin solvent.
MOSTLY_THIN_PERCENT: Final = Decimal(50)


def thin_enough(summed: Summed, mix: Mix) -> tuple[Summed, Finding | None]:
    """A sum that is reached, held against the viscosity as well; not known counts as thin.

    A viscosity that lifts the class is a question until somebody confirms it; of what is at least half
    aspiration hazards the class stays till then.
    """
    limit = ASPIRATION_VISCOSITY[summed.row.mix]
    viscosity = mix.viscosity_mm2_s
    if viscosity is None:
        return summed, _missing(summed)
    rule = summed.because.rule
    if viscosity <= limit:
        words = f"{rule}; {viscosity:f} mm2/s at 40 °C is not more than {limit:f}"
        return replace(summed, because=replace(summed.because, rule=words)), None
    if not mix.viscosity_confirmed and _share(summed) >= MOSTLY_THIN_PERCENT:
        words = f"{rule}; {viscosity:f} mm2/s at 40 °C counts once it is confirmed"
        kept = replace(summed, because=replace(summed.because, rule=words))
        return kept, _to_confirm(summed, mix, stays=True)
    words = f"{rule}; but {viscosity:f} mm2/s at 40 °C is more than {limit:f}"
    lifted = replace(summed, reached=False, because=replace(summed.because, rule=words, reached=False))
    return lifted, None if mix.viscosity_confirmed else _to_confirm(summed, mix, stays=False)


def thick(row: SumLimit, mix: Mix) -> bool:
    """Whether a row of aspiration is out of question: the mix is thick, and that is confirmed."""
    if row.family is not Family.ASPIRATION or mix.viscosity_mm2_s is None:
        return False
    return mix.viscosity_confirmed and mix.viscosity_mm2_s > ASPIRATION_VISCOSITY[row.mix]


def _share(summed: Summed) -> Decimal:
    """Per cent of the mix that counts."""
    return min(sum((line.counted for line in summed.lines), Decimal(0)), HUNDRED)


def _to_confirm(summed: Summed, mix: Mix, *, stays: bool) -> Finding:
    names = ", ".join(summed.because.ingredients)
    code = "H304" if summed.row.mix == "1" else "H305"
    words = (
        f"Is a viscosity of {mix.viscosity_mm2_s:f} mm2/s right? {in_words(_share(summed))} % of the mix is "
        f"dangerous when it gets into the lungs ({names}), and only that figure "
        f"{'would lift' if stays else 'lifts'} {code}. Confirm that it is in mm2/s (not mPa s) and at 40 °C, "
        "not in the cold."
    )
    if stays:
        words += " Thin solvents have 1 or 2; until it is confirmed the class stays."
    return unknown("viscosity-to-confirm", words, summed.because.paragraph)


def _missing(summed: Summed) -> Finding:
    """The mix could be thin enough to be breathed in when swallowed; it is classed as if it were."""
    return unknown(
        "viscosity-not-known",
        f"{in_words(_share(summed))} % of it is dangerous when it gets into the lungs. Its viscosity at "
        "40 °C is not known; it is classed as thin (20.5 mm2/s or less).",
        "GHS 3.10",
    )
