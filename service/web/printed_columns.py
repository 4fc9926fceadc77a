"""Which columns of a table keep their words whole on paper: as many as fit side by side across the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.outreach.letter_widths import width_of
from service.outreach.paper_tables import fitting

_SIZE: Final = 900
"""The letters of wide_print.css, in hundredths of a point; the page and its gaps are its too."""
_ACROSS: Final = {True: 72_390, False: 77_380}
"""Between the margins of a page that lies across: letter, A4."""
_GAP: Final = 900
_SPLIT: Final = 3_000
"""What a column that may break its words keeps at the least, in the sum over all columns."""


def kept_words(
    labels: Sequence[str], rows: Sequence[Sequence[str]], figures: Sequence[bool], *, on_letter: bool
) -> list[bool]:
    """Of each column, whether no word of it is broken.

    Args:
        labels, rows: the words of the table, its first column printed bold as the header is.
        figures: which columns hold numbers and days alone; these never break, nor do their words wrap.
    """
    wanted = []
    for place, label in enumerate(labels):
        cells = {row[place] for row in rows}
        said = cells if figures[place] else {word for cell in cells for word in cell.split()}
        widest = max((width_of(word, _SIZE, bold=place == 0) for word in said), default=0)
        wanted.append(max([widest, *(width_of(word, _SIZE, bold=True) for word in label.split())]) + _GAP)
    least = [
        most if plain else min(most, _SPLIT) for most, plain in zip(wanted, figures, strict=True)
    ]
    found = fitting(wanted, least, _ACROSS[on_letter])
    return [one == most for one, most in zip(found, wanted, strict=True)]
