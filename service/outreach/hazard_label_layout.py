"""Where the words and pictograms of a hazard label stand, in letters as large as its paper allows.

All measures are hundredths of a millimetre. Letters grow from the least that may be printed; what does not
fit with those is not cut: there is no layout then.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from service.outreach.hazard_label_sizes import LEAST_X_HEIGHT, HazardLabelSize
from service.outreach.hazard_label_words import Part
from service.outreach.letter_widths import X_HEIGHT, parted, width_of
from service.outreach.pictograms import across

_LEAST: Final = -(-LEAST_X_HEIGHT * 1000 // round(X_HEIGHT * 1000))
_GAP: Final = 60
"""Between two pictograms, and between them and the text."""
_NARROWEST: Final = 1100
"""Beside pictograms a line shorter than 11 mm is left white."""
_SEAM: Final = 20
"""Black bars reach into each other, so that no white hair shows between them."""
_FINE: Final = 96
"""The letters found are the largest to one part in so many."""


@dataclass(frozen=True)
class Placed:
    """A pictogram: its upper left corner and its width from point to point."""

    code: str
    x: int
    y: int
    box: int


@dataclass(frozen=True)
class Line:
    """Words on their base line."""

    x: int
    y: int
    size: int
    words: str
    bold: bool
    white: bool


@dataclass(frozen=True)
class Bar:
    """A black bar behind white words."""

    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True)
class Laid:
    """Everything at its place; ``letters`` is the size of the plain text."""

    letters: int
    width: int
    height: int
    pictures: tuple[Placed, ...]
    lines: tuple[Line, ...]
    bars: tuple[Bar, ...]


def largest_layout(
    parts: Sequence[Part], codes: Sequence[str], size: HazardLabelSize, side: int
) -> Laid | None:
    """The arrangement with the largest letters, upright or lengthwise; None where not even the smallest fit.

    No word is parted that could stand whole below the pictograms, unless nothing else fits.

    Args:
        codes: the pictograms, each ``side`` long on each side of its square.
    """
    return _largest(parts, codes, size, side, whole=True) or _largest(parts, codes, size, side, whole=False)


def _largest(
    parts: Sequence[Part], codes: Sequence[str], size: HazardLabelSize, side: int, *, whole: bool
) -> Laid | None:
    best: Laid | None = None
    most = max(_LEAST + 20, size.short * 7 // 100)
    for width, height in ((size.long, size.short), (size.short, size.long)):
        margin = 100 if size.hint else 200
        for pictures in _arrangements(codes, width - 2 * margin, height - 2 * margin, -int(-across(side))):
            low = best.letters + 1 if best else _LEAST
            for letters in _halving(low, most):
                laid = _lay(parts, pictures, (width, height, margin), letters.size, whole=whole)
                letters.fitted = laid is not None
                best = laid or best
    return best


class _Try:
    """One letter size to try, and whether it fitted."""

    def __init__(self, size: int) -> None:
        self.size, self.fitted = size, False


def _halving(low: int, high: int) -> Iterator[_Try]:
    """The smallest size first, then nearer and nearer to the largest that fits."""
    first = _Try(low)
    yield first
    while first.fitted and high - low > max(1, low // _FINE):
        middle = _Try((low + high + 1) // 2)
        yield middle
        low, high = (middle.size, high) if middle.fitted else (low, middle.size - 1)


def _arrangements(codes: Sequence[str], width: int, height: int, box: int) -> list[tuple[Placed, ...]]:
    """The ways in which the pictograms can stand in the upper right corner: in rows, or set into each other.

    Places count from the corner of the printed field; an empty list where they do not fit at all.
    """
    if not codes:
        return [()]
    found = []
    step = box + _GAP
    for columns in range(1, len(codes) + 1):
        for woven in (False, True):
            spots: list[tuple[int, int]] = []
            row = 0
            while len(spots) < len(codes):
                shifted = woven and row % 2 == 1
                count = columns - 1 if shifted and columns > 1 else columns
                inset = step // 2 if shifted else 0
                spots += [
                    (at * step + inset, row * (step // 2 + _GAP if woven else step)) for at in range(count)
                ]
                row += 1
            spots = spots[: len(codes)]
            across_all, down_all = (max(spot[axis] for spot in spots) + box for axis in (0, 1))
            if across_all <= width and down_all <= height:
                left = width - across_all
                found.append(
                    tuple(Placed(code, x + left, y, box) for code, (x, y) in zip(codes, spots, strict=True))
                )
    return list(dict.fromkeys(found))


def _lay(
    parts: Sequence[Part], pictures: tuple[Placed, ...], paper: tuple[int, int, int], letters: int, *,
    whole: bool,
) -> Laid | None:  # fmt: skip
    """Every part at this letter size; None where the paper (width, height, margin) ends first."""
    width, height, margin = paper
    page = _Page(pictures, width - 2 * margin, height - 2 * margin, whole=whole)
    for part in parts:
        size = letters * part.scale // 100
        if not page.write(part, size):
            return None
        page.y += letters // 5
    moved = tuple(Placed(one.code, one.x + margin, one.y + margin, one.box) for one in pictures)
    lines = tuple(Line(o.x + margin, o.y + margin, o.size, o.words, o.bold, o.white) for o in page.lines)
    bars = tuple(Bar(one.x + margin, one.y + margin, one.width, one.height) for one in page.bars)
    return Laid(letters, width, height, moved, lines, bars)


class _Page:
    """A field that is filled from above; the pictograms stand in its upper right corner."""

    def __init__(self, pictures: tuple[Placed, ...], width: int, height: int, *, whole: bool) -> None:
        self.whole = whole
        self.width, self.height, self.y = width, height, 0
        self.pictures = pictures
        self.lines: list[Line] = []
        self.bars: list[Bar] = []

    def room(self, height: int) -> int:
        """How wide a line may be that begins here."""
        beside = [self._beside(one, height) for one in self.pictures]
        return min([self.width, *beside])

    def _beside(self, one: Placed, height: int) -> int:
        """Up to the slanting edge of a pictogram, which is nearest at its middle."""
        half, middle = one.box // 2, one.y + one.box // 2
        off = max(0, self.y - middle, middle - self.y - height)
        reach = half + 2 * _GAP - off
        return one.x + half - reach if reach > 0 else self.width

    def write(self, part: Part, size: int) -> bool:
        """Adds a paragraph; False where it does not fit."""
        high = -(-size * 12 // 10)
        inset = size // 4 if part.alarm else 0
        # At plain blanks only: what a no-break space holds together stays together.
        words = [word for word in part.words.split(" ") if word]
        while words:
            if self.y + high > self.height:
                return False
            room = self.room(high) - 2 * inset
            if room < min(_NARROWEST, self.width):
                self.y += _GAP
                continue
            wide = width_of(words[0], size, part.bold)
            if self.whole and room < wide <= self.width - 2 * inset:
                self.y += _GAP
                continue
            said, words = _taken(words, size, room, part.bold)
            if part.alarm:
                self.bars.append(Bar(0, self.y, room + 2 * inset, high + _SEAM))
            self.lines.append(Line(inset, self.y + size * 94 // 100, size, said, part.bold, part.alarm))
            self.y += high
        return True


def _taken(words: list[str], size: int, room: int, bold: bool) -> tuple[str, list[str]]:
    """As many words as fit, and the rest; a word wider than a whole line is parted, never cut short."""
    said, at = words[0], 1
    if width_of(said, size, bold) > room:
        first, rest = parted(said, size, room, bold)
        return first, [rest, *words[1:]] if rest else words[1:]
    while at < len(words) and width_of(f"{said} {words[at]}", size, bold) <= room:
        said, at = f"{said} {words[at]}", at + 1
    return said, words[at:]
