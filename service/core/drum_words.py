"""What is written of a thing in a drum of waste: the things of one line, rags, plain solvents and water.

Doors: actions/judge_drum_mix.py.
"""

from __future__ import annotations

import re
from typing import Final

from service.core.mixed_things import plain_name

_APART: Final = re.compile(r"[,;/+&\n]| and | with | plus | mixed into | und ", re.IGNORECASE)
_RAGS: Final = frozenset({"rags", "rag", "cloths", "cloth", "wipes", "wipe", "towels"})
_ORDINARY: Final = frozenset({
    "a", "of", "the", "from", "in", "on", "for", "load", "no", "number", "oily", "used", "old",
    "dry", "wet", "damp", "soaked", "cotton", "paper", "linen", "wiping", "shop", "bench", "room",
    "sink", "spent", "waste", "rest", "remains", "left", "over", "dirty", "clean", "some", "our",
    "its", "finishing", "and",
})  # fmt: skip
_OILS: Final = frozenset(["linseed", "oil", "tung", "danish", "teak", "boiled", "stain", "stained"])
_SOLVENT: Final = re.compile(
    r"(white|mineral|methylated) spirits?|(gum )?turpentine|turps|(paint |lacquer |cellulose )?thinners?|"
    r"naphtha|acetone|toluene|xylene|(denatured |ethyl |isopropyl |methyl )?alcohol|ethanol|methanol|"
    r"isopropanol|(ethyl|butyl) acetate|(methyl ethyl ketone|mek)"
)


def says_rags(text: str) -> bool:
    """Whether words say rags and nothing else.

    >>> says_rags("Oily rags, load 3"), says_rags("mystery liquid"), says_rags("rags with nitric acid")
    (True, False, False)
    """
    words = re.findall(r"[^\W\d_]+", plain_name(text))
    return any(word in _RAGS for word in words) and all(
        word in _RAGS or word in _ORDINARY or word in _OILS for word in words
    )


def things_of(text: str) -> list[str]:
    """The things that one line names, each by itself; words that name nothing of their own are left out.

    >>> things_of("nitric acid and acetone"), things_of("Hydrogen peroxide, 35 %")
    (['nitric acid', 'acetone'], ['Hydrogen peroxide'])
    """
    if says_rags(text):
        return [text]
    parts = [" ".join(part.split()) for part in _APART.split(text)]
    told = [part for part in parts if not _idle(part)]
    return told if len(told) > 1 else [told[0] if len(parts) > 1 and told else text]


def plain_solvent(text: str) -> bool:
    """Whether the words name a solvent as it is bought, and nothing else.

    >>> plain_solvent("White spirit"), plain_solvent("spent thinner"), plain_solvent("acetone of the sander")
    (True, False, False)
    """
    return _SOLVENT.fullmatch(plain_name(text)) is not None


def says_water(text: str) -> bool:
    """Whether the words name plain water, rinse water among it.

    >>> says_water("Rinse water"), says_water("water with soap")
    (True, False)
    """
    return re.fullmatch(r"(tap |distilled |rinse |rinsing |clean )?water", plain_name(text)) is not None


def _idle(part: str) -> bool:
    return all(word in _ORDINARY for word in re.findall(r"[^\W\d_]+", plain_name(part)))
