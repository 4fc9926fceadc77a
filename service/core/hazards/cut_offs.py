"""What is below its cut-off and left out by the general rule: said wherever it would make the mix worse.

Doors: core/hazards/classify.py, core/hazards/acute.py.

Sources: CLP Annex I table 1.1 and 1.1.2.2.2; 3.2.3.3.1, 3.3.3.3.1: 1 % "unless there is a presumption" that
less is still relevant; UN GHS 3.2.3.3.1, HCS A.2.4.3.1 say the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from service.core.findings import Finding, unknown
from service.core.hazards.classes import Hazard
from service.core.hazards.reasons import in_words
from service.core.hazards.sums import Missed, Summed

# So many names are told of a longer list.
_NAMED: Final = 6


def small_shares(summed: Summed, missed: Missed) -> Finding:
    """A sum that stays below its limit only because small shares do not count in it."""
    row, because = summed.row, missed.because
    unit = "%" if because.unit == "%" else "of its limit"
    told = [(line.name, line.counted) for line in missed.dropped]
    figure = f", by a sum of {in_words(because.sum or Decimal(0))} {unit}"
    return not_counted(told, Hazard(row.family, row.mix, None, row.effect), figure, because.paragraph)


def not_counted(
    dropped: Sequence[tuple[str, Decimal]], hazard: Hazard, figure: str, paragraph: str
) -> Finding:
    """The finding: names and shares of what was left out, and the class it would have led to."""
    told = [f"{name} ({in_words(share)} %)" for name, share in dropped]
    names = ", ".join(told[:_NAMED]) + (f" and {len(told) - _NAMED} more" if len(told) > _NAMED else "")
    words = (
        f"Below its cut-off an ingredient does not count by the general rule, and so was left out: {names}. "
        f"Counted, the mix would be {hazard.text}{figure}. A supplier can know that less is still relevant: "
        "ask, and until then treat the mix as that."
    )
    return unknown("small-shares-not-counted", words, paragraph, dropped[0][0])
