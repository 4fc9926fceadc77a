"""Drier as metal on binder: grams of metal to 100 g of what stays of the binder.

Doors: web/api/calc_film.py.

A drier's own strength stands on its label ("cobalt 6 %"). The ranges are from memory of trade practice and
are no rule; too much wrinkles, darkens and dries slower below the skin. Lead driers are not among them: they
are not to be used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.core.film_ranges import Span


@dataclass(frozen=True)
class Guidance:
    """Usual metal on binder, per cent, and what that drier does."""

    low: float
    high: float
    does: str
    grade: str = "memory"


GUIDANCE: Final[dict[str, Guidance]] = {
    "cobalt": Guidance(0.02, 0.08, "dries the surface; alone it wrinkles"),
    "manganese": Guidance(0.02, 0.08, "dries surface and depth; darkens"),
    "zirconium": Guidance(0.1, 0.4, "helps drying in depth; beside cobalt or manganese"),
    "calcium": Guidance(0.05, 0.2, "helps the others and keeps them working in the can"),
    "zinc": Guidance(0.05, 0.2, "slows the surface so that the depth follows"),
    "iron": Guidance(0.02, 0.1, "colours strongly; for stoving and dark colours"),
}


_CALLED: Final = {
    "co": "cobalt", "kobalt": "cobalt", "mn": "manganese", "zr": "zirconium", "ca": "calcium", "zn": "zinc",
    "fe": "iron", "pb": "lead",
}  # fmt: skip


def metal_named(text: str) -> str:
    """The metal meant, by its English name where it is one of the known ones or its sign.

    >>> metal_named(" Co "), metal_named("Lead"), metal_named("xyz")
    ('cobalt', 'lead', 'xyz')
    """
    plain = " ".join(text.casefold().split())
    return _CALLED.get(plain, plain)


@dataclass(frozen=True)
class Dosed:
    """One metal: per cent on binder, and whether it lies below, within or above its usual range.

    ``stands`` is ``None`` where the range lies across a bound or no guidance is held.
    """

    metal: str
    percent_on_binder: Span | None
    usual: Guidance | None
    stands: str | None


def metal_on_binder(drier_g: Span, metal_percent: float, binder_g: Span) -> Span | None:
    """Per cent of metal on the binder that stays; ``None`` without any binder.

    >>> metal_on_binder((1, 1), 6, (100, 100))
    (0.06, 0.06)
    """
    if binder_g[0] <= 0:
        return None
    return drier_g[0] * metal_percent / binder_g[1], drier_g[1] * metal_percent / binder_g[0]


def drier_for(percent_on_binder: float, metal_percent: float, binder_g: float) -> float:
    """Grams of drier that bring so much metal.

    >>> drier_for(0.06, 6, 100)
    1.0
    """
    return percent_on_binder * binder_g / metal_percent


def dosed(metal: str, added: Sequence[tuple[Span, float]], binder_g: Span) -> Dosed:
    """One metal over all driers that hold it; ``added`` are grams of drier with its metal per cent."""
    each = [metal_on_binder(mass, percent, binder_g) for mass, percent in added]
    told = [one for one in each if one is not None]
    whole = (sum(low for low, _ in told), sum(high for _, high in told)) if len(told) == len(each) else None
    usual = GUIDANCE.get(metal)
    return Dosed(metal, whole, usual, _stands(whole, usual) if whole and usual else None)


def _stands(whole: Span, usual: Guidance) -> str | None:
    ends = {
        "below" if end < usual.low * (1 - 1e-9) else "above" if end > usual.high * (1 + 1e-9) else "within"
        for end in whole
    }
    return ends.pop() if len(ends) == 1 else None
