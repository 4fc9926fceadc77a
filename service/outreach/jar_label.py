"""The label of a jar of a made mix: what a workplace container must say, with its batch, dates and QR.

The hazard label stands on the paper less a strip for the QR; measures are hundredths of a millimetre. What
does not fit is not cut: it is no label then, and names the next size. What is not known is said in white on
black, and a short label is given only where nothing is missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.label import LabelFor
from service.outreach.hazard_label_layout import Bar, Laid, Line, Placed, largest_layout
from service.outreach.hazard_label_sizes import LEAST_SIDE, SIZES, HazardLabelSize, next_size, size_for
from service.outreach.hazard_label_words import HazardLabelAsked, Part, parts_of
from service.outreach.hazard_labels import drawn
from service.outreach.label_faces import say_day
from service.outreach.labels import qr_square
from service.outreach.letter_widths import FAMILY, width_of

JAR_SIZES: Final = {size.key: size for size in SIZES.values() if not size.hint}
"""No front of 25 × 38 mm: beside the QR nothing could be read on it. A small jar carries a tag."""
_STRIP_GAP: Final = 100
_MARGIN: Final = 200


@dataclass(frozen=True, kw_only=True)
class JarLabelAsked:
    """A hazard label and what a jar says besides.

    Args:
        qr: what the QR says; ``code`` as people read it.
        batch, made_by: as they stand in the book; ``made_on`` None = not known.
        use_first: the sentence about its date.
        stir: how it is stirred.
    """

    hazard: HazardLabelAsked
    qr: str
    code: str
    batch: str
    made_on: date | None
    made_by: str
    use_first: str
    stir: str

    def __post_init__(self) -> None:
        if self.hazard.label_for is LabelFor.WORKPLACE and not self.hazard.complete:
            raise Invalid(
                "Not everything in it is known, so it gets no short label. Take the whole label.",
                {"use": "Not with what is not known."},
            )


@dataclass(frozen=True)
class JarLabel:
    """A laid-out jar label. ``fits`` False: it says that it is no label and which size to take."""

    size: HazardLabelSize
    width: int
    height: int
    pictures: tuple[Placed, ...]
    lines: tuple[Line, ...]
    bars: tuple[Bar, ...]
    qr: tuple[int, int, int, int, str]
    """Its corner, its side, its modules and their path."""
    fits: bool
    larger: HazardLabelSize | None

    @property
    def words(self) -> str:
        """Everything it says, in one text with plain blanks."""
        return " ".join(line.words for line in self.lines).replace("\N{NO-BREAK SPACE}", " ")


def jar_label(asked: JarLabelAsked, size: HazardLabelSize | None = None) -> JarLabel:
    """The label in a size, else in the smallest that the law allows and everything fits on.

    Raises Invalid for a size below what the volume asks for, and for a volume nobody told without a size.
    """
    volume = asked.hazard.volume_ml
    least = size_for(volume, whole=True) if size is None or volume is not None else size
    if size is not None and size.long < least.long:
        raise Invalid(
            f"A container of {asked.hazard.volume} needs a label of at least {least.words}.",
            {"size": f"At least {least.words}."},
        )
    tried = size or least
    made = _label(asked, tried)
    while size is None and not made.fits and made.larger is not None:
        made = _label(asked, made.larger)
    return made


def _label(asked: JarLabelAsked, size: HazardLabelSize) -> JarLabel:
    volume = asked.hazard.volume_ml
    side = size.side if volume is None else size_for(volume, whole=True).side
    short = asked.hazard.label_for is LabelFor.WORKPLACE
    inner, strip = _inner(size, asked.qr)
    for one in (side, LEAST_SIDE) if short else (side,):
        laid = largest_layout(_parts(asked), asked.hazard.label.pictograms, inner, one)
        if laid is not None:
            return _made(asked, size, laid, strip, True)
    larger = next_size(size)
    take = f"Take the next size ({larger.words})." if larger else "Take less text or the hazard label."
    said = Part(
        f"Not a label. Too much text for this size ({size.words}). {take}", bold=True, scale=150, alarm=True
    )
    laid = largest_layout([Part(asked.hazard.product, bold=True), said], (), inner, 0) or largest_layout(
        [said], (), inner, 0
    )
    if laid is None:
        raise RuntimeError(f"A label of {size.words} is too small for one sentence.")
    return _made(asked, size, laid, strip, False)


def _parts(asked: JarLabelAsked) -> list[Part]:
    """The hazard label's paragraphs with those of the jar behind its name and before who answers for it."""
    name, *rest = parts_of(asked.hazard, hint=False)
    *hazards, maker, foot = rest
    made = f"made {say_day(asked.made_on)}" if asked.made_on else "day it was made not known"
    who = f" by {asked.made_by}" if asked.made_by else ""
    return [
        name,
        Part(f"Batch {asked.batch} · {made}{who}", bold=True),
        Part(asked.use_first, bold=True),
        *hazards,
        Part(asked.stir),
        maker,
        foot,
    ]


def _inner(size: HazardLabelSize, qr: str) -> tuple[HazardLabelSize, int]:
    """The paper less the strip at the end of its long side."""
    strip = qr_square(qr, 0, 0).side * 10 + _MARGIN + _STRIP_GAP
    long = size.long - strip
    sides = sorted((long, size.short))
    return HazardLabelSize(size.key, sides[0], sides[1], size.side, size.most_ml), strip


def _made(
    asked: JarLabelAsked, size: HazardLabelSize, laid: Laid, strip: int, fits: bool
) -> JarLabel:
    """The strip lies below what stands upright, and to the right of what lies lengthwise."""
    square = qr_square(asked.qr, 0, 0)
    side, below = square.side * 10, laid.width == size.short
    width, height = (size.short, size.long) if below else (size.long, size.short)
    if below:
        x, y = _MARGIN, height - strip + _STRIP_GAP
        left, room, base = x + side + _STRIP_GAP, width - side - 2 * _MARGIN - _STRIP_GAP, y + side // 2
    else:
        x, y = width - strip + _STRIP_GAP, height - side - _MARGIN
        left, room, base = x, side, y - _STRIP_GAP
    letters = next(size for size in range(700, 100, -10) if width_of(asked.code, size, True) <= room)
    code = Line(left, base, letters, asked.code, True, False)
    return JarLabel(
        size, width, height, laid.pictures, (*laid.lines, code), laid.bars,
        (x, y, side, square.modules, square.path), fits, next_size(size),
    )  # fmt: skip


def jar_label_svg(label: JarLabel) -> str:
    """The label as a picture of its true size; ``labels.css`` goes with it."""
    x, y, side, modules, path = label.qr
    square = (
        f'<svg x="{x}" y="{y}" width="{side}" height="{side}" viewBox="0 0 {modules} {modules}" '
        f'shape-rendering="crispEdges"><title>{escape("QR of its page")}</title>'
        f'<path d="{path}" fill="#000"/></svg>'
    )
    size = f'width="{label.width / 100:g}mm" height="{label.height / 100:g}mm"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="hazard-label jar-label" {size} '
        f'viewBox="0 0 {label.width} {label.height}" font-family="{FAMILY}">'
        f'<rect width="{label.width}" height="{label.height}" fill="#fff"/>'
        f"{drawn(label.bars, label.pictures, label.lines)}{square}</svg>"
    )
