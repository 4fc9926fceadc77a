"""Texts that a spreadsheet opens as texts: none of them begins a formula, and each is read back as it was.

A spreadsheet takes a cell that begins with = + - @ (or their full-width forms, a tab or a return) for a
formula. Where such a sign would begin a cell an apostrophe goes before it, and comes off again when the list
is read. A spreadsheet that parts cells at semicolons or tabs begins a cell after each of those too.

Doors: core/stock_list_file.py, outreach/csv_tables.py.
"""

from __future__ import annotations

import re
from typing import Final

_STARTS: Final = "=+\\-@\t\r\uff1d\uff0b\uff0d\uff20"
_BEFORE: Final = r"(^|[;\t\r\n])"
_UNGUARDED: Final = re.compile(rf"{_BEFORE}(?='*[{_STARTS}])")
_GUARDED: Final = re.compile(rf"{_BEFORE}'(?='*[{_STARTS}])")


def guard(text: str) -> str:
    """The text with an apostrophe before whatever would begin a formula.

    >>> guard("=1+1"), guard("-5 °C"), guard("raw umber"), guard("x;@y")
    ("'=1+1", "'-5 °C", 'raw umber', "x;'@y")
    """
    return _UNGUARDED.sub(r"\1'", text)


def unguard(text: str) -> str:
    """What `guard` was given.

    >>> unguard("'=1+1"), unguard("'tis umber"), unguard(guard("'=1"))
    ('=1+1', "'tis umber", "'=1")
    """
    return _GUARDED.sub(r"\1", text)
