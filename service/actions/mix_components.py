"""The liquids and film formers of a mix of materials, as the rules of solvents read them.

What nobody tells of a material is a component about which nothing is known: no flash point and no vapour of
the mix can then be worked out, and the most flammable material stands in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from sqlmodel import Session

from service.actions.judge_hazards import Part
from service.actions.material_composition import composition_as_ingredients
from service.core.findings import Finding, note
from service.core.hazards.flammable import HIGH_C
from service.core.hazards.mix import HUNDRED, Ingredient
from service.core.hazards.regimes import Regime
from service.core.material_facts import FlashMethod
from service.core.materials import Form, MaterialKind
from service.core.solvents.properties import Component, Known, Share, ShareKind
from service.records.components import MaterialComponent, components_of_all
from service.records.find_solvent import find_solvent
from service.records.materials import Material
from service.records.solvent_facts import component_of, stays_in_film

_SOLID: Final = frozenset({Form.POWDER, Form.SOLID, Form.PIECES})
_STAYS_BY_KIND: Final = frozenset({
    MaterialKind.DRY_PIGMENT, MaterialKind.COLOUR_IN_OIL, MaterialKind.COLOUR_IN_JAPAN, MaterialKind.DYE,
    MaterialKind.RESIN, MaterialKind.GLUE_OR_SIZE, MaterialKind.CONSUMABLE,
})  # fmt: skip
"""Dry, these leave no vapour that burns. A dry thing of another kind may (camphor, a metal carbide)."""
_NOT_CLOSED_CUP: Final = frozenset({FlashMethod.CALCULATED.value, FlashMethod.OPEN_CUP.value})


@dataclass(frozen=True)
class MixComponents:
    """Each substance once, with its share by mass in per cent, lowest and highest, and what was found."""

    components: tuple[Component, ...]
    findings: tuple[Finding, ...]


def components_of_mix(session: Session, parts: Sequence[Part], regime: Regime) -> MixComponents:
    """The substances of all materials of a mix, summed per substance over the materials.

    A liquid that stands in two materials with two flash points of their own stays two, for a petroleum cut
    burns by its own.
    """
    own = components_of_all(session, [part.material.id for part in parts if part.material.id is not None])
    together: dict[tuple[str, float | None], Component] = {}
    findings: list[Finding] = []
    for part in parts:
        for component, found in components_of_material(
            part.material, regime, own.get(part.material.id or 0, ())
        ):
            findings += found
            share = component.share
            assert share is not None
            low = share.low * float(part.low) / 100
            high = min(share.high * float(part.high) / 100, 100.0)
            flash = component.flash_point.value if component.flash_point else None
            key = (component.key or component.cas or component.name.casefold(), flash)
            held = together.get(key)
            if held is not None and held.share is not None:
                low, high = low + held.share.low, min(high + held.share.high, 100.0)
            together[key] = replace(component, share=Share(ShareKind.PERCENT, low, high))
    return MixComponents(tuple(together.values()), tuple(dict.fromkeys(findings)))


def components_of_material(
    material: Material, regime: Regime, own: Sequence[MaterialComponent] = ()
) -> list[tuple[Component, tuple[Finding, ...]]]:
    """The substances of one material with their shares of it; what nobody tells of it is one more.

    The material's own closed-cup flash point is that of its only volatile substance, where it has one only.
    """
    composition = composition_as_ingredients(material, regime, own)
    rows = [_component(one, material) for one in composition.ingredients]
    told = sum((one.high for one in composition.ingredients), Decimal(0))
    if told < HUNDRED:
        rows.append((_untold(material, float(HUNDRED - told)), ()))
    rows = _flashing_high(rows, material)
    volatile = [component for component, _ in rows if component.volatile is not False]
    if len(volatile) != 1:
        return rows
    return [
        (_with_own_flash(component, material), found) if component is volatile[0] else (component, found)
        for component, found in rows
    ]


def _flashing_high(
    rows: list[tuple[Component, tuple[Finding, ...]]], material: Material
) -> list[tuple[Component, tuple[Finding, ...]]]:
    """What nobody tells of a material that as a whole flashes above every category brings no low flash point.

    A trace of a thinner would have brought the whole down, so flash points leave the untold part out.
    """
    flash = material.flash_point_c
    if flash is None or flash <= HIGH_C or material.flash_point_method != FlashMethod.CLOSED_CUP.value:
        return rows
    found: list[tuple[Component, tuple[Finding, ...]]] = []
    for component, findings in rows:
        if component.volatile is None:
            words = (
                f"{component.name} is left out of the flash point, for {material.name} as a whole flashes at "
                f"{flash:f} °C only."
            )
            said = note("flashes-high-as-a-whole", words, about=component.name)
            component, findings = replace(component, flashes_high=True), (*findings, said)
        found.append((component, findings))
    return found


def _component(one: Ingredient, material: Material) -> tuple[Component, tuple[Finding, ...]]:
    share = Share(ShareKind.PERCENT, float(one.low), float(one.high))
    own = component_of(material.known_key) if material.known_key else None
    if own is not None and own.family is not None and one.cas in ("", own.cas):
        # The very liquid that was bought: its row of the tables, not another grade of the same number.
        return replace(own, name=material.name, share=share), ()
    found = find_solvent(one.cas, one.substance, one.name)
    if found.component is not None:
        return replace(found.component, name=one.name, share=share), found.findings
    told = bool(one.cas or one.substance)
    stays = (material.form in _SOLID and (told or _dry_by_kind(material))) or stays_in_film(one.cas, one.name)
    component = Component(one.name, share, cas=one.cas, volatile=False if stays else None)
    return component, () if stays else found.findings


def _untold(material: Material, percent: float) -> Component:
    share = Share(ShareKind.PERCENT, percent, percent)
    stays = _dry_by_kind(material)
    name = f"what is not told of {material.name}"
    return _with_own_flash(Component(name, share, volatile=False if stays else None), material)


def _dry_by_kind(material: Material) -> bool:
    return material.form in _SOLID and material.kind in _STAYS_BY_KIND


def _with_own_flash(component: Component, material: Material) -> Component:
    """The closed-cup flash point that the book holds of the material; a calculated one is not taken."""
    flash = material.flash_point_c
    if flash is None or component.water or material.flash_point_method in _NOT_CLOSED_CUP:
        return component
    if material.id is None and component.flash_point is not None:
        # Published facts that nobody took into the book: the row of the tables has its source beside it.
        return component
    return replace(component, flash_point=Known(float(flash), "C"), no_flash_because="")
