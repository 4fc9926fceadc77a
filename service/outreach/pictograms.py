"""The nine hazard pictograms as drawings: a red square set on a point, a black symbol on white.

The symbols stand in pictogram_symbols.py. Nothing is drawn with a line that could reach past the frame: the
frame is the space between two diamonds.

Sources: CLP Annex V and Annex I 1.2.1; UN GHS 1.4.10.4 and Annex 1; HCS Appendix C.2.3 (red frame; a frame
without a symbol is no pictogram).
"""

from __future__ import annotations

from typing import Final

from service.core.hazards.label import PICTOGRAM_WORDS
from service.outreach.pictogram_symbols import SYMBOLS

UNITS: Final = 1000
"""The diamond from point to point, in the units of its drawing."""
RED: Final = "#e2001a"
_EDGE: Final = 76
"""How far the white diamond's points lie inside the red one's: a frame of 5.4 % of the width, 0.76 mm on a
pictogram of 10 mm a side."""
DIAMOND: Final = f"M500 0L{UNITS} 500L500 {UNITS}L0 500z"
_WHITE: Final = f"M500 {_EDGE}L{UNITS - _EDGE} 500L500 {UNITS - _EDGE}L{_EDGE} 500z"


def pictogram_paths(code: str) -> str:
    """The drawing alone, in a square of 1000 units, to stand inside a larger one.

    Raises KeyError for a code that is not GHS01 to GHS09.
    """
    symbol = SYMBOLS[code]
    painted = [(RED, DIAMOND), ("#fff", _WHITE), ("#000", symbol.black)]
    painted += [("#fff", symbol.white)] if symbol.white else []
    painted += [("#000", symbol.over)] if symbol.over else []
    return "".join(f'<path fill="{colour}" d="{path}"/>' for colour, path in painted)


def pictogram_svg(code: str, side_mm: float | None = None) -> str:
    """A pictogram as a picture of its own, with its name for those who hear the page.

    Args:
        side_mm: length of one side of the square, as the laws measure it; the picture is then 1.414 times as
            wide. None = the size is left to the page.

    >>> pictogram_svg("GHS02", 10).split("><")[0].partition("viewBox")[2]
    '="0 0 1000 1000" width="14.14mm" height="14.14mm" role="img"'
    """
    size = "" if side_mm is None else f' width="{across(side_mm):.2f}mm" height="{across(side_mm):.2f}mm"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {UNITS} {UNITS}"{size} role="img">'
        f"<title>{PICTOGRAM_WORDS[code]}</title>{pictogram_paths(code)}</svg>"
    )


def across(side: float) -> float:
    """From point to point of a square with this side.

    >>> round(across(10), 2)
    14.14
    """
    return side * 2**0.5
