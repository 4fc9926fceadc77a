"""What a batch cost: of each container its share of what was paid for it.

Doors: actions/cost_of_batch.py, web/pages/as_made.py, web/api/as_made.py.

A price or an amount that is not known makes the cost "at least": it is never counted as nothing paid. Sums
are exact; what is shown is rounded once, to the smallest coin of the currency: halves up, "at least" down.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import Final

from service.core.findings import Finding, Invalid, unknown
from service.core.materials import Basis

MOST_PAID: Final = Decimal(1_000_000)
"""No single container costs more; a figure above is a slip."""
PRICE_PLACES: Final = 4
_NO_COINS: Final = frozenset(
    {
        "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV",
        "XAF", "XOF", "XPF",
    }
)  # fmt: skip
_THOUSANDTHS: Final = frozenset(["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"])


def read_currency(text: str | None) -> str | None:
    """The currency as three capital letters (ISO 4217), or None where nothing is written.

    Raises Invalid (field ``currency``).

    >>> read_currency(" eur "), read_currency("")
    ('EUR', None)
    """
    bare = (text or "").strip().upper()
    if not bare:
        return None
    if re.fullmatch(r"[A-Z]{3}", bare, re.ASCII) is None:
        words = "Write the currency as its three letters, like EUR or USD."
        raise Invalid(words, {"currency": words})
    return bare


def judge_price(price: Decimal | None) -> Decimal | None:
    """A price of one container; None = nobody said. 0 is a price (a gift); at most four decimals.

    Raises Invalid (field ``price``).

    >>> judge_price(Decimal("12.50"))
    Decimal('12.50')
    """
    if price is None:
        return None
    exponent = price.as_tuple().exponent if price.is_finite() else 0
    fits = price.is_finite() and 0 <= price <= MOST_PAID
    if not fits or (isinstance(exponent, int) and exponent < -PRICE_PLACES):
        words = "Enter what one container cost, from 0 to 1 000 000 with at most four decimals."
        raise Invalid(words, {"price": words})
    return price


@dataclass(frozen=True)
class Used:
    """All that a batch took from one container, or of what comes from none (``code`` empty).

    ``taken`` and ``received`` are in smallest units of the same basis; None = not known.
    """

    name: str
    code: str
    taken: int | None
    received: int | None
    price: Decimal | None


@dataclass(frozen=True)
class Cost:
    """``exact`` is the sum of what is known; ``at_least`` when something more was used whose cost is not."""

    exact: Fraction
    at_least: bool
    findings: tuple[Finding, ...]


def cost_of(used: Sequence[Used]) -> Cost:
    """The cost of what was used. No container costs more than was paid for it.

    >>> cost_of([Used("oil", "K7Q F2B", 250, 1000, Decimal(10))]).exact
    Fraction(5, 2)
    >>> cost_of([Used("oil", "K7Q F2B", 250, 1000, None)]).at_least
    True
    """
    total, found = Fraction(0), []
    for one in used:
        if one.taken == 0:
            continue
        lacks = _lacks(one)
        if lacks:
            about = f"{one.name} ({one.code})" if one.code else one.name
            found.append(unknown("cost-not-known", f"{lacks} So the cost is at least this.", about=about))
        else:
            assert one.price is not None and one.taken is not None and one.received is not None
            total += Fraction(one.price) * min(Fraction(one.taken, one.received), Fraction(1))
    return Cost(total, bool(found), tuple(dict.fromkeys(found)))


def _lacks(one: Used) -> str:
    about = f"{one.name}, {one.code}" if one.code else one.name
    if not one.code:
        return f"{one.name} comes from no container that has a price."
    if one.price is None:
        return f"What {about} cost is not in the book."
    if one.received is None or one.received <= 0:
        return f"How much was in {about} when it came is not known."
    if one.taken is None:
        return f"How much was taken from {about} is not known."
    return ""


def coins(currency: str | None) -> int:
    """The decimals of a currency by ISO 4217; 2 where it is not said.

    >>> coins("JPY"), coins("EUR"), coins("KWD")
    (0, 2, 3)
    """
    return 0 if currency in _NO_COINS else 3 if currency in _THOUSANDTHS else 2


def rounded(exact: Fraction, currency: str | None, *, at_least: bool = False) -> Decimal:
    """A sum in whole smallest coins: halves up, "at least" always down.

    >>> rounded(Fraction(1, 200), "EUR"), rounded(Fraction(1, 200), "EUR", at_least=True)
    (Decimal('0.01'), Decimal('0.00'))
    """
    places = coins(currency)
    scaled = exact * 10**places
    return Decimal(floor(scaled if at_least else scaled + Fraction(1, 2))).scaleb(-places)


def say_cost(exact: Fraction, currency: str | None, *, at_least: bool = False) -> str:
    """The sum in words.

    >>> say_cost(Fraction(5, 2), "EUR", at_least=True), say_cost(Fraction(5, 2), None)
    ('at least 2.50 EUR', '2.50')
    """
    figure = f"{rounded(exact, currency, at_least=at_least)}"
    return f"{'at least ' if at_least else ''}{figure}{f' {currency}' if currency else ''}"


def per_measure(exact: Fraction, made: int, basis: Basis) -> tuple[Fraction, str] | None:
    """The cost of a litre, a kilogram or a piece of what was made; None where nothing came out.

    >>> per_measure(Fraction(5, 2), 500_000, Basis.VOLUME)
    (Fraction(5, 1), 'l')
    """
    if made <= 0:
        return None
    if basis is Basis.PIECES:
        return exact / made, "piece"
    return exact * 1_000_000 / made, "kg" if basis is Basis.MASS else "l"


def say_minor(minor: int | None, currency: str | None) -> str:
    """A price in whole smallest coins, in words.

    >>> say_minor(1250, "EUR"), say_minor(300, "JPY"), say_minor(None, "EUR"), say_minor(5, None)
    ('12.50 EUR', '300 JPY', 'not known', '0.05')
    """
    return "not known" if minor is None else say_cost(Fraction(minor, 10 ** coins(currency)), currency)
