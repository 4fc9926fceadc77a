"""What a recipe line and "how much to make" say: amounts, shares, "to suit", so many times, so much in all.

Doors: actions/write_recipe.py, actions/check_mix.py, actions/meet_amount.py, web/pages/recipes.py.

Parts and per cent are shares of what is made, by weight or by volume as the recipe says; never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from service.core.bench_numbers import unmistakable
from service.core.bench_writing import Ambiguous, as_written, read_figure, read_written
from service.core.findings import Finding, Invalid, Reading
from service.core.materials import Basis, Form
from service.core.quantities import Quantity, UnitSystem, plain
from service.core.recipe_coverage import Area, read_area

MOST_TIMES: Final = 10_000
_AT_MOST: Final = re.compile(
    r"(?:to suit|as needed|as required|to taste|q\.?\s?s\.?)\s*[,;:–-]?\s*"
    r"(?:at most|up to|not more than|no more than|max\.?|maximum)\s+(\S.*)",
    re.IGNORECASE,
)
_TIMES: Final = re.compile(r"(?P<figure>\S.*?)\s*(?:times|time|×|x)(?:\s+the\s+recipe)?\.?", re.IGNORECASE)
_BASE: Final = re.compile(r"(?P<amount>\S.*?)\s+(?:of\s+)?(?:the\s+)?base\.?", re.IGNORECASE)
_ROUGHLY: Final = re.compile(r"~|(?:about|approx|approximately|ca|circa|around|roughly)\b", re.IGNORECASE)
_BARE: Final = re.compile(r"[\d\s.,/¼½¾⅓⅔⅛]+")


def most_to_suit(text: str) -> str | None:
    """The upper amount of "to suit, at most 2 tsp", or None when the text says no such thing.

    >>> most_to_suit("to suit, at most 2 tsp"), most_to_suit("to suit"), most_to_suit("2 tsp")
    ('2 tsp', None, None)
    """
    found = _AT_MOST.fullmatch(" ".join(text.split()))
    return found[1] if found else None


@dataclass(frozen=True)
class HowMuch:
    """How much is to be made: so many ``times``, ``wanted`` in all, enough for an ``area``, or for so much of
    the recipes ``base``. One of the four is told; the last two come to one of the first by the recipe.

    ``written`` reads back to the same thing and to nothing else.
    """

    written: str
    times: Fraction | None = None
    wanted: Quantity | None = None
    findings: tuple[Finding, ...] = ()
    area: Area | None = None
    base: Quantity | None = None


def read_how_much(text: str, *, system: UnitSystem | None = None, form: Form | None = None) -> HowMuch:
    """ "2.5 times", "500 ml", "20 heads x 60 ml + 10 %", "12 m2, 2 coats" or "1 l of the base".

    Of a range the upper end counts.

    A bare number is never guessed: Invalid, field ``amount``, with a reading to tap. Raises Ambiguous or
    Invalid.

    >>> read_how_much("2 1/2 times").times, str(read_how_much("20 heads x 60 ml + 10 %").wanted)
    (Fraction(5, 2), '1320 ml')
    """
    try:
        return _how_much(text, system, form)
    except Invalid as wrong:
        wrong.errors.setdefault("amount", wrong.sentence)
        raise


def _how_much(text: str, system: UnitSystem | None, form: Form | None) -> HowMuch:
    bare = " ".join(text.split())
    if bare[:1] in ("+", "-", "−", "–") and bare[1:].strip()[:1].isdecimal():
        raise Invalid("Write how much to make without a sign: it is never less than nothing.")
    if found := _TIMES.fullmatch(bare):
        high = _how_many_times(found["figure"])
        return HowMuch(f"{unmistakable(high)} {'time' if high == 1 else 'times'}", times=Fraction(high))
    if area := read_area(bare):
        return HowMuch(area.written, area=area)
    if found := _BASE.fullmatch(bare):
        return _of_the_base(found["amount"], system, form)
    if bare and _BARE.fullmatch(bare):
        figure = plain(read_figure(bare)[1])
        if not figure.strip("0."):
            raise Invalid("Write more than nothing: so many times, or an amount with its unit.")
        raise Invalid(
            f"{figure} of what? Write {figure} times, or an amount with its unit.",
            readings=[Reading(f"{figure} times", f"{figure} times the recipe")],
        )
    written = read_written(bare, system=system, form=form)
    if written.high is None:
        raise Invalid("Write how many times, or how much in all, such as 2.5 times or 500 ml.")
    if written.high.amount <= 0:
        raise Invalid("Write how much to make: more than nothing.")
    return HowMuch(as_written(written), wanted=written.high, findings=tuple(written.findings))


def _how_many_times(text: str) -> Decimal:
    """One number of times.

    >>> _how_many_times("2 1/2")
    Decimal('2.5')
    """
    if _ROUGHLY.match(text):
        raise Invalid("Write one number of times without “about”, such as 2.5 times: it is reckoned by it.")
    try:
        low, high = read_figure(text)
    except Ambiguous:
        raise
    except Invalid as wrong:
        words = f"“{text}” is no number of times. Write it in digits, such as 2.5 times, above nothing and "
        raise Invalid(f"{words}at most {MOST_TIMES}.") from wrong
    if low != high:
        raise Invalid("Write one number of times, such as 2.5 times.")
    if not 0 < high <= MOST_TIMES:
        raise Invalid(f"Write how many times, above nothing and at most {MOST_TIMES}.")
    return high


def _of_the_base(text: str, system: UnitSystem | None, form: Form | None) -> HowMuch:
    written = read_written(text, system=system, form=form)
    if written.high is None or written.high.amount <= 0:
        raise Invalid("Write how much of the base you have, such as 1 l of the base.")
    return HowMuch(f"{as_written(written)} of the base", findings=tuple(written.findings), base=written.high)


def shares_of_parts(parts: Sequence[tuple[Decimal, Decimal]]) -> list[tuple[Fraction, Fraction]]:
    """The lowest and highest share of the whole that each line can be, from its parts.

    A line is largest when it takes its upper end and all others their lower one. Raises Invalid when the
    parts add up to nothing.

    >>> shares_of_parts([(Decimal(3), Decimal(3)), (Decimal(1), Decimal(1))])
    [(Fraction(3, 4), Fraction(3, 4)), (Fraction(1, 4), Fraction(1, 4))]
    >>> shares_of_parts([(Decimal(2), Decimal(3)), (Decimal(1), Decimal(1))])[0]
    (Fraction(2, 3), Fraction(3, 4))
    """
    lows, highs = ([Fraction(pair[end]) for pair in parts] for end in (0, 1))
    all_low, all_high = sum(lows), sum(highs)
    if all_low <= 0:
        raise Invalid("The parts add up to nothing. Write how many parts of each.")
    return [
        (low / (low + all_high - high), high / (high + all_low - low))
        for low, high in zip(lows, highs, strict=True)
    ]


def shares_of_percent(percents: Sequence[tuple[Decimal, Decimal]]) -> list[tuple[Fraction, Fraction]]:
    """The share of the whole of each line in per cent. Raises Invalid when they cannot make up 100.

    >>> shares_of_percent([(Decimal(90), Decimal(90)), (Decimal(10), Decimal(10))])[1]
    (Fraction(1, 10), Fraction(1, 10))
    """
    least, most = (sum(pair[end] for pair in percents) for end in (0, 1))
    if not least <= 100 <= most:
        said = plain(Decimal(most)) if least == most else f"{plain(Decimal(least))} to {plain(Decimal(most))}"
        raise Invalid(f"The per cent of all lines make {said}, not 100. Write what the rest is.")
    return [(Fraction(low) / 100, Fraction(high) / 100) for low, high in percents]


def powder_in_volume(by: Basis | None, forms: Sequence[Form]) -> bool:
    """Whether powder is among parts by volume: it fills gaps, so less comes out than the parts add up to.

    >>> powder_in_volume(Basis.VOLUME, [Form.POWDER, Form.LIQUID])
    True
    """
    return by is Basis.VOLUME and Form.POWDER in forms and len(set(forms)) > 1
