"""The tables of published facts: whole, sourced, graded, and silent where nothing is known."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from service.core.materials import Form, MaterialKind, SelfHeating, Unknown
from service.core.sources import Grade, Provenance, weakest
from service.records import knowledge
from service.records.knowledge import (
    facts_of,
    find_known,
    is_ambiguous,
    known,
    load_known_materials,
    load_sources,
)

MATERIALS = load_known_materials()
FIGURES = [(m, f) for m in MATERIALS for f in m.figures]
NUMBER = re.compile(r"-?\d+(\.\d+)?")


def test_row_counts() -> None:
    counts = {table: sum(m.table == table for m in MATERIALS) for table in knowledge.TABLES}
    # 60 solvents of the table and denatured alcohol, which the binder table named beside them
    assert counts == {"pigments": 79, "binders": 24, "solvents": 61}
    assert len(FIGURES) == len(knowledge.read_rows("figures")) == 2027


def test_keys_are_unique_and_every_figure_belongs_to_a_material() -> None:
    keys = [m.key for m in MATERIALS]
    assert len(keys) == len(set(keys))
    assert {row["material"] for row in knowledge.read_rows("figures")} <= set(keys)
    assert {row["material"] for row in knowledge.read_rows("ambiguous_names")} <= set(keys)
    assert len(knowledge.read_rows("sources")) == len(load_sources())


def test_every_figure_has_a_source_that_resolves_and_a_grade_no_better_than_its_sources() -> None:
    sources = load_sources()
    for material, figure in FIGURES:
        where = f"{material.key} {figure.property}"
        assert figure.source, where
        assert set(figure.source) <= sources.keys(), where
        floor = weakest([sources[key].grade for key in figure.source])
        assert list(Grade).index(figure.grade) >= list(Grade).index(floor), where


def test_what_is_from_memory_says_so() -> None:
    sources = load_sources()
    for material, figure in FIGURES:
        words = {sources[key].provenance for key in figure.source}
        where = f"{material.key} {figure.property}"
        if Provenance.MEMORY in words:
            assert figure.grade is Grade.MEMORY, where
            assert figure.provenance is not Provenance.READ, where
        if figure.provenance is Provenance.MEMORY:
            assert Provenance.MEMORY in words, where


def test_numbers_outside_the_figure_table_stand_in_cells_with_a_source() -> None:
    """Identity tables hold words. A bare number there would be a figure without source or grade."""
    allowed = {"ci_number", "unifac_original", "unifac_dortmund"}
    for table in knowledge.TABLES:
        for row in knowledge.read_rows(table):
            bare = [c for c, v in row.items() if NUMBER.fullmatch(v) and c not in allowed]
            assert not bare, (row["key"], bare)


def test_every_fact_in_words_with_a_source_resolves() -> None:
    sources = load_sources()
    facts = [(m, fact) for m in MATERIALS for fact in m.facts]
    assert len(facts) > 500
    for material, fact in facts:
        assert fact.text, (material.key, fact.name)
        assert set(fact.source) <= sources.keys(), (material.key, fact.name)
        assert fact.grade in Grade
    for material in MATERIALS:
        named = {fact.name for fact in material.facts}
        for name, present in (
            ("cas", material.cas),
            ("ci_generic", material.ci_generic),
            ("toxic_metals", material.toxic_metals is not None),
            ("self_heating", material.self_heating is not SelfHeating.NOT_KNOWN),
            ("no_flash_because", material.no_flash_because),
        ):
            assert (name in named) == bool(present), (material.key, name)


def test_source_codes_written_in_notes_resolve() -> None:
    codes = re.compile(r"\b(?:VEND|UEB|FORUM|BLOG|FIN)-[A-Z0-9]+\b")
    text = " ".join([m.notes for m in MATERIALS] + [f.note for _, f in FIGURES])
    assert len(set(codes.findall(text))) > 10
    assert set(codes.findall(text)) <= load_sources().keys()


def test_ranges_run_upward_and_one_end_is_always_known() -> None:
    for material, figure in FIGURES:
        ends = [end for end in (figure.low, figure.high) if end is not None]
        assert ends, (material.key, figure.property)
        assert ends == sorted(ends), (material.key, figure.property)
        assert re.fullmatch(r"[a-z0-9_]+", figure.property), figure.property


def test_empty_stays_empty() -> None:
    """Pinned counts of what the published tables leave open; a filled gap needs a source first."""
    none = {
        prop: sum(not m.figures_of(prop) for m in MATERIALS)
        for prop in ("density_g_ml", "loose_bulk_density_g_ml", "flash_point_c")
    }
    assert none == {"density_g_ml": 21, "loose_bulk_density_g_ml": 138, "flash_point_c": 103}
    assert sum(not m.cas for m in MATERIALS) == 5
    assert sum(m.toxic_metals is None for m in MATERIALS) == 78
    assert sum(m.self_heating is SelfHeating.NOT_KNOWN for m in MATERIALS) == 16
    assert sum(m.has_drier is Unknown.NOT_KNOWN for m in MATERIALS) == 158
    zeros = {(m.key, f.property) for m, f in FIGURES if f.low == 0 and f.high == 0}
    assert {prop for _, prop in zeros} == {"nonvolatile_percent", "oil_share_percent"}
    assert Unknown.NO not in {m.has_drier for m in MATERIALS}


def test_figures_that_hang_on_temperature_or_method_say_which() -> None:
    for material, figure in FIGURES:
        where = (material.key, figure)
        if figure.property == "vapour_pressure_kpa":
            assert figure.at_c in (20, 25), where
        if figure.property == "kinematic_viscosity_mm2_s":
            assert figure.at_c == 40, where
        assert (figure.property == "flash_point_c") == bool(figure.method), where
        assert figure.method in ("", "closed-cup", "open-cup", "not-stated"), where


def test_vapour_pressure_rises_with_temperature() -> None:
    """A swapped column would show here: 25 C is always above 20 C."""
    both = 0
    for material in MATERIALS:
        at = {f.at_c: f.low for f in material.figures_of("vapour_pressure_kpa")}
        if at.keys() >= {Decimal(20), Decimal(25)}:
            both += 1
            assert at[Decimal(20)] < at[Decimal(25)], material.key  # type: ignore[operator]
    assert both == 45


def cas_digit(number: str) -> bool:
    digits = number.replace("-", "")
    return sum(i * int(d) for i, d in enumerate(reversed(digits))) % 10 == int(digits[-1])


# Suppliers' misprints that circulate and must never come in as identities, with the reason.
MISPRINTS = {
    "12069-69-1": "basic copper carbonate, printed on a sheet for green earth",
    "77298": "transposition of 77289, printed for viridian",
}


def test_cas_numbers_and_misprints() -> None:
    """The check digit is the CAS registry's own rule: digits weighted 1, 2, 3 from the right, modulo 10."""
    numbers = [number for m in MATERIALS for number in m.cas]
    assert len(numbers) > 150
    assert [n for n in numbers if not cas_digit(n)] == []
    assert cas_digit("7732-18-5")
    assert not cas_digit("7732-18-4")
    identities = {*numbers, *(n for m in MATERIALS for n in m.ci_number)}
    assert not identities & MISPRINTS.keys()
    assert all(len(find_known(number)) == 0 for number in MISPRINTS)


def test_kinds_and_forms() -> None:
    kinds = {table: {m.kind for m in MATERIALS if m.table == table} for table in knowledge.TABLES}
    k = MaterialKind
    assert kinds["pigments"] == {k.DRY_PIGMENT, k.OTHER_CHEMICAL}
    assert kinds["binders"] == {k.BINDER, k.RESIN, k.GLUE_OR_SIZE, k.DRIER, k.OTHER_CHEMICAL}
    assert kinds["solvents"] == {k.SOLVENT}
    assert all(m.form is Form.LIQUID for m in MATERIALS if m.kind in (k.SOLVENT, k.DRIER, k.BINDER))


def test_every_oil_and_alkyd_is_self_heating_and_no_drier_is_cleared() -> None:
    oils = [m for m in MATERIALS if m.kind is MaterialKind.BINDER or "oil" in (m.binder or "")]
    assert len(oils) == 8
    assert {m.self_heating for m in [*oils, *find_known("alkyd")]} == {SelfHeating.YES}
    driers = [m for m in MATERIALS if m.kind is MaterialKind.DRIER]
    assert len(driers) == 5
    assert SelfHeating.NO not in {m.self_heating for m in driers}
    for key in ("turpentine", "prussian", "chrome_green", "lampblack"):
        assert known(key).self_heating is SelfHeating.YES  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("Chrome Green", {"chrome_green", "cr_oxide"}),
        ("emerald green", {"emerald_green", "viridian"}),
        ("alcohol", {"methanol", "ethanol", "isopropanol", "denatured_alcohol"}),
        ("Naphtha", {"vmp_naphtha", "petroleum_naphtha_light", "aromatic_naphtha_c9"}),
        ("linseed oil", {"linseed_raw", "linseed_boiled", "stand_oil"}),
    ],
)
def test_ambiguous_names_return_several(text: str, keys: set[str]) -> None:
    assert {m.key for m in find_known(text)} == keys
    assert is_ambiguous(text)


@pytest.mark.parametrize(
    "text", ["mineral spirits", "white spirit", "xylene", "shellac", "PBr7", "77510", "1309-37-1"]
)
def test_names_shared_by_several_materials_are_not_narrowed(text: str) -> None:
    assert len(find_known(text)) > 1
    assert is_ambiguous(text)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("raw umber", "raw_umber"),
        ("RAW  UMBER", "raw_umber"),
        ("PG15", "chrome_green"),
        ("p.g. 18", "viridian"),
        ("PB-27", "prussian"),
        ("iron blue", "prussian"),
        ("77335", "cobalt_green"),
        ("64-17-5 ", None),
        ("turps", "turpentine"),
        ("BLO", "linseed_boiled"),
        ("MEK", "methyl_ethyl_ketone"),
        ("", None),
        ("   ", None),
        ("unobtainium", None),
    ],
)
def test_lookups_are_tolerant(text: str, key: str | None) -> None:
    found = find_known(text)
    if key is None:
        assert len(found) != 1
    else:
        assert [m.key for m in found] == [key]
        assert not is_ambiguous(text)


def test_part_of_a_name_finds_every_fitting_one() -> None:
    assert {"raw_umber", "burnt_umber"} <= {m.key for m in find_known("umber")}


def test_a_listed_trade_name_with_one_row_is_still_ambiguous() -> None:
    assert [m.key for m in find_known("cobalt violet")] == ["co_violet"]
    assert is_ambiguous("cobalt violet")


def test_facts_of_never_averages_and_takes_the_lower_flash_point() -> None:
    def facts(key: str) -> knowledge.MaterialFacts:
        return facts_of(known(key))  # type: ignore[arg-type]

    assert facts("raw_umber").density_g_ml == Decimal("3.20")
    assert facts("tio2").density_g_ml is None, "4.2, 4.17 and 4.0 disagree"
    assert facts("tung").density_g_ml is None, "a range is not one figure"
    assert facts("acetone").density_g_ml == Decimal("0.7903"), "the 20 C row"
    assert facts("acetone").flash_point_c == -20
    assert facts("linseed_raw").flash_point_c == 222, "a sheet says above 300"
    assert facts("kerosene").flash_point_c == 38
    assert facts("dichloromethane").flash_not_applicable == "no flash in closed cup"
    assert facts("hide_glue_dry").bulk_density_g_ml == (Decimal("0.66"), Decimal("0.68"))
    assert facts("raw_umber").supplier_classes is None
    assert facts("acetone").toxic_metals == ()
    assert facts("yellow_ochre").toxic_metals is None
    assert facts("chrome_yellow").toxic_metals == ("Pb", "Cr(VI)")


def test_disputed_oil_demand_of_raw_umber_stays_apart() -> None:
    rows = known("raw_umber").figures_of("oil_demand_g_100g")  # type: ignore[union-attr]
    assert [(str(r.low), str(r.high)) for r in rows] == [
        ("18", "18"), ("54", "54"), ("78", "78"), ("85", "85"), ("100", "100"), ("95", "97"),
    ]  # fmt: skip
    assert {r.source[0] for r in rows} == {"WEBX", "UEB-RU", "MASSEY", "JPN", "CHURCH"}


def test_the_tables_are_read_once() -> None:
    assert load_known_materials() is load_known_materials()
