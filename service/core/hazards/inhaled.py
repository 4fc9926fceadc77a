"""In which form something is breathed in, and which of a substance's classes speaks of that form.

Doors: core/hazards/acute.py.

Sources: UN GHS 3.1.3.2 and CLP Annex I 3.1.3.2 (one physical form). That of a form nobody told the worse of
vapour and mist counts, but of a flammable liquid the vapour, is our own reading.
"""

from __future__ import annotations

from service.core.hazards.classes import INHALED, Family, Route
from service.core.hazards.lines import Line
from service.core.hazards.mix import Mix, MixForm


def breathed(mix: Mix) -> Route:
    """The form in which a mix is breathed: dust or mist of a solid and of what is sprayed, else vapour."""
    return Route.DUST_MIST if mix.form is MixForm.SOLID or mix.sprayed else Route.VAPOUR


def speaks_of(line: Line, said: Route | None, route: Route, mix: Mix) -> bool:
    """Whether a class with this route counts by that one.

    A class by inhalation without a form is a vapour in a liquid, dust in a solid; what is sprayed is all
    mist. In a liquid it is mist as well, unless it is a flammable liquid, which gives off vapour.
    """
    if said is route:
        return True
    if said not in INHALED or route not in INHALED:
        return False
    if mix.sprayed and route is Route.DUST_MIST:
        return True
    if said is not Route.INHALATION:
        return False
    if route is breathed(mix):
        return True
    return route is Route.DUST_MIST and Family.FLAMMABLE_LIQUID not in line.classes and not only_vapour(line)


def only_vapour(line: Line) -> bool:
    """Whether what else is told of it leaves only the vapour: an estimate for it, or "not toxic" as mist."""
    one = line.ingredient
    told = Route.VAPOUR in one.ate or Route.DUST_MIST in one.not_acutely_toxic
    return told and Route.DUST_MIST not in one.ate
