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
from typing import Final

from service.core.findings import Finding, note, unknown, warn
from service.core.materials import Basis
from service.core.quantities import show_amount

_SLIPS: Final = 100
"""Where the loss was measured, a hundredth of what went in may be a slip of the scale (our own figure)."""


_SLIP_PERCENT: Final = 5
_BY_EYE_PERCENT: Final = 20
"""By how much more may seem to come out than went in: measured, and judged by eye (our own figures)."""
_SMALLEST_SLIP: Final = 500


def most_made(went_in: int, *, estimated: bool = False) -> int:
    """The most that may be told as made of what went in, in smallest units: mass is kept, measures slip.

    >>> most_made(100_000), most_made(100_000, estimated=True), most_made(1000)
    (105000, 120000, 1500)
    """
    percent = _BY_EYE_PERCENT if estimated else _SLIP_PERCENT
    return went_in + (max(went_in * percent // 100, _SMALLEST_SLIP) if went_in else 0)


@dataclass(frozen=True)
class Part:
    """One thing that went in or came out. ``amount`` None = not known; ``density_g_ml`` None = not known.

    The density is that by which its own mass and volume meet (a loose one for powders).
    """

    name: str
    amount: int | None
    basis: Basis
    density_g_ml: Decimal | None = None
    room_ul: int | None = None
    """What room it takes in the mix, in whole microlitres: grains without the air between them."""


@dataclass(frozen=True)
class BatchBalance:
    """``difference`` is in minus out in whole smallest units of ``basis``; None where it cannot be told.

    ``lost`` is what was recorded as lost, ``unexplained`` what of the difference that leaves; both in the
    same units, None where they cannot be told. ``lost_words`` is the loss as people read it, empty for none.
    """

    went_in: tuple[str, ...]
    came_out: tuple[str, ...]
    basis: Basis | None
    difference: int | None
    findings: tuple[Finding, ...]
    lost_words: str = ""
    lost: int | None = None
    unexplained: int | None = None

    @property
    def sentence(self) -> str:
        """In = out + recorded loss + what is not explained; empty where it cannot be told.

        >>> told = balance([Part("oil", 520_000, Basis.MASS)], [Part("jar", 500_000, Basis.MASS)],
        ...                loss=Part("loss", 15_000, Basis.MASS))
        >>> told.sentence
        '20 g less came out than went in = 15 g recorded as lost + 5 g not explained.'
        """
        if self.difference is None or self.basis is None or self.unexplained is None:
            return ""
        rest = self.unexplained
        if self.difference == 0:
            said = "As much came out as went in"
        else:
            way = "less" if self.difference > 0 else "more"
            said = f"{show_amount(abs(self.difference), self.basis)} {way} came out than went in"
        if self.lost is None:
            return f"{said}; no loss was measured."
        if self.difference == 0 and self.lost == 0:
            return f"{said}, and nothing was lost."
        said += f" = {show_amount(self.lost, self.basis)} recorded as lost"
        sign = "+" if rest >= 0 else "−"
        return f"{said} {sign} {show_amount(abs(rest), self.basis)} not explained."


def balance(
    went_in: Sequence[Part],
    came_out: Sequence[Part],
    *,
    loss_explained: bool = False,
    loss: Part | None = None,
    words: tuple[str, ...] | None = None,
) -> BatchBalance:
    """Compare what went in with what came out and was recorded as lost, by mass where every density is known,
    else as far as it goes.

    Args:
        loss_explained: somebody said in words where the rest went.
        loss: how much of the mix was measured as lost; None = not measured, never nothing.
        words: what went in, as people read it, where ``went_in`` is only what room it takes.

    >>> oil = Part("boiled oil", 400_000, Basis.VOLUME)
    >>> jar = Part("jar", 390_000, Basis.VOLUME)
    >>> balance([oil], [jar]).difference
    10000
    >>> balance([Part("umber", 5000, Basis.MASS), oil], [jar]).difference is None
    True
    >>> grains = Part("umber", 5000, Basis.MASS, room_ul=1500)
    >>> oil = Part("boiled oil", 400_000, Basis.VOLUME, room_ul=400_000)
    >>> balance([grains, oil], [jar]).difference
    11500
    """
    said = [tuple(_sums(side)) for side in (went_in, came_out)]
    if words is not None:
        said[0] = words
    lost = [loss] if loss is not None else []
    lost_words = _sums([loss])[0] if loss is not None else ""
    everything = (*went_in, *came_out, *lost)
    found = [
        unknown("amount-not-known", f"Nobody knows how much {part.name} it was.", about=part.name)
        for part in everything
        if part.amount is None
    ]
    if found or not went_in or not came_out:
        if not came_out:
            found.append(unknown("yield-not-known", "How much it made was not measured."))
        return BatchBalance(said[0], said[1], None, None, tuple(found), lost_words)
    bases = {part.basis for part in everything}
    basis = next(iter(bases)) if len(bases) == 1 else Basis.MASS
    if len(bases) > 1:
        lacking = [p for p in everything if p.basis is not Basis.MASS and mass_of(p) is None]
        by_room = _by_room(went_in, came_out, lost) if lacking else None
        if by_room is not None:
            return balance(by_room, came_out, loss_explained=loss_explained, loss=loss, words=said[0])
        if lacking:
            findings = tuple(_no_density(p) for p in lacking)
            return BatchBalance(said[0], said[1], None, None, tuple(dict.fromkeys(findings)), lost_words)
    put_in, made, gone = (
        sum((p.amount if len(bases) == 1 else mass_of(p)) or 0 for p in side)
        for side in (went_in, came_out, lost)
    )
    rest = put_in - made - gone
    found = _judged(put_in, put_in - made, rest, basis, loss_explained, loss is not None)
    return BatchBalance(
        said[0],
        said[1],
        basis,
        put_in - made,
        tuple(found),
        lost_words,
        gone if loss is not None else None,
        rest,
    )


def _by_room(
    went_in: Sequence[Part], came_out: Sequence[Part], lost: Sequence[Part]
) -> list[Part] | None:
    """What went in as the room it takes, where what came out was told by volume; None: not known of all."""
    if any(part.basis is not Basis.VOLUME for part in (*came_out, *lost)):
        return None
    if any(part.room_ul is None for part in went_in):
        return None
    return [Part(part.name, part.room_ul, Basis.VOLUME) for part in went_in]


def _judged(
    put_in: int, difference: int, rest: int, basis: Basis, loss_explained: bool, measured: bool
) -> list[Finding]:
    found: list[Finding] = []
    if basis is Basis.VOLUME:
        found.append(
            note("volumes-do-not-add", "Volumes do not add up exactly: liquids shrink a little when mixed.")
        )
    if difference < 0:
        more = show_amount(-difference, basis)
        sentence = f"{more} more came out than went in. Look for an addition nobody wrote."
        found.append(warn("more-came-out", sentence))
    elif rest < 0:
        more = show_amount(-rest, basis)
        sentence = f"{more} more is recorded as lost than is missing. Look at the amounts again."
        found.append(warn("more-lost-than-missing", sentence))
    elif rest > (put_in // _SLIPS if measured else 0) and (measured or not loss_explained):
        left = show_amount(rest, basis)
        sentence = f"Where {left} went is not explained. Write it down: pot, strainer, sample."
        found.append(warn("not-explained", sentence))
    return found


def mass_of(part: Part) -> int | None:
    """What a part weighs in whole mg, half a milligram up; None where amount or density is not known.

    >>> mass_of(Part("oil", 1000, Basis.VOLUME, Decimal("0.93")))
    930
    """
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
