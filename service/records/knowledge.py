"""The tables of published facts that come with the program: read once, never written, never guessed.

An empty cell stays ``None``. Disputed figures are rows of their own; nothing here averages them.
"""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Final

from service.core.material_facts import FlashMethod, MaterialFacts
from service.core.materials import Form, MaterialKind, SelfHeating, Unknown
from service.core.sources import Grade, Provenance, Source

TABLES: Final = ("pigments", "binders", "solvents")


@dataclass(frozen=True)
class Figure:
    """One published number or range with its unit, source keys and grade; an open end is ``None``.

    ``method`` is a flash-point method or empty; ``at_c`` the temperature the figure holds at.
    """

    property: str
    low: Decimal | None
    high: Decimal | None
    unit: str
    source: tuple[str, ...]
    grade: Grade
    provenance: Provenance
    note: str = ""
    method: str = ""
    at_c: Decimal | None = None

    def point(self) -> Decimal | None:
        """The figure when it is one number, else ``None``: a range has no single value."""
        return self.low if self.low is not None and self.low == self.high else None


@dataclass(frozen=True)
class Fact:
    """A fact in words (lightfastness, how it dries, sealed life) with its source keys and grade."""

    name: str
    text: str
    source: tuple[str, ...]
    grade: Grade


@dataclass(frozen=True)
class KnownMaterial:
    """A material of the published tables: what it is, its figures, and its facts in words.

    ``toxic_metals`` is ``None`` when nobody looked and empty when the formula holds none;
    ``no_flash_because`` is set where the material has no flash point at all.
    """

    key: str
    table: str
    name: str
    synonyms: tuple[str, ...]
    kind: MaterialKind
    form: Form
    ci_generic: tuple[str, ...]
    ci_number: tuple[str, ...]
    cas: tuple[str, ...]
    formula: str | None
    self_heating: SelfHeating
    has_drier: Unknown
    binder: str | None
    toxic_metals: tuple[str, ...] | None
    hazard_flag: str | None
    no_flash_because: str | None
    is_petroleum_cut: bool
    notes: str
    facts: tuple[Fact, ...]
    figures: tuple[Figure, ...]

    def figures_of(self, prop: str) -> tuple[Figure, ...]:
        """All rows of one property, disputed ones included; empty when nothing is published."""
        return tuple(figure for figure in self.figures if figure.property == prop)


def knowledge_folder() -> Path:
    """The folder of the tables, beside the package: ``seed_data/knowledge``.

    Raises FileNotFoundError, naming the folder, when the tables were not installed with the program.
    """
    folder = Path(__file__).resolve().parents[2] / "seed_data" / "knowledge"
    if not (folder / "figures.csv").is_file():
        raise FileNotFoundError(f"The tables of published facts are missing: {folder}")
    return folder


def read_rows(name: str) -> list[dict[str, str]]:
    """The rows of one table, as text."""
    with (knowledge_folder() / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


@cache
def load_sources() -> Mapping[str, Source]:
    """All sources by key."""
    return {
        row["key"]: Source(row["key"], Grade(row["grade"]), row["what"], Provenance(row["provenance"]))
        for row in read_rows("sources")
    }


@cache
def load_known_materials() -> tuple[KnownMaterial, ...]:
    """Every material of the tables, in table order. Read from disk once per process."""
    figures = _figures_by_material()
    return tuple(
        _material(table, row, figures.get(row["key"], ())) for table in TABLES for row in read_rows(table)
    )


def known(key: str) -> KnownMaterial | None:
    """The material with this key, or ``None``."""
    return next((material for material in load_known_materials() if material.key == key), None)


def find_known(text: str) -> tuple[KnownMaterial, ...]:
    """The materials a written name may mean, in table order; none when nothing fits.

    Reads the name, its synonyms, a Colour Index name or number, or a CAS number, in any letter case and
    without regard to blanks and hyphens. When no whole name fits, every material whose names hold all the
    words. Several answers are never narrowed: a trade name such as "chrome green" must be settled by its
    Colour Index name.
    """
    if not _plain(text):
        return ()
    if exact := named_exactly(text):
        return exact
    words = _words(text)
    return tuple(m for m, _, held in _searched() if words <= held)


def named_exactly(text: str) -> tuple[KnownMaterial, ...]:
    """The materials that a whole written name means, in table order; words of a longer name never count.

    Several where a trade name means several.
    """
    wanted = _plain(text)
    if not wanted:
        return ()
    return _by_name().get(wanted, ())


def is_ambiguous(text: str) -> bool:
    """True when the name alone does not say which material is meant.

    Also true for a listed trade name that happens to find one row here, because more is sold under it.
    """
    return _plain(text) in _ambiguous() or len(find_known(text)) > 1


def facts_of(material: KnownMaterial) -> MaterialFacts:
    """The published facts in the shape the rules read. What is disputed or a range stays not known.

    Flash point: the lowest of the published figures with its own method, because the lower is the stricter.
    """
    flash, method = _flash(material)
    return MaterialFacts(
        name=material.name,
        kind=material.kind,
        form=material.form,
        density_g_ml=_one_density(material),
        oil_share_percent=_oil_share(material),
        bulk_density_g_ml=_bulk(material),
        binder=material.binder,
        has_drier=material.has_drier,
        self_heating=material.self_heating,
        flash_point_c=flash,
        flash_method=method,
        flash_not_applicable=None if flash is not None else material.no_flash_because,
        ci_generic="; ".join(material.ci_generic) or None,
        cas="; ".join(material.cas) or None,
        toxic_metals=material.toxic_metals,
    )


def _one_density(material: KnownMaterial) -> Decimal | None:
    """The density when the table gives one figure: the 20 C rows, else all rows, agree on one number."""
    rows = material.figures_of("density_g_ml")
    twenty = [row for row in rows if row.at_c == 20]
    chosen = twenty or list(rows)
    points = {row.point() for row in chosen}
    return chosen[0].point() if len(points) == 1 else None


def _oil_share(material: KnownMaterial) -> Decimal | None:
    rows = material.figures_of("oil_share_percent")
    return rows[0].point() if len(rows) == 1 else None


def _bulk(material: KnownMaterial) -> tuple[Decimal, Decimal] | None:
    rows = material.figures_of("loose_bulk_density_g_ml")
    ends = [end for row in rows for end in (row.low, row.high) if end is not None]
    return (min(ends), max(ends)) if ends else None


def _flash(material: KnownMaterial) -> tuple[Decimal | None, FlashMethod | None]:
    rows = [row for row in material.figures_of("flash_point_c") if row.low is not None]
    if not rows:
        return None, None
    lowest = min(rows, key=lambda row: row.low if row.low is not None else Decimal("Infinity"))
    return lowest.low, None if lowest.method == "not-stated" else FlashMethod(lowest.method)


def _material(table: str, row: Mapping[str, str], figures: tuple[Figure, ...]) -> KnownMaterial:
    metals = row["toxic_metals"]
    return KnownMaterial(
        key=row["key"],
        table=table,
        name=row["name"],
        synonyms=_list(row["synonyms"]),
        kind=MaterialKind(row["kind"]),
        form=Form(row["form"]),
        ci_generic=_list(row.get("ci_generic", "")),
        ci_number=_list(row.get("ci_number", "")),
        cas=_list(row["cas"]),
        formula=row.get("formula") or None,
        self_heating=SelfHeating(row["self_heating"] or "not-known"),
        has_drier=Unknown(row["has_drier"] or "not-known"),
        binder=row.get("binder") or None,
        toxic_metals=() if metals == "none" else (_list(metals) or None),
        hazard_flag=row.get("hazard_flag") or None,
        no_flash_because=row.get("no_flash_because") or None,
        is_petroleum_cut=row.get("cut") == "cut",
        notes=row["notes"],
        facts=_facts(row),
        figures=figures,
    )


def _facts(row: Mapping[str, str]) -> tuple[Fact, ...]:
    """Every cell that has a ``<name>_source`` and ``<name>_grade`` beside it."""
    aliases = {"metals": "toxic_metals", "ci": "ci_generic", "drying": "drying_effect"}
    aliases |= {"no_flash": "no_flash_because"}
    facts: list[Fact] = []
    for column in row:
        if not column.endswith("_source") or not row[column]:
            continue
        stem = column.removesuffix("_source")
        name = aliases.get(stem, stem)
        facts.append(Fact(name, row[name], _list(row[column]), Grade(row[f"{stem}_grade"])))
    return tuple(facts)


def _figures_by_material() -> dict[str, tuple[Figure, ...]]:
    found: dict[str, list[Figure]] = defaultdict(list)
    for row in read_rows("figures"):
        found[row["material"]].append(
            Figure(
                property=row["property"],
                low=Decimal(row["low"]) if row["low"] else None,
                high=Decimal(row["high"]) if row["high"] else None,
                unit=row["unit"],
                source=_list(row["source"]),
                grade=Grade(row["grade"]),
                provenance=Provenance(row["provenance"]),
                note=row["note"],
                method=row["method"],
                at_c=Decimal(row["at_c"]) if row["at_c"] else None,
            )
        )
    return {key: tuple(rows) for key, rows in found.items()}


@cache
def _ambiguous() -> Mapping[str, frozenset[str]]:
    found: dict[str, set[str]] = defaultdict(set)
    for row in read_rows("ambiguous_names"):
        found[_plain(row["name"])].add(row["material"])
    return {name: frozenset(keys) for name, keys in found.items()}


@cache
def _searched() -> tuple[tuple[KnownMaterial, frozenset[str], frozenset[str]], ...]:
    """Each material with its whole names and with all words in them: a list asks for thousands of names."""
    return tuple(
        (m, _names_of(m), _words(" ".join((m.name, *m.synonyms)))) for m in load_known_materials()
    )


@cache
def _by_name() -> Mapping[str, tuple[KnownMaterial, ...]]:
    """Each whole name with the materials it means, in table order."""
    meant: dict[str, set[str]] = defaultdict(set)
    for material, names, _ in _searched():
        for name in names:
            meant[name].add(material.key)
    for name, keys in _ambiguous().items():
        meant[name] |= keys
    rows = load_known_materials()
    place = {material.key: n for n, material in enumerate(rows)}
    return {
        name: tuple(rows[n] for n in sorted(place[key] for key in keys if key in place))
        for name, keys in meant.items()
    }


def _names_of(material: KnownMaterial) -> frozenset[str]:
    names = [material.key, material.name, *material.name.split(" / "), *material.synonyms]
    names.append(re.sub(r"\s*\([^)]*\)", "", material.name))
    names += [*material.ci_generic, *material.ci_number, *material.cas]
    return frozenset(_plain(name) for name in names)


def _plain(text: str) -> str:
    return re.sub(r"[\s_.\-]+", "", text).casefold()


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", text.casefold()))


def _list(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())
