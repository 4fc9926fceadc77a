"""Which signs a text may hold before it reaches a table, a page, a label or a log.

NUL and half a surrogate pair are errors in one database or the other; signs that turn the direction of
writing can make one code look like another.

Doors: core/stock_list_file.py, web/text_guard.py, actions/describe_material.py, records/store_queries.py.
"""

from __future__ import annotations

import unicodedata
from typing import Final

_TURNING: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_BREAKS: Final = frozenset("\n\r\t")


def wrong_sign(text: str, *, lines: bool) -> str:
    """What is wrong with the signs of a text, as a sentence; empty when nothing is.

    ``lines`` allows line breaks and tabs (notes); one-line texts may not hold them.

    >>> wrong_sign("raw umber", lines=False), wrong_sign("raw\\number", lines=False)
    ('', 'Write this on one line.')
    """
    if text.isprintable():  # nothing below is, so most texts need no second look
        return ""
    for sign in text:
        kind = unicodedata.category(sign)
        if sign in _BREAKS:
            if not lines:
                return "Write this on one line."
        elif kind in ("Cc", "Cs") or sign in _TURNING:
            return "Take out the signs that cannot be seen, and type this again."
        elif kind in ("Zl", "Zp") and not lines:
            return "Write this on one line."
    return ""


def composed(text: str) -> str:
    """``text`` as it is kept: letters with their marks as one sign (NFC), whatever keyboard typed it.

    >>> composed("O\\u0308lfarbe") == "\\u00d6lfarbe"
    True
    """
    return text if text.isascii() else unicodedata.normalize("NFC", text)


def compared(text: str) -> str:
    """What two names are compared by: no difference by capitals, spaces, wide or ligature forms (NFKC) or
    signs that show nothing. Letters that only look alike stay different.

    >>> compared("Raw  Umber") == compared("raw\\u200bumber"), compared("\\ufb01ne") == compared("FINE")
    (True, True)
    """
    folded = unicodedata.normalize("NFKC", text).casefold()
    plain = (sign for sign in folded if not sign.isspace() and unicodedata.category(sign) != "Cf")
    return unicodedata.normalize("NFC", "".join(plain))


def ways_written(word: str) -> tuple[str, ...]:
    """A word in small letters, and with its letters beyond ASCII as capitals, all of them or the first.

    One of our databases knows no capitals beyond ASCII: lower("\u00d6L") leaves the \u00d6 there.

    >>> ways_written("Oil"), ways_written("\u00d6lfarbe")
    (('oil',), ('\u00f6lfarbe', '\u00d6lfarbe'))
    """
    small = composed(word).lower()
    if small.isascii():
        return (small,)
    capital = "".join(sign if sign.isascii() else sign.upper() for sign in small)
    return tuple(dict.fromkeys((small, capital, capital[:1] + small[1:])))
