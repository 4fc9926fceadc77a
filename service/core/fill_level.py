"""How full a container looks, as a share of what it holds: "about half", "three quarters full", "a third".

Doors: actions/receive_stock.py, web/pages/stock_take.py.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

_WORDS: Final = {
    "full": Fraction(1),
    "half": Fraction(1, 2),
    "third": Fraction(1, 3),
    "two thirds": Fraction(2, 3),
    "quarter": Fraction(1, 4),
    "three quarters": Fraction(3, 4),
    "fifth": Fraction(1, 5),
    "tenth": Fraction(1, 10),
    "1/2": Fraction(1, 2),
    "1/3": Fraction(1, 3),
    "2/3": Fraction(2, 3),
    "1/4": Fraction(1, 4),
    "3/4": Fraction(3, 4),
    "½": Fraction(1, 2),
    "⅓": Fraction(1, 3),
    "⅔": Fraction(2, 3),
    "¼": Fraction(1, 4),
    "¾": Fraction(3, 4),
}
_ABOUT: Final = re.compile(r"^(?:about|roughly|some|ca\.?|c\.|~|approximately) *|^(?:an?|one) ")
_AFTER: Final = re.compile(r" (?:full|left|of it|of the (?:can|tin|jar|tub|tube|bottle))$")


def read_level(text: str) -> Fraction | None:
    """The share of the capacity that a text names, above 0 and at most 1; None when it is no such text.

    >>> read_level("about half"), read_level("Three-quarters full"), read_level("30 %"), read_level("200 g")
    (Fraction(1, 2), Fraction(3, 4), Fraction(3, 10), None)
    """
    if len(text) > 60:
        return None
    plain = " ".join(text.lower().replace("-", " ").split()).rstrip(".")
    for _ in range(2):
        plain = _ABOUT.sub("", plain)
    plain = plain if plain == "full" else _AFTER.sub("", plain)
    if match := re.fullmatch(r"(\d{1,3}) ?(?:%|per ?cent)", plain, re.ASCII):
        share = Fraction(int(match[1]), 100)
        return share if 0 < share <= 1 else None
    return _WORDS.get(plain)
