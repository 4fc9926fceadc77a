"""Reading materials: one by number, its sheets, and what is known of it as the rules judge it."""

from collections.abc import Iterable, Sequence
from typing import Final

from sqlmodel import Session, col, select

from service.core.findings import NotFound
from service.core.material_facts import (
    FlashMethod,
    MaterialFacts,
    SheetFacts,
    facts_self_heating,
    is_keeper_only,
)
from service.core.materials import SelfHeating
from service.records.ageing_queries import policies_of_all, policy_row_for
from service.records.materials import Material, SafetySheet
from service.records.stock import Container

_AT_ONCE: Final = 500
"""Numbers in one query; databases take a limited number of parameters."""


def the_material(session: Session, material_id: int) -> Material:
    """One material.

    Raises:
        NotFound: there is none with this number.
    """
    material = session.get(Material, material_id)
    if material is None:
        raise NotFound(f"There is no material number {material_id}.")
    return material


def sheets_of(session: Session, material_id: int) -> Sequence[SafetySheet]:
    """The safety data sheets of a material, the newest first."""
    return session.exec(
        select(SafetySheet)
        .where(col(SafetySheet.material_id) == material_id)
        .order_by(col(SafetySheet.sheet_date).desc().nulls_last(), col(SafetySheet.id).desc())
    ).all()


def _texts(values: list[object] | None) -> tuple[str, ...] | None:
    return None if values is None else tuple(str(v) for v in values)


def facts_of(session: Session, material: Material) -> MaterialFacts:
    """What the shop knows of a material, in the shape the rules judge."""
    assert material.id is not None
    sheet = next(iter(sheets_of(session, material.id)), None)
    return _facts(material, sheet, has_policy=policy_row_for(session, material) is not None)


def facts_of_all(session: Session, materials: Sequence[Material]) -> list[MaterialFacts]:
    """The same of many materials, in their order, by two queries for every few hundred."""
    policies = policies_of_all(session, (m.id for m in materials if m.id is not None))
    sheets: dict[int, SafetySheet] = {}
    for begin in range(0, len(materials), _AT_ONCE):
        some = [m.id for m in materials[begin : begin + _AT_ONCE]]
        wanted = select(SafetySheet).where(col(SafetySheet.material_id).in_(some))
        newest = wanted.order_by(col(SafetySheet.sheet_date).desc().nulls_last(), col(SafetySheet.id).desc())
        for sheet in session.exec(newest).all():
            sheets.setdefault(sheet.material_id, sheet)
    return [
        _facts(m, sheets.get(m.id or 0), has_policy=policies.of(m.id, m.known_key, m.kind) is not None)
        for m in materials
    ]


def own_facts(material: Material) -> MaterialFacts:
    """What stands in a material's own row, without asking for its sheets and policies.

    Enough for whether it is self-heating or keeper-only, which every act asks; not for a review.
    """
    return _facts(material, None, has_policy=False)


def _facts(material: Material, sheet: SafetySheet | None, *, has_policy: bool) -> MaterialFacts:
    low, high = material.bulk_low_g_ml, material.bulk_high_g_ml
    return MaterialFacts(
        name=material.name,
        kind=material.kind,
        form=material.form,
        basis=material.basis,
        density_g_ml=material.density_g_ml,
        bulk_density_g_ml=(low, high) if low is not None and high is not None else None,
        oil_share_percent=material.oil_share_percent,
        binder=material.binder or None,
        has_drier=material.has_drier,
        self_heating=material.self_heating,
        not_self_heating_because=material.self_heating_reason,
        flash_point_c=material.flash_point_c,
        flash_method=FlashMethod(material.flash_point_method) if material.flash_point_method else None,
        flash_not_applicable=material.no_flash_reason or None,
        supplier_classes=_texts(material.hazards),
        ventilation_class=material.ventilation_class,
        ci_generic=material.ci_name or None,
        cas=material.cas or None,
        sheet=SheetFacts(sheet.sheet_date, sheet.regime, sheet.copied_whole) if sheet else None,
        has_ageing_policy=has_policy,
        toxic_metals=_texts(material.toxic_metals),
        keeper_only=material.keeper_only,
    )


def counts_self_heating(session: Session, material: Material, container: Container | None = None) -> bool:
    """Whether rags with this material, or with what is in this very container, can ignite by themselves.

    What a made or decanted container inherited never becomes milder because the material's own facts say so.
    """
    if container is not None and container.inherited_self_heating in (
        SelfHeating.YES,
        SelfHeating.NOT_KNOWN,
    ):
        return True
    return facts_self_heating(own_facts(material))


def counts_keeper_only(session: Session, material: Material, container: Container | None = None) -> bool:
    """Whether a student is kept from drawing it; also by what the container inherited."""
    if container is not None and container.inherited_keeper_only:
        return True
    return is_keeper_only(own_facts(material))


def keeper_only_materials(materials: Iterable[Material]) -> set[int]:
    """Which of these materials a student is kept from, whatever a single container of them inherited."""
    each = {material.id: material for material in materials if material.id is not None}
    return {number for number, material in each.items() if is_keeper_only(own_facts(material))}
