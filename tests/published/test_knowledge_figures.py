"""Every figure of the seeded tables against a second copy of the published figures.

The ``.tsv`` files here were taken from the sources in another way than the seeded tables: one row per
material, bare numbers, solvent densities in kg/m3, oil lives in years. A slip in either copy shows.
Sources: the ones named in ``seed_data/knowledge/sources.csv``, beside each figure.
"""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from decimal import Decimal
from pathlib import Path

import pytest

from service.records.knowledge import KnownMaterial, load_known_materials

HERE = Path(__file__).parent
Pair = tuple[Decimal, ...]
Wanted = dict[tuple[str, str], Counter[Pair]]

PIGMENTS = {
    "density": "density_g_ml", "density_more": "density_g_ml", "refraction": "refractive_index",
    "paste_pct": "paste_oil_percent", "paste_g": "paste_oil_g_100g",
    "oil_1901": "historic_grinding_oil_g_100g", "per_oil_mass": "pigment_per_oil_by_mass",
    "per_oil_volume": "pigment_per_oil_by_volume", "bulk": "loose_bulk_density_g_ml",
    "particle": "particle_um", "cpvc": "cpvc_fraction",
}  # fmt: skip
BINDERS = {
    "density": ("density_g_ml", 1), "refraction": ("refractive_index", 1), "flash": ("flash_point_c", 1),
    "iodine": ("iodine_value_g_100g", 1), "viscosity": ("viscosity_mpa_s", 1),
    "nonvolatile": ("nonvolatile_percent", 1), "bulk": ("loose_bulk_density_g_ml", 1),
    "sealed_years": ("shelf_sealed_months", 12), "opened_years": ("shelf_opened_months", 12),
    "sealed_months": ("shelf_sealed_months", 1), "opened_months": ("shelf_opened_months", 1),
    "opened_weeks": ("shelf_opened_days", 7),
}  # fmt: skip
# column of the solvent copy -> the seeded properties it stands for, joined under one name
SOLVENTS = {
    "molar_mass": "molar_mass_g_mol", "kg_m3_20": "density_g_ml", "kg_m3_25": "density_g_ml",
    "boiling": "boiling", "flash": "flash", "flash_more": "flash", "lfl": "limits", "ufl": "limits",
    "lfl_ufl_more": "limits", "ait": "autoignition_c", "ait_more": "autoignition_c",
    "vp20": "vapour_pressure_kpa", "vp25": "vapour_pressure_kpa", "ant_a": "antoine_a_log10_pa",
    "ant_b": "antoine_b_k", "ant_c": "antoine_c_k", "ant_from": "antoine_min_k", "ant_to": "antoine_max_k",
    "psat_flash": "saturated_vapour_at_flash_vol_percent", "hvap25": "heat_of_vaporisation_kj_mol",
    "hvap_bp": "heat_of_vaporisation_kj_mol", "evap": "relative_evaporation_rate",
    "visc40": "kinematic_viscosity_mm2_s", "osha": "osha_pel", "niosh": "niosh_rel", "acgih": "acgih_tlv",
    "ontario": "ontario", "ft3_gal": "vapour_ft3_per_us_gal", "g11_ft3": "table_g11_vapour_ft3_per_us_gal",
    "g11_lel": "table_g11_lower_limit_vol_percent",
}  # fmt: skip
GROUPS = {
    "boiling_point_c": "boiling", "initial_boiling_point_c": "boiling", "final_boiling_point_c": "boiling",
    "flash_point_c": "flash", "explosive_mixture_above_c": "flash",
    "lower_flammable_limit_vol_percent": "limits", "upper_flammable_limit_vol_percent": "limits",
}  # fmt: skip
# Two sources printed as one range in one copy, two rows in the other: IEC 38, NFPA 497 72.
SPLIT_RANGES = {("kerosene", "flash")}


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / f"{name}.tsv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle, delimiter="\t"))


def pairs(cell: str, scale: Decimal = Decimal(1)) -> list[Pair]:
    return [tuple(Decimal(end) * scale for end in token.split("..")) for token in cell.split()]


def group(prop: str) -> str:
    for body in ("osha_pel", "niosh_rel", "acgih_tlv", "ontario"):
        if prop.startswith(f"{body}_"):
            return body
    return GROUPS.get(prop, prop)


def seeded() -> Wanted:
    found: Wanted = defaultdict(Counter)
    for material in load_known_materials():
        for figure in material.figures:
            if figure.property == "net_heat_of_combustion_kcal_mol":
                continue  # our own arithmetic, held by test_heats_of_combustion.py
            ends = [end for end in (figure.low, figure.high) if end is not None]
            pair = (ends[0],) if len(set(ends)) == 1 else tuple(ends)
            found[material.key, group(figure.property)][pair] += 1
    return found


def published() -> Wanted:
    wanted: Wanted = defaultdict(Counter)
    for row in rows("pigment_figures"):
        for column, prop in PIGMENTS.items():
            wanted[row["key"], prop].update(pairs(row[column]))
        if row["oa_from"]:
            ends = (Decimal(row["oa_from"]), Decimal(row["oa_to"]))
            wanted[row["key"], "oil_absorption_g_100g"][ends[:1] if ends[0] == ends[1] else ends] += 1
    for row in rows("binder_figures"):
        for column, (prop, scale) in BINDERS.items():
            wanted[row["key"], group(prop)].update(pairs(row[column] or "", Decimal(scale)))
    by_name = {material.name: material.key for material in load_known_materials()}
    for row in rows("solvent_figures"):
        key = by_name[row["key"]]
        for column, prop in SOLVENTS.items():
            scale = Decimal("0.001") if column.startswith("kg_m3") else Decimal(1)
            found = pairs(row[column], scale)
            if (key, prop) in SPLIT_RANGES:
                found = [(end,) for pair in found for end in pair]
            wanted[key, prop].update(found)
    for row in rows("other_figures"):
        wanted[row["material"], group(row["property"])].update(pairs(row["figures"]))
    for row in rows("not_seeded"):
        (pair,) = pairs(row["figure"])
        assert wanted[row["material"], group(row["property"])][pair], f"never published: {row}"
        wanted[row["material"], group(row["property"])][pair] -= 1
    return {key: +counter for key, counter in wanted.items() if +counter}


def test_every_seeded_figure_is_a_published_one_and_none_is_lost() -> None:
    ours, theirs = seeded(), published()
    wrong = {
        key: (sorted((ours.get(key, Counter()) - theirs.get(key, Counter())).elements()),
              sorted((theirs.get(key, Counter()) - ours.get(key, Counter())).elements()))
        for key in ours.keys() | theirs.keys()
        if ours.get(key, Counter()) != theirs.get(key, Counter())
    }  # fmt: skip
    assert not wrong, f"(seeded only, published only): {wrong}"


def test_the_refused_figures_stay_out() -> None:
    for row in rows("not_seeded"):
        material = next(m for m in load_known_materials() if m.key == row["material"])
        clash = [f for f in material.figures_of(row["property"]) if f.low == Decimal(row["figure"])]
        # n-butyl acetate's Wikidata figure of 22.22 is right for it, so clashes are per material
        assert not clash, row


def test_identities() -> None:
    by_name: dict[str, KnownMaterial] = {}
    for material in load_known_materials():
        by_name[material.name if material.table == "solvents" else material.key] = material
    for row in rows("identities"):
        material = by_name.pop(row["name"])
        assert sorted(material.ci_generic) == row["colour_index"].split(), row["name"]
        assert sorted(material.ci_number) == row["ci_numbers"].split(), row["name"]
        assert sorted(material.cas) == row["cas"].split(), row["name"]
        if material.table == "pigments":
            assert sorted(material.toxic_metals or ()) == row["metals"].split(), row["name"]
    assert [material.key for material in by_name.values()] == ["denatured_alcohol"]


# Standard atomic weights, from memory (abridged IUPAC values), to two decimals or better.
WEIGHTS = {
    "Pb": 207.2, "Cr": 51.996, "O": 15.999, "C": 12.011, "H": 1.008, "Cd": 112.414, "S": 32.06,
    "Zn": 65.38, "Sr": 87.62, "Hg": 200.592, "Mn": 54.938, "Co": 58.933, "Al": 26.982, "P": 30.974,
    "Cu": 63.546, "N": 14.007,
}  # fmt: skip


@pytest.mark.parametrize(
    ("key", "prop", "metal", "count", "atoms"),
    [
        ("chrome_yellow", "lead_percent", "Pb", 1, {"Pb": 1, "Cr": 1, "O": 4}),
        ("chrome_yellow", "chromium_vi_percent", "Cr", 1, {"Pb": 1, "Cr": 1, "O": 4}),
        ("lead_white", "lead_percent", "Pb", 3, {"Pb": 3, "C": 2, "O": 8, "H": 2}),
        ("red_lead", "lead_percent", "Pb", 3, {"Pb": 3, "O": 4}),
        ("zinc_yellow", "chromium_vi_percent", "Cr", 1, {"Zn": 1, "Cr": 1, "O": 4}),
        ("strontium_yellow", "chromium_vi_percent", "Cr", 1, {"Sr": 1, "Cr": 1, "O": 4}),
        ("cd_yellow", "cadmium_percent", "Cd", 1, {"Cd": 1, "S": 1}),
        ("vermilion", "mercury_percent", "Hg", 1, {"Hg": 1, "S": 1}),
        ("mn_brown", "manganese_percent", "Mn", 1, {"Mn": 1, "O": 2}),
        ("cobalt_blue", "cobalt_percent", "Co", 1, {"Co": 1, "Al": 2, "O": 4}),
        ("co_violet", "cobalt_percent", "Co", 3, {"Co": 3, "P": 2, "O": 8}),
        ("cr_oxide", "chromium_iii_percent", "Cr", 2, {"Cr": 2, "O": 3}),
        ("phthalo_blue", "copper_percent", "Cu", 1, {"C": 32, "H": 16, "Cu": 1, "N": 8}),
    ],
)
def test_metal_shares_follow_from_the_formula(
    key: str, prop: str, metal: str, count: int, atoms: dict[str, int]
) -> None:
    material = next(m for m in load_known_materials() if m.key == key)
    (figure,) = material.figures_of(prop)
    share = 100 * count * WEIGHTS[metal] / sum(WEIGHTS[atom] * n for atom, n in atoms.items())
    assert figure.low is not None
    assert float(figure.low) == pytest.approx(share, abs=0.06)
