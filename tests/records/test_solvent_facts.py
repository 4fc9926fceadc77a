"""The liquids of the tables, held against the library they were taken from; its wrong look-ups kept out.

Wrong look-ups and their right values: notes of the reference on `chemicals` 1.5.2 and `thermo` 0.6.1, read.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from chemicals import vapor_pressure
from thermo.unifac import DOUFSG, UFSG

from service.core.solvents.activity import Variant, groups_of
from service.core.solvents.properties import Component, LimitUnit
from service.core.solvents.vapour_pressure import CurveForm
from service.records.find_solvent import find_solvent
from service.records.knowledge import known, read_rows
from service.records.solvent_facts import all_solvents, component_of

FOLDER = Path(__file__).parents[2] / "seed_data" / "knowledge"
LIQUIDS = {one.key: one for one in all_solvents()}
ATOMS = {"C": 12.011, "H": 1.008, "O": 15.999, "F": 18.998, "Cl": 35.45}


def held(key: str) -> Component:
    found = component_of(key)
    assert found is not None
    return found


@pytest.mark.parametrize("row", read_rows("vapour_pressures"), ids=lambda row: str(row["material"]))
def test_curves_are_those_of_the_library(row: dict[str, str]) -> None:
    table = vapor_pressure.Psat_data_Perrys2_8.loc[held(row["material"]).cas]
    names = ("C1", "C2", "C3", "C4", "C5", "Tmin", "Tmax")
    ours = [float(row[name]) for name in ("c1", "c2", "c3", "c4", "c5", "min_k", "max_k")]
    assert ours == pytest.approx([float(table[name]) for name in names], rel=1e-12)


def test_antoine_constants_are_those_of_the_library() -> None:
    table = vapor_pressure.Psat_data_AntoinePoling
    checked = 0
    for key in LIQUIDS:
        material = known(key)
        rows = material.figures_of("antoine_a_log10_pa") if material else ()
        if rows and rows[0].source == ("POLING",) and LIQUIDS[key].cas in table.index and material:
            found = table.loc[LIQUIDS[key].cas]
            for name, column in (("antoine_a_log10_pa", "A"), ("antoine_b_k", "B"), ("antoine_c_k", "C")):
                figure = material.figures_of(name)[0].low
                assert figure is not None
                assert float(figure) == pytest.approx(float(found[column]), abs=6e-4)
            checked += 1
    assert checked > 25


@pytest.mark.parametrize(
    ("key", "name", "wrong", "right"),
    [
        ("stoddard_solvent", "molar_mass", 241.1, 144.0),
        ("isobutanol", "flash_point", -40.0, 28.0),
        ("methanol", "flash_point", -31.0, 9.0),
        ("ethanol", "flash_point", -13.0, 12.0),
        ("ethyl_acetate", "flash_point", -9.8, -4.0),
        ("butoxyethanol_2", "density", 0.967, 0.9015),
        ("diacetone_alcohol", "density", 1.277, 0.9387),
        ("propylene_carbonate", "density", 0.853, 1.2047),
        ("undecane_n", "flash_point", 69.0, 65.9),
    ],
)
def test_known_wrong_look_ups_stay_out(key: str, name: str, wrong: float, right: float) -> None:
    value = getattr(held(key), name).value
    assert value == pytest.approx(right, rel=0.005)
    assert abs(value - wrong) > abs(right) * 0.02


@pytest.mark.parametrize("liquid", LIQUIDS.values(), ids=LIQUIDS)
def test_groups_exist_and_add_up_to_the_molar_mass(liquid: Component) -> None:
    for variant in Variant:
        groups = groups_of(liquid, variant)
        subgroups = UFSG if variant is Variant.ORIGINAL else DOUFSG
        assert all(number in subgroups and count > 0 for number, count in groups or ())
    if liquid.groups_original and not liquid.stand_in and liquid.key != "water":
        mass = sum(_mass(UFSG[number].group) * count for number, count in liquid.groups_original)
        assert liquid.molar_mass is not None
        assert mass == pytest.approx(liquid.molar_mass.value, rel=0.001)


def _mass(group: str) -> float:
    """The mass of a group by its written name, such as CH2=CH, CY-CH2, CH3COO or THF."""
    import re

    special = {"THF": "C4H8O", "FURFURAL": "C5H4O2", "C2H5O2": "C2H5O2", "C2H4O2": "C2H4O2"}
    text = special.get(group, re.sub(r"^(CY-|AC)", lambda m: "C" if m[0] == "AC" else "", group))
    total = 0.0
    for symbol, count in re.findall(r"(Cl|[CHOF])(\d*)", text.replace("CL", "Cl")):
        total += ATOMS[symbol] * int(count or 1)
    for inner, count in re.findall(r"\(([A-Za-z0-9]+)\)(\d+)", text):
        once = sum(ATOMS[s] * int(n or 1) for s, n in re.findall(r"(Cl|[CHOF])(\d*)", inner))
        total += once * (int(count) - 1)
    return total


def test_every_liquid_has_what_a_room_needs_or_it_is_listed_here() -> None:
    """What is missing is missing on purpose: nobody published it, and nothing is estimated in its place."""
    needed = ("molar_mass", "density", "lower_limit", "curve")
    missing = {
        key: [name for name in needed if getattr(one, name) is None]
        for key, one in LIQUIDS.items()
        if not one.water
    }
    assert {key: names for key, names in missing.items() if names} == {
        "isododecane": ["lower_limit", "curve"],
        "carene_3": ["lower_limit"],
        "denatured_alcohol": ["lower_limit"],
    }


def test_a_pressure_at_the_flash_point_fits_the_lower_limit() -> None:
    """P(flash) over the lower limit lies between 0.5 and 2; a halogenated liquid may lie outside."""
    outside = {}
    for key, one in LIQUIDS.items():
        if one.stand_in or not (one.flash_point and one.lower_limit and one.curve):
            continue
        ratio = one.curve.kpa(one.flash_point.value) / 1.01325 / one.lower_limit.value
        if not 0.5 <= ratio <= 2:
            outside[key] = round(ratio, 1)
    assert set(outside) <= {"chlorobenzotrifluoride_p", "propylene_carbonate"}, outside


def test_a_cut_gives_off_what_was_published_of_it() -> None:
    spirit = held("white_spirit_regular")
    assert spirit.curve is not None and spirit.curve.form is CurveForm.PERRY
    assert spirit.curve.kpa(20) == pytest.approx(0.6)
    assert held("decane_n").curve.kpa(20) < 0.2  # type: ignore[union-attr]


def test_stand_ins_are_the_alkane_nearest_the_middle_of_the_boiling_range() -> None:
    rows = {row["material"]: row for row in read_rows("solvent_models")}
    keys = [key for key, row in rows.items() if key.endswith("_n") and row["family"] == "alkane"]
    alkanes = {key: held(key).boiling_point.value for key in keys}  # type: ignore[union-attr]
    for key, middle in (
        ("stoddard_solvent", 178.0),
        ("mineral_spirits_low_aromatic", 175.0),
        ("mineral_spirits_odourless", 192.5),
        ("vmp_naphtha", 127.5),
        ("kerosene", 250.0),
    ):
        assert rows[key]["stand_in"] == min(alkanes, key=lambda one: abs(alkanes[one] - middle)), key


def test_limits_keep_their_own_unit_and_body() -> None:
    limits = {(one.body, one.unit): one for one in held("white_spirit_regular").limits}
    assert limits["NIOSH REL", LimitUnit.MG_M3].value in (350.0, 1800.0)
    assert all(one.grade for one in held("toluene").limits)
    turpentine = [one for one in held("turpentine").limits if one.body == "ACGIH TLV"]
    assert sorted(one.value for one in turpentine) == [20.0, 100.0]
    assert {one.edition for one in turpentine} == {"", "1993"}


def test_names_and_numbers() -> None:
    assert find_solvent("67-64-1").component is held("acetone")
    assert find_solvent("", "IPA").component is held("isopropanol")
    assert find_solvent("", "nothing of that name").component is None
    assert [one.code for one in find_solvent("", "xylene").findings] == ["name-means-several"]
    lowest = find_solvent("64742-82-1")
    assert lowest.component is held("white_spirit_low_flash")
    assert [one.code for one in lowest.findings] == ["lowest-grade-used"]


def test_every_model_row_is_of_a_solvent_of_the_tables() -> None:
    with (FOLDER / "solvents.csv").open(encoding="utf-8") as handle:
        keys = {row["key"] for row in csv.DictReader(handle)}
    rows = [row["material"] for row in read_rows("solvent_models")]
    assert sorted(rows) == sorted(keys)


def test_a_drier_or_a_varnish_is_not_said_to_stay_in_the_film() -> None:
    """They are sold in a carrier: left out as non-volatile, a mix would look as if it did not burn."""
    for key in ("japan_drier", "co_drier", "shellac_cut", "meko", "alkyd_resin", "pva"):
        found = component_of(key)
        assert found is not None
        assert found.volatile is None, key
    for key in ("linseed_raw", "tung", "shellac_dry_waxy", "casein"):
        found = component_of(key)
        assert found is not None
        assert found.volatile is False, key
