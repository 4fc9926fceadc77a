"""How long a kind of material, or one material, lasts sealed and opened, and on whose word.

Doors: records/knowledge_policies.py, records/materials.py, actions/set_policy.py, web/pages/policies.py.

``expiry`` is Type I of US DoD 4140.27-M (a definite life that is not extended), ``retest`` its Type II (may
be extended after an inspection or test), ``indefinite`` its code 0 (does not deteriorate in store).
``parts`` is our own, for made mixes: in date as long as everything that went in.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from service.core.materials import MaterialKind
from service.core.months import add_days, add_months, say_life


class PolicyEnd(StrEnum):
    """What the end of the life means."""

    EXPIRY = "expiry"
    RETEST = "retest"
    INDEFINITE = "indefinite"
    PARTS = "parts"


END_WORDS: Final[dict[PolicyEnd, str]] = {
    PolicyEnd.EXPIRY: "ends on the date, whatever it looks like",
    PolicyEnd.RETEST: "is checked on the date; a passed check gives it more time",
    PolicyEnd.INDEFINITE: "does not age when kept dry and closed",
    PolicyEnd.PARTS: "is in date as long as everything that went into it",
}
LONGEST_MONTHS: Final = 1200


@dataclass(frozen=True)
class AgeingPolicy:
    """One policy. Lives are in months or in days, never both; None = no figure (``indefinite``: no limit).

    ``hard_months``: no check moves the date past start + this. ``extends_months``: what one passed check
    gives. ``max_extensions`` None: as many as the hard stop allows. ``grade`` of the source as in
    core.sources. ``house_policy``: the shop's own word, no published rule behind it. Raises ``ValueError``
    for figures that are out of range or contradict.

    >>> AgeingPolicy(PolicyEnd.RETEST, sealed_months=36, opened_months=24, hard_months=60).house_policy
    True
    """

    end: PolicyEnd
    sealed_months: int | None = None
    opened_months: int | None = None
    sealed_days: int | None = None
    opened_days: int | None = None
    hard_months: int | None = None
    extends_months: int | None = None
    max_extensions: int | None = None
    source: str = ""
    grade: str = ""
    house_policy: bool = True

    def __post_init__(self) -> None:
        months = (self.sealed_months, self.opened_months, self.hard_months, self.extends_months)
        if any(m is not None and not 0 <= m <= LONGEST_MONTHS for m in months):
            raise ValueError(f"months must lie between 0 and {LONGEST_MONTHS}")
        if any(
            d is not None and not 0 <= d <= LONGEST_MONTHS * 31 for d in (self.sealed_days, self.opened_days)
        ):
            raise ValueError("days are out of range")
        if self.max_extensions is not None and self.max_extensions < 0:
            raise ValueError("a number of extensions is not negative")
        if None not in (self.sealed_months, self.sealed_days) or None not in (
            self.opened_months,
            self.opened_days,
        ):
            raise ValueError("a life is given in months or in days, not both")

    @property
    def ages(self) -> bool:
        """True when a missing figure is a gap, not "no limit"."""
        return self.end in (PolicyEnd.EXPIRY, PolicyEnd.RETEST)

    @property
    def has_sealed_life(self) -> bool:
        return self.sealed_months is not None or self.sealed_days is not None

    @property
    def has_opened_life(self) -> bool:
        return self.opened_months is not None or self.opened_days is not None

    @property
    def extends(self) -> int | None:
        """Months one passed check gives; None when checks move nothing."""
        return self.extends_months if self.end is PolicyEnd.RETEST else None

    def sealed_end(self, start: date) -> date | None:
        """The last day in date of a sealed life that began on ``start``."""
        return _life_end(start, self.sealed_months, self.sealed_days)

    def opened_end(self, opened_on: date) -> date | None:
        """The last day in date of an opened life that began on ``opened_on``."""
        return _life_end(opened_on, self.opened_months, self.opened_days)

    def hard_end(self, start: date) -> date | None:
        """The day no check goes past."""
        return _life_end(start, self.hard_months, None)


    def in_words(self) -> str:
        """The whole policy in one line, for the history of its changes.

        >>> AgeingPolicy(PolicyEnd.EXPIRY, sealed_months=24, opened_days=7, source="label").in_words()
        'ends on the date, whatever it looks like; sealed 24 months; opened 7 days; house policy; label'
        """
        parts = [END_WORDS[self.end]]
        if self.has_sealed_life:
            parts.append(f"sealed {say_life(self.sealed_months, self.sealed_days)}")
        if self.has_opened_life:
            parts.append(f"opened {say_life(self.opened_months, self.opened_days)}")
        if self.hard_months is not None:
            parts.append(f"never past {say_life(self.hard_months, None)}")
        if self.extends is not None:
            parts.append(f"a passed check gives {say_life(self.extends, None)}")
        if self.max_extensions is not None:
            parts.append(f"at most {self.max_extensions} times")
        parts.append("house policy" if self.house_policy else "published")
        return "; ".join([*parts, self.source] if self.source else parts)


def _life_end(begin: date, months: int | None, days: int | None) -> date | None:
    if months is not None:
        return add_months(begin, months)
    return None if days is None else add_days(begin, days)


@dataclass(frozen=True)
class PolicyRow:
    """A policy and what it is for: one material (by the key of the knowledge tables) or a whole kind."""

    key: str
    policy: AgeingPolicy
    kind: MaterialKind | None = None
    note: str = ""


def choose(rows: Iterable[PolicyRow], kind: MaterialKind, key: str | None) -> PolicyRow | None:
    """The row for a material: its own by ``key``, else the one of its kind, else None (standing: not known).

    >>> row = PolicyRow("", AgeingPolicy(PolicyEnd.INDEFINITE), MaterialKind.DRY_PIGMENT)
    >>> choose([row], MaterialKind.DRY_PIGMENT, "ochre") is row, choose([row], MaterialKind.DYE, None)
    (True, None)
    """
    kept = list(rows)
    wanted = tidy_key(key or "")
    own = [row for row in kept if wanted and tidy_key(row.key) == wanted]
    by_kind = [row for row in kept if not row.key and row.kind is kind]
    return next(iter([*own, *by_kind]), None)


def tidy_key(key: str) -> str:
    """A key with hyphens for underscores and spaces, in small letters.

    >>> tidy_key("Linseed_raw")
    'linseed-raw'
    """
    return "-".join(key.lower().replace("_", " ").replace("-", " ").split())
