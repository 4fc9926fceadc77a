"""A stream of waste as it arises, what its codes are judged to be, and how their figures are said.

Doors: core/waste_codes.py, core/waste_solvents.py, records/knowledge_waste.py, web/api/waste_question.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from service.core.findings import Finding
from service.core.material_facts import FlashMethod
from service.core.storage_ladders import Temperature
from service.core.waste_rules import CodeRow


@dataclass(frozen=True)
class SolventShare:
    """One part before use, per cent by volume. ``codes``: of the list; ``known``: we know the name."""

    name: str
    low: Fraction
    high: Fraction
    codes: frozenset[str] = frozenset()
    known: bool = True


@dataclass(frozen=True, kw_only=True)
class Stream:
    """One kind of waste as it arises. ``None``: not known. ``leached`` and ``content`` by plain name.

    ``metals`` False: somebody said that none of those of the leaching test is in it. ``words``: of its label.
    """

    name: str
    liquid: bool | None = None
    flash: Temperature | None = None
    flash_method: FlashMethod = FlashMethod.CLOSED_CUP
    no_flash_point: bool = False
    self_heating: bool | None = None
    oxidizer: bool | None = None
    ph: Fraction | None = None
    spent: bool | None = None
    metals: bool | None = None
    words: str = ""
    parts: tuple[SolventShare, ...] = ()
    leached: Mapping[str, Fraction | None] = field(default_factory=dict)
    content: Mapping[str, Fraction | None] = field(default_factory=dict)


@dataclass(frozen=True)
class Code:
    """``applies`` ``None``: not known. ``rows``: what decided it."""

    code: str
    applies: bool | None
    why: str
    rows: tuple[CodeRow, ...]

    @property
    def read(self) -> bool:
        return all(row.read for row in self.rows)


@dataclass(frozen=True)
class Screened:
    """The most that the leaching test can find of a substance, from its whole content."""

    substance: str
    most_mg_l: Fraction
    can_fail: bool
    code: str


@dataclass(frozen=True)
class JudgedStream:
    """All that was looked at; ``listed``: whether it is a listed spent solvent (an F code)."""

    stream: Stream
    codes: tuple[Code, ...]
    screened: tuple[Screened, ...]
    listed: bool | None
    findings: tuple[Finding, ...]

    def having(self, applies: bool | None) -> tuple[str, ...]:
        """The codes that hold (True), do not (False) or are not known (None), each once, in order."""
        return tuple(sorted({one.code for one in self.codes if one.applies is applies}))


def figure(row: CodeRow) -> Fraction:
    """The figure of a row that must have one."""
    if row.value is None:
        raise ValueError(f"{row.key} has no figure")
    return row.value


def say_number(value: Fraction) -> str:
    """A figure as people write it.

    >>> say_number(Fraction(9, 2)), say_number(Fraction(140))
    ('4.5', '140')
    """
    return f"{float(value):.6g}"


def say_span(low: Fraction, high: Fraction) -> str:
    """One figure, or both ends."""
    return say_number(low) if low == high else f"{say_number(low)} to {say_number(high)}"
