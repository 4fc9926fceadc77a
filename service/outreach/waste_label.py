"""The label of a drum of waste: the mandated words, what is in it, its hazards, its dates.

40 CFR 262.15 and 262.16 ask for the words and an indication of the hazards on every drum, and for the start
date where it stands in the central area or is over its amount.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from service.core.drum_mix import KEPT_APART, NOT_JUDGED
from service.core.findings import Severity
from service.core.months import say_date
from service.core.never_with import CODE
from service.core.waste_drum_clocks import JudgedDrum
from service.core.waste_drum_lacks import UNWRITTEN
from service.core.waste_drums import AREA_WORDS, Area
from service.core.waste_metals import say_run
from service.core.waste_rules import Jurisdiction
from service.records.waste_drums import WasteDrum

MANDATED: Final = "Hazardous Waste"
"""The words that the rule asks for; nothing else says the same."""
CAUTIONS: Final = (
    "Keep it closed except while something is put in or taken out.",
    "Put in only what stands under contents. Ask a keeper about anything else.",
    "Never a drain, never left open to evaporate.",
)
_RULE: Final = "40 CFR 262.15(a)(5), 262.16(b)(6)"


@dataclass(frozen=True)
class WasteLabel:
    """What a label says. ``rows`` are (word, value); a value "" is a line to write on."""

    words: str
    name: str
    rows: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    source: str


def label_words(
    drum: WasteDrum, judged: JudgedDrum, law: Jurisdiction | None, codes_of_it: Sequence[dict[str, Any]]
) -> WasteLabel:
    """The label of a drum as it stands. A date that is needed and not there yet is a line to write on.

    Args:
        codes_of_it: its codes today; one that may apply is never left out.
    """
    state = judged.state
    area = Area.SATELLITE if state.in_satellite else Area.CENTRAL
    sure = list(dict.fromkeys(one["code"] for one in codes_of_it if one["applies"]))
    codes = ", ".join(sure)
    unsure = say_run(one["code"] for one in codes_of_it if one["code"] not in sure)
    rows = [("Contents", drum.stream), ("Hazards", drum.hazards)]
    if codes:
        rows.append(("Codes", codes))
    if unsure:
        rows.append(("Not known, may apply", unsure))
    rows.append(("Area", AREA_WORDS[area]))
    if area is Area.CENTRAL:
        rows.append(("Accumulation start date", say_date(judged.started) if judged.started else ""))
    else:
        rows.append(("Over its amount since", say_date(judged.excess_on) if judged.excess_on else ""))
    if judged.deadline is not None:
        rows.append(("Leaves by", say_date(judged.deadline)))
    source = f"{_RULE} (the paragraphs from memory)" if law is Jurisdiction.US else (
        "No rule of this country was read. Ask its authority which words and signs are asked for."
    )  # fmt: skip
    return WasteLabel(MANDATED, drum.name, tuple(rows), (*CAUTIONS, *_together(judged)), source)


def _together(judged: JudgedDrum) -> Iterator[str]:
    """What somebody at the drum must know of what stands in it together."""
    for one in judged.findings:
        if one.severity is Severity.STOP and (one.code.startswith(CODE) or one.code == KEPT_APART):
            yield f"These stand in it together and never should. {one.sentence}"
    if any(one.code in (NOT_JUDGED, UNWRITTEN) for one in judged.findings):
        yield "Not judged: whether all that is in it may be together. Nobody said what it is."
