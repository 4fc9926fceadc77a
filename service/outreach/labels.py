"""Shelf labels as drawings: where each line of text and the QR stand, in tenths of a millimetre.

The browser prints them at 100 %. Nothing here knows a table; label_faces.py says what stands on a label.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import segno

MODULE: Final = 5
"""Least side of one QR module: 0.5 mm, four dots of a 200 dpi print head."""
_QR_ROOM: Final = 180
"""A QR grows to at most 18 mm where its modules can be larger."""
_WIDTH_OF_EM: Final = 56
"""Hundredths of the letter size that a letter takes on average; bold sans, measured on a few names."""
_SQUEEZE: Final = 125
"""A line may be pressed together to 1/1.25 of its width; beyond that it is parted or cut."""


@dataclass(frozen=True)
class LabelStock:
    """What is printed on, in tenths of a millimetre; ``margin`` stays white inside each label.

    The names are our own; the sizes are what the trade sells (common practice, no source).
    """

    key: str
    words: str
    page: tuple[int, int]
    label: tuple[int, int]
    grid: tuple[int, int] = (1, 1)
    origin: tuple[int, int] = (0, 0)
    pitch: tuple[int, int] = (0, 0)
    margin: int = 15

    @property
    def on_page(self) -> int:
        """How many labels a page holds."""
        return self.grid[0] * self.grid[1]

    @property
    def page_mm(self) -> str:
        """The page size for a style sheet: "62mm 29mm"."""
        return " ".join(f"{mm(side)}mm" for side in self.page)


STOCKS: Final[dict[str, LabelStock]] = {
    stock.key: stock
    for stock in (
        LabelStock("roll-62x29", "Roll, 62 × 29 mm", (620, 290), (620, 290)),
        LabelStock("sheet-24", "A4 sheet, 3 × 8 labels of 63.5 × 33.9 mm", (2100, 2970), (635, 339), (3, 8),
                   (72, 129), (660, 339), 30),
        LabelStock("sheet-14", "A4 sheet, 2 × 7 labels of 99.1 × 38.1 mm", (2100, 2970), (991, 381), (2, 7),
                   (46, 151), (1016, 381), 30),
    )
}  # fmt: skip
NUDGES: Final = tuple(range(-50, 55, 5))
"""Offsets that may be chosen, in tenths of a millimetre: -5 to 5 mm by halves."""


@dataclass(frozen=True)
class LabelFace:
    """What a label says. ``lines`` are (word, value); a value of None is a line to write on."""

    title: str
    code: str
    qr: str
    lines: tuple[tuple[str, str | None], ...] = ()
    strong: str = ""
    foot: tuple[str, ...] = ()


@dataclass(frozen=True)
class Text:
    """A line of letters on its base line; ``squeeze`` is the width it must be pressed into, 0 for none."""

    x: int
    y: int
    size: int
    words: str
    bold: bool = False
    mono: bool = False
    squeeze: int = 0


@dataclass(frozen=True)
class Rule:
    """A thin line."""

    x: int
    y: int
    width: int
    height: int = 2


@dataclass(frozen=True)
class Square:
    """A QR: its corner, the side of the whole with quiet zone, its modules, and the dark ones as a path."""

    x: int
    y: int
    side: int
    modules: int
    path: str


@dataclass(frozen=True)
class Drawing:
    """One label or test figure at its place on the page."""

    x: int
    y: int
    width: int
    height: int
    texts: tuple[Text, ...] = ()
    rules: tuple[Rule, ...] = ()
    qr: Square | None = None
    frame: bool = False


@dataclass(frozen=True)
class Page:
    """One page of label stock, in tenths of a millimetre."""

    width: int
    height: int
    drawings: tuple[Drawing, ...]

    @property
    def size(self) -> tuple[str, str]:
        """Width and height for the picture's attributes."""
        return f"{mm(self.width)}mm", f"{mm(self.height)}mm"


def mm(tenths: int) -> str:
    """Tenths of a millimetre as millimetres.

    >>> mm(635), mm(620), mm(-5)
    ('63.5', '62', '-0.5')
    """
    whole, rest = divmod(abs(tenths), 10)
    return ("-" if tenths < 0 else "") + (f"{whole}.{rest}" if rest else str(whole))


def qr_content(code: str, base_url: str) -> str:
    """What the QR says, in capitals so that it stays small: ``HTTPS://HOST/C/CODE``, or ``C/CODE`` alone.

    >>> qr_content("K7QF2B", "https://store.example"), qr_content("K7QF2B", "")
    ('HTTPS://STORE.EXAMPLE/C/K7QF2B', 'C/K7QF2B')
    """
    return f"{base_url.rstrip('/').upper()}/C/{code}" if base_url else f"C/{code}"


def qr_square(content: str, x: int, y: int) -> Square:
    """The QR of a text with its quiet zone of four modules (ISO/IEC 18004).

    Large modules matter more on a thermal printer than a high error level: the smallest version at level M,
    then the highest level that still fits into it (Q for a short host, H for a bare code).
    """
    symbol: Any = segno.make(content, error="m", boost_error=True, micro=False)
    rows = [list(row) for row in symbol.matrix_iter(scale=1, border=4)]
    path = "".join(
        f"M{start} {at}h{length}v1h-{length}z" for at, row in enumerate(rows) for start, length in _runs(row)
    )
    module = max(MODULE, _QR_ROOM // len(rows))
    return Square(x, y, len(rows) * module, len(rows), path)


def _runs(row: Sequence[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for at, dark in enumerate(row):
        if not dark:
            continue
        if runs and runs[-1][0] + runs[-1][1] == at:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        else:
            runs.append((at, 1))
    return runs


def fit(words: str, width: int, size: int, lines: int) -> list[str]:
    """The text in at most so many lines that fit the width when pressed a little; the last may be cut.

    >>> fit("Burnt sienna in linseed oil", 300, 34, 2)
    ['Burnt sienna in', 'linseed oil']
    """
    most = max(4, width * _SQUEEZE // (size * _WIDTH_OF_EM))
    parted: list[str] = []
    rest = words.split()
    while rest and len(parted) < lines:
        line = rest.pop(0)
        while rest and len(line) + 1 + len(rest[0]) <= most:
            line += " " + rest.pop(0)
        parted.append(line)
    if rest:
        parted[-1] += " " + " ".join(rest)
    return [line if len(line) <= most else line[: most - 1].rstrip() + "…" for line in parted]


def _text(
    x: int, y: int, size: int, words: str, width: int, *, bold: bool = False, mono: bool = False
) -> Text:
    natural = len(words) * size * (60 if mono else _WIDTH_OF_EM) // 100
    return Text(x, y, size, words, bold, mono, width if natural > width else 0)


def draw_label(face: LabelFace, stock: LabelStock, x: int = 0, y: int = 0) -> Drawing:
    """One label at a place on the page: name, code in large letters beside the QR, lines, the foot below."""
    width, height = stock.label
    left, unit = stock.margin, (height - 2 * stock.margin) * 100 // 260
    square = qr_square(face.qr, 0, 0)
    square = Square(width - left - square.side, left, square.side, square.modules, square.path)
    room = square.x - left

    def s(size: int) -> int:
        return size * unit // 100

    texts: list[Text] = []
    at = left
    for line in fit(face.title, room, s(31), 2):
        at += s(31)
        texts.append(_text(left, at, s(31), line, room, bold=True))
    at += s(42)
    texts.append(_text(left, at, s(42), face.code, room, bold=True, mono=True))
    at += s(4)
    rules: list[Rule] = []
    for word, value in face.lines:
        at += s(24)
        said = word if value is None else f"{word} {value}"
        texts.append(_text(left, at, s(22), said, room))
        if value is None:
            begin = left + (len(word) + 1) * s(22) * 64 // 100
            rules.append(Rule(begin, at + 3, max(20, room - (begin - left) - 10)))
    if face.strong:
        at += s(25)
        texts.append(_text(left, at, s(23), face.strong, room, bold=True))
    texts += _foot(face.foot, stock, s(21), at + 2)
    return Drawing(x, y, width, height, tuple(texts), tuple(rules), square)


def _foot(foot: Sequence[str], stock: LabelStock, size: int, above: int) -> list[Text]:
    """The lines at the bottom, over the whole width, as many as there is room for below ``above``."""
    width, height = stock.label
    room = width - 2 * stock.margin
    rows = max(1, (height - stock.margin - above) // (size + 3))
    lines = [line for part in foot for line in fit(part, room, size, 2)]
    if len(lines) > rows:
        lines = [*lines[: rows - 1], *fit(" ".join(lines[rows - 1 :]), room, size, 1)]
    first = height - stock.margin - 4 - (len(lines) - 1) * (size + 3)
    return [_text(stock.margin, first + row * (size + 3), size, line, room) for row, line in enumerate(lines)]


def lay_out(
    faces: Sequence[LabelFace], stock: LabelStock, nudge: tuple[int, int] = (0, 0), first: int = 1
) -> list[Page]:
    """Labels on pages, row by row.

    Args:
        nudge: moves everything right and down, tenths of a millimetre.
        first: the cell to begin with on a sheet that was begun before, from 1.
    """
    skip = min(max(first, 1), stock.on_page) - 1
    pages: list[list[Drawing]] = []
    for number, face in enumerate(faces, start=skip):
        page, cell = divmod(number, stock.on_page)
        while len(pages) <= page:
            pages.append([])
        x, y = _cell(stock, cell)
        pages[page].append(draw_label(face, stock, x + nudge[0], y + nudge[1]))
    return [Page(*stock.page, tuple(drawings)) for drawings in pages]


def _cell(stock: LabelStock, cell: int) -> tuple[int, int]:
    row, column = divmod(cell, stock.grid[0])
    return stock.origin[0] + column * stock.pitch[0], stock.origin[1] + row * stock.pitch[1]


def ruler_page(stock: LabelStock, nudge: tuple[int, int] = (0, 0)) -> Page:
    """A page with the outline of every label and a ruler of 50 mm to hold against a real one."""
    width, height = stock.label
    drawings = []
    for cell in range(stock.on_page):
        x, y = _cell(stock, cell)
        drawings.append(Drawing(x + nudge[0], y + nudge[1], width, height, frame=True))
    left, top = _cell(stock, 0)
    ruler = Drawing(left + nudge[0], top + nudge[1], width, height, _ruler_texts(), _ruler_rules())
    return Page(*stock.page, (*drawings, ruler))


def _ruler_rules() -> tuple[Rule, ...]:
    ticks = [
        Rule(60 + at * 10 - 1, 120, 2, 40 if at % 10 == 0 else 25 if at % 5 == 0 else 15) for at in range(51)
    ]
    return (Rule(60, 118, 500, 2), *ticks)


def _ruler_texts() -> tuple[Text, ...]:
    figures = [Text(60 + at * 10 - 8, 185, 22, str(at)) for at in range(0, 51, 10)]
    words = "This line is 50 mm. If not, print at 100 %."
    return (*figures, _text(60, 100, 24, words, 500, bold=True), Text(60, 225, 22, "mm"))


def page_css(stock: LabelStock) -> str:
    """The style sheet that sets the paper: a page rule cannot stand in a shared style sheet."""
    return f"@page {{ size: {stock.page_mm}; margin: 0; }}\n"
