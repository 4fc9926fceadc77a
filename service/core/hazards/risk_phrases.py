"""R-phrases of sheets from before 2015 and their hazard groups: old tins still carry them.

Doors: core/hazards/hazard_band.py, web/api/calc_ventilation.py.

Source: hazard groups of the ILO toolkit by R-phrase, GTZ training 2006, slide 118 (read whole). Skin list and
what does not band: from memory.
"""

from __future__ import annotations

import re
from typing import Final

from service.core.findings import Invalid

_SHAPE: Final = re.compile(r"R ?(\d{1,2})((?:/\d{1,2}){0,4})", re.I)
_IN_PAIRS: Final = frozenset({"39", "48", "68"})
_BY_GROUP: Final = {
    "A": "R36 R38 R65 R66",
    "B": "R20 R21 R22 R33 R67 R68/20 R68/21 R68/22",
    "C": "R23 R24 R25 R34 R35 R37 R39/23 R39/24 R39/25 R41 R43 R48 R48/20 R48/21 R48/22",
    "D": "R26 R27 R28 R39 R39/26 R39/27 R39/28 R40 R48/23 R48/24 R48/25 R60 R61 R62 R63 R64",
    "E": "R42 R45 R46 R49 R68",
}
GROUP_OF_PHRASE: Final = {phrase: group for group, line in _BY_GROUP.items() for phrase in line.split()}
_SKIN: Final = "R21 R24 R27 R34 R35 R36 R38 R39/24 R39/27 R41 R43 R48/21 R48/24 R66 R68/21"
SKIN_PHRASES: Final = frozenset(_SKIN.split())
_NOT_BANDED: Final = frozenset(f"R{number}" for number in (*range(1, 20), 29, 30, 31, 32, 44, *range(50, 60)))
# From the lowest cut-off on: very toxic, toxic, sensitisers, and what changes genes, offspring or cells.
_STRICT: Final = (
    "R23 R24 R25 R26 R27 R28 R39/23 R39/24 R39/25 R39/26 R39/27 R39/28 R39 R40 R42 R43 R45 R46 R49 "
    "R60 R61 R62 R63 R64 R68"
)
STRICT_PHRASES: Final = frozenset(_STRICT.split())


def read_phrases(written: list[str] | tuple[str, ...]) -> tuple[str, ...]:
    """R-phrases one by one, combined ones taken apart, doubles once.

    R39, R48 and R68 keep the way into the body that follows them. Raises Invalid, quoting the text, for what
    is no R-phrase.

    >>> read_phrases(["R36/38", "R48/20/22", "R42/43"])
    ('R36', 'R38', 'R48/20', 'R48/22', 'R42', 'R43')
    """
    found: list[str] = []
    for line in written:
        for word in re.split(r"[-,;]", line):
            found += _one(word.strip(), line)
    return tuple(dict.fromkeys(found))


def _one(word: str, line: str) -> list[str]:
    match = _SHAPE.fullmatch(word)
    if match is None:
        raise Invalid(f"“{line[:60]}” is no R-phrase. Write one like R43 or R36/38.")
    first, *more = [str(int(number)) for number in (match[1] + match[2]).split("/")]
    read = [f"R{first}/{way}" for way in more] if first in _IN_PAIRS and more else []
    read = read or [f"R{number}" for number in (first, *more)]
    for phrase in read:
        if phrase not in GROUP_OF_PHRASE and phrase not in _NOT_BANDED:
            raise Invalid(f"“{line[:60]}”: {phrase} is no R-phrase. Copy it again.")
    return read
