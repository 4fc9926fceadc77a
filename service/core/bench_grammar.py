"""The grammar of a written amount: figures and words become a share, a span, or so many heads times one.

Doors: core/bench_writing.py, which settles what is in doubt and is what others call.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

from service.core.bench_numbers import Choices, number_at
from service.core.bench_units import PART, PERCENT, is_spoon, unit_for
from service.core.findings import Finding, Invalid, warn
from service.core.materials import Basis, Form
from service.core.quantities import UNITS, Quantity, UnitSystem, decimal_of

MOST_HEADS: Final = 10_000


class WrittenKind(StrEnum):
    """What sort of amount was written."""

    AMOUNT = "amount"
    PARTS = "parts"
    PERCENT = "percent"
    TO_SUIT = "to-suit"
    HEADS = "heads"


@dataclass(frozen=True)
class Written:
    """What was read. ``low`` and ``high`` are the whole amount, spare and heads reckoned in; None for shares.

    ``number_low`` and ``number_high`` are the figures of parts and percent, ``by`` weight or volume if that
    was said. ``each`` to ``each_high`` is the amount per head. ``text`` is what was typed, as it was typed.
    """

    text: str
    kind: WrittenKind
    low: Quantity | None = None
    high: Quantity | None = None
    number_low: Decimal | None = None
    number_high: Decimal | None = None
    by: Basis | None = None
    about: bool = False
    heads: int | None = None
    each: Quantity | None = None
    each_high: Quantity | None = None
    spare_percent: Decimal | None = None
    findings: tuple[Finding, ...] = ()


_ABOUT: Final = ("about", "approx", "approximately", "ca", "circa", "around", "roughly", "~")
_TO_SUIT: Final = ("to suit", "as needed", "as required", "to taste", "q s", "qs")
_HEADS: Final = ("head", "heads", "person", "persons", "people", "student", "students", "pupil", "pupils")
_HEAPED: Final = ("heaped", "heaping", "rounded", "scant")
_BY: Final = {
    ("by", "weight"): Basis.MASS, ("by", "mass"): Basis.MASS, ("w", "/", "w"): Basis.MASS,
    ("by", "volume"): Basis.VOLUME, ("by", "measure"): Basis.VOLUME, ("v", "/", "v"): Basis.VOLUME,
}  # fmt: skip
_WORD: Final = re.compile(r"[^\W\d_]+|[-+/%~]")
Token = Decimal | str


def unreadable(text: str) -> Invalid:
    return Invalid(f"“{text[:60]}” cannot be read as an amount. Write it like 250 g, 1 1/2 tsp or 3 parts.")


def cut(text: str, choices: Choices) -> list[Token]:
    """Figures as Decimals, everything else as words and signs; dots and commas after words are dropped.

    >>> cut("1 1/2 tsp.", Choices({}))
    [Decimal('1.5'), 'tsp']
    """
    tokens: list[Token] = []
    at = 0
    while at < len(text):
        mark_after_word = text[at] in ".," and at > 0 and _is_word(text[at - 1]) and tokens[-1] != "x"
        if mark_after_word and text[at + 1 : at + 2].isdigit():
            raise unreadable(text)  # "ca.5 l" may be five litres or half a litre
        if text[at] == " " or mark_after_word:
            at += 1
        elif found := number_at(text, at, choices):
            value, at = found
            tokens.append(value)
        elif word := _WORD.match(text, at):
            tokens.append(word.group())
            at = word.end()
        else:
            raise unreadable(text)
    # "us-tsp" is one name: a dash between two words is no range.
    return [
        token
        for i, token in enumerate(tokens)
        if not (
            token == "-" and 0 < i < len(tokens) - 1 and _is_word(tokens[i - 1]) and _is_word(tokens[i + 1])
        )
    ]


def _is_word(token: Token) -> bool:
    return isinstance(token, str) and token.isalpha()


def lone_figure(tokens: list[Token]) -> Decimal:
    if len(tokens) != 1 or not isinstance(tokens[0], Decimal):
        raise Invalid("Write one figure, such as 4.9, or two with “to” between them.")
    return tokens[0]


def read_amount(text: str, choices: Choices, form: Form | None, system: UnitSystem | None) -> Written:
    if text.replace(".", " ").strip() in _TO_SUIT:
        return Written(text, WrittenKind.TO_SUIT)
    tokens = cut(text.replace("cm3", "cc"), choices)
    about = False
    while tokens and tokens[0] in _ABOUT:
        about = True
        tokens = tokens[1:]
    if tokens and tokens[0] in ("-", "+"):
        raise Invalid("Write the amount without a sign: an amount is never less than nothing.")
    if not any(isinstance(token, Decimal) for token in tokens):
        raise unreadable(text)
    tokens, spare = _without_spare(tokens)
    heads, tokens = _without_heads(tokens)
    low, high, heaped = _Measures(choices, form, system).span(tokens)
    if heaped:
        choices.findings.append(
            warn(
                "heaped-spoon",
                "A heaped spoon can hold twice what a level one does. Level it off, or weigh it.",
            )
        )
    return _written(low, high, heads, spare, about or heaped)


def _written(low: _Side, high: _Side, heads: int | None, spare: Decimal | None, about: bool) -> Written:
    if low.key in (PART, PERCENT) or high.key in (PART, PERCENT):
        if low.key != high.key or low.by != high.by or heads is not None or spare is not None:
            raise Invalid("Parts and per cent stand alone: write 3 parts, or 2 to 3 parts, or 10 %.")
        if low.number > high.number:
            raise Invalid("Write the smaller amount first.")
        if high.number > (1000 if low.key == PERCENT else 1_000_000):
            raise Invalid("That share is too large to be meant.")
        kind = WrittenKind.PARTS if low.key == PART else WrittenKind.PERCENT
        return Written("", kind, number_low=low.number, number_high=high.number, by=low.by, about=about)
    first, last = Quantity(low.number, UNITS[low.key]), Quantity(high.number, UNITS[high.key])
    if first.basis is not last.basis:
        raise Invalid(f"{first} and {last} are not measured alike. Write both by weight or both by volume.")
    if first.smallest > last.smallest:
        raise Invalid("Write the smaller amount first.")
    times = decimal_of((heads or 1) * (1 + Fraction(spare or 0) / 100), 20)
    return Written(
        "",
        WrittenKind.AMOUNT if heads is None else WrittenKind.HEADS,
        low=first * times,
        high=last * times,
        about=about,
        heads=heads,
        each=first,
        each_high=last,
        spare_percent=spare,
    )


def _without_spare(tokens: list[Token]) -> tuple[list[Token], Decimal | None]:
    """Takes "+ 10 %" off the end; a plus before anything else only joins ("1 lb + 4 oz")."""
    if "+" not in tokens:
        return tokens, None
    at = len(tokens) - 1 - tokens[::-1].index("+")
    tail = tokens[at + 1 :]
    joined: list[Token] = [token for token in tokens if token != "+"]
    if (
        len(tail) < 2
        or not isinstance(tail[0], Decimal)
        or tail[1:] not in (["%"], ["percent"], ["per", "cent"])
    ):
        return joined, None
    if tail[0] > 1000:
        raise Invalid("Write a spare of at most 1000 %.")
    return [token for token in tokens[:at] if token != "+"], tail[0]


def _without_heads(tokens: list[Token]) -> tuple[int | None, list[Token]]:
    """Takes "20 heads x" off either side."""
    if tokens.count("x") != 1:
        return None, tokens
    at = tokens.index("x")
    for count, amount in ((tokens[:at], tokens[at + 1 :]), (tokens[at + 1 :], tokens[:at])):
        if (
            not count
            or not isinstance(count[0], Decimal)
            or count[1:] not in ([], *([word] for word in _HEADS))
        ):
            continue
        heads = count[0]
        if heads != heads.to_integral_value() or not 1 <= heads <= MOST_HEADS:
            raise Invalid(f"Write a whole number of heads, from 1 to {MOST_HEADS}.")
        return int(heads), amount
    raise Invalid("Write heads and the amount for each, like 20 heads x 60 ml.")


def ends(tokens: list[Token]) -> tuple[list[Token], list[Token]]:
    """The two ends of a range; the first is empty where there is one figure only."""
    between = tokens[:1] == ["between"]
    signs = ("and",) if between else ("to", "-")
    places = [i for i, token in enumerate(tokens) if token in signs]
    if not places and not between:
        return [], tokens
    first = tokens[1 if between else 0 : places[0]] if places else []
    # An empty first end must not pass for a single figure: "-5" is not 5.
    if len(places) != 1 or not first or tokens[-1] in signs:
        raise Invalid("Write a range with two figures, like 1 to 2 tsp.")
    return first, tokens[places[0] + 1 :]


@dataclass(frozen=True)
class _Side:
    number: Decimal
    key: str
    by: Basis | None = None


@dataclass
class _Measures:
    """Figures with their unit words, once it is known what an ounce and a pint are."""

    choices: Choices
    form: Form | None
    system: UnitSystem | None
    heaped: bool = False

    def span(self, tokens: list[Token]) -> tuple[_Side, _Side, bool]:
        first, last = ends(tokens)
        high = self.side(last)
        if not first:
            return high, high, self.heaped
        if len(first) == 1:
            return replace(high, number=lone_figure(first)), high, self.heaped
        return self.side(first), high, self.heaped

    def side(self, tokens: list[Token]) -> _Side:
        """One measure, or two that add up: "1 lb 4 oz"."""
        starts = [i for i, token in enumerate(tokens) if isinstance(token, Decimal)]
        if not starts or starts[0] != 0 or len(starts) > 2:
            raise Invalid("Write the figure first and then its unit, like 250 g.")
        if len(starts) == 1:
            return self.measure(tokens, False)
        large = self.measure(tokens[: starts[1]], False)
        small = self.measure(tokens[starts[1] :], large.key == "lb")
        if not {large.key, small.key} <= UNITS.keys() or large.by or small.by:
            raise Invalid("Write parts and per cent alone, like 3 parts.")
        unit = UNITS[small.key]
        if unit.basis is not UNITS[large.key].basis or unit.factor >= UNITS[large.key].factor:
            raise Invalid("Write the larger measure first and both alike, such as 1 lb 4 oz.")
        both = Quantity(large.number, UNITS[large.key]).in_unit(unit) + Quantity(small.number, unit)
        return _Side(both.amount, small.key)

    def measure(self, tokens: list[Token], after_pounds: bool) -> _Side:
        number, words = tokens[0], [str(token) for token in tokens[1:] if token != "and"]
        assert isinstance(number, Decimal)
        by = _BY.get(tuple(words[-2:])) or _BY.get(tuple(words[-3:]))
        if by:
            words = words[: -3 if "/" in words else -2]
        spooned = words[:1] != [] and words[0] in (*_HEAPED, "level")
        self.heaped = self.heaped or (spooned and words[0] != "level")
        words = words[1:] if spooned else words
        if by is Basis.VOLUME and words in (["oz"], ["ounces"], ["ounce"]):
            words = ["fl", "oz"]
        if not words and self.form is Form.PIECES:
            words = ["piece"]
        key = unit_for(
            words,
            self.choices,
            form=self.form,
            system=self.system,
            after_pounds=after_pounds or by is Basis.MASS,
        )
        if spooned and not is_spoon(key):
            raise Invalid("Only a spoon or a cup can be level or heaped.")
        if by and key in UNITS:
            if UNITS[key].basis is not by:
                raise Invalid(
                    f"{UNITS[key].plural} cannot be “by {'weight' if by is Basis.MASS else 'volume'}”."
                )
            by = None
        return _Side(number, key, by)
