"""Shellac by the pound cut: pounds of flakes to one US gallon of alcohol (not of the finished liquid).

Doors: web/api/calc_cut.py.

Dissolved flakes take room: 0.1 US gal for each pound (a woodworking magazine's chart: 2 lb in 1 gal makes
1.2). The trade shortcut leaves that out and thins a cut a to b with a/b - 1 parts: about 30 % more alcohol.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

GAL_PER_LB: Final = 0.1
G_PER_LB: Final = 453.59237
ML_PER_GAL: Final = 3785.411784


class Convention(StrEnum):
    """Whether the room that dissolved flakes take is counted."""

    DISPLACEMENT = "displacement"
    SHORTCUT = "shortcut"


def cut_of(flakes_g: float, alcohol_ml: float) -> float:
    """The cut, lb per US gal of alcohol.

    >>> round(cut_of(453.59237, 3785.411784 / 2), 6)
    2.0
    """
    return (flakes_g / G_PER_LB) / (alcohol_ml / ML_PER_GAL)


def flakes_for(cut: float, alcohol_ml: float) -> float:
    """Grams of flakes for a cut in so much alcohol.

    >>> round(flakes_for(2.5, 236.5882365) / 28.349523125, 4)
    2.5
    """
    return cut * G_PER_LB * alcohol_ml / ML_PER_GAL


def alcohol_for(cut: float, flakes_g: float) -> float:
    """Millilitres of alcohol that make a cut of so many flakes; ``cut`` above nothing."""
    return flakes_g / G_PER_LB / cut * ML_PER_GAL


def volume_of(flakes_g: float, alcohol_ml: float, convention: Convention = Convention.DISPLACEMENT) -> float:
    """Millilitres of the result.

    >>> round(volume_of(3 * 453.59237, 3785.411784) / 3785.411784, 6)
    1.3
    """
    room = GAL_PER_LB * ML_PER_GAL * flakes_g / G_PER_LB
    return alcohol_ml + (room if convention is Convention.DISPLACEMENT else 0.0)


def thin(from_cut: float, to_cut: float, convention: Convention = Convention.DISPLACEMENT) -> float:
    """Parts of alcohol by volume to one part of the stronger solution; ``from_cut`` at least ``to_cut`` > 0.

    >>> round(thin(3, 1), 3), thin(3, 1, Convention.SHORTCUT)
    (1.538, 2.0)
    """
    parts = from_cut / to_cut - 1
    return parts / (1 + GAL_PER_LB * from_cut) if convention is Convention.DISPLACEMENT else parts


def solids_percent(cut: float, alcohol_g_ml: float) -> float:
    """Per cent by mass of flakes in a cut; moisture and wax of the flakes count as flakes.

    >>> round(solids_percent(2, 0.79))
    23
    """
    return 100 * cut * G_PER_LB / (cut * G_PER_LB + ML_PER_GAL * alcohol_g_ml)
