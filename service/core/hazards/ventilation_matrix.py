"""The matrix of control banding: group, amount and readiness to go into the air give control approach 1 to 4.

Doors: core/hazards/ventilation_class.py, web/api/calc_ventilation.py, web/ventilation_view.py.

Source: COSHH essentials and the ILO toolkit, from memory; monotone in every direction, and checked against
the published outcomes that were read. Two cells (A medium high, C large medium volatility) are stricter than
the rule behind the table; they are kept. It is a literal table and is not worked out from anything.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from service.core.hazards.amount_band import AmountBand
from service.core.hazards.dustiness import Dustiness
from service.core.hazards.hazard_band import Group
from service.core.hazards.volatility import Volatility


class Column(StrEnum):
    """The columns of the matrix."""

    LOW = "low"
    MEDIUM_VOLATILITY = "medium volatility"
    MEDIUM_DUSTINESS = "medium dustiness"
    HIGH = "high"


CLASS_NAMES: Final = {1: "general", 2: "local_exhaust", 3: "containment", 4: "specialist"}
_S, _M, _L = AmountBand.SMALL, AmountBand.MEDIUM, AmountBand.LARGE
# In the order of Column.
MATRIX: Final[dict[Group, dict[AmountBand, tuple[int, int, int, int]]]] = {
    Group.A: {_S: (1, 1, 1, 1), _M: (1, 1, 1, 2), _L: (1, 1, 2, 2)},
    Group.B: {_S: (1, 1, 1, 1), _M: (1, 2, 2, 2), _L: (1, 2, 3, 3)},
    Group.C: {_S: (1, 2, 1, 2), _M: (2, 3, 3, 3), _L: (2, 4, 4, 4)},
    Group.D: {_S: (2, 3, 2, 3), _M: (3, 4, 4, 4), _L: (3, 4, 4, 4)},
    Group.E: {_S: (4, 4, 4, 4), _M: (4, 4, 4, 4), _L: (4, 4, 4, 4)},
}


def cell(group: Group, amount: AmountBand, column: Column) -> int:
    """The control approach of one cell.

    >>> cell(Group.D, AmountBand.SMALL, Column.MEDIUM_VOLATILITY)
    3
    """
    return MATRIX[group][amount][list(Column).index(column)]


def of_liquid(volatility: Volatility) -> Column:
    """The column of a volatility; what boils counts as high; the judge makes it specialist."""
    return {Volatility.LOW: Column.LOW, Volatility.MEDIUM: Column.MEDIUM_VOLATILITY}.get(
        volatility, Column.HIGH
    )


def of_solid(dustiness: Dustiness) -> Column:
    """The column of a dustiness."""
    return {Dustiness.LOW: Column.LOW, Dustiness.MEDIUM: Column.MEDIUM_DUSTINESS}.get(dustiness, Column.HIGH)
