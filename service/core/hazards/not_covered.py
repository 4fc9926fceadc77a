"""What control banding does not cover: what has a law of its own, dust that work makes, gases.

Doors: core/hazards/ventilation_class.py.

Source: scope of the schemes, from memory; gases and liquids above their boiling point: HSE 2017, paragraph 5,
read. Names and numbers that are looked for: this program's own list, never complete.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from service.core.hazards.hazard_band import stem


@dataclass(frozen=True)
class NotCovered:
    """One thing outside the schemes. ``specialist``: shown as class 4; else the class found stands only from
    containment upward, and nothing milder is given."""

    what: str
    sentence: str
    specialist: bool = False


_NUMBERS: Final = {
    "lead": "7439-92-1 1319-46-6 598-63-0 1314-41-6 1317-36-8 1309-60-0 7758-97-6 1344-37-2 12656-85-8 "
    "301-04-2 6080-56-4 61790-14-5 8012-00-8 7446-14-2 12202-17-4",
    "asbestos": "1332-21-4 12001-29-5 12001-28-4 12172-73-5 77536-66-4 77536-67-5 77536-68-6",
}
_BY_NAME: Final = (
    (
        re.compile(
            r"(?<!\bblack )\bleads?\b(?![- ]free)|\bminium\b|\blitharge\b|\bmassicot\b|"
            r"\b(flake|cremnitz|kremser|krems) white\b|"
            r"\bchrome (yellow|orange|green|red)\b|\bnaples yellow\b|\bmolybdate (orange|red)\b|"
            r"\b(pw ?[12]|pr ?10[345]|py ?34|py ?41|py ?46|po ?21|pg ?15)\b"
        ),
        "lead",
    ),
    (re.compile(r"\basbestos\b|\bchrysotile\b|\bamosite\b|\bcrocidolite\b"), "asbestos"),
    (
        re.compile(
            r"\b(wood|sanding|saw|grinding|stone|concrete) ?dust\b|\bsawdust\b|\b(welding|soldering) fumes?\b"
        ),
        "process dust or fume",
    ),
    (
        re.compile(
            r"\b(pesticide|insecticide|fungicide|herbicide|biocide|wood preservative)s?\b|"
            r"\bwoodworm (killer|fluid)\b"
        ),
        "pesticide",
    ),
)
_WORDS: Final = {
    "lead": "Lead and its compounds have a law of their own (limits in air and blood, in the US "
    "29 CFR 1910.1025): the banding does not replace it.",
    "asbestos": "Asbestos has a law of its own. Do not work with it here.",
    "process dust or fume": "Dust or fume that the work itself makes is outside the scheme: it needs "
    "extraction at the tool and its own limit.",
    "pesticide": "Pesticides and preservatives are outside the scheme: their permit says how they are used.",
    "gas": "Gases are outside the scheme (liquids and solids only): ask somebody who knows.",
    "aerosol can": "A can under pressure is outside the scheme: its propellant is a gas. Ask "
    "somebody who knows.",
}
_GASES: Final = frozenset({"H220", "H221", "H230", "H231", "H232", "H270", "H280", "H281"})
_CANS: Final = frozenset({"H222", "H223", "H229"})


def not_covered(names: Iterable[str], numbers: Iterable[str], codes: Iterable[str]) -> list[NotCovered]:
    """What of these names, CAS numbers and statements is outside the schemes, each once.

    >>> [one.what for one in not_covered(["Lead white, basic"], [], [])]
    ['lead']
    >>> not_covered(["lead-free glaze", "black lead"], [], [])
    []
    """
    found = [what for name in names for pattern, what in _BY_NAME if pattern.search(_plain(name))]
    found += [
        what for number in numbers for what, line in _NUMBERS.items() if number and number in line.split()
    ]
    stems = {stem(code) for code in codes}
    found += ["lead"] if stems & {"EUH201", "EUH201A"} else []
    found += ["gas"] if stems & _GASES and not stems & _CANS else []
    found += ["aerosol can"] if stems & _CANS else []
    return [
        NotCovered(what, _WORDS[what], what in ("gas", "aerosol can", "asbestos"))
        for what in dict.fromkeys(found)
    ]


def above_boiling(name: str, operating_c: float) -> NotCovered:
    """A liquid used at or above its boiling point: outside the scheme, shown as specialist."""
    words = f"{name} is used at {operating_c:g} °C, at or above its boiling point: outside the scheme."
    return NotCovered("liquid above its boiling point", f"{words} Ask somebody who knows.", True)


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("_", " ").split())
