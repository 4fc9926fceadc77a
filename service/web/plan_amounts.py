"""Amounts as the pages of a plan show them: of one material in one unit, a need up, what is there down."""

from __future__ import annotations

from service.actions.look_at_term import TermOutlook
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.core.shown_alike import shown_alike
from service.core.whole_need import show_pack
from service.web.render import HARD


def amount(smallest: int | None, basis: Basis | None, unit: str = "", *, down: bool = False) -> str:
    """An amount of the plan to four figures, rounded up; ``down``: of what is there, or left. Without a basis
    nothing can be said.

    >>> amount(2_280_404, Basis.VOLUME).replace(HARD, " "), amount(None, Basis.MASS)
    ('2.281 l', 'not known')
    >>> amount(2_280_404, Basis.VOLUME, down=True).replace(HARD, " ")
    '2.28 l'
    """
    if basis is None or smallest is None:
        return "not known"
    return shown_alike(smallest, basis, unit, down=down).replace(" ", HARD)


def exact(smallest: int | None, basis: Basis | None) -> str:
    """An amount to the last figure, as of a pack."""
    return "not known" if basis is None else show_amount(smallest, basis).replace(" ", HARD)


def pack(each: int, basis: Basis, written: str) -> str:
    """What is in one pack, in the measure in which it was written down."""
    return show_pack(each, basis, written).replace(" ", HARD)


def packs(count: int, each: str) -> str:
    """So many packs, in one piece: "1 × 1 l" broken before its unit reads as one time one.

    >>> packs(2, "1 US pint").replace(HARD, " ")
    '2 × 1 US pint'
    """
    return f"{count} × {each}".replace(" ", HARD)


def least_words(look: TermOutlook, material_id: int) -> str:
    """The least of a material that is to be left on the shelf, and which plan asks for it."""
    least = look.bought[material_id].minimum
    if not least:
        return "none asked"
    much = amount(least, look.bought[material_id].basis, look.unit(material_id))
    if look.least_in is None:
        return f"{much}; no plan asks for it, as every term is over"
    if look.least_in.id == look.term.id:
        return much
    return f"{much}; the plan of {look.least_in.name} asks for it"


def span(low: int | None, high: int | None, basis: Basis | None, unit: str = "") -> str:
    """A range, of which the upper end counts."""
    if high is None or low is None or (high - low) * 100 <= high:
        return amount(high, basis, unit)
    return f"{amount(low, basis, unit, down=True)} to {amount(high, basis, unit)}"
