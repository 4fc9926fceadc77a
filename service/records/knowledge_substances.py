"""Reads what published lists say of a substance (seed_data/knowledge/substance_hazards.csv).

One row is one substance on one list in one edition. Classes stay texts of one fixed shape:
``Acute Tox. 4 vapour H332``, ``STOT RE 1 H372 (central nervous system)``. A list is never complete: no class
on it does not mean harmless, and a row that is missing means nothing at all.
"""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Final

from service.core.sources import Grade, Provenance
from service.records.knowledge import knowledge_folder

FILE_NAME: Final = "substance_hazards.csv"
ATE_ROUTES: Final = ("oral", "dermal", "vapour", "dust_mist", "gas")
_CAS = re.compile(r"\d{2,7}-\d{2}-\d")
_SUPPLEMENTAL = re.compile(r"(?:EUH|AUH)\d{3}A?")
_CLASS = re.compile(
    r"(?:[A-Z][A-Za-z-]*\.?)(?: (?:[A-Z][A-Za-z-]*\.?))*"  # Flam. Liq., STOT SE, Aquatic Chronic
    r"(?: \d(?:\.\d|[ABC])?)?(?: (?:oral|dermal|inhalation|vapour|dust_mist|gas))?"
    r" H\d{3}[A-Za-z]{0,2}(?: \([a-z][a-z ,]*\))?"
)


class PublishedList(StrEnum):
    """Whose list a row was taken from; ``no-list`` records that three lists were searched in vain."""

    EU_ANNEX_VI = "eu-annex-vi"
    AU_HCIS = "au-hcis"
    JP_NITE = "jp-nite"
    REACH_REGISTRATION = "reach-registration"
    NO_LIST = "no-list"


class Listing(StrEnum):
    """How a substance stands on the list. Only ``classified`` and ``group entry`` carry classes to apply."""

    CLASSIFIED = "classified"
    GROUP_ENTRY = "group entry"
    NO_CLASS = "listed, no class"
    NOT_LISTED = "not listed there"
    ANNULLED = "annulled"


@dataclass(frozen=True)
class OwnLimit:
    """A limit of one substance: this class from ``at_least`` up to, not with, ``below``; per cent by mass."""

    hazard: str
    at_least: Decimal
    below: Decimal | None


@dataclass(frozen=True)
class SubstanceRow:
    """What one list in one edition says of one substance.

    ``classes`` is what to apply; an annulled row has none and keeps them in ``once_classes`` with the day in
    ``valid_until``. ``minimum`` names the classes that are the least to apply; ``marks`` the list's other
    stars. ``m_acute`` and ``m_chronic`` are ``None`` when none is printed. ``ate`` holds mg/kg (oral, dermal)
    or mg/L (vapour, dust_mist). ``notes`` are the list's letters and digits. ``metal`` (Pb, Cd, ...) and
    ``metal_fraction`` (0 to 1) stand only beside note 1; the fraction is ``None`` there too when the formula
    is not fixed: then the whole compound is compared. ``group`` is the wording of a group entry or of what it
    covers, ``covers`` the numbers we read it to cover. ``unread`` has the phrases that could not be put in
    the fixed shape: the row is then not complete.
    """

    key: str
    name: str
    cas: str | None
    ec: str | None
    index_no: str | None
    list: PublishedList
    edition: str
    status: Listing
    valid_until: date | None
    classes: tuple[str, ...]
    once_classes: tuple[str, ...]
    supplemental: tuple[str, ...]
    minimum: tuple[str, ...]
    marks: tuple[str, ...]
    limits: tuple[OwnLimit, ...]
    m_acute: int | None
    m_chronic: int | None
    ate: tuple[tuple[str, Decimal], ...]
    notes: tuple[str, ...]
    metal: str
    metal_fraction: Decimal | None
    group: str
    covers: tuple[str, ...]
    unread: tuple[str, ...]
    source: tuple[str, ...]
    grade: Grade
    provenance: Provenance
    note: str

    @property
    def supplements(self) -> tuple[str, ...]:
        """The supplemental statements by the EU's numbers: Australia's AUH066 says what EUH066 says."""
        return tuple(code.replace("AUH", "EUH") for code in self.supplemental)


def read_substances(folder: Path) -> tuple[SubstanceRow, ...]:
    """Every row of the table. ``ValueError`` names the line that cannot be read or stands there twice."""
    found: dict[tuple[str, ...], SubstanceRow] = {}
    with (folder / FILE_NAME).open(encoding="utf-8", newline="") as lines:
        for number, row in enumerate(csv.DictReader(lines), start=2):
            try:
                made = _substance(row)
            except (KeyError, ValueError, AttributeError, InvalidOperation) as trouble:
                raise ValueError(f"{FILE_NAME} line {number}: {trouble}") from trouble
            key = (made.key, made.list, made.edition, made.index_no or "")
            if key in found:
                raise ValueError(f"{FILE_NAME} line {number}: {made.key} stands there twice for {made.list}")
            found[key] = made
    return tuple(found.values())


@cache
def substance_hazards() -> tuple[SubstanceRow, ...]:
    """The rows that come with the program, in table order, read once."""
    return read_substances(knowledge_folder())


def substance_rows(cas: str) -> tuple[SubstanceRow, ...]:
    """What every list held says of one CAS number; group entries that cover it come last.

    Annulled rows are among them, with empty ``classes``. No row means not known.

    >>> [(row.list.value, row.classes) for row in substance_rows("64-17-5")][0]
    ('eu-annex-vi', ('Flam. Liq. 2 H225',))
    """
    return _by_cas().get(cas.strip(), ())


def substances_named(name: str) -> tuple[SubstanceRow, ...]:
    """The rows of exactly this name or key, in any letter case; none when nothing fits.

    >>> {row.cas for row in substances_named("Acetone")}
    {'67-64-1'}
    """
    wanted = name.strip().casefold()
    return tuple(row for row in substance_hazards() if wanted in (row.key, row.name.casefold()))


@cache
def _by_cas() -> Mapping[str, tuple[SubstanceRow, ...]]:
    found: dict[str, list[SubstanceRow]] = defaultdict(list)
    for row in substance_hazards():
        if row.cas is not None:
            found[row.cas].append(row)
    for row in substance_hazards():
        for cas in row.covers:
            found[cas].append(row)
    return {cas: tuple(rows) for cas, rows in found.items()}


def _substance(row: dict[str, str]) -> SubstanceRow:
    for needed in ("key", "name", "edition", "source"):
        if not row[needed].strip():
            raise ValueError(f"{needed} is empty")
    status = Listing(row["status"])
    classes = _classes(row["classes"])
    if bool(classes) != (status not in (Listing.NO_CLASS, Listing.NOT_LISTED)):
        raise ValueError(f"{status} with classes {row['classes']!r}")
    annulled = status is Listing.ANNULLED
    if annulled != bool(row["valid_until"]):
        raise ValueError("a day in valid_until belongs to an annulled row and to no other")
    minimum = _classes(row["minimum"])
    if set(minimum) - set(classes):
        raise ValueError(f"minimum names a class that is not there: {row['minimum']}")
    notes = tuple(row["notes"].split())
    fraction = Decimal(row["metal_fraction"]) if row["metal_fraction"] else None
    if ("1" in notes) != bool(row["metal"]) or (
        fraction is not None and not (row["metal"] and 0 < fraction < 1)
    ):
        raise ValueError(f"metal {row['metal']!r}, its share {fraction}, notes {row['notes']!r}")
    supplemental = _several(row["supplemental"])
    for code in supplemental:
        if not _SUPPLEMENTAL.fullmatch(code):
            raise ValueError(f"{code!r} is no supplemental code")
    return SubstanceRow(
        key=row["key"],
        name=row["name"],
        cas=_cas(row["cas"]) if row["cas"] else None,
        ec=row["ec"] or None,
        index_no=row["index_no"] or None,
        list=PublishedList(row["list"]),
        edition=row["edition"],
        status=status,
        valid_until=date.fromisoformat(row["valid_until"]) if row["valid_until"] else None,
        classes=() if annulled else classes,
        once_classes=classes if annulled else (),
        supplemental=supplemental,
        minimum=minimum,
        marks=_several(row["marks"]),
        limits=tuple(_limit(part) for part in _several(row["limits"])),
        m_acute=_factor(row["m_acute"]),
        m_chronic=_factor(row["m_chronic"]),
        ate=tuple(_ate(part) for part in _several(row["ate"])),
        notes=notes,
        metal=row["metal"],
        metal_fraction=fraction,
        group=row["group"],
        covers=tuple(_cas(part) for part in row["covers_cas"].split()),
        unread=_several(row["unread"]),
        source=_several(row["source"]),
        grade=Grade(row["grade"]),
        provenance=Provenance(row["provenance"]),
        note=row["note"],
    )


def _several(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


def _classes(text: str) -> tuple[str, ...]:
    classes = _several(text)
    for one in classes:
        if not _CLASS.fullmatch(one):
            raise ValueError(f"{one!r} is not written as a class")
    if len(set(classes)) != len(classes):
        raise ValueError(f"a class stands twice: {text}")
    return classes


def _cas(text: str) -> str:
    if not _CAS.fullmatch(text):
        raise ValueError(f"{text!r} is no CAS number")
    return text


def _factor(text: str) -> int | None:
    if not text:
        return None
    factor = int(text)
    if factor < 1:
        raise ValueError(f"an M-factor is 1 or more, not {text}")
    return factor


def _ate(part: str) -> tuple[str, Decimal]:
    route, _, figure = part.partition("=")
    value = Decimal(figure)
    if route not in ATE_ROUTES or value <= 0:
        raise ValueError(f"{part!r} is no estimate of acute toxicity")
    return route, value


def _limit(part: str) -> OwnLimit:
    hazard, _, span = part.partition(" >= ")
    low, _, high = span.partition(" < ")
    (hazard,) = _classes(hazard)
    at_least, below = Decimal(low), Decimal(high) if high else None
    if not 0 < at_least < (below or Decimal("100.1")) or (below is not None and below > 100):
        raise ValueError(f"{part!r} is no limit")
    return OwnLimit(hazard, at_least, below)
