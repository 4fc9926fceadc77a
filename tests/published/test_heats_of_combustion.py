"""Net heats of combustion of the tables: worked out again here, and against seven figures typed by hand.

``heats_of_formation.tsv`` holds gas-phase enthalpies of formation at 25 C (kJ/mol) as tabulated in the
package ``chemicals`` 1.5.2, with the table's name. Estimates by groups (JOBACK) were not taken.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from service.records.knowledge import known, load_known_materials, read_rows
from service.records.solvent_facts import component_of

# kcal/mol, from the reference on vapour and flammability, item F4, in which each was worked out by itself.
TYPED = {
    "acetone": 403.9, "ethanol": 305.4, "toluene": 901.6, "hexane_n": 929.0, "octane_n": 1222.8,
    "decane_n": 1516.7, "butyl_acetate_n": 795.1,
}  # fmt: skip
PROPERTY = "net_heat_of_combustion_kcal_mol"
with (Path(__file__).parent / "heats_of_formation.tsv").open(encoding="utf-8", newline="") as handle:
    FORMATION = {row["key"]: row for row in csv.DictReader(handle, delimiter="\t")}
FORMULAS = {row["key"]: row["formula"] for row in read_rows("solvents")}


def burnt(formula: str, formation_kj: float) -> float:
    """kcal/mol to carbon dioxide and water vapour, from the formula of a liquid of C, H and O."""
    atoms = {sign: int(count or 1) for sign, count in re.findall(r"([A-Z])(\d*)", formula)}
    assert set(atoms) <= {"C", "H", "O"}, formula
    return (atoms["C"] * 393.51 + atoms["H"] / 2 * 241.826 + formation_kj) / 4.184


@pytest.mark.parametrize("key", sorted(FORMATION))
def test_each_heat_follows_from_formula_and_heat_of_formation(key: str) -> None:
    made = component_of(key)
    assert made is not None and made.heat_of_combustion is not None
    wanted = burnt(FORMULAS[key], float(FORMATION[key]["gas_25c_kj_mol"]))
    assert made.heat_of_combustion.value == pytest.approx(wanted, abs=0.06)
    assert FORMATION[key]["table"] in made.heat_of_combustion.note


@pytest.mark.parametrize(("key", "kcal"), sorted(TYPED.items()))
def test_the_figures_typed_by_hand(key: str, kcal: float) -> None:
    made = component_of(key)
    assert made is not None and made.heat_of_combustion is not None
    assert made.heat_of_combustion.value == kcal


def test_no_heat_without_a_heat_of_formation() -> None:
    """41 pure liquids; none of those that hold chlorine, none that only an estimate by groups is known of."""
    held = {one.key for one in load_known_materials() if one.figures_of(PROPERTY)}
    assert held == set(FORMATION) and len(held) == 41
    for key in ("dichloromethane", "propylene_glycol_methyl_ether", "dimethyl_carbonate"):
        material = known(key)
        assert material is not None and not material.figures_of(PROPERTY)
