"""Which signs a text may hold before it reaches a table, a page, a label or a log.

NUL and half a surrogate pair are errors in one database or the other; signs that turn the direction of
writing can make one code look like another.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from pydantic_core import PydanticCustomError

_TURNING: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_BREAKS: Final = frozenset("\n\r\t")
_SPACES: Final = re.compile(r"[\s\u00a0\u2000-\u200b\u202f\u205f\u3000\ufeff]+")


def sentence(text: str) -> PydanticCustomError:
    """A validator error that is shown to the person word for word."""
    return PydanticCustomError("sentence", "{sentence}", {"sentence": text})


def check_text(text: str, *, lines: bool) -> str:
    """``text`` as it came, or a sentence when it holds a sign that no one types.

    ``lines`` allows line breaks and tabs (notes); one-line texts may not hold them.

    >>> check_text("raw umber", lines=False)
    'raw umber'
    """
    for sign in text:
        kind = unicodedata.category(sign)
        if sign in _BREAKS:
            if not lines:
                raise sentence("Write this on one line.")
        elif kind in ("Cc", "Cs") or sign in _TURNING:
            raise sentence("Take out the signs that cannot be seen, and type this again.")
        elif kind in ("Zl", "Zp") and not lines:
            raise sentence("Write this on one line.")
    return text


def tidy(text: str) -> str:
    """One-line text with every run of spaces (also hard and thin ones) as one space, none at the ends.

    >>> tidy("  12\\u00a0 Nov\\u2009 2026 ")
    '12 Nov 2026'
    """
    return _SPACES.sub(" ", text).strip()
