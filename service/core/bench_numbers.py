"""The figures that a bench writes (``1 1/2``, ``¼``, ``0,5``, ``1 000``); what is asked and never guessed.

Doors: core/bench_writing.py, core/conversion.py.

Only the digits 0 to 9 and the ready-made fractions are read. Other digits of the world's scripts are refused:
whoever checks the figure against the label must be able to read it. No exponents, no "NaN", no signs.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Final, TypeVar

from service.core.findings import Finding, Invalid, note
from service.core.quantities import FINEST_PLACES, decimal_of, plain

LONGEST: Final = 200
"""Characters in one written amount; longer is refused before anything is looked at."""

MOST_READINGS: Final = 12
"""More ways to read an amount than this are not offered: it has to be written more plainly."""

_VULGAR: Final = {
    "¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8",
    "⅞": "7/8", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅒": "1/10",
}  # fmt: skip
_SPACES: Final = (
    "\t\n\r\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"
)
_DASHES: Final = "\u2010\u2011\u2012\u2013\u2014\u2212"
_SAME: Final = str.maketrans(
    {**dict.fromkeys(_SPACES, " "), **dict.fromkeys(_DASHES, "-"), "⁄": "/", "∕": "/", "×": "x", "✕": "x",
     "*": "x", "≈": "~", "º": "°", "℃": "°c", "℉": "°f", "％": "%", "(": " ", ")": " "}
)  # fmt: skip

_FRACTION: Final = re.compile(r"(?:([0-9]+)(?: +|-))?([0-9]+) ?/ ?([0-9]+)(?![0-9.,/])")
_GROUPED: Final = re.compile(r"[1-9][0-9]{0,2}(?: [0-9]{3})+(?:[.,][0-9]+)?(?![0-9.,/])")
_PLAIN: Final = re.compile(r"[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+")


class Fork(Exception):  # noqa: N818 - a fork in the road, not a fault
    """There are several ways to read ``key``; each option is a choice and the words that explain it."""

    def __init__(self, key: str, options: Sequence[tuple[str, str]]) -> None:
        super().__init__(key)
        self.key = key
        self.options = tuple(options)


@dataclass
class Choices:
    """What has been settled before (``made``), and the findings met while reading."""

    made: Mapping[str, str]
    point_is_decimal: bool = False
    findings: list[Finding] = field(default_factory=list)

    def pick(self, key: str, options: Sequence[tuple[str, str]]) -> str:
        """The only option, or the one chosen before; else a Fork."""
        names = [choice for choice, _ in options]
        if len(names) == 1:
            return names[0]
        if self.made.get(key) in names:
            return self.made[key]
        raise Fork(key, options)


T = TypeVar("T")


def every_reading(
    attempt: Callable[[Mapping[str, str]], T], made: Mapping[str, str]
) -> list[tuple[T, dict[str, str], str]]:
    """Each way to read: what came out, the choices that led there, and the words for them.

    A reading that turns out impossible is left out; one without any choice stands alone. Raises Invalid when
    none is possible, or when there are more than ``MOST_READINGS``.
    """
    todo: list[tuple[dict[str, str], tuple[str, ...]]] = [({}, ())]
    done: list[tuple[T, dict[str, str], str]] = []
    refusal: Invalid | None = None
    while todo:
        kept, words = todo.pop(0)
        try:
            done.append((attempt({**made, **kept}), kept, "; ".join(words)))
        except Fork as fork:
            todo[:0] = [({**kept, fork.key: choice}, (*words, said)) for choice, said in fork.options]
        except Invalid as error:
            refusal = refusal or error
        if len(done) + len(todo) > MOST_READINGS:
            raise Invalid("This can be read in too many ways. Write one figure and its unit in full.")
    if not done and refusal:
        raise refusal
    return done


def tidy(text: str) -> str:
    """One kind of space, dash, times sign; ready-made fractions spelt out; small letters.

    Raises Invalid for what is too long, empty, holds control characters, or digits other than 0 to 9.

    >>> tidy("1½\\u00a0Tsp.")
    '1 1/2 tsp.'
    """
    if len(text) > LONGEST:
        raise Invalid(f"Write one amount in at most {LONGEST} characters.")
    out: list[str] = []
    for sign in text.translate(_SAME):
        if sign in _VULGAR:
            # Spaces keep "1½" from becoming 11/2 and "½5" from becoming 1/25.
            out.append((" " if out and out[-1].isdigit() else "") + _VULGAR[sign] + " ")
        elif sign in "²³" and out and out[-1].isalpha():
            out.append("2" if sign == "²" else "3")
        elif sign.isnumeric() and sign not in "0123456789":
            raise Invalid("Write the figure with the digits 0 to 9.")
        elif unicodedata.category(sign)[0] == "C":
            raise Invalid("There is a character in the amount that cannot be read. Write it again by hand.")
        else:
            out.append(sign)
    clean = " ".join("".join(out).lower().split())
    if not clean:
        raise Invalid("Write an amount and its unit, such as 250 g or 1 1/2 tsp.")
    return clean


def number_at(text: str, at: int, choices: Choices) -> tuple[Decimal, int] | None:
    """The figure that starts at this place of a tidied text and where it ends, or None if none starts here.

    Raises Fork where ``1,000`` (or ``1.000``, unless a point is known to be decimal) could mean two
    things, and Invalid for a figure that is malformed or far too long.

    >>> number_at("1 1/2 tsp", 0, Choices({}))
    (Decimal('1.5'), 5)
    """
    if found := _FRACTION.match(text, at):
        return _fraction(found, choices), found.end()
    if found := _GROUPED.match(text, at):
        value = _bounded(found.group().replace(" ", "").replace(",", "."))
        choices.findings.append(
            note("spaced-thousands", f"Read as {plain(value)}: the space parts thousands.")
        )
        return value, found.end()
    if found := _PLAIN.match(text, at):
        end = found.end()
        if text[end : end + 1] == "/":
            raise Invalid(f"{found.group()}/ is no fraction that can be read. Write it like 1 1/2.")
        return _marked(found.group(), choices), end
    return None


def _bounded(digits: str) -> Decimal:
    whole, _, parts = digits.partition(".")
    if len(whole.lstrip("0")) > 13 or len(parts) > 12:
        raise Invalid("That figure has more digits than any amount on a bench.")
    return Decimal(digits)


def _fraction(found: re.Match[str], choices: Choices) -> Decimal:
    whole, top, bottom = found.group(1) or "", found.group(2), found.group(3)
    # "1 001/2" is a slip of the pen whichever way it is read, so figures that begin with 0 are refused too.
    if max(len(whole), len(top)) > 9 or len(bottom) > 3 or bottom[0] == "0" or (top[0] == "0" and top != "0"):
        raise Invalid(f"{found.group()} is no fraction that can be read. Write it like 1 1/2.")
    if whole and (int(top) >= int(bottom) or int(whole) == 0):
        raise Invalid(f"{found.group()} is no figure that can be read. Write it like 1 1/2.")
    if not whole and len(top) > 1 and int(top) >= int(bottom) > int(top[1:]) > 0:
        # "11/2 tsp" is more often 1 1/2 with the space lost than eleven halves.
        split = f"{top[0]} {top[1:]}/{bottom}"
        value = plain(decimal_of(Fraction(int(top), int(bottom)), 4))
        options = [
            ("mixed", f"{split}, the space was left out"),
            ("whole", f"{found.group()}, that is {value}"),
        ]
        if choices.pick(found.group(), options) == "mixed":
            whole, top = top[0], top[1:]
    return decimal_of(int(whole or 0) + Fraction(int(top), int(bottom)), FINEST_PLACES)


def _marked(figure: str, choices: Choices) -> Decimal:
    """A figure with points or commas: which of them parts thousands and which begins the decimals."""
    marks = [sign for sign in figure if sign in ",."]
    groups = re.split(r"[.,]", figure)
    by_threes = 1 <= len(groups[0]) <= 3 and figure[0] != "0" and all(len(group) == 3 for group in groups[1:])
    if not marks:
        return _bounded(figure)
    if len(marks) == 1:
        decimals = f"{groups[0] or '0'}.{groups[1]}"
        mark = marks[0]
        if by_threes and not (mark == "." and choices.point_is_decimal):
            name = "comma" if mark == "," else "point"
            options = [
                ("decimal", f"the {name} begins the decimals"),
                ("thousands", f"the {name} parts thousands"),
            ]
            if choices.pick(mark, options) == "thousands":
                return _bounded("".join(groups))
        return _bounded(decimals)
    if len(set(marks)) == 1 and by_threes:
        return _bounded("".join(groups))
    grouped = "".join(groups[:-1])
    *before, last = marks
    if last in before or len(set(before)) != 1 or not 1 <= len(groups[0]) <= 3:
        raise Invalid(f"{figure} cannot be read as one figure. Write it with one point, like 1234.5.")
    if any(len(group) != 3 for group in groups[1:-1]):
        raise Invalid(f"{figure} cannot be read as one figure. Write it with one point, like 1234.5.")
    return _bounded(f"{grouped}.{groups[-1]}")


def unmistakable(value: Decimal) -> str:
    """The figure written so that it can be read in one way only.

    >>> unmistakable(Decimal("1.125")), unmistakable(decimal_of(Fraction(4, 3), 24))
    ('1.1250', '1 1/3')
    """
    exponent = int(value.as_tuple().exponent)
    if exponent < -6:
        simple = Fraction(value).limit_denominator(999)
        if simple.denominator > 1 and abs(Fraction(value) - simple) < Fraction(1, 10**15):
            whole, rest = divmod(simple.numerator, simple.denominator)
            return f"{whole} {rest}/{simple.denominator}" if whole else f"{rest}/{simple.denominator}"
    text = plain(value)
    return text + "0" if re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", text) else text
