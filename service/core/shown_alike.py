"""One unit for all amounts of one material on a page or in a table, and how they are rounded there.

Doors: actions/look_at_term.py, actions/waiting_batches.py, web/plan_amounts.py.

"0.3629 l" beside "282.9 ml" of the same oil is read as more.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from math import ceil, floor
from typing import Final

from service.core.materials import Basis
from service.core.quantities import UNITS, show_amount

_METRIC: Final = {Basis.MASS: ("kg", "g", "mg"), Basis.VOLUME: ("l", "ml"), Basis.PIECES: ("piece",)}
_MOST: Final = 10_000
"""From so many of a unit on a larger one is read more easily."""


def one_unit(written: Iterable[str], basis: Basis | None, amounts: Iterable[int | None] = ()) -> str:
    """The key of the unit in which all ``amounts`` (smallest units) of one material are shown.

    The unit the bench ``written`` for it (keys; others than of the basis are passed over); of several metric
    ones the smallest; where that would be ten thousand of it or more, or nobody wrote one, the largest metric
    unit of which the largest amount is at least one. Empty: each amount as it reads by itself, as of US
    measures.

    >>> one_unit(["l", "ml"], Basis.VOLUME, [362_857]), one_unit([], Basis.VOLUME, [2_000_000, 300_000])
    ('ml', 'l')
    >>> one_unit(["ml"], Basis.VOLUME, [40_000_000]), one_unit([], Basis.VOLUME, [18_927_059, 5000])
    ('l', '')
    """
    if basis is None:
        return ""
    known = [UNITS[key] for key in set(written) if key in UNITS]
    kept = [unit for unit in known if unit.basis is basis and not unit.rough]
    sizes = [abs(one) for one in amounts if one]
    metric = _METRIC[basis]
    if len(kept) == 1 or (kept and all(unit.key in metric for unit in kept)):
        least = min(kept, key=lambda unit: unit.factor)
        if max(sizes, default=0) < _MOST * least.factor:
            return least.key
    if not sizes or any(" US " in show_amount(size, basis) for size in sizes):
        return ""
    return next((key for key in metric if max(sizes) >= UNITS[key].factor), metric[-1])


def shown_alike(smallest: int, basis: Basis, unit: str = "", *, down: bool = False) -> str:
    """An amount to four figures, rounded up (``down``: rounded down) in the unit of `one_unit`.

    A US or imperial measure is as it was written: a figure rounded on the way would be another amount.

    >>> shown_alike(282_857, Basis.VOLUME, "ml"), shown_alike(282_857, Basis.VOLUME, "l", down=True)
    ('282.9 ml', '0.2828 l')
    >>> shown_alike(18_927_059, Basis.VOLUME), shown_alike(2_365_882, Basis.VOLUME, "us-pint")
    ('5 US gal', '5 US pints')
    """
    key = unit or None
    told = show_amount(smallest, basis, key)
    measured = unit not in _METRIC[basis] if unit else " US " in told
    step = 1 if basis is Basis.PIECES or measured else 10 ** max(0, len(str(abs(smallest))) - 4)
    whole = floor(Fraction(smallest, step)) if down else ceil(Fraction(smallest, step))
    return show_amount(whole * step, basis, key)
