"""Texts that a spreadsheet opens as texts: none of them begins a formula, and each is read back as it was.

A spreadsheet takes a cell that begins with = + - @ (or their full-width forms, a tab or a return) for a
formula. Where such a sign would begin a cell an apostrophe goes before it, and comes off again when the list
is read. A spreadsheet that parts cells at semicolons or tabs begins a cell after each of those too.

Doors: core/stock_list_file.py, core/stock_list.py, outreach/csv_tables.py.
"""

from __future__ import annotations

import re
from typing import Final

_STARTS: Final = "=+\\-@\t\r\uff1d\uff0b\uff0d\uff20"
_BEFORE: Final = r"(^|[;\t\r\n])"
_UNGUARDED: Final = re.compile(rf"{_BEFORE}(?='*[{_STARTS}])")
_GUARDED: Final = re.compile(rf"{_BEFORE}'(?='*[{_STARTS}])")


_LIKE_A_FIGURE: Final = re.compile(r"'*[0-9][0-9 .,:/eE+-]*")


def as_text(text: str) -> str:
    """A name made of figures with an apostrophe before it: a spreadsheet would make a number or day of it.

    >>> as_text("007"), as_text("3-4"), as_text("1E3"), as_text("G-3")
    ("'007", "'3-4", "'1E3", 'G-3')
    """
    return f"'{text}" if _LIKE_A_FIGURE.fullmatch(text) else text


def from_text(text: str) -> str:
    """What `as_text` was given.

    >>> from_text(as_text("007")), from_text(as_text("'42")), from_text("'tis")
    ('007', "'42", "'tis")
    """
    return text[1:] if text.startswith("'") and _LIKE_A_FIGURE.fullmatch(text) else text


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
