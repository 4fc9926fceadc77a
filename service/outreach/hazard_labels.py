"""A hazard label as a drawing: where each pictogram and line stands, in hundredths of a millimetre.

``hazard_label`` lays it out, ``hazard_label_svg`` gives the picture at its true size. Letters are as large as
the paper allows and never below 1.2 mm (small x); what does not fit then is not cut off: the label says that
it is none and which size to take.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.label import LabelFor
from service.core.hazards.regimes import Regime
from service.outreach.hazard_label_layout import Bar, Laid, Line, Placed, largest_layout
from service.outreach.hazard_label_sizes import (
    LEAST_SIDE,
    SIZES,
    HazardLabelSize,
    next_size,
    size_for,
    x_height_from_2028,
)
from service.outreach.hazard_label_words import HazardLabelAsked, Part, parts_of
from service.outreach.letter_widths import FAMILY, X_HEIGHT
from service.outreach.pictograms import pictogram_svg

RED_NOTE: Final = "The frames must be red: print in colour, or on paper with exactly these frames in red."


@dataclass(frozen=True)
class HazardLabel:
    """A laid-out label.

    Args:
        fits: False: it says that it is no label and names ``larger`` where there is one.
        x_height: of the smallest letters; ``side`` of each pictogram; hundredths of a millimetre.
        fold_out: it is a front only; ``fold_out`` of hazard_label gives what must hang on it.
        notes: what to know at the printer, not printed.
    """

    size: HazardLabelSize
    width: int
    height: int
    pictures: tuple[Placed, ...]
    lines: tuple[Line, ...]
    bars: tuple[Bar, ...]
    fits: bool
    x_height: int
    side: int
    larger: HazardLabelSize | None
    fold_out: bool
    notes: tuple[str, ...]

    @property
    def words(self) -> str:
        """Everything it says, in one text with plain blanks."""
        return " ".join(line.words for line in self.lines).replace("\N{NO-BREAK SPACE}", " ")


def hazard_label(asked: HazardLabelAsked, size: HazardLabelSize | None = None) -> HazardLabel:
    """The label in a size, else in the smallest that the law allows for the volume.

    A size below that is refused (Invalid), and so is a volume nobody told when no size is given.
    """
    told = asked.volume_ml is not None
    # The small front is a relief for 125 ml and less: never for what nobody measured.
    least = size_for(asked.volume_ml) if size is None or size.hint or told else size
    if size is not None and size.long < least.long:
        raise Invalid(
            f"A container of {asked.volume} needs a label of at least {least.words} (CLP Annex I 1.2.1.4).",
            {"size": f"At least {least.words}."},
        )
    size = size or least
    # A larger paper for a small container gives room for text: its pictograms need not grow.
    side = size.side if size.hint or not told else size_for(asked.volume_ml, whole=True).side
    sides = (side, LEAST_SIDE) if asked.label_for is LabelFor.WORKPLACE else (side,)
    parts = parts_of(asked, hint=size.hint)
    for one in sides:
        laid = largest_layout(parts, asked.label.pictograms, size, one)
        if laid:
            return _label(asked, size, laid, one)
    return _too_much(asked, size)


def fold_out(asked: HazardLabelAsked) -> HazardLabel:
    """The whole label to hang on a small container: the smallest paper on which everything stands."""
    least = size_for(asked.volume_ml, whole=True)
    tried = [
        hazard_label(asked, size) for size in SIZES.values() if not size.hint and size.long >= least.long
    ]
    return next((label for label in tried if label.fits), tried[-1])


def _label(asked: HazardLabelAsked, size: HazardLabelSize, laid: Laid, side: int) -> HazardLabel:
    x_height = int(laid.letters * X_HEIGHT)
    notes = [RED_NOTE] if asked.label.pictograms else []
    if asked.regime is Regime.EU_CLP and asked.volume_ml is not None:
        later = x_height_from_2028(asked.volume_ml)
        if x_height < later:
            notes.append(
                f"Letters of {x_height / 100:.1f} mm: from 2028 the EU asks for {later / 100:.1f} mm here "
                "(Regulation (EU) 2024/2865)."
            )
    if size.hint:
        notes.append(
            "This is only the front: the whole label must hang on the container as a fold-out or tag."
        )
    return _made(laid, size, side, True, tuple(notes))


def _made(laid: Laid, size: HazardLabelSize, side: int, fits: bool, notes: tuple[str, ...]) -> HazardLabel:
    return HazardLabel(
        size=size,
        width=laid.width,
        height=laid.height,
        pictures=laid.pictures,
        lines=laid.lines,
        bars=laid.bars,
        fits=fits,
        x_height=int(laid.letters * X_HEIGHT),
        side=side if laid.pictures else 0,
        larger=next_size(size),
        fold_out=fits and size.hint,
        notes=notes,
    )


def _too_much(asked: HazardLabelAsked, size: HazardLabelSize) -> HazardLabel:
    """A paper that nobody takes for a label; the name stands on it where there is room."""
    larger = next_size(size)
    take = f"Take the next size ({larger.words}) or a fold-out." if larger else "Take a fold-out."
    said = [Part(f"Not a label. Too much text for this size ({size.words}). {take}", bold=True, alarm=True)]
    laid = largest_layout([Part(asked.product, bold=True), *said], (), size, 0) or largest_layout(
        said, (), size, 0
    )
    if laid is None:
        raise RuntimeError(f"A label of {size.words} is too small for one sentence.")
    return _made(laid, size, 0, False, (said[0].words,))


def hazard_label_svg(label: HazardLabel) -> str:
    """The label as a picture of its true size.

    It carries its own colours. ``labels.css`` goes with it: where DejaVu Sans is missing, it scales another
    family to the same height of a small x.
    """
    size = f'width="{label.width / 100:g}mm" height="{label.height / 100:g}mm"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="hazard-label" {size} '
        f'viewBox="0 0 {label.width} {label.height}" font-family="{FAMILY}">'
        f'<rect width="{label.width}" height="{label.height}" fill="#fff"/>'
        f"{drawn(label.bars, label.pictures, label.lines)}</svg>"
    )


def drawn(bars: Iterable[Bar], pictures: Iterable[Placed], lines: Iterable[Line]) -> str:
    """Bars, pictograms and words as the inside of a picture."""
    found = [
        f'<rect x="{bar.x}" y="{bar.y}" width="{bar.width}" height="{bar.height}" fill="#000"/>'
        for bar in bars
    ]
    for one in pictures:
        placed = f'<svg x="{one.x}" y="{one.y}" width="{one.box}" height="{one.box}" '
        found.append(pictogram_svg(one.code).replace("<svg ", placed, 1))
    for line in lines:
        look = f'font-size="{line.size}" fill="{"#fff" if line.white else "#000"}"'
        look += ' font-weight="700"' if line.bold else ""
        look += ' class="on-black"' if line.white else ""
        found.append(f'<text x="{line.x}" y="{line.y}" {look}>{escape(line.words)}</text>')
    return "".join(found)


def hazard_page_css(label: HazardLabel) -> str:
    """The style sheet that sets the paper to the label."""
    return f"@page {{ size: {label.width / 100:g}mm {label.height / 100:g}mm; margin: 0; }}\n"
