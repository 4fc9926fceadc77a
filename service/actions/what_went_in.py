"""What really went into a batch: the additions that stand, less what was put back, one line each material."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from sqlmodel import Session

from service.actions.addition_amounts import span_of
from service.actions.read_amount import densities_of
from service.core.additions import Span
from service.core.as_made import Made, PutIn, Stuff, lines_made
from service.core.batch import Part
from service.core.containers import AmountKnown
from service.core.materials import Basis, Form
from service.core.quantities import UNITS
from service.records.materials import Material
from service.records.mixing_queries import Added, additions_of, returns_of


@dataclass(frozen=True)
class WentIn:
    """``added`` are the additions that were not taken back, in their order; ``made`` what they come to."""

    added: tuple[Added, ...]
    spans: tuple[Span, ...]
    """How much each was: one figure, or from nothing to the most. A count made since settles it."""
    made: Made
    materials: dict[int, Material]
    stuff: dict[int, Stuff]

    def parts(self) -> list[Part]:
        """The additions one by one, for running totals."""
        return [
            Part(one.material.name, _known(span), basis_of(one), self.stuff[_id(one)].meets)
            for one, span in zip(self.added, self.spans, strict=True)
        ]


def what_went_in(session: Session, batch_id: int) -> WentIn:
    """Read what went into a batch, whatever its state."""
    added = tuple(one for one in additions_of(session, batch_id) if not one.reversed)
    spans = tuple(span_of(session, one) for one in added)
    back = returns_of(session, batch_id)
    materials = {_id(one): one.material for one in added}
    materials |= {material.id or 0: material for _, material in back}
    stuff = {number: stuff_of(material) for number, material in materials.items()}
    put_back = [PutIn(m.id or 0, movement.change, m.basis) for movement, m in back]
    put_in = [_put_in(one, span) for one, span in zip(added, spans, strict=True)]
    made = lines_made(put_in, put_back, stuff)
    return WentIn(added, spans, made, materials, stuff)


def stuff_of(material: Material) -> Stuff:
    """By what mass and volume of a material meet, alone and in a mix."""
    known = densities_of(material)
    liquid = material.form in (Form.LIQUID, Form.PASTE)
    loose = known.bulk_g_ml
    meets = known.density_g_ml if liquid else loose[0] if loose and loose[0] == loose[1] else None
    return Stuff(material.name, meets, known.density_g_ml, liquid)


def all_stuff(materials: Iterable[Material]) -> dict[int, Stuff]:
    """The same of several, by number."""
    return {material.id or 0: stuff_of(material) for material in materials}


def _put_in(one: Added, span: Span) -> PutIn:
    rough = one.movement is not None and one.movement.known is AmountKnown.ESTIMATED
    basis = one.row.basis or one.material.basis
    most = None if span.known else span.high
    return PutIn(_id(one), _known(span), basis, most, rough or span.by_count, _least(one, span))


def _least(one: Added, span: Span) -> int | None:
    """The least that so many spoons of a powder weigh; None where it was weighed, or its lie is not known."""
    move, loose = one.movement, densities_of(one.material).bulk_g_ml
    if move is None or not span.known or not span.high or loose is None or one.row.basis is not Basis.MASS:
        return None
    unit = UNITS.get(move.written_unit)
    # Of a range of loose densities none is "the one used": the upper end was booked.
    if unit is None or unit.basis is not Basis.VOLUME or move.density_used is not None:
        return None
    return floor(Fraction(span.high) * Fraction(loose[0]) / Fraction(loose[1]))


def _known(span: Span) -> int | None:
    return span.high if span.known else None


def basis_of(one: Added) -> Basis:
    """What an addition is counted in."""
    return one.row.basis or one.material.basis or Basis.MASS


def _id(one: Added) -> int:
    assert one.material.id is not None
    return one.material.id
