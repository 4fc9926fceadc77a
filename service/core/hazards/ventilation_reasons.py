"""One reason of a ventilation class, and how well what it rests on is sourced.

Doors: core/hazards/ventilation_class.py and the files beside it, web/api/calc_ventilation.py.

The control-banding schemes were read in part only; rows written down from memory say so in every reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.sources import Provenance

HSE: Final = "HSE, COSHH essentials, 2017"
ILO: Final = "ILO International Chemical Control Toolkit, 2006"
GTZ: Final = "GTZ chemical-management training 2006, slide 118 (hazard groups of the ILO toolkit)"
OURS: Final = "Rule of this program, on the safe side; no scheme says it"


class About(StrEnum):
    """Which step of the banding a reason belongs to."""

    GROUP = "group"
    SKIN = "skin"
    VOLATILITY = "volatility"
    DUSTINESS = "dustiness"
    AMOUNT = "amount"
    TEMPERATURE = "temperature"
    MATRIX = "matrix"
    RULE = "rule"


@dataclass(frozen=True)
class Reason:
    """One step: the sentence a person reads and its parts.

    Args:
        statement: the driving H-, EUH- or R-code; component: of which component.
        criterion, value, unit: what was compared (``boiling_point`` in C, ``vapour_pressure`` in kPa, amount
            in l or kg).
        cell: the cell of the matrix, such as "C / small / medium volatility".
        grade: ``read``, ``memory`` or ``derived`` (own arithmetic or own rule).
    """

    about: About
    sentence: str
    source: str
    grade: Provenance
    statement: str = ""
    component: str = ""
    criterion: str = ""
    value: float | None = None
    unit: str = ""
    cell: str = ""
