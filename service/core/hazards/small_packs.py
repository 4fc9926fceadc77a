"""What the label of a small container may do without, by paragraph; nothing is taken away by itself.

Doors: core/hazards/label.py.

Sources: CLP Annex I 1.5.2.1 (read in part, items 1 to 7 from memory); 29 CFR 1910.1200(f)(12).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from service.core.hazards.classes import Family, Hazard
from service.core.hazards.mix import Audience
from service.core.hazards.precaution import Advice, advice_for
from service.core.hazards.regimes import Regime

F = Family
EU_ML: Final = Decimal(125)
US_ML: Final = Decimal(100)
US_TINY_ML: Final = Decimal(3)
_PARAGRAPH: Final = "CLP Annex I 1.5.2.1"
_H_AND_P: Final = frozenset(
    {
        (F.OXIDISING_GAS, "1"),
        (F.GAS_UNDER_PRESSURE, ""),
        (F.GAS_UNDER_PRESSURE, "refrigerated"),
        (F.FLAMMABLE_LIQUID, "2"),
        (F.FLAMMABLE_LIQUID, "3"),
        (F.FLAMMABLE_SOLID, "1"),
        (F.FLAMMABLE_SOLID, "2"),
        *((family, letter) for family in (F.SELF_REACTIVE, F.ORGANIC_PEROXIDE) for letter in "CDEF"),
        (F.SELF_HEATING, "2"),
        *((F.WATER_REACTIVE, number) for number in "123"),
        *((family, number) for family in (F.OXIDISING_LIQUID, F.OXIDISING_SOLID) for number in "23"),
        (F.SKIN, "2"),
        (F.EYE, "2"),
        (F.AQUATIC_ACUTE, "1"),
        (F.AQUATIC_CHRONIC, "1"),
        (F.AQUATIC_CHRONIC, "2"),
    }
)
_H_AND_P_NOT_PUBLIC: Final = frozenset(
    {(F.ACUTE_TOXICITY, "4"), (F.STOT_SINGLE, "2"), (F.STOT_SINGLE, "3"), (F.STOT_REPEATED, "2")}
)
_P_ONLY: Final = frozenset(
    {(F.FLAMMABLE_GAS, "2"), (F.LACTATION, ""), (F.AQUATIC_CHRONIC, "3"), (F.AQUATIC_CHRONIC, "4")}
)


@dataclass(frozen=True)
class Pack:
    """A container: what it holds in ml (None = not told), who gets it, whether a larger label could hang on
    it.
    """

    volume_ml: Decimal | None
    audience: Audience
    fold_out_possible: bool
    label_hinders_use: bool = False


@dataclass(frozen=True)
class MayLeave:
    """One part of the label (a code, or words for a part) that may be left out here, and on what ground."""

    what: str
    paragraph: str
    sentence: str


def may_leave_out(
    hazards: Sequence[Hazard], regime: Regime, pack: Pack, chosen: Sequence[str], advice: Advice
) -> tuple[MayLeave, ...]:
    """The reliefs that hold for a container of this size; none when its size is not told."""
    if pack.volume_ml is None or not hazards:
        return ()
    if regime is Regime.EU_CLP and pack.volume_ml <= EU_ML:
        return _eu(hazards, pack, chosen, advice)
    if regime is Regime.US_HCS:
        return _us(pack)
    return ()


def _eu(hazards: Sequence[Hazard], pack: Pack, chosen: Sequence[str], advice: Advice) -> tuple[MayLeave, ...]:
    free: list[Hazard] = []
    leaves: list[MayLeave] = []
    for hazard in hazards:
        key = (hazard.family, hazard.category)
        both = key in _H_AND_P or (key in _H_AND_P_NOT_PUBLIC and pack.audience is Audience.WORKPLACE)
        if both or key in _P_ONLY or hazard.family is F.CORROSIVE_TO_METALS:
            free.append(hazard)
        if both or hazard.family is F.CORROSIVE_TO_METALS:
            sentence = (
                f"{hazard.code} need not be printed on 125 ml and less; pictogram and signal word stay."
            )
            if hazard.family is F.CORROSIVE_TO_METALS:
                sentence = (
                    "Pictogram, signal word and statements for metals need not be printed on 125 ml and less."
                )
            leaves.append(MayLeave(hazard.code, _PARAGRAPH, sentence))
    bound = {code for hazard in hazards if hazard not in free for code in advice_for(hazard, advice).all}
    for code in chosen:
        offered = any(code in advice_for(hazard, advice).all for hazard in free)
        if offered and code not in bound:
            leaves.append(MayLeave(code, _PARAGRAPH, f"{code} need not be printed on 125 ml and less."))
    return tuple(leaves)


def _us(pack: Pack) -> tuple[MayLeave, ...]:
    volume = pack.volume_ml or Decimal(0)
    if volume > US_ML or pack.fold_out_possible:
        return ()
    leaves = [
        MayLeave(
            "hazard and precautionary statements",
            "29 CFR 1910.1200(f)(12)(ii)",
            "On 100 ml and less, where no fold-out, pull-out or tag will do: product identifier, "
            "pictograms, signal word, maker "
            "and telephone, and that the whole label is on the outer package.",
        )
    ]
    if volume <= US_TINY_ML and pack.label_hinders_use:
        leaves.append(
            MayLeave(
                "everything but the product identifier",
                "29 CFR 1910.1200(f)(12)(iii)",
                "On 3 ml and less, where any label hinders the use: the product identifier alone, "
                "on the container itself.",
            )
        )
    return tuple(leaves)
