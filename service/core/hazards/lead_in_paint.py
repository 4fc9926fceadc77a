"""Lead in what stays of a paint, against the US limit.

Doors: actions/judge_film.py.

16 CFR 1303 (73 FR 77492, from 14 August 2009): more than 0.009 % of lead by weight of what does not evaporate
bars a paint from goods for the home and from toys. Any lead colour put in on purpose is far over it.
"""

from __future__ import annotations

from typing import Final

LIMIT_PERCENT: Final = 0.009
SOURCE: Final = "16 CFR 1303"


def most_mg_per_kg(lead_percent: float) -> float:
    """How much of a lead compound the dry paint may hold at most, mg to 1 kg of what stays.

    >>> round(most_mg_per_kg(64.11), 1)
    140.4
    """
    return LIMIT_PERCENT / lead_percent * 1_000_000
