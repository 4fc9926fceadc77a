"""Solvents that form peroxides on keeping: which they are, and how long one is kept at most.

Doors: records/peroxide_formers.py, core/life_facts.py, core/ageing.py.

Whatever a shop's policy says, such a can is kept no longer than the longest that a published table of an
institution allows for its class: peroxides explode when they are shaken, heated or distilled, and no look
shows them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Final

from service.core.ageing_policies import AgeingPolicy, PolicyEnd


class Former(StrEnum):
    """The class of a peroxide former: dangerous by itself on keeping, or when it is concentrated."""

    SEVERE = "severe"
    CONCENTRATING = "concentrating"


@dataclass(frozen=True)
class PeroxideLife:
    """How long such a solvent is kept at most, in months; ``because`` whose word the class is."""

    former: Former
    sealed_months: int
    opened_months: int
    because: str

    @property
    def source(self) -> str:
        return f"{MONTHS_SOURCE}; {self.because}"


MONTHS_SOURCE: Final = "Cornell University, laboratory safety manual, Appendix J (peroxide formers)"
MONTHS: Final = {Former.SEVERE: (18, 3), Former.CONCENTRATING: (18, 12)}
"""Unopened and opened, in months, by Cornell's table, as the reference of this program gives it."""


TRACE_BELOW: Final = Decimal(1)
"""Per cent by mass: what is surely less of a material than this does not make it a former (house measure)."""


def is_trace(high: Decimal | None) -> bool:
    """Whether a component is surely no more than a trace; a share nobody told may be all of it.

    >>> is_trace(Decimal("0.9")), is_trace(Decimal(1)), is_trace(None)
    (True, False, False)
    """
    return high is not None and high < TRACE_BELOW


def strictest(lives: Iterable[PeroxideLife | None]) -> PeroxideLife | None:
    """The one that is kept the least long, the first of equal ones; None without any.

    >>> mild, hard = PeroxideLife(Former.CONCENTRATING, 18, 12, "a"), PeroxideLife(Former.SEVERE, 18, 3, "b")
    >>> found = strictest([None, mild, hard])
    >>> found.because if found else None
    'b'
    """
    known = [one for one in lives if one is not None]
    return min(known, key=lambda one: (one.opened_months, one.sealed_months), default=None)


def capped(policy: AgeingPolicy | None, former: PeroxideLife | None) -> AgeingPolicy | None:
    """A policy cut to what a peroxide former is kept at most, for what is not on a shelf yet.

    >>> life = PeroxideLife(Former.CONCENTRATING, 18, 12, "a table")
    >>> cut = capped(AgeingPolicy(PolicyEnd.RETEST, sealed_months=60, opened_days=30), life)
    >>> (cut.sealed_months, cut.opened_days, cut.opened_months) if cut else None
    (18, 30, None)
    """
    if former is None:
        return policy
    if policy is None:
        return AgeingPolicy(
            PolicyEnd.EXPIRY, sealed_months=former.sealed_months, opened_months=former.opened_months,
            source=former.source,
        )  # fmt: skip
    sealed = _shorter(policy.sealed_months, policy.sealed_days, former.sealed_months)
    opened = _shorter(policy.opened_months, policy.opened_days, former.opened_months)
    return replace(
        policy, end=PolicyEnd.EXPIRY, sealed_months=sealed[0], sealed_days=sealed[1], opened_months=opened[0],
        opened_days=opened[1],
    )  # fmt: skip


def _shorter(months: int | None, days: int | None, most: int) -> tuple[int | None, int | None]:
    if days is not None and days <= most * 28:
        return None, days
    return min(months, most) if months is not None else most, None


@dataclass(frozen=True)
class FormerRow:
    """One row of the table: by keys of the published facts, CAS numbers, names, or statements of a sheet."""

    former: Former
    keys: frozenset[str]
    cas: frozenset[str]
    named: re.Pattern[str] | None
    codes: frozenset[str]
    source: str


def life_of_former(
    rows: Iterable[FormerRow], key: str, cas: Iterable[str], name: str, codes: Iterable[str]
) -> PeroxideLife | None:
    """How long a solvent is kept at most; None where no row knows it as a peroxide former.

    The first row that knows it counts; one that goes by a statement alone knows no class and stands last.

    Args:
        name: in the plain form of `core.mixed_things.plain_name`; counts unless ``key`` is given.
        codes: H- and EUH-codes of its sheet.

    >>> row = FormerRow(Former.SEVERE, frozenset(), frozenset({"108-20-3"}), None, frozenset(), "a table")
    >>> found = life_of_former([row], "", ["108-20-3"], "old can", [])
    >>> found.opened_months if found else None
    3
    >>> life_of_former([row], "", [], "old can", []) is None
    True
    """
    numbers, told = frozenset(cas), frozenset(codes)
    for row in rows:
        by_name = row.named is not None and not key and row.named.search(name) is not None
        if key in row.keys or numbers & row.cas or told & row.codes or by_name:
            sealed, opened = MONTHS[row.former]
            return PeroxideLife(row.former, sealed, opened, row.source)
    return None
