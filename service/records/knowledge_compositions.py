"""Reads what the seeded materials are made of, in per cent by mass (seed_data/knowledge/compositions.csv)."""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Final

from service.core.hazards.classes import Route
from service.core.sources import Grade
from service.records.knowledge import knowledge_folder

FILE_NAME: Final = "compositions.csv"
_CAS = re.compile(r"\d{2,7}-\d{2}-\d")


class Role(StrEnum):
    """How a line counts.

    ``main``, ``part`` and ``impurity`` add up. Lines marked ``one-of`` shut one another out: the jar holds
    one of them and nobody says which. ``within`` lies inside the main line, which is classified as a whole
    (benzene in a petroleum cut): its share decides a note and is never added. ``not-known``: what it is made
    of is open.
    """

    MAIN = "main"
    PART = "part"
    IMPURITY = "impurity"
    ONE_OF = "one-of"
    WITHIN = "within"
    NOT_KNOWN = "not-known"


@dataclass(frozen=True)
class CompositionLine:
    """One component of a seeded material.

    ``low`` and ``high`` are per cent by mass, ``None`` where nothing is published: a high end of 100 with no
    low end is only the bound that nothing can exceed. ``cas`` is ``None`` where no number is held.
    ``own_flash`` marks a petroleum cut: how it burns is told by its own flash point, never by the number.
    """

    material: str
    substance: str
    cas: str | None
    low: Decimal | None
    high: Decimal | None
    role: Role
    own_flash: bool
    source: tuple[str, ...]
    grade: Grade
    note: str
    # As a sheet gives them for this component, in a shop's own lines; None = it says nothing of them.
    classes: tuple[str, ...] | None = None
    # Figures of its own from the same sheet (core/own_figures.py); limits None = not known.
    limits: tuple[str, ...] | None = None
    m_acute: Decimal | None = None
    m_chronic: Decimal | None = None
    ate: tuple[tuple[Route, Decimal], ...] = ()


def read_compositions(folder: Path) -> tuple[CompositionLine, ...]:
    """Every line of the table. ``ValueError`` names the line that cannot be read or stands there twice."""
    found: dict[tuple[str, str, str | None], CompositionLine] = {}
    with (folder / FILE_NAME).open(encoding="utf-8", newline="") as lines:
        for number, row in enumerate(csv.DictReader(lines), start=2):
            try:
                made = _component(row)
            except (KeyError, ValueError, AttributeError, InvalidOperation) as trouble:
                raise ValueError(f"{FILE_NAME} line {number}: {trouble}") from trouble
            key = (made.material, made.substance, made.cas)
            if key in found:
                raise ValueError(f"{FILE_NAME} line {number}: {made.substance} stands there twice")
            found[key] = made
    return tuple(found.values())


@cache
def compositions() -> tuple[CompositionLine, ...]:
    """The lines that come with the program, in table order, read once."""
    return read_compositions(knowledge_folder())


def composition_of(material: str) -> tuple[CompositionLine, ...]:
    """The lines of one seeded material by its key; none for a key that is not seeded: then nothing is known.

    >>> [(line.cas, line.low, line.high) for line in composition_of("acetone")]
    [('67-64-1', Decimal('100'), Decimal('100'))]
    """
    return _by_material().get(material, ())


@cache
def own_flash_numbers() -> frozenset[str]:
    """The CAS numbers of petroleum cuts: how those burn is told by a flash point, never by the number."""
    return frozenset(line.cas for line in compositions() if line.own_flash and line.cas)


@cache
def _by_material() -> Mapping[str, tuple[CompositionLine, ...]]:
    found: dict[str, list[CompositionLine]] = defaultdict(list)
    for line in compositions():
        found[line.material].append(line)
    return {material: tuple(lines) for material, lines in found.items()}


def _component(row: dict[str, str]) -> CompositionLine:
    for needed in ("material", "substance", "source"):
        if not row[needed].strip():
            raise ValueError(f"{needed} is empty")
    if row["cas"] and not _CAS.fullmatch(row["cas"]):
        raise ValueError(f"{row['cas']!r} is no CAS number")
    low = Decimal(row["low_percent"]) if row["low_percent"] else None
    high = Decimal(row["high_percent"]) if row["high_percent"] else None
    floor, ceiling = low if low is not None else Decimal(0), high if high is not None else Decimal(100)
    if not 0 <= floor <= ceiling <= 100:
        raise ValueError(f"{row['low_percent']} to {row['high_percent']} per cent is no share")
    if low is not None and high is None:
        raise ValueError("a share with a low end needs a high end")
    role = Role(row["role"])
    if role is Role.NOT_KNOWN and (low, high) != (None, None):
        raise ValueError("what is not known has no share")
    return CompositionLine(
        material=row["material"],
        substance=row["substance"],
        cas=row["cas"] or None,
        low=low,
        high=high,
        role=role,
        own_flash={"yes": True, "": False}[row["own_flash"]],
        source=tuple(part.strip() for part in row["source"].split(";") if part.strip()),
        grade=Grade(row["grade"]),
        note=row["note"],
    )
