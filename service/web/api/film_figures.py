"""Figures of the film calculators as JSON: a number or a range in, a number, a range or null out."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from math import isfinite
from typing import Annotated, Final

from pydantic import Field

from service.core.film_ranges import Span
from service.core.findings import Invalid
from service.core.solvents.properties import GIVEN, DataUsed

Percent = Annotated[Decimal, Field(ge=0, le=100)]
MOST_PARTS: Final = 60
MOST_G: Final = 1_000_000_000.0
DENSITY: Final[Span] = (0.01, 25.0)
ABSORPTION: Final[Span] = (0.0, 1000.0)
Figure = float | list[float] | None
"""As the calls tell a figure: one number, lowest and highest, or null where it is not known."""


def span_of(
    value: Decimal | list[Decimal] | None, field: str, within: Span, *, about: str = ""
) -> Span | None:
    """What was sent as lowest and highest, both inside ``within``.

    Raises Invalid, naming the field, for ends in the wrong order and for what lies outside.
    """
    if value is None:
        return None
    low, high = (float(value[0]), float(value[1])) if isinstance(value, list) else (float(value),) * 2
    where = f"{about}: {field}" if about else field
    if low > high:
        words = f"{where}: write the lower end of a range first, like [3, 7]."
        raise Invalid(words, {field: words})
    if low < within[0] or high > within[1]:
        words = f"{where}: send a number between {within[0]:.12g} and {within[1]:.12g}."
        raise Invalid(words, {field: words})
    return low, high


def told(span: Span | None) -> Figure:
    """Nine figures; a range that is one number by then is one number."""
    if span is None:
        return None
    low, high = (float(f"{end:.9g}") if isfinite(end) else end for end in span)
    return low if low == high else [low, high]


def given(name: str) -> Callable[[str, Span | None, str], list[DataUsed]]:
    """A maker of ``data_used`` rows for what was sent about one thing."""

    def row(figure: str, span: Span | None, unit: str) -> list[DataUsed]:
        if span is None:
            return []
        low, high = span
        value: float | str = low if low == high else f"{low:g} to {high:g}"
        return [DataUsed(name, figure, value, unit, GIVEN, GIVEN)]

    return row
