"""Which signs a text may hold before it reaches a table, a page, a label or a log.

NUL and half a surrogate pair are errors in one database or the other; signs that turn the direction of
writing can make one code look like another.

Doors: core/stock_list_file.py, web/text_guard.py.
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
