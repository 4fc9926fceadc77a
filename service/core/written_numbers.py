"""Colour Index names and CAS numbers as people write them, each read to one plain form.

Doors: core/mixed_things.py, core/material_entry.py, core/colour_opposites.py, records/known_identities.py,
records/knowledge_never_with.py.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from service.core.component_lines import read_cas
from service.core.findings import Invalid

_DASHES: Final = re.compile(r"[\u00ad\u2010-\u2015\u2212_]")
_HUES: Final = {
    "blue": "b", "black": "bk", "brown": "br", "green": "g", "metal": "m", "orange": "o",
    "red": "r", "violet": "v", "white": "w", "yellow": "y",
}  # fmt: skip
_SHORT: Final = re.compile(
    r"(?<![a-z0-9])(?P<group>p|n) ?(?P<hue>bk|br|[bgmorvwy]) ?0*(?P<number>[1-9]\d{0,2})"
    r"(?![a-z0-9%]| ?%|[.,]\d)"
)
_LONG: Final = re.compile(
    r"(?<![a-z])(?P<group>pigment|natural) (?P<hue>blue|black|brown|green|metal|orange|red|violet|"
    r"white|yellow) ?0*(?P<number>[1-9]\d{0,2})(?![a-z0-9%]| ?%|[.,]\d)"
)
_CONSTITUTION: Final = re.compile(r"(?<![a-z0-9.])(?P<told>ci ?)?(?P<number>[1-7]\d{4,5})(?![a-z0-9])")
_CAS: Final = re.compile(r"(?<![\d-])(\d{2,7}) *[- ] *(\d{2}) *[- ] *(\d)(?![\d-])")


def _plain(text: str) -> str:
    """Small letters; hyphens and gaps one space; the dots of "C.I." and "P.B." taken out, and "No." too."""
    folded = _DASHES.sub(" ", unicodedata.normalize("NFKC", text).casefold()).replace("-", " ")
    folded = re.sub(r"\bc\. ?i\.?(?=[ :#\d]|$)", "ci ", folded)
    folded = re.sub(r"\b([pn])\. ?(bk|br|[bgmorvwy])\.?(?= ?\d)", r"\1\2", folded)
    return re.sub(r"\s+", " ", re.sub(r"#|\bno\.", " ", folded)).strip()


def ci_names(text: str) -> tuple[str, ...]:
    """Every Colour Index generic name in a text, in small letters; numbers below it (":1") count as the name.

    >>> ci_names("PB 27"), ci_names("C.I. Pigment Blue 27"), ci_names("pb-27"), ci_names("PBk7; PB15:3")
    (('pb27',), ('pb27',), ('pb27',), ('pbk7', 'pb15'))
    >>> ci_names("Pb 27 %"), ci_names("lamp black"), ci_names("ph 7")
    ((), (), ())
    """
    plain = _plain(text)
    found = [
        (m.start(), f"{m['group'][0]}{_HUES.get(m['hue'], m['hue'])}{m['number']}")
        for pattern in (_SHORT, _LONG)
        for m in pattern.finditer(plain)
    ]
    return tuple(dict.fromkeys(name for _, name in sorted(found)))


def ci_numbers(text: str, bare: bool = True) -> tuple[str, ...]:
    """Every Colour Index constitution number in a text; ``bare`` False: only those written with "CI" before.

    >>> ci_numbers("CI 77510"), ci_numbers("77510:1"), ci_numbers("lot 77510", bare=False)
    (('77510',), ('77510',), ())
    """
    hits = _CONSTITUTION.finditer(_plain(text))
    return tuple(dict.fromkeys(m["number"] for m in hits if bare or m["told"]))


def cas_numbers(text: str) -> tuple[str, ...]:
    """Every CAS number in a text whose last digit fits; dashes of any kind and blanks between are put right.

    >>> cas_numbers("14038 43 8; 7647-01-0"), cas_numbers("7647-01-1"), cas_numbers("25869\u201300\u20135")
    (('14038-43-8', '7647-01-0'), (), ('25869-00-5',))
    """
    found = []
    for hit in _CAS.findall(_DASHES.sub("-", unicodedata.normalize("NFKC", text))):
        try:
            found.append(read_cas("-".join(hit).lstrip("0")))
        except Invalid:
            continue
    return tuple(dict.fromkeys(found))


def wrong_cas(text: str) -> str:
    """What is wrong with a list of CAS numbers that somebody writes; empty where each can be read.

    >>> wrong_cas("7647-01-0; 14038 43 8"), "does not fit" in wrong_cas("7647-01-1")
    ('', True)
    """
    for part in re.split(r"[;,]", text):
        bare = re.sub(r"\s*[\s-]\s*", "-", _DASHES.sub("-", part).strip())
        if not bare:
            continue
        try:
            read_cas(bare)
        except Invalid as wrong:
            return wrong.sentence
    return ""
