"""How readily a solid goes into the air: low, medium or high dustiness, by what it looks like.

Doors: core/hazards/ventilation_class.py, actions/judge_ventilation.py, web/api/calc_ventilation.py.

Source: the three descriptions and PVC pellets, soap powder, carbon black and chalk dust are the ILO toolkit's
(read); the shop's materials are this program's own.
"""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Final

from service.core.hazards.ventilation_reasons import ILO, OURS, About, Reason
from service.core.sources import Provenance


class Dustiness(StrEnum):
    """Low: pellets that do not break up. Medium: grains, the dust settles soon. High: fine powder, clouds
    stay in the air for minutes."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


_READ: Final = {
    "pvc pellets": Dustiness.LOW,
    "soap powder": Dustiness.MEDIUM,
    "carbon black": Dustiness.HIGH,
    "chalk dust": Dustiness.HIGH,
}
_OWN: Final = {
    **dict.fromkeys(
        ("shellac flakes", "dammar", "mastic", "beeswax pellets", "rabbit skin glue", "colophony lumps"),
        Dustiness.LOW,
    ),
    **dict.fromkeys(("borax", "alum", "soda crystals", "washing soda"), Dustiness.MEDIUM),
    **dict.fromkeys(
        ("pigment", "whiting", "chalk", "kaolin", "china clay", "bole", "bronze powder", "metal powder",
         "pumice", "rottenstone", "tripoli", "talc", "plaster"),
        Dustiness.HIGH,
    ),
}  # fmt: skip
# Ground or powdered, everything is as dusty as a powder, whatever it is in lumps.
_FINE: Final = re.compile(r"\b(powder(ed)?|ground|dust|fine|flour|milled|crushed)\b")


def dustiness_of(name: str) -> tuple[Dustiness, Reason] | None:
    """The dustiness of a solid by its name; None for a name that says nothing.

    >>> dustiness_of("Shellac flakes, blond")[0].value, dustiness_of("shellac flakes, ground")[0].value
    ('low', 'high')
    """
    plain = " ".join(re.sub(r"[^a-z0-9]+", " ", name.casefold()).split())
    if plain in _READ:
        return _READ[plain], _reason(name, _READ[plain], ILO, Provenance.READ)
    met = [band for word, band in _OWN.items() if re.search(rf"\b{word}s?\b", plain)]
    if _FINE.search(plain):
        met.append(Dustiness.HIGH)
    if not met:
        return None
    worst = max(met, key=list(Dustiness).index)
    return worst, _reason(name, worst, OURS, Provenance.DERIVED)


def _reason(name: str, band: Dustiness, source: str, grade: Provenance) -> Reason:
    return Reason(
        About.DUSTINESS,
        f"{name}: {band.value} dustiness.",
        source,
        grade,
        component=name,
        criterion="dustiness",
    )
