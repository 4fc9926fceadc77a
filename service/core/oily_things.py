"""What carries oil besides rags, and whether what was handed out for a job came in again.

Doors: actions/hand_rags.py, web/pages/job_rags.py.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from service.core.findings import Finding, warn


class OilyThing(StrEnum):
    """What can heat by itself once oil is on it; each is put away as rags are.

    Source: tip sheet and forensic article named in the table of rag rules (cloths, clothing, sanding dust of
    oiled wood, mop heads); strainers, stir sticks, gloves and steel wool: common practice, no source.
    """

    RAGS = "rags"
    PAPER_TOWELS = "paper-towels"
    STRAINERS = "strainers"
    STIR_STICKS = "stir-sticks"
    GLOVES = "gloves"
    STEEL_WOOL = "steel-wool"
    DUST = "dust"
    MOP_HEADS = "mop-heads"
    CLOTHING = "clothing"


THING_WORDS: Final[dict[OilyThing, str]] = {
    OilyThing.RAGS: "rags",
    OilyThing.PAPER_TOWELS: "paper towels",
    OilyThing.STRAINERS: "strainers",
    OilyThing.STIR_STICKS: "stir sticks",
    OilyThing.GLOVES: "gloves",
    OilyThing.STEEL_WOOL: "steel wool pads",
    OilyThing.DUST: "bags of sanding dust of oiled wood",
    OilyThing.MOP_HEADS: "mop heads",
    OilyThing.CLOTHING: "pieces of oiled clothing",
}


class Way(StrEnum):
    """Handed out clean for a job, handed in again, or seen lying there with oil on it."""

    OUT = "out"
    IN = "in"
    LOOSE = "loose"


def missing(handed: dict[OilyThing, tuple[int, int]]) -> list[Finding]:
    """A warning for each kind of which fewer, or more, pieces came in than went out.

    Args:
        handed: pieces out and in, by kind.

    >>> [f.sentence for f in missing({OilyThing.RAGS: (12, 10), OilyThing.GLOVES: (4, 4)})]
    ['12 rags were handed out and 10 handed in: 2 are missing. Find them.']
    >>> [f.code for f in missing({OilyThing.RAGS: (10, 18)})]
    ['rags-too-many']
    """
    return [
        warn(
            "rags-missing",
            f"{out} {THING_WORDS[thing]} were handed out and {came} handed in: {out - came} are missing. "
            "Find them.",
        )
        for thing, (out, came) in sorted(handed.items())
        if came < out
    ] + [
        warn(
            "rags-too-many",
            f"{out or 'No'} {THING_WORDS[thing]} were handed out and {came} handed in: {came - out} more "
            "came in than went out. Look whose they are, and whether any are still about.",
        )
        for thing, (out, came) in sorted(handed.items())
        if came > out
    ]
