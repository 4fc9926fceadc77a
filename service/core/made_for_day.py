"""How much of a planned day its finished batch really made, and what of the day is still to be made.

Doors: actions/made_for_days.py.

A batch may end with a tenth of what its day asks for, or its jars may be thrown away before the day. What
nobody measured, or nobody said where it went before the day, is never counted as there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

SLIP: Final = Fraction(1, 100)
"""A hundredth of a day may be a slip of the scale."""


@dataclass(frozen=True)
class JarForDay:
    """A jar of the batch, in smallest units: ``free`` is in it and promised to nobody, ``drawn`` was taken
    out for work. ``why_not``: what is in it does not serve the day, and why; so of an amount nobody knows."""

    container_id: int
    code: str
    free: int
    drawn: int = 0
    why_not: str = ""

    @property
    def counts(self) -> int:
        """What of it still stands there for the day."""
        return 0 if self.why_not else self.free


@dataclass(frozen=True)
class MadeForDay:
    """What a finished batch made, in smallest units of its mix.

    Args:
        made: in all, in jars or not; None = nobody measured it.
        filled: what its jars were filled with; None = not known.
        used: whether what is in no jar went onto the work of the day, for all that anybody said.
        jars: those jars, and what was poured from them into others.
    """

    made: int | None
    filled: int | None
    used: bool
    jars: tuple[JarForDay, ...] = ()

    @property
    def there(self) -> Fraction | None:
        """What of it serves the day; None: nobody can say.

        >>> MadeForDay(600, 100, False, (JarForDay(1, "R4F34T", 90, 10),)).there
        Fraction(100, 1)
        >>> MadeForDay(600, 100, True, (JarForDay(1, "R4F34T", 90, 10),)).there
        Fraction(600, 1)
        """
        if self.made is None and self.used and not self.jars:
            return None
        in_jars = sum(jar.drawn + jar.counts for jar in self.jars)
        if self.filled is not None:
            in_jars = min(in_jars, self.filled)  # a jar topped up from elsewhere
        beside = 0
        if self.used and self.made is not None and self.filled is not None:
            beside = max(0, self.made - self.filled)
        return Fraction(in_jars + beside)

    def kept(self, planned: Fraction) -> dict[int, int]:
        """What of each jar, by its number, is for a day that asks for so much; no other job may count it.

        >>> MadeForDay(600, 600, False, (JarForDay(1, "R4F34T", 400), JarForDay(2, "R4F34U", 200))).kept(
        ...     Fraction(500)
        ... )
        {1: 400, 2: 100}
        """
        left = planned - sum(jar.drawn for jar in self.jars)
        found: dict[int, int] = {}
        for jar in self.jars:
            much = min(jar.counts, max(0, -(-left.numerator // left.denominator)))
            if much:
                found[jar.container_id] = much
                left -= much
        return found


def share_to_make(planned: Fraction, at_least: Fraction, there: Fraction) -> Fraction:
    """What share of a day is still to be made: ``planned`` with its spare, ``at_least`` without.

    Nothing where all that people get is there: the spare is for what stays in the pot.

    >>> share_to_make(Fraction(660), Fraction(600), Fraction(100))
    Fraction(28, 33)
    >>> share_to_make(Fraction(66), Fraction(60), Fraction(60))
    Fraction(0, 1)
    """
    if there >= min(at_least, planned * (1 - SLIP)):
        return Fraction(0)
    return 1 - there / planned


def lacks_by_what_went_in(
    wanted: Mapping[int, int | None], put_in: Mapping[int, int]
) -> dict[int, int | None]:
    """What a day takes beyond what went into its batch, where nobody measured what that made.

    What is "to suit" is lacking where something measured is, and then nobody knows how much.

    >>> lacks_by_what_went_in({1: 600, 2: None}, {1: 100}), lacks_by_what_went_in({1: 600, 2: None}, {1: 598})
    ({1: 500, 2: None}, {})
    """
    found: dict[int, int | None] = {}
    for number, amount in wanted.items():
        if amount is not None and put_in.get(number, 0) < amount * (1 - SLIP):
            found[number] = amount - put_in.get(number, 0)
    if found:
        found |= {number: None for number, amount in wanted.items() if amount is None}
    return found
