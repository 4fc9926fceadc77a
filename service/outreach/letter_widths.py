"""How wide a text gets on paper, counted before any browser sees it.

Measured on the two families our labels ask for (DejaVu Sans; Arial and its equals): for each letter the
wider of the two at the same height of a small x, in hundredths of the letter size of DejaVu Sans. What is
counted is thus never narrower than what is printed.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import Final

FAMILY: Final = "DejaVu Sans, Arial, Liberation Sans, Helvetica, sans-serif"
X_HEIGHT: Final = 0.547
"""Height of a small x in parts of the letter size of DejaVu Sans; labels.css scales other families to it."""
_WIDEST: Final = 110
_REGULAR: Final = {
    28: "'ijl", 30: "I", 32: " \u00a0,.’·", 34: '/:;\\|', 35: "f", 36: "-", 39: "()[]t", 40: "!²³", 41: "r",
    46: "\"", 50: "*`°", 52: "Js“”", 53: "z", 55: "c", 58: "?L_k–", 59: "vxy", 61: "ao", 62: "e", 63: "FTß",
    64: "$0123456789bdghnpqu{}µ", 69: "ABEKPSVXYZ", 75: "CHNRU", 77: "D", 78: "&", 81: "GOQ", 82: "w",
    84: "#+<=>^~×≥≤", 86: "M", 95: "%", 97: "½", 98: "mæ", 99: "W", 104: "—…Æ", 105: "@",
}  # fmt: skip
_BOLD: Final = {
    31: "'", 34: "ijl", 35: " \u00a0", 37: '/I\\|', 38: ",.’·", 40: ":;", 42: "-", 44: "f²³", 46: "!()[]",
    48: "t", 50: "`r°", 52: "\"*", 58: "J_z–", 59: "c", 60: "s", 63: "?", 64: "L", 65: "vxy", 66: "“”",
    67: "k", 68: "Tae", 69: "EFo", 70: "$0123456789", 71: "hnu{}", 72: "Sbdgpqß", 73: "PYZ", 74: "µ",
    75: "C", 76: "B", 77: "RX", 78: "AKV", 81: "U", 82: "G", 83: "D", 84: "#+<=>HN^~×≥≤", 85: "OQ", 87: "&",
    93: "w", 100: "%M", 101: "@", 104: "m—…½", 105: "æ", 109: "Æ", 111: "W",
}  # fmt: skip
_BY_LETTER: Final = tuple(
    {letter: width for width, letters in table.items() for letter in letters} for table in (_REGULAR, _BOLD)
)


@cache
def _letter(letter: str, bold: bool) -> int:
    """One sign; a letter with an accent is as wide as without, what is not in the table as the widest."""
    known = _BY_LETTER[bold].get(letter)
    if known is None and unicodedata.combining(letter):
        return 0
    if known is None:
        bare = unicodedata.normalize("NFD", letter)
        return _letter(bare[0], bold) + 2 if bare[0] != letter else _WIDEST
    return known


def width_of(words: str, size: int, bold: bool = False) -> int:
    """The width of a text in the unit of its letter size, rounded up.

    >>> width_of("Wash hands", 100), width_of("Wash hands", 100, bold=True)
    (613, 687)
    """
    return -(-sum(_letter(letter, bold) for letter in words) * size // 100)


def parted(word: str, size: int, room: int, bold: bool = False) -> tuple[str, str]:
    """A word that is wider than the room, cut where it still fits: first what fits, then the rest.

    After a hyphen or comma where one lies far enough; else anywhere. At least one letter is taken.

    >>> parted("butanone-oxime", 100, 700)
    ('butanone-', 'oxime')
    """
    most = 1
    while most < len(word) and width_of(word[: most + 1], size, bold) <= room:
        most += 1
    soft = max(word.rfind(mark, 1, most) for mark in "-,;/") + 1
    at = soft if soft * 3 >= most else most
    return word[:at], word[at:]
