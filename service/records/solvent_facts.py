"""What the published tables hold of a liquid, in the shape the rules of solvents read.

Of several published figures the stricter stands: the lowest closed-cup flash point, the lowest limit of
flammability, the lowest boiling point, the highest density. All exposure limits are kept, each as its body
gives it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

from service.core.materials import Form, MaterialKind
from service.core.solvents.properties import (
    GIVEN,
    Component,
    ExposureLimit,
    Groups,
    Known,
    LimitKind,
    LimitUnit,
    SolventFamily,
)
from service.core.solvents.vapour_pressure import Curve, CurveForm, through_two_points
from service.core.sources import GRADE_RANK, Grade, weakest
from service.records.knowledge import (
    Figure,
    KnownMaterial,
    known,
    load_known_materials,
    read_rows,
)

BODIES: Final = {
    "osha_pel": "OSHA PEL",
    "niosh_rel": "NIOSH REL",
    "acgih_tlv": "ACGIH TLV",
    "ontario": "Ontario",
}
_KINDS: Final = {
    "twa": LimitKind.TWA,
    "weel": LimitKind.TWA,
    "stel": LimitKind.STEL,
    "ceiling": LimitKind.CEILING,
    "peak": LimitKind.CEILING,
}
_CLOSED_CUP: Final = "closed-cup"
_DRY: Final = frozenset({Form.POWDER, Form.SOLID})


@cache
def component_of(key: str) -> Component | None:
    """The facts of a material of the tables as a component without an amount; ``None`` for no such key."""
    material = known(key)
    if material is None:
        return None
    model = _models().get(key)
    stand_in = component_of(model.stand_in) if model and model.stand_in else None
    flash = _lowest(material, "flash_point_c", "C", closed_cup=True)
    groups = _groups().get(key, (None, None, ""))
    made = Component(
        name=material.name,
        share=None,
        cas=material.cas[0] if material.cas else "",
        key=key,
        family=model.family if model else None,
        molar_mass=_lowest(material, "molar_mass_g_mol", "g/mol"),
        density=_density(material),
        boiling_point=_boiling(material),
        flash_point=flash,
        no_flash_because="" if flash else (material.no_flash_because or ""),
        lower_limit=_lowest(material, "lower_flammable_limit_vol_percent", "vol%"),
        upper_limit=_highest(material, "upper_flammable_limit_vol_percent", "vol%"),
        viscosity=_lowest(material, "kinematic_viscosity_mm2_s", "mm2/s"),
        heat_of_combustion=_lowest(material, "net_heat_of_combustion_kcal_mol", "kcal/mol"),
        vapour_pressures=_pressures(material),
        groups_original=groups[0],
        groups_dortmund=groups[1],
        groups_source=groups[2],
        is_cut=material.is_petroleum_cut,
        volatile=_volatile(material, model),
        water=key == "water",
        limits=tuple(_limits(material)),
    )
    made = replace(made, curve=_curve(material, made))
    if stand_in is None:
        return made
    # A cut burns by its own flash point; how its vapour rises and how it mixes is taken from a pure liquid.
    return replace(
        made,
        stand_in=stand_in.name,
        curve=_through_own_pressure(stand_in.curve, made),
        groups_original=stand_in.groups_original,
        groups_dortmund=stand_in.groups_dortmund,
        groups_source=f"as {stand_in.name}; {stand_in.groups_source}",
        molar_mass=made.molar_mass or stand_in.molar_mass,
    )


def _through_own_pressure(curve: Curve | None, cut: Component) -> Curve | None:
    """The stand-in's curve moved up or down through the highest own vapour pressure that is published.

    Light ends make a cut give off more than any one liquid of its middle.
    """
    if curve is None or not cut.vapour_pressures:
        return curve
    figure, at = max(cut.vapour_pressures, key=lambda one: one[0].value)
    return curve.through(at, figure.value, figure.source, figure.grade)


@dataclass(frozen=True)
class SolventModel:
    """How a liquid is modelled: its family, and the pure liquid that stands for a cut."""

    family: SolventFamily
    stand_in: str
    note: str


@cache
def _models() -> dict[str, SolventModel]:
    return {
        row["material"]: SolventModel(SolventFamily(row["family"]), row["stand_in"], row["note"])
        for row in read_rows("solvent_models")
    }


@cache
def _film_formers() -> frozenset[str]:
    rows = read_rows("film_formers")
    return frozenset(text for row in rows for text in (row["cas"], _plain(row["name"])) if text)


def stays_in_film(cas: str, name: str) -> bool:
    """Whether a substance is a mineral, resin or wax of the tables that never evaporates.

    False does not say that it does: it is then not known.
    """
    return cas in _film_formers() or _plain(name) in _film_formers()


@cache
def _groups() -> dict[str, tuple[Groups | None, Groups | None, str]]:
    found: dict[str, tuple[Groups | None, Groups | None, str]] = {}
    for row in read_rows("solvents"):
        if row["cut"] == "cut":
            continue
        original, dortmund = _subgroups(row["unifac_original"]), _subgroups(row["unifac_dortmund"])
        source = row["unifac_original_source"] or row["unifac_dortmund_source"]
        found[row["key"]] = (original, dortmund, source)
    return found


def _subgroups(text: str) -> Groups | None:
    """``1:2 2:6`` as numbers and counts; empty is not assigned."""
    pairs = [part.split(":") for part in text.split()]
    return tuple((int(number), int(count)) for number, count in pairs) or None


def _plain(text: str) -> str:
    return "".join(sign for sign in text.casefold() if sign.isalnum())


def _volatile(material: KnownMaterial, model: SolventModel | None) -> bool | None:
    """Pigments, what is dry, and drying oils stay in the film. A liquid drier, varnish or glue is sold in a
    carrier that does not: of those nothing is said.
    """
    if model is not None:
        return True
    stays = material.table == "pigments" or material.form in _DRY or material.kind is MaterialKind.BINDER
    return False if stays else None


def _known(value: object, unit: str, row: Figure) -> Known:
    return Known(float(str(value)), unit, "; ".join(row.source), row.grade.value, row.note)


def _lowest(material: KnownMaterial, prop: str, unit: str, *, closed_cup: bool = False) -> Known | None:
    rows = [row for row in material.figures_of(prop) if row.low is not None]
    if closed_cup:
        # Figures of no stated cup stand only where there is no other: they may be of an open one.
        rows = [row for row in rows if row.method == _CLOSED_CUP] or rows
    return min((_known(row.low, unit, row) for row in rows), key=_value_then_grade, default=None)


def _value_then_grade(known_figure: Known) -> tuple[float, int]:
    return known_figure.value, GRADE_RANK[Grade(known_figure.grade)]


def _highest(material: KnownMaterial, prop: str, unit: str) -> Known | None:
    rows = [row for row in material.figures_of(prop) if row.high is not None]
    return max((_known(row.high, unit, row) for row in rows), key=lambda one: one.value, default=None)


def _density(material: KnownMaterial) -> Known | None:
    """At 20 C where there is one, else as published; of a range the upper end, which gives more vapour."""
    rows = [row for row in material.figures_of("density_g_ml") if row.high is not None]
    rows = [row for row in rows if row.at_c == 20] or rows
    rows = [row for row in rows if row.grade is not Grade.MEMORY] or rows
    return _known(rows[0].high, "g/ml", rows[0]) if rows else None


def _boiling(material: KnownMaterial) -> Known | None:
    found = (_lowest(material, prop, "C") for prop in ("boiling_point_c", "initial_boiling_point_c"))
    return min((one for one in found if one is not None), key=lambda one: one.value, default=None)


def _pressures(material: KnownMaterial) -> tuple[tuple[Known, float], ...]:
    return tuple(
        (_known(row.high, "kPa", row), float(row.at_c))
        for row in material.figures_of("vapour_pressure_kpa")
        if row.high is not None and row.at_c is not None
    )


def _limits(material: KnownMaterial) -> Iterable[ExposureLimit]:
    for row in material.figures:
        for stem, body in BODIES.items():
            if row.property.startswith(f"{stem}_") and row.low is not None:
                kind, _, unit = row.property.removeprefix(f"{stem}_").partition("_")
                edition = row.note if row.note.strip().isdigit() else ""
                yield ExposureLimit(
                    float(row.low),
                    LimitUnit(unit),
                    _KINDS[kind],
                    body,
                    edition,
                    "; ".join(row.source),
                    row.grade.value,
                    "" if edition else row.note,
                )


@cache
def _curve_rows() -> dict[str, Curve]:
    return {
        row["material"]: Curve(
            CurveForm(row["form"]),
            tuple(float(row[f"c{n}"]) for n in range(1, 6)),
            float(row["min_k"]),
            float(row["max_k"]),
            row["source"],
            row["grade"],
        )
        for row in read_rows("vapour_pressures")
    }


def _curve(material: KnownMaterial, made: Component) -> Curve | None:
    """The handbook's curve, else Antoine's constants, else one through a point and the boiling point."""
    row = _curve_rows().get(material.key)
    if row is not None:
        return row
    names = ("antoine_a_log10_pa", "antoine_b_k", "antoine_c_k", "antoine_min_k", "antoine_max_k")
    figures = [_lowest(material, name, "") for name in names]
    if all(figures):
        a, b, c, low, high = (one.value for one in figures if one is not None)
        first = figures[0]
        assert first is not None
        return Curve(CurveForm.ANTOINE, (a, b, c), low, high, first.source, first.grade)
    return curve_from_points(made)


def curve_from_points(made: Component) -> Curve | None:
    """A curve through one known vapour pressure and the boiling point; ``None`` without both."""
    boiling = made.boiling_point
    points = [(at, figure) for figure, at in made.vapour_pressures if boiling and at < boiling.value - 10]
    if boiling is None or not points:
        return None
    at, figure = points[-1]
    source = f"{figure.source}; {boiling.source}"
    grades = [Grade(one.grade) for one in (figure, boiling) if one.grade != GIVEN]
    grade = weakest(grades).value if grades else GIVEN
    try:
        return through_two_points((at, figure.value), (boiling.value, 101.325), source, grade)
    except ValueError:
        return None


def all_solvents() -> tuple[Component, ...]:
    """Every liquid of the tables that has a model, in table order."""
    made = (component_of(one.key) for one in load_known_materials() if one.key in _models())
    return tuple(one for one in made if one is not None)
