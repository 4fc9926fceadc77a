"""Reads the tables of hazard and precautionary statements, and which of them go with which class.

A class is named the way the whole program names it: abbreviation, category, route: ``Acute Tox. 4 oral``.
"""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from service.core.sources import Grade, Provenance
from service.records.knowledge import knowledge_folder

STATEMENTS_FILE: Final = "hazard_statements.csv"
PRECAUTIONS_FILE: Final = "precautionary_statements.csv"
CHOICE_FILE: Final = "precautionary_choice.csv"
REGIMES: Final = frozenset({"un-ghs", "eu-clp", "us-hcs"})
SIGNAL_WORDS: Final = frozenset({"", "Danger", "Warning"})
_CODE = re.compile(r"(?:H\d{3}[A-Za-z]{0,2}(?:\+H\d{3})*|EUH\d{3}A?|OSHA-CD)")
_P_CODE = re.compile(r"P\d{3}(?:\+P\d{3})*")


@dataclass(frozen=True)
class HazardStatement:
    """One hazard statement of one class and category, in the wording the standard prescribes.

    ``hazards`` are the classes it stands for (several where a standard splits a category, none for
    supplemental and combined statements). ``signal_word`` is ``None`` where the class has none.
    ``doubtful`` marks a statement whose legal standing is open: it is shown, never put on a label.
    Texts keep the standard's own gaps: ``<state route of exposure ...>``.
    """

    code: str
    text: str
    hazard_class: str
    category: str
    hazards: tuple[str, ...]
    signal_word: str | None
    pictograms: tuple[str, ...]
    regimes: frozenset[str]
    doubtful: bool
    source: tuple[str, ...]
    grade: Grade
    note: str


@dataclass(frozen=True)
class PrecautionaryStatement:
    """One precautionary statement; the gaps of the standard (``...``) are left for whoever prints it."""

    code: str
    text: str
    regimes: frozenset[str]
    source: tuple[str, ...]
    grade: Grade
    note: str


@dataclass(frozen=True)
class PrecautionChoice:
    """The precautionary codes that go with one class and category, in the order of the standard's table."""

    hazard_class: str
    category: str
    hazards: tuple[str, ...]
    prevention: tuple[str, ...]
    response: tuple[str, ...]
    storage: tuple[str, ...]
    disposal: tuple[str, ...]
    regimes: frozenset[str]
    source: tuple[str, ...]
    grade: Grade
    provenance: Provenance
    note: str

    @property
    def codes(self) -> tuple[str, ...]:
        """All codes: prevention, response, storage, disposal."""
        return self.prevention + self.response + self.storage + self.disposal


def read_hazard_statements(folder: Path) -> tuple[HazardStatement, ...]:
    """Every row of the table. ``ValueError`` names the line that cannot be read or stands there twice."""
    found: dict[tuple[str, str, str], HazardStatement] = {}
    for where, row in _lines(folder / STATEMENTS_FILE):
        try:
            made = _statement(row)
        except (KeyError, ValueError, AttributeError) as trouble:
            raise ValueError(f"{where}: {trouble}") from trouble
        key = (made.code, made.hazard_class, made.category)
        if key in found:
            raise ValueError(
                f"{where}: {made.code} of {made.hazard_class} {made.category} stands there twice"
            )
        found[key] = made
    return tuple(found.values())


def read_precautionary_statements(folder: Path) -> Mapping[str, PrecautionaryStatement]:
    """Every precautionary statement by its code. ``ValueError`` names the line that cannot be read."""
    found: dict[str, PrecautionaryStatement] = {}
    for where, row in _lines(folder / PRECAUTIONS_FILE):
        try:
            made = _precaution(row)
        except (KeyError, ValueError, AttributeError) as trouble:
            raise ValueError(f"{where}: {trouble}") from trouble
        if made.code in found:
            raise ValueError(f"{where}: {made.code} stands there twice")
        found[made.code] = made
    return found


def read_precaution_choices(folder: Path) -> tuple[PrecautionChoice, ...]:
    """Every row of the choice table. ``ValueError`` names the line that cannot be read."""
    found: dict[tuple[str, str], PrecautionChoice] = {}
    for where, row in _lines(folder / CHOICE_FILE):
        try:
            made = _choice(row)
        except (KeyError, ValueError, AttributeError) as trouble:
            raise ValueError(f"{where}: {trouble}") from trouble
        key = (made.hazard_class, made.category)
        if key in found:
            raise ValueError(f"{where}: {made.hazard_class} {made.category} stands there twice")
        found[key] = made
    return tuple(found.values())


@cache
def hazard_statements() -> tuple[HazardStatement, ...]:
    """The hazard statements that come with the program, in table order, read once."""
    return read_hazard_statements(knowledge_folder())


@cache
def precautionary_statements() -> Mapping[str, PrecautionaryStatement]:
    """The precautionary statements that come with the program, by code, read once."""
    return read_precautionary_statements(knowledge_folder())


@cache
def precaution_choices() -> tuple[PrecautionChoice, ...]:
    """Which precautionary codes go with which class and category, read once."""
    return read_precaution_choices(knowledge_folder())


def statements_of(hazard: str) -> tuple[HazardStatement, ...]:
    """The statements of one class and category, such as ``Flam. Liq. 2``; none when the table has none.

    Several where the code depends on more than the category: Carc. 1A (H350, H350i), STOT SE 3 (H335, H336).
    """
    return _statements_by_hazard().get(_as_held(hazard), ())


def statement_text(code: str) -> str:
    """The wording of a hazard, EUH or precautionary code; a text of parts when only its parts are held.

    >>> statement_text("H225")
    'Highly flammable liquid and vapour'
    >>> statement_text("P301+P331")
    'IF SWALLOWED: Do NOT induce vomiting.'

    KeyError names a code of which no text is held: a code must never be printed without its words.
    """
    texts = _hazard_texts()
    if code in texts:
        return texts[code]
    precautions = precautionary_statements()
    if code in precautions:
        return precautions[code].text
    parts = code.split("+")
    if len(parts) > 1 and all(part in precautions for part in parts):
        return " ".join(precautions[part].text for part in parts)
    raise KeyError(f"no wording is held for the statement {code}")


def precautions_for(hazard: str, regime: str) -> PrecautionChoice | None:
    """The precautionary codes of one class and category, or ``None`` when the table has no row for it.

    ``hazard`` is such as ``Acute Tox. 4 vapour``, ``regime`` one of ``un-ghs eu-clp us-hcs``.
    ``None`` means that the table does not hold it, never that nothing is needed.

    >>> precautions_for("Asp. Tox. 1", "eu-clp").response
    ('P301+P310', 'P331')
    """
    if regime not in REGIMES:
        raise ValueError(f"no such regime: {regime}")
    choice = _choices_by_hazard().get(_as_held(hazard))
    return choice if choice is not None and regime in choice.regimes else None


def _as_held(hazard: str) -> str:
    """The tables make no difference between the forms of what is breathed in."""
    return re.sub(r"^(Acute Tox\. \d) (?:vapour|dust_mist|gas)$", r"\1 inhalation", hazard)


@cache
def _hazard_texts() -> Mapping[str, str]:
    return {statement.code: statement.text for statement in hazard_statements()}


@cache
def _statements_by_hazard() -> Mapping[str, tuple[HazardStatement, ...]]:
    found: dict[str, list[HazardStatement]] = defaultdict(list)
    for statement in hazard_statements():
        for hazard in statement.hazards:
            found[hazard].append(statement)
    return {hazard: tuple(several) for hazard, several in found.items()}


@cache
def _choices_by_hazard() -> Mapping[str, PrecautionChoice]:
    return {hazard: choice for choice in precaution_choices() for hazard in choice.hazards}


def _lines(path: Path) -> Iterator[tuple[str, dict[str, str]]]:
    with path.open(encoding="utf-8", newline="") as lines:
        for number, row in enumerate(csv.DictReader(lines), start=2):
            yield f"{path.name} line {number}", row


def _filled(row: dict[str, str], *names: str) -> None:
    for name in names:
        if not row[name].strip():
            raise ValueError(f"{name} is empty")


def _regimes(row: dict[str, str]) -> frozenset[str]:
    regimes = frozenset(row["regimes"].split())
    if not regimes or regimes - REGIMES:
        raise ValueError(f"regimes are {row['regimes']!r}")
    return regimes


def _several(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


def _codes(text: str) -> tuple[str, ...]:
    codes = tuple(text.split())
    for code in codes:
        if not _P_CODE.fullmatch(code):
            raise ValueError(f"{code} is no precautionary code")
    return codes


def _statement(row: dict[str, str]) -> HazardStatement:
    _filled(row, "text", "hazard_class", "source")
    if not _CODE.fullmatch(row["code"]):
        raise ValueError(f"{row['code']!r} is no hazard code")
    if row["signal_word"] not in SIGNAL_WORDS:
        raise ValueError(f"signal word {row['signal_word']!r}")
    return HazardStatement(
        code=row["code"],
        text=row["text"],
        hazard_class=row["hazard_class"],
        category=row["category"],
        hazards=_several(row["hazards"]),
        signal_word=row["signal_word"] or None,
        pictograms=tuple(row["pictogram"].split()),
        regimes=_regimes(row),
        doubtful={"in use": False, "doubtful": True}[row["status"]],
        source=_several(row["source"]),
        grade=Grade(row["grade"]),
        note=row["note"],
    )


def _precaution(row: dict[str, str]) -> PrecautionaryStatement:
    _filled(row, "text", "source")
    if not _P_CODE.fullmatch(row["code"]):
        raise ValueError(f"{row['code']!r} is no precautionary code")
    return PrecautionaryStatement(
        code=row["code"],
        text=row["text"],
        regimes=_regimes(row),
        source=_several(row["source"]),
        grade=Grade(row["grade"]),
        note=row["note"],
    )


def _choice(row: dict[str, str]) -> PrecautionChoice:
    _filled(row, "hazard_class", "category", "hazards", "source")
    return PrecautionChoice(
        hazard_class=row["hazard_class"],
        category=row["category"],
        hazards=_several(row["hazards"]),
        prevention=_codes(row["prevention"]),
        response=_codes(row["response"]),
        storage=_codes(row["storage"]),
        disposal=_codes(row["disposal"]),
        regimes=_regimes(row),
        source=_several(row["source"]),
        grade=Grade(row["grade"]),
        provenance=Provenance(row["provenance"]),
        note=row["note"],
    )
