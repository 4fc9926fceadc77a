"""How the shares of a recipe's materials scatter from batch to batch.

Doors: actions/look_at_scatter.py, web/pages/recipe_batches.py.

Only batches of which every amount is known give a figure; the others are named with what keeps them out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median

from service.core.as_made import MadeLine, Stuff, mass_of_line
from service.core.materials import Basis


@dataclass(frozen=True)
class MadeBatch:
    """One batch: its number and its lines; ``why_not`` says what keeps it out of the figures, if anything."""

    number: int
    lines: tuple[MadeLine, ...]
    why_not: str = ""


@dataclass(frozen=True)
class Spread:
    """One material: its share of the whole in each batch, 0 to 1, 0 where a counted batch has none of it.

    ``went_in`` is the number of counted batches with any of it.
    """

    material_id: int
    name: str
    shares: tuple[tuple[int, Fraction], ...]
    low: Fraction
    middle: Fraction
    high: Fraction
    went_in: int


@dataclass(frozen=True)
class Scatter:
    """``by`` is what the shares are measured by; None where no batch counts."""

    by: Basis | None
    counted: tuple[int, ...]
    left_out: tuple[tuple[int, str], ...]
    spreads: tuple[Spread, ...]


def scatter(batches: Sequence[MadeBatch], stuff: Mapping[int, Stuff]) -> Scatter:
    """Low, median and high share of each material over the batches that are known in full.

    By volume where everything in all of them is a liquid counted by volume, else by mass. The median of an
    even number is the middle of the two in the middle.

    >>> known = {1: Stuff("oil", liquid=True), 2: Stuff("spirit", liquid=True)}
    >>> pair = lambda n, a, b: MadeBatch(n, (MadeLine(1, Basis.VOLUME, a), MadeLine(2, Basis.VOLUME, b)))
    >>> done = scatter([pair(1, 1, 1), pair(2, 3, 1)], known)
    >>> done.by.value, done.spreads[0].low, done.spreads[0].middle, done.spreads[0].high
    ('volume', Fraction(1, 2), Fraction(5, 8), Fraction(3, 4))
    """
    asked = [(one, one.why_not or _why_not(one, stuff)) for one in batches]
    left_out = [(one.number, why) for one, why in asked if why]
    able = [one for one, why in asked if not why]
    liquid = all(
        line.basis is Basis.VOLUME and stuff[line.material_id].liquid for one in able for line in one.lines
    )
    counted: list[tuple[int, dict[int, Fraction]]] = []
    for one in able:
        shares, lacking = _shares(one, stuff, by_volume=liquid)
        if lacking:
            left_out.append((one.number, f"What {lacking} weighs is not known."))
        else:
            counted.append((one.number, shares))
    if not counted:
        return Scatter(None, (), tuple(sorted(left_out)), ())
    order = list(dict.fromkeys(material for _, shares in counted for material in shares))
    return Scatter(
        Basis.VOLUME if liquid else Basis.MASS,
        tuple(number for number, _ in counted),
        tuple(sorted(left_out)),
        tuple(_spread(material, stuff[material].name, counted) for material in order),
    )


def _why_not(one: MadeBatch, stuff: Mapping[int, Stuff]) -> str:
    if not one.lines:
        return "Nothing is written down that went into it."
    for line in one.lines:
        name = stuff[line.material_id].name
        if line.unmeasured or line.basis is None:
            return f"Nobody measured how much {name} went in."
        if line.basis is Basis.PIECES:
            return f"{name} is counted in pieces."
    return ""


def _shares(
    one: MadeBatch, stuff: Mapping[int, Stuff], *, by_volume: bool
) -> tuple[dict[int, Fraction], str]:
    """Shares by material, or the name of the first whose mass is not known."""
    sizes: dict[int, int] = {}
    for line in one.lines:
        size = line.amount if by_volume else mass_of_line(line, stuff[line.material_id])
        if size is None:
            return {}, stuff[line.material_id].name
        sizes[line.material_id] = sizes.get(line.material_id, 0) + size
    whole = sum(sizes.values())
    if whole <= 0:
        return {}, "all of it"
    return {material: Fraction(size, whole) for material, size in sizes.items()}, ""


def _spread(material: int, name: str, counted: Sequence[tuple[int, dict[int, Fraction]]]) -> Spread:
    shares = tuple((number, shares.get(material, Fraction(0))) for number, shares in counted)
    plain = [share for _, share in shares]
    return Spread(
        material, name, shares, min(plain), Fraction(median(plain)), max(plain),
        sum(1 for share in plain if share),
    )  # fmt: skip
