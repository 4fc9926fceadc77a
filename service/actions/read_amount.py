"""An amount as the bench wrote it, turned into whole smallest units of one material's basis."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from sqlalchemy import bindparam
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, select

from service.core.access import Actor
from service.core.bench_writing import Ambiguous, Written, WrittenKind, read_written
from service.core.containers import AmountKnown
from service.core.findings import Finding, Invalid
from service.core.materials import Basis, Form
from service.core.quantities import Amount, Densities, Quantity, UnitSystem, to_basis
from service.records.kept_statements import run
from service.records.materials import Material, MaterialReading
from service.records.shop import ShopProfile

_BASIS_BY_FORM = {
    Form.POWDER: Basis.MASS,
    Form.SOLID: Basis.MASS,
    Form.PASTE: Basis.MASS,
    Form.PIECES: Basis.PIECES,
}


_READINGS: Final = columns_of(col(MaterialReading.written_unit), col(MaterialReading.reading)).where(
    col(MaterialReading.material_id) == bindparam("material"),
    col(MaterialReading.person_id) == bindparam("person"),
)
_SYSTEM: Final = columns_of(col(ShopProfile.unit_system)).where(col(ShopProfile.id) == 1)


@dataclass(frozen=True)
class ReadAmount:
    """What was written, in the material's basis; `low` and `high` differ for a range or a spoon of powder.

    `is_range`: two figures were written. `loose`: turned from volume to weight, or back, by how a powder
    lies loose; never more than about.
    """

    basis: Basis
    low: int
    high: int
    written: str
    unit_key: str
    density_used: Decimal | None
    how: str
    known: AmountKnown
    findings: tuple[Finding, ...]
    loose: bool = False
    is_range: bool = False


def densities_of(material: Material) -> Densities:
    """By what mass and volume of this material meet."""
    low, high = material.bulk_low_g_ml, material.bulk_high_g_ml
    return Densities(
        density_g_ml=material.density_g_ml,
        density_source=material.density_source,
        bulk_g_ml=(low, high) if low is not None and high is not None else None,
        bulk_source=material.bulk_source,
    )


def remembered_for(session: Session, actor: Actor, material: Material) -> dict[str, str]:
    """How this person reads doubtful units of this material."""
    rows = run(session, _READINGS, material=material.id, person=actor.person_id)
    return {row.written_unit: row.reading for row in rows}


def remember_choice(session: Session, actor: Actor, material: Material, doubtful: str, chosen: str) -> None:
    """Keep the reading a person chose, so that they are asked once for this material.

    Args:
        doubtful: the text that could be read in several ways.
        chosen: the reading they tapped; anything else than one of the offered ones is ignored.
    """
    assert material.id is not None
    try:
        read_written(doubtful, form=material.form, system=shop_system(session))
    except Ambiguous as doubt:
        kept = doubt.remember.get(chosen, {})
    except Invalid:
        return
    else:
        return
    for unit, reading in kept.items():
        row = session.exec(
            select(MaterialReading).where(
                col(MaterialReading.material_id) == material.id,
                col(MaterialReading.person_id) == actor.person_id,
                col(MaterialReading.written_unit) == unit,
            )
        ).one_or_none() or MaterialReading(
            material_id=material.id, person_id=actor.person_id, written_unit=unit, reading=reading
        )
        row.reading = reading
        session.add(row)


def shop_system(session: Session) -> UnitSystem | None:
    """Whose pints and gallons this shop uses, if it said so."""
    system = run(session, _SYSTEM).scalar_one_or_none()
    return UnitSystem(system) if system else None


def read_for(session: Session, actor: Actor, material: Material, text: str) -> Written:
    """What was written, read for this material and person.

    Raises:
        Ambiguous: it can be read in several ways; `readings` are offered.
        Invalid: it cannot be read.
    """
    return read_written(
        text,
        form=material.form,
        system=shop_system(session),
        remembered=remembered_for(session, actor, material),
    )


def basis_for(material: Material, quantity: Quantity) -> Basis:
    """The material's basis, or the one its first movement will fix: solids by mass, liquids as written."""
    return material.basis or _BASIS_BY_FORM.get(material.form, quantity.basis)


def settled_basis(material: Material) -> Basis:
    """The material's basis where nothing with a unit was written: liquids then by volume."""
    return material.basis or _BASIS_BY_FORM.get(material.form, Basis.VOLUME)


def read_amount(
    session: Session, actor: Actor, material: Material, text: str, field: str = "amount"
) -> ReadAmount:
    """A plain amount ("1 1/2 tsp", "about 250 g", "20 heads x 60 ml") in the material's basis.

    Raises:
        Ambiguous, CannotMeet, Invalid: with `errors` naming the form field it belongs to.
    """
    try:
        written = read_for(session, actor, material, text)
        if written.low is None or written.high is None:
            raise Invalid("Write an amount with its unit, such as 250 g or 1 1/2 tsp.")
        basis = basis_for(material, written.high)
        facts = densities_of(material)
        low, high = (
            to_basis(q, basis, facts, form=material.form, name=material.name)
            for q in (written.low, written.high)
        )
    except Invalid as wrong:
        wrong.errors.setdefault(field, wrong.sentence)
        raise
    return _read(text, written, basis, low, high, material.form)


def _read(
    text: str, written: Written, basis: Basis, low: Amount, high: Amount, form: Form | None
) -> ReadAmount:
    assert written.high is not None
    loose = written.high.basis is not basis and form in (Form.POWDER, Form.SOLID)
    spread = low.low != high.high or written.about or written.high.unit.rough or loose
    return ReadAmount(
        basis=basis,
        low=low.low,
        high=high.high,
        written=text.strip(),
        unit_key=written.high.unit.key,
        density_used=high.density_used,
        how=high.how,
        known=AmountKnown.ESTIMATED if spread else AmountKnown.MEASURED,
        findings=tuple(written.findings),
        loose=loose,
        is_range=written.low != written.high,
    )


def fix_basis(session: Session, material: Material, basis: Basis) -> None:
    """The first movement settles what a material is counted in; it never changes afterwards."""
    if material.basis is None:
        material.basis = basis
        session.add(material)
        session.flush()


__all__ = [
    "ReadAmount",
    "WrittenKind",
    "basis_for",
    "densities_of",
    "fix_basis",
    "read_amount",
    "read_for",
    "remember_choice",
    "remembered_for",
    "settled_basis",
    "shop_system",
]
