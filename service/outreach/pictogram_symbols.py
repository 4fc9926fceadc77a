"""The black symbols of the nine hazard pictograms, drawn by us after the descriptions of UN GHS Annex 1.

Every drawing lies in a square of 1000 units inside the white diamond of pictograms.py: a point is inside when
its distances from the middle, across and down, add up to less than 405. Black shapes are painted first, white
ones over them, then black ones again.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import cos, pi, radians, sin
from typing import Final


@dataclass(frozen=True)
class Symbol:
    """Paths in the order they are painted: ``black``, then ``white`` upon it, then ``over`` in black."""

    black: str
    white: str = ""
    over: str = ""


def _disc(x: float, y: float, radius: float, tall: float | None = None) -> str:
    """A filled circle, or an ellipse with another half height.

    >>> _disc(500, 500, 10)
    'M490 500a10 10 0 1 1 20 0a10 10 0 1 1 -20 0z'
    """
    high = radius if tall is None else tall
    turn = f"a{radius:g} {high:g} 0 1 1"
    return f"M{x - radius:g} {y:g}{turn} {2 * radius:g} 0{turn} {-2 * radius:g} 0z"


def _star(x: float, y: float, outer: float, inner: float, points: int) -> str:
    """A star with one point straight up."""
    corners = []
    for number in range(2 * points):
        reach, angle = (inner if number % 2 else outer), pi * number / points
        corners.append(f"{x + reach * sin(angle):.0f} {y - reach * cos(angle):.0f}")
    return f"M{' '.join(corners)}z"


def _bar(x1: float, y1: float, x2: float, y2: float, thick: float, thin: float | None = None) -> str:
    """A straight limb from one point to another; ``thin`` is its width at the far end."""
    far = thick if thin is None else thin
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    across, down = -(y2 - y1) / length / 2, (x2 - x1) / length / 2
    corners = (
        (x1 - across * thick, y1 - down * thick),
        (x2 - across * far, y2 - down * far),
        (x2 + across * far, y2 + down * far),
        (x1 + across * thick, y1 + down * thick),
    )
    return "M" + " ".join(f"{x:.0f} {y:.0f}" for x, y in corners) + "z"


def _bone(x1: float, y1: float, x2: float, y2: float) -> str:
    """A bone with two knobs at each end."""
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    across, down = -(y2 - y1) / length * 24, (x2 - x1) / length * 24
    knobs = [
        _disc(round(x + side * across), round(y + side * down), 31)
        for x, y in ((x1, y1), (x2, y2))
        for side in (1, -1)
    ]
    return _bar(x1, y1, x2, y2, 40) + "".join(knobs)


def _turned(path: str, degrees: float, x: float, y: float, mirror: bool = False) -> str:
    """A path of absolute points (M, L, C) drawn around 0 0: turned clockwise, then moved to a point.

    >>> _turned("M10 0L0 10z", 90, 500, 500)
    'M500 510L490 500z'
    """
    c, s, way = cos(radians(degrees)), sin(radians(degrees)), -1 if mirror else 1

    def moved(found: re.Match[str]) -> str:
        across, down = float(found[1]), float(found[2])
        return f"{x + way * (across * c - down * s):.0f} {y + across * s + down * c:.0f}"

    return re.sub(r"(-?[\d.]+) (-?[\d.]+)", moved, path)


# A round bomb at the moment it bursts: a crack runs through it, pieces and rays fly off.
EXPLODING_BOMB: Final = Symbol(
    black=_disc(500, 590, 142)
    + _bar(500, 425, 500, 165, 50, 6)
    + _bar(402, 446, 296, 306, 46, 6)
    + _bar(598, 446, 704, 306, 46, 6)
    + _bar(338, 540, 172, 470, 46, 6)
    + _bar(662, 540, 828, 470, 46, 6)
    + _bar(340, 640, 232, 626, 44, 6)
    + _bar(660, 640, 768, 626, 44, 6)
    + "M424 398L390 330L432 262L462 330L458 390z"
    + "M572 398L548 332L552 280L600 300L606 350z"
    + "M330 470L262 424L282 366L340 392L364 440z"
    + "M676 476L650 430L690 386L742 376L730 440z"
    + "M388 720L360 742L402 768L422 736z"
    + "M612 720L578 736L598 768L640 742z"
    + "M482 756L472 812L526 826L516 752z",
    white="M452 440L500 522L446 562L526 626L480 668L546 740L560 736L528 672L578 626L504 562L552 518L500 440z",
)

# A flame with tongues over a line.
FLAME: Final = Symbol(
    black="M500 690C398 690 335 622 335 540C335 470 370 430 394 372C402 412 414 440 436 458"
    "C428 366 452 272 538 168C536 258 556 306 592 356C606 334 612 306 606 276"
    "C654 352 672 450 664 544C656 630 602 690 500 690z" + _bar(345, 731, 655, 731, 40),
    white="M506 672C450 672 418 632 420 584C422 546 446 524 462 488C470 512 480 528 494 538"
    "C490 484 506 444 536 408C538 452 556 474 574 506C592 540 596 566 590 598C582 646 550 672 506 672z",
)

# A flame that rises from a ring over a line.
FLAME_OVER_CIRCLE: Final = Symbol(
    black=_disc(500, 598, 132)
    + _bar(392, 768, 608, 768, 40)
    + "M400 520C366 470 352 430 364 376C376 334 396 310 402 268C424 300 434 326 438 360"
    "C440 282 464 216 532 140C526 214 542 260 568 300C582 280 586 256 580 226"
    "C624 284 648 336 642 396C638 448 624 484 600 520z",
    white=_disc(500, 598, 84)
    + "M428 478C416 446 426 420 444 388C452 412 462 424 476 432C474 388 490 360 516 330"
    "C516 370 536 394 552 420C566 446 574 464 566 482C526 458 470 456 428 478z",
)

_BOTTLE: Final = (
    "M-240 -84L92 -84C146 -84 182 -60 194 -30L240 -30L240 -56L288 -56L288 56L240 56L240 30L194 30"
    "C182 60 146 84 92 84L-240 84C-264 84 -274 70 -274 48L-274 -48C-274 -70 -264 -84 -240 -84z"
)

# A gas cylinder that lies aslant, with shoulder, neck and valve.
GAS_CYLINDER: Final = Symbol(
    black=_turned(_BOTTLE, -24, 494, 505),
    white=_turned("M-226 -46L100 -46C124 -46 138 -36 138 -25C138 -14 124 -6 100 -6L-226 -6z", -24, 494, 505),
)

_TUBE: Final = "M-56 -44L92 -44L92 44L-56 44C-116 44 -116 -44 -56 -44z"
_EMPTY: Final = "M-56 -24L76 -24L-4 25L-56 25C-88 22 -88 -22 -56 -24z"
_DROP: Final = "M0 -48C12 -16 27 0 27 20C27 54 -27 54 -27 20C-27 0 -12 -16 0 -48z"
_HAND: Final = (
    "M-176 -14C-176 -36 -150 -42 -124 -36L-46 -32L-8 -56L62 -56L62 26L30 30L-10 56C-40 76 -90 76 -96 58"
    "L-124 50C-148 44 -148 24 -124 22L-152 14C-172 10 -176 2 -176 -14z"
)

# Two tubes pour drops, one on a slab, one on a hand; both are eaten away.
CORROSION: Final = Symbol(
    black=_turned(_TUBE, 24, 604, 302)
    + _turned(_TUBE, 24, 396, 302, mirror=True)
    + _turned(_DROP, 0, 306, 436)
    + _turned(_DROP, 0, 694, 436)
    + "M268 582L468 582L468 672L268 672z"
    + _turned(_HAND, 0, 682, 628),
    white=_turned(_EMPTY, 24, 604, 302)
    + _turned(_EMPTY, 24, 396, 302, mirror=True)
    + "M280 572L292 602L306 610L316 636L344 632L354 610L370 604L382 572z"
    + "M612 562L626 598L646 604L656 632L684 624L694 600L712 562z",
    over=_turned(_DROP, 0, 330, 540) + _turned(_DROP, 0, 664, 540),
)

# A skull over two crossed bones.
SKULL: Final = Symbol(
    black=_bone(366, 574, 634, 712)
    + _bone(366, 712, 634, 574)
    + "M500 158C404 158 346 226 346 312C346 370 370 404 404 430L408 496C410 522 424 534 446 534L554 534"
    "C576 534 590 522 592 496L596 430C630 404 654 370 654 312C654 226 596 158 500 158z",
    white=_disc(434, 332, 46, 43)
    + _disc(566, 332, 46, 43)
    + "M500 382L530 442L500 431L470 442z"
    + _bar(455, 468, 455, 536, 17)
    + _bar(500, 468, 500, 536, 17)
    + _bar(545, 468, 545, 536, 17),
)

# An exclamation mark.
EXCLAMATION_MARK: Final = Symbol(
    black="M500 180C552 180 580 216 574 272L540 590C536 616 522 628 500 628C478 628 464 616 460 590L426 272"
    "C420 216 448 180 500 180z" + _disc(500, 734, 66),
)

# Head and shoulders of a person; a star bursts in the chest.
HEALTH_HAZARD: Final = Symbol(
    black=_disc(500, 246, 86, 102)
    + "M452 310L548 310L548 376C560 398 600 404 640 418C694 438 712 480 712 560L644 748L356 748L288 560"
    "C288 480 306 438 360 418C400 404 440 398 452 376z",
    white=_star(500, 572, 156, 50, 8),
)

# A tree without leaves on bare ground; a dead fish beside it on the water.
ENVIRONMENT: Final = Symbol(
    black=_bar(384, 664, 406, 216, 78, 26)
    + _bar(390, 520, 256, 396, 42, 12)
    + _bar(314, 450, 310, 362, 26, 10)
    + _bar(398, 450, 520, 320, 40, 12)
    + _bar(464, 380, 552, 372, 24, 10)
    + _bar(400, 366, 336, 274, 34, 10)
    + _bar(402, 306, 462, 216, 28, 10)
    + "M272 664C316 636 350 640 392 640C430 640 460 656 486 684L462 726L336 726z"
    + "M446 572C504 488 606 480 692 546L768 506C752 546 752 586 768 628L692 598C606 664 504 656 446 572z"
    + "M502 700C532 680 562 682 592 702C612 714 630 712 650 698L628 740C606 750 590 744 572 730"
    "C552 720 534 724 514 738L476 762z",
    white=_bar(492, 550, 532, 590, 15)
    + _bar(532, 550, 492, 590, 15)
    + "M566 514C590 552 590 594 566 632L582 632C608 594 608 552 582 512z",
)
SYMBOLS: Final = {
    "GHS01": EXPLODING_BOMB,
    "GHS02": FLAME,
    "GHS03": FLAME_OVER_CIRCLE,
    "GHS04": GAS_CYLINDER,
    "GHS05": CORROSION,
    "GHS06": SKULL,
    "GHS07": EXCLAMATION_MARK,
    "GHS08": HEALTH_HAZARD,
    "GHS09": ENVIRONMENT,
}
