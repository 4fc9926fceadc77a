"""What is written of a thing in a drum of waste: the things of one line, rags, plain solvents and water.

Doors: actions/judge_drum_mix.py, core/drum_mix.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
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

_DRYING_OIL: Final = re.compile(
    r"((raw|boiled|refined|cold pressed) )*(stand|linseed|flax|tung|china wood|walnut|poppy|safflower|hemp|"
    r"danish|teak) oil"
)
_BRUSHES: Final = frozenset({"brush", "brushes", "rinsed", "rinsing", "rinsings"})
_BESIDE: Final = _BRUSHES | frozenset({
    "bottle", "bottles", "can", "cans", "tin",
    "tins", "jar", "jars", "solution", "dilute", "diluted", "strong", "concentrated", "conc", "technical",
    "pure", "expired", "g", "kg", "mg", "l", "ml", "about", "acid", "salt", "pigment", "colour", "blue",
    "green", "yellow", "red", "white", "black", "brown", "sodium", "potassium", "calcium", "hydrogen",
})  # fmt: skip
"""Words beside a name that belong to it, or say how much, how strong or in what it was."""
_MOST_WORDS: Final = 6


def says_rags(text: str) -> bool:
    """Whether words say rags and nothing else.

    >>> says_rags("Oily rags, load 3"), says_rags("mystery liquid"), says_rags("rags with nitric acid")
    (True, False, False)
    """
    words = _words(text)
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


def says_oil(text: str) -> bool:
    """Whether the words name a drying oil, or a solvent that brushes were rinsed in, and nothing else.

    >>> says_oil("Boiled linseed oil"), says_oil("White spirit, brush rinsings"), says_oil("brush rinsings")
    (True, True, False)
    """
    words = _words(text)
    name = " ".join(word for word in words if word not in _ORDINARY | _BRUSHES)
    rinsed = bool(_BRUSHES & set(words))
    return _DRYING_OIL.fullmatch(name) is not None or (rinsed and _SOLVENT.fullmatch(name) is not None)


def words_left(text: str, readers: Sequence[Callable[[str], bool]]) -> bool:
    """Whether words are left that nobody reads, beside the fewest that each reader reads by themselves.

    >>> words_left("Spent nitric acid, 65 %", [lambda some: "nitric acid" in some])
    False
    >>> words_left("nitric acid sludge", [lambda some: "nitric acid" in some])
    True
    """
    words = _words(text)
    read: set[int] = set()
    for reads in readers:
        own: list[range] = []
        for many in range(1, min(_MOST_WORDS, len(words)) + 1):
            for first in range(len(words) - many + 1):
                here = range(first, first + many)
                fewer = any(one.start >= here.start and one.stop <= here.stop for one in own)
                if not fewer and reads(" ".join(words[first : first + many])):
                    own.append(here)
        read.update(number for one in own for number in one)
    return any(number not in read and word not in _ORDINARY | _BESIDE for number, word in enumerate(words))


def says_water(text: str) -> bool:
    """Whether the words name plain water, rinse water among it.

    >>> says_water("Rinse water"), says_water("water with soap")
    (True, False)
    """
    return re.fullmatch(r"(tap |distilled |rinse |rinsing |clean )?water", plain_name(text)) is not None


def _idle(part: str) -> bool:
    return all(word in _ORDINARY for word in _words(part))


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W\d_]+", plain_name(text))
