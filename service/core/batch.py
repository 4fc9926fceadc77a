"""The balance of one batch: what went in, what came out, and what is not explained.

Doors: actions/finish_batch.py, web/pages/bench.py, web/api/batches.py.

Mass is kept; volume is not quite (liquids shrink a little when mixed, powder fills gaps). Mass and volume
meet only through a density, so where one is missing the balance says which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor

from service.core.findings import Finding, note, unknown, warn
from service.core.materials import Basis
from service.core.quantities import show_amount


@dataclass(frozen=True)
class Part:
    """One thing that went in or came out. ``amount`` None = not known; ``density_g_ml`` None = not known.

    The density is that by which its own mass and volume meet (a loose one for powders).
    """

    name: str
    amount: int | None
    basis: Basis
    density_g_ml: Decimal | None = None


@dataclass(frozen=True)
class BatchBalance:
    """``difference`` is in minus out in whole smallest units of ``basis``; None where it cannot be told."""

    went_in: tuple[str, ...]
    came_out: tuple[str, ...]
    basis: Basis | None
    difference: int | None
    findings: tuple[Finding, ...]


def balance(
    went_in: Sequence[Part], came_out: Sequence[Part], *, loss_explained: bool = False
) -> BatchBalance:
    """Compare what went in with what came out, by mass where every density is known, else as far as it
    goes.

    >>> oil = Part("boiled oil", 400_000, Basis.VOLUME)
    >>> jar = Part("jar", 390_000, Basis.VOLUME)
    >>> balance([oil], [jar]).difference
    10000
    >>> balance([Part("umber", 5000, Basis.MASS), oil], [jar]).difference is None
    True
    """
    words = [tuple(_sums(side)) for side in (went_in, came_out)]
    found = [
        unknown("amount-not-known", f"Nobody knows how much {part.name} it was.", about=part.name)
        for part in (*went_in, *came_out)
        if part.amount is None
    ]
    if found or not went_in or not came_out:
        if not came_out:
            found.append(unknown("yield-not-known", "How much it made was not measured."))
        return BatchBalance(words[0], words[1], None, None, tuple(found))
    bases = {part.basis for part in (*went_in, *came_out)}
    if len(bases) == 1:
        return _told(words, went_in, came_out, next(iter(bases)), loss_explained)
    lacking = [p for p in (*went_in, *came_out) if p.basis is not Basis.MASS and _mass(p) is None]
    if lacking:
        return BatchBalance(words[0], words[1], None, None, tuple(_no_density(p) for p in lacking))
    masses = [[Part(p.name, _mass(p), Basis.MASS) for p in side] for side in (went_in, came_out)]
    return _told(words, masses[0], masses[1], Basis.MASS, loss_explained)


def _told(
    words: Sequence[tuple[str, ...]],
    went_in: Sequence[Part],
    came_out: Sequence[Part],
    basis: Basis,
    loss_explained: bool,
) -> BatchBalance:
    put_in, made = (sum(p.amount or 0 for p in side) for side in (went_in, came_out))
    difference = put_in - made
    found: list[Finding] = []
    if basis is Basis.VOLUME:
        found.append(
            note("volumes-do-not-add", "Volumes do not add up exactly: liquids shrink a little when mixed.")
        )
    if difference < 0:
        more = show_amount(-difference, basis)
        sentence = f"{more} more came out than went in. Look for an addition nobody wrote."
        found.append(warn("more-came-out", sentence))
    elif difference > 0 and not loss_explained:
        left = show_amount(difference, basis)
        sentence = f"Where {left} went is not explained. Write it down: pot, strainer, sample."
        found.append(warn("not-explained", sentence))
    return BatchBalance(words[0], words[1], basis, difference, tuple(found))


def _mass(part: Part) -> int | None:
    if part.basis is Basis.MASS:
        return part.amount
    if part.basis is Basis.PIECES or part.density_g_ml is None or part.amount is None:
        return None
    return floor(Fraction(part.amount) * Fraction(part.density_g_ml) + Fraction(1, 2))


def _no_density(part: Part) -> Finding:
    if part.basis is Basis.PIECES:
        sentence = f"What a piece of {part.name} weighs is not known, so what came out cannot be compared."
        return unknown("pieces-do-not-meet", sentence, about=part.name)
    sentence = (
        f"The density of {part.name} is not known, so what went in by weight and by volume cannot be "
        "compared with what came out. Weigh a known volume of it."
    )
    return unknown("density-not-known", sentence, about=part.name)


def _sums(parts: Sequence[Part]) -> list[str]:
    """ "250 g raw umber", one line each; the same thing twice is added up."""
    total: dict[tuple[str, Basis], int | None] = {}
    for part in parts:
        key = (part.name, part.basis)
        before = total.get(key, 0)
        total[key] = None if before is None or part.amount is None else before + part.amount
    return [
        f"{show_amount(amount, basis)} {name}" if amount is not None else f"{name}, amount not known"
        for (name, basis), amount in total.items()
    ]
