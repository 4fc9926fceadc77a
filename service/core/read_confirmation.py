"""What a written confirmation itself names: a sentence that names quicklime says what the thing is.

Doors: actions/judge_never_with.py.

Such a sentence lets nothing through: the name belongs to the material, where every rule reads it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from service.core.findings import Severity
from service.core.mixed_things import Side, plain_name
from service.core.never_with import NeverWith
from service.core.written_numbers import cas_numbers, ci_names

_CUTS: Final = re.compile(
    r"[,.;:!?()\"]|\b(?:is|are|was|were|it's|and|or|but|with|the|a|an|some|just|only|this|that)\b"
)


def names_in_confirmation(rows: Iterable[NeverWith], sentence: str, pair: str) -> tuple[str, ...]:
    """The words of those sides of stop rows that a sentence names; what ``pair`` says already is left out.

    ``pair`` is what the finding is about: the names of the two things.

    >>> names_in_confirmation((), "It is quicklime and I know it may meet water", "tub, tap water")
    ()
    """
    sides = {side.key: side for row in rows if row.severity is Severity.STOP for side in (row.a, row.b)}
    about = plain_name(pair)
    return tuple(dict.fromkeys(side.words for side in sides.values() if _is_named(side, sentence, about)))


def _is_named(side: Side, sentence: str, about: str) -> bool:
    ci, cas = set(ci_names(sentence)) - set(ci_names(about)), set(cas_numbers(sentence))
    if side.names.ci & ci or side.names.cas & (cas - set(cas_numbers(about))):
        return True
    return any(not _stands_in(hit, about) for hit in _hits(side, sentence))


def _hits(side: Side, sentence: str) -> Iterator[str]:
    """What the patterns of a side find in the whole sentence, in each piece of it and in each single word."""
    plain = plain_name(sentence)
    # Water is spoken of in many a sentence that names something else.
    plain = re.sub(r"\bin (tap |cold |hot |warm )?water\b", " ", plain)
    words = [word for word in re.findall(r"[^\W_]+", plain) if word != "water"]
    for pattern in (side.named, side.doubtful):
        if pattern is not None:
            for text in (plain, *(piece.strip() for piece in _CUTS.split(plain)), *words):
                yield from (hit[0].strip() for hit in pattern.finditer(text))


def _stands_in(hit: str, about: str) -> bool:
    return re.search(rf"\b{re.escape(hit)}\b", about) is not None
