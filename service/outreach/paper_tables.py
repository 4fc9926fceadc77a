"""Tables on paper, row by row: texts are wrapped by the widths of their signs, a long row goes on overleaf.

The library's own tables measure each cell twice, sign by sign; a pack of some hundred pages took minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from fpdf import FPDF

LINE_MM: Final = 3.3
_GAP_MM: Final = 0.9
_WIDEST: Final = 60
"""Signs of the longest text of a column that count toward its width."""
_LEAST: Final = 7
_FIGURE: Final = 16
"""Signs of the longest word that is kept whole, be it a number, a day or a plain word."""
_BOLD: Final = 1.15
"""How much wider the letters of a header are."""


class Ruler:
    """How wide signs are on this paper, in its present letters, in mm."""

    def __init__(self, paper: FPDF) -> None:
        self._sign = lru_cache(maxsize=None)(paper.get_string_width)

    def width(self, text: str) -> float:
        return sum(map(self._sign, text))

    def wrapped(self, text: str, most: float) -> list[str]:
        """The text in lines no wider than ``most`` mm, broken at spaces where there are any."""
        lines: list[str] = []
        for part in text.split("\n"):
            line, used = "", 0.0
            for word in self._words(part, most):
                width = self.width(word)
                if line and used + width > most:
                    lines.append(line.rstrip())
                    line, used = "", 0.0
                line, used = line + word, used + width
            lines.append(line.rstrip())
        return lines

    def _words(self, text: str, most: float) -> list[str]:
        """Words with the space after them; one that is too wide for a line in pieces that are not."""
        found: list[str] = []
        for word in text.replace(" ", " \n").split("\n"):
            piece, used = "", 0.0
            for sign in word:
                width = self._sign(sign)
                if piece and sign != " " and used + width > most:
                    found.append(piece)
                    piece, used = "", 0.0
                piece, used = piece + sign, used + width
            found.append(piece)
        return found


def draw_table(paper: FPDF, header: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table over the whole width; its header stands again at the top of each page.

    The rows are printed from the left edge at the present height, which moves below them.
    """
    ruler = Ruler(paper)
    widths = _widths(ruler, paper.epw, header, rows)
    heads = [ruler.wrapped(text, width - _GAP_MM) for text, width in zip(header, widths, strict=True)]
    _row(paper, heads, heads, widths, first=True)
    for row in rows:
        cells = [ruler.wrapped(text, width - _GAP_MM) for text, width in zip(row, widths, strict=True)]
        _row(paper, cells, heads, widths)


def _row(
    paper: FPDF, cells: list[list[str]], heads: list[list[str]], widths: list[float], *, first: bool = False
) -> None:
    """One row; what does not fit on the page goes on on the next, under the header."""
    left = max(map(len, cells))
    at = 0
    while at < left:
        room = int((paper.page_break_trigger - paper.get_y() - 1) / LINE_MM)
        whole = left - at <= room
        if room < 1 or (not whole and (at == 0 and left * LINE_MM < paper.eph / 2)):
            paper.add_page()
            if not first:
                _row(paper, heads, heads, widths, first=True)
            continue
        part = [lines[at : at + room] for lines in cells]
        _lines(paper, part, widths, bold=first)
        at += room


def _lines(paper: FPDF, cells: list[list[str]], widths: list[float], *, bold: bool) -> None:
    top, x = paper.get_y(), paper.l_margin
    paper.set_font(style="B" if bold else "")
    for lines, width in zip(cells, widths, strict=True):
        for number, line in enumerate(lines):
            if line:
                paper.text(x, top + (number + 0.8) * LINE_MM, line)
        x += width
    paper.set_font(style="")
    bottom = top + max(map(len, cells)) * LINE_MM + 0.4
    paper.set_draw_color(90 if bold else 190)
    paper.line(paper.l_margin, bottom, paper.l_margin + sum(widths), bottom)
    paper.set_y(bottom + 0.3)


def _widths(
    ruler: Ruler, whole: float, header: Sequence[str], rows: Sequence[Sequence[str]]
) -> list[float]:
    """Shares of the page by the longest text of each column, a very long one not beyond measure.

    A column is no narrower than its widest word as far as these fit side by side, and than its widest number
    or day, as long as all of them fit.
    """
    widest = [max(len(name), _LEAST) for name in header]
    for row in rows:
        widest = [max(most, min(len(text), _WIDEST)) for most, text in zip(widest, row, strict=True)]
    figures, words = [0.0] * len(widest), [_widest(ruler, _short(name)) * _BOLD for name in header]
    for row in rows:
        short = [_short(text) for text in row]
        words = [max(most, _widest(ruler, some)) for most, some in zip(words, short, strict=True)]
        short = [[word for word in some if any(map(str.isdigit, word))] for some in short]
        figures = [max(most, _widest(ruler, some)) for most, some in zip(figures, short, strict=True)]
    least = figures if sum(figures) <= whole else [0.0] * len(figures)
    return shares(widest, fitting(words, least, whole), whole)


def _short(text: str) -> list[str]:
    return [word for word in text.split() if len(word) <= _FIGURE]


def _widest(ruler: Ruler, words: list[str]) -> float:
    """The width of the widest word, with the gap after it; 0 where there is none."""
    return max(map(ruler.width, words)) + _GAP_MM + 0.01 if words else 0.0


def fitting(wanted: Sequence[float], least: Sequence[float], whole: float) -> list[float]:
    """What each column wants, as long as all fit side by side; who gains most by it falls back first.

    >>> fitting([3, 9, 4], [1, 2, 1], 16), fitting([3, 9, 4], [1, 2, 1], 10), fitting([3, 9], [3, 2], 4)
    ([3, 9, 4], [3, 2, 4], [3, 2])
    """
    found = list(wanted)
    for place in sorted(range(len(found)), key=lambda one: wanted[one] - least[one], reverse=True):
        if sum(found) <= whole:
            break
        found[place] = least[place]
    return found


def shares(wanted: Sequence[float], least: Sequence[float], whole: float) -> list[float]:
    """A width divided as wanted, but none below its least.

    >>> shares([1, 1, 2], [0, 5, 0], 12)
    [2.3333333333333335, 5, 4.666666666666667]
    """
    held: set[int] = set()
    while True:
        rest = whole - sum(least[place] for place in held)
        free = sum(one for place, one in enumerate(wanted) if place not in held) or 1
        found = [
            least[place] if place in held else rest * one / free for place, one in enumerate(wanted)
        ]
        narrow = {place for place, one in enumerate(found) if one < least[place]} - held
        if not narrow:
            return found
        held |= narrow
