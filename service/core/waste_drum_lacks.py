"""What is missing or cannot be about a drum of waste, as findings: acute, place, size.

Doors: core/waste_drum_clocks.py, actions/begin_drum.py, actions/fill_drum.py.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from service.core.findings import Finding, unknown, warn
from service.core.materials import Unknown
from service.core.months import say_date
from service.core.waste_drums import DrumState

_RULE = "40 CFR 262.15(a)"
UNWRITTEN = "waste-drum-unwritten"


def lacks_of(drums: Sequence[DrumState], one: DrumState) -> Iterable[Finding]:
    """What nobody told of a satellite drum, or of one that may stand beside it."""
    if one.facts.acute is Unknown.NOT_KNOWN:
        words = "Whether it is acute waste was not told; it counts as acute, with 1 quart."
        yield unknown("waste-acute-not-told", words, _RULE, one.facts.name)
    lost = [
        other.facts.name for other in drums
        if other.in_satellite and other.facts.spot is None and (other is one or other.first_on)
    ]  # fmt: skip
    if one.facts.spot is None:
        words = "Its place is not known; it may share the amount of any other satellite area."
        yield unknown("waste-place-not-told", words, _RULE, one.facts.name)
    elif lost:
        words = f"The place of {', '.join(lost[:5])} is not known; what is in it may stand here too."
        yield unknown("waste-place-not-told", words, _RULE, one.facts.name)


def unwritten_findings(one: DrumState) -> tuple[Finding, ...]:
    """Something is in it of which nobody wrote that it was put in."""
    if not one.unwritten or one.first_on is None:
        return ()
    words = (
        f"Nobody wrote down what was put in, so its content is not known. It counts since "
        f"{say_date(one.first_on)}, the earliest day it can have held something. Weigh it and say what it is."
    )
    return (unknown(UNWRITTEN, words, about=one.facts.name),)


def size_findings(one: DrumState) -> tuple[Finding, ...]:
    """More is written to be in it than it holds: one of both figures is wrong."""
    size = one.facts.capacity_ul
    if size is None or one.ul.known <= size:
        return ()
    words = "More is written to be in it than its size. One of both figures is wrong: measure it."
    return (warn("waste-drum-over-size", words, about=one.facts.name),)
