"""Amounts in a stock list that need no material to be told from an amount: nobody knows, 1E3, 2 x 500 g.

Doors: core/stock_list.py.
"""

from __future__ import annotations

import re
from typing import Final

from service.core.findings import Invalid
from service.core.list_days import NOBODY_KNOWS
from service.core.written_days import tidy

_SHORTENED: Final = re.compile(r"([0-9]{1,3}(?:[.,][0-9]{1,6})?)e\+?0*([0-9])(?: ?([a-z ]+))?", re.ASCII)
_SEVERAL: Final = re.compile(r"([0-9]{1,4}) ?[x×✕*] ?([0-9].*)", re.ASCII)


def list_amount(text: str) -> str:
    """An amount as written, when it says how much one container holds.

    Raises Invalid with a sentence on how to mend it.

    >>> list_amount("250 g")
    '250 g'
    >>> try: list_amount("2 x 500 g")
    ... except Invalid as error: print(error.sentence)
    If these are 2 containers, write “500 g” here and 2 under count; if it is all in one, write the sum.
    """
    plain = tidy(text).casefold()
    if plain in NOBODY_KNOWS:
        raise Invalid("Leave it empty if nobody knows.")
    if found := _SHORTENED.fullmatch(plain):
        whole, zeros, unit = found.groups()
        before, _, after = whole.replace(",", ".").partition(".")
        if len(after) <= int(zeros):
            figure = (before + after.ljust(int(zeros), "0")).lstrip("0") or "0"
            words = f"Your spreadsheet shortened the figure. Write {figure} {unit or 'g'}"
            raise Invalid(words + (", or the unit that is meant." if not unit else "."))
    if found := _SEVERAL.fullmatch(tidy(text)):
        each = found[2].strip()
        raise Invalid(
            f"If these are {found[1]} containers, write “{each}” here and {found[1]} under count; "
            "if it is all in one, write the sum."
        )
    return text
