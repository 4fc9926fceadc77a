"""What the figures of a film mean at the bench, in words.

Doors: actions/judge_film.py, web/api/calc_film.py.

The bounds are rough house readings: a film changes over a stretch, not at a line, and nobody published bounds
for stains. They say nothing about hazards.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from service.core.film import Film
from service.core.film_ranges import Span

UNDER_BOUND: Final = "under-bound: rubs off"
AT_LIMIT: Final = "about at its limit"
WELL_BOUND: Final = "well bound"
OILY: Final = "oily"
NO_PIGMENT: Final = "no pigment in it"
NO_BINDER: Final = "no binder in it: rubs off"
NOTHING_STAYS: Final = "nothing stays: it all evaporates"
_WORDS: Final = ((0.2, OILY), (0.9, WELL_BOUND), (1.1, AT_LIMIT), (float("inf"), UNDER_BOUND))
"""By PVC over CPVC, below each bound. A tube colour lies about at 1; a usual oil stain near 0.3."""
_LOADING: Final = (
    (0.0, "no pigment: clear, coloured at most by a dye or the oil"),
    (3.0, "a tint: the grain shows clearly"),
    (10.0, "a usual stain: the grain shows through"),
    (25.0, "a strong stain: the grain is softened"),
    (float("inf"), "near a paint: it may hide the grain"),
)
ROUGH: Final = (
    "A rough house reading by the share of pigment alone, not a measurement: earths and clear oxides hide "
    "less, whites and blacks more, and wiping takes most of it off. Try it on a board."
)


def reading_of(film: Film) -> str | None:
    """How the pigment is held; both ends where they differ; ``None`` where it is not known.

    >>> from service.core.film import FilmPart, film_of
    >>> half = (50, 50)
    >>> paste = FilmPart("umber", (1, 1), half, half, (3.2, 3.2), (0.93, 0.93), oil_absorption=(40, 40))
    >>> reading_of(film_of([paste]))
    'well bound'
    """
    if film.pigment_g[1] == 0:
        return (
            NOTHING_STAYS if film.binder_g[1] == 0 and film.mass_solids_percent == (0.0, 0.0) else NO_PIGMENT
        )
    if film.binder_g[1] == 0:
        return NO_BINDER
    return None if film.reduced_pvc is None else _both(film.reduced_pvc, _held)


def loading_of(film: Film) -> str | None:
    """What the share of pigment means for seeing the grain; ``None`` where it is not known."""
    return None if film.pigment_mass_percent is None else _both(film.pigment_mass_percent, _shows)


def _held(reduced: float) -> str:
    return next(words for bound, words in _WORDS if reduced < bound or bound == float("inf"))


def _shows(percent: float) -> str:
    return next(words for bound, words in _LOADING if percent <= bound)


def _both(span: Span, words: Callable[[float], str]) -> str:
    low, high = words(span[0]), words(span[1])
    return low if low == high else f"{low} to {high}"
