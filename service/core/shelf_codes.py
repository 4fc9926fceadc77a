"""Shelf codes: six signs that a person can read out, with a check sign that catches slips.

Doors: records/stock.py, actions/receive_stock.py, web/pages/containers.py, outreach/labels.py.

The signs are 2-9 and the letters without vowels and L: 28 signs, valued 0 to 27 in that order. No vowel, so
that no label spells a word; no 0, 1 or L, which are mistaken for others. A code is five free signs and one
check sign, chosen so that 6·a + 5·b + 4·c + 3·d + 2·e + 1·f is a multiple of 29. 29 is prime and the six
weights differ, so one wrong sign changes the sum by weight × difference, and two swapped signs by weight
difference × sign difference: neither is ever a multiple of 29. Where the check value would have to be 28,
which has no sign, that code is not used. The scheme is our own; the arithmetic is that of ISBN-10 with 29 for
11.
"""

from __future__ import annotations

import unicodedata
from typing import Final

SIGNS: Final = "23456789BCDFGHJKMNPQRSTVWXYZ"
LENGTH: Final = 6
SPACE: Final = len(SIGNS) ** (LENGTH - 1)
"""How many numbers `make_code` tells apart: 28^5 = 17,210,368."""
_PRIME: Final = 29
_WEIGHTS: Final = (6, 5, 4, 3, 2, 1)
_VALUE: Final = {sign: value for value, sign in enumerate(SIGNS)}
_LONGEST_READ: Final = 500


def make_code(number: int) -> str:
    """The code for a random ``number`` from 0 up, taken modulo `SPACE`; draw it from a good random source.

    About one number in 29 has no check sign; it gives the code of the next number that has one.

    >>> make_code(0), make_code(12_345_678)
    ('222222', 'R4F34T')
    """
    while True:
        rest, signs = number % SPACE, ""
        for _ in range(LENGTH - 1):
            rest, value = divmod(rest, len(SIGNS))
            signs = SIGNS[value] + signs
        check = _check_sign(signs)
        if check is not None:
            return signs + check
        number += 1


def is_code(text: str) -> bool:
    """True when ``text`` is exactly six capital signs and the check holds.

    >>> is_code("R4F34T"), is_code("R4F3T4"), is_code("r4f34t")
    (True, False, False)
    """
    return len(text) == LENGTH and all(sign in _VALUE for sign in text) and _sum(text) % _PRIME == 0


def tidy(text: str) -> str | None:
    """What was scanned or typed as bare signs in capitals; None if it cannot be a code at all.

    Drops spaces, hyphens and invisible signs, and everything up to the last ``/C/`` of an address, with its
    query. Look-alikes (O for 0, I for 1) are not guessed: they stay, and the check then fails.

    >>> tidy("https://shop.example/c/k7q-f2b?from=label"), tidy("K7Q\\u00a0F2B"), tidy("K7Q F2O")
    ('K7QF2B', 'K7QF2B', 'K7QF2O')
    """
    if len(text) > _LONGEST_READ:
        return None
    bare = text.strip().split("?")[0].split("#")[0].rstrip("/")
    at = bare.upper().rfind("/C/") if bare.isascii() else bare.rfind("/C/")
    if at >= 0:
        bare = bare[at + 3 :]
    elif bare[:2] in ("C/", "c/"):
        bare = bare[2:]
    kept = "".join(sign for sign in bare if not _dropped(sign))
    # Capitals only of plain letters: str.upper would turn a long s into S, which is a guess.
    if len(kept) != LENGTH or not (kept.isascii() and kept.isalnum()):
        return None
    return kept.upper()


def normalise(text: str) -> str | None:
    """The code meant by what was scanned or typed, or None when it is not a code.

    Any letter case, spaces, hyphens, ``/C/CODE`` and whole addresses are read. None also when the check sign
    does not fit: ask `near_codes` what it may have been.

    >>> normalise(" c/r4f-34t "), normalise("R4F34S"), normalise("turpentine")
    ('R4F34T', None, None)
    """
    bare = tidy(text)
    return bare if bare is not None and is_code(bare) else None


def show_code(code: str) -> str:
    """The code as printed on a label, in two groups of three.

    >>> show_code("K7QF2B")
    'K7Q F2B'
    """
    return f"{code[:3]} {code[3:]}"


def near_codes(text: str) -> list[str]:
    """Codes that ``text`` may have been meant as: one sign different, or two neighbours swapped back.

    For "did you mean": look each up and offer those that exist. At most 11, in alphabetical order; empty when
    the text is a code already (one slip never turns a code into another code) or cannot be one.

    >>> "R4F34T" in near_codes("R4F34S"), "R4F34T" in near_codes("R4F43T"), near_codes("R4F34T")
    (True, True, [])
    """
    bare = tidy(text)
    if bare is None or is_code(bare):
        return []
    found: set[str] = set()
    for at in range(LENGTH):
        found.update(changed for sign in SIGNS if is_code(changed := bare[:at] + sign + bare[at + 1 :]))
    for at in range(LENGTH - 1):
        swapped = bare[:at] + bare[at + 1] + bare[at] + bare[at + 2 :]
        if is_code(swapped):
            found.add(swapped)
    return sorted(found)


def _sum(signs: str) -> int:
    return sum(weight * _VALUE[sign] for weight, sign in zip(_WEIGHTS, signs, strict=False))


def _check_sign(five: str) -> str | None:
    value = -_sum(five) % _PRIME
    return SIGNS[value] if value < len(SIGNS) else None


def _dropped(sign: str) -> bool:
    """Spaces of every width, dashes of every length, the minus sign, and invisible formatting signs."""
    return sign.isspace() or sign == "\u2212" or unicodedata.category(sign) in ("Pd", "Cf")
