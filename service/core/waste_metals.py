"""Metals of the leaching test that a drum may hold: by words, by the materials in it, or as nobody said not.

Doors: core/waste_codes.py, records/drum_codes.py.

Which pigment names stand for which metal is from memory; a name only ever adds a code that may apply.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from service.core.materials import MaterialKind as K
from service.core.waste_rules import CodeRow, Test, WasteTables

_WORDS: Final = {
    "arsenic": r"arsen\w*|emerald green|paris green|scheele\w*|orpiment|realgar|king'?s yellow",
    "barium": r"barium|baryt\w*|blanc fixe|lithopone|permanent white|ba",
    "cadmium": r"cadmium|cd",
    "chromium": r"chrom\w*|viridian|zinc yellow|strontium yellow|dichromat\w*|bichromat\w*|cr",
    "lead": r"lead|litharge|massicot|minium|naples yellow|antimony yellow|flake white|cremnitz|silver white|"
    r"chrome (?:yellow|orange|red|green)|molybdate (?:orange|red)|ceruse|plumb\w*|pb",
    "mercury": r"mercur\w*|vermil\w*|cinnabar|hg",
    "selenium": r"selen\w*|cadmium (?:red|orange)|se",
    "silver": r"silver(?! white)|argent\w*|ag",
}
_NAMED: Final = {name: re.compile(rf"\b(?:{words})\b", re.IGNORECASE) for name, words in _WORDS.items()}
_SYMBOL: Final = re.compile(r"[A-Za-z]{2}")
_MAY_HOLD: Final = frozenset(
    {
        K.DRY_PIGMENT, K.COLOUR_IN_OIL, K.COLOUR_IN_JAPAN, K.DYE, K.DRIER, K.READY_MADE_FINISH,
        K.MADE_MIX, K.OTHER_CHEMICAL,
    }
)  # fmt: skip


NOT_TOLD: Final = "Nobody said whether metals of pigments or driers are in it."

MAY_BE: Final = "Metals of pigments or driers may be in it. Have it leached."


@dataclass(frozen=True)
class Content:
    """A material that went into a drum. ``metals`` None: nobody said which are in it; (): none."""

    name: str
    code: str
    kind: K
    metals: tuple[str, ...] | None


def metal_rows(tables: WasteTables) -> list[CodeRow]:
    """The rows of the leaching test that are metals, in the order of their codes."""
    return [row for row in tables.tests(Test.TCLP) if row.substance in _WORDS]


def metals_named(text: str, *, symbols: bool = False) -> dict[str, str]:
    """The metals that words name, each with the word; two letters are a symbol only where they are asked for.

    >>> metals_named("Chrome yellow and lead white sludge")
    {'chromium': 'Chrome', 'lead': 'Chrome yellow'}
    >>> metals_named("Spent thinner"), metals_named("Pb", symbols=True)
    ({}, {'lead': 'Pb'})
    """
    found = {}
    for name, words in _NAMED.items():
        for match in words.finditer(text):
            if symbols or not _SYMBOL.fullmatch(match[0]):
                found[name] = match[0]
                break
    return found


def metals_in(contents: Iterable[Content]) -> dict[str, str]:
    """The metals that materials may hold, each with a sentence that says which of them.

    >>> metals_in([Content("Flake white", "7KQ2M4", K.DRY_PIGMENT, ("Pb",))])
    {'lead': 'Flake white (7KQ2M4) went in: Pb.'}
    """
    found: dict[str, str] = {}
    for one in contents:
        named = metals_named(one.name) | metals_named(" ".join(one.metals or ()), symbols=True)
        for name, word in named.items():
            found.setdefault(name, f"{one.name} ({one.code}) went in: {word}.")
    return found


def not_told(contents: Iterable[Content]) -> str:
    """Of which material, if any, that may hold metals nobody said which; "" for none.

    >>> not_told([Content("Umber", "7KQ2M4", K.DRY_PIGMENT, None), Content("Thinner", "x", K.SOLVENT, None)])
    'Which metals are in Umber (7KQ2M4), which went in, is not known.'
    """
    for one in contents:
        if one.metals is None and one.kind in _MAY_HOLD:
            return f"Which metals are in {one.name} ({one.code}), which went in, is not known."
    return ""


def say_run(codes: Iterable[str]) -> str:
    """Codes in order, neighbours of three and more as a run.

    >>> say_run(["D001", "D004", "D005", "D006", "D008", "D009"]), say_run(["D002"])
    ('D001, D004 to D006, D008, D009', 'D002')
    """
    runs: list[list[str]] = []
    for code in sorted(set(codes)):
        last = runs[-1][-1] if runs else ""
        if _follows(last, code):
            runs[-1].append(code)
        else:
            runs.append([code])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs)


def _follows(last: str, code: str) -> bool:
    figures = last[1:].isdigit() and code[1:].isdigit()
    return figures and last[0] == code[0] and int(code[1:]) == int(last[1:]) + 1
