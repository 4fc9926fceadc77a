"""What really went into a batch: the additions that stand, less what was put back, one line each material."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sqlmodel import Session

from service.actions.read_amount import densities_of
from service.core.as_made import Made, PutIn, Stuff, lines_made
from service.core.batch import Part
from service.core.containers import AmountKnown
from service.core.materials import Basis, Form
from service.records.materials import Material
from service.records.mixing_queries import Added, additions_of, returns_of


@dataclass(frozen=True)
class WentIn:
    """``added`` are the additions that were not taken back, in their order; ``made`` what they come to."""

    added: tuple[Added, ...]
    made: Made
    materials: dict[int, Material]
    stuff: dict[int, Stuff]

    def parts(self) -> list[Part]:
        """The additions one by one, for running totals."""
        return [
            Part(one.material.name, one.row.amount, one.row.basis or Basis.MASS, self.stuff[_id(one)].meets)
            for one in self.added
        ]


def what_went_in(session: Session, batch_id: int) -> WentIn:
    """Read what went into a batch, whatever its state."""
    added = tuple(one for one in additions_of(session, batch_id) if not one.reversed)
    back = returns_of(session, batch_id)
    materials = {_id(one): one.material for one in added}
    materials |= {material.id or 0: material for _, material in back}
    stuff = {number: stuff_of(material) for number, material in materials.items()}
    put_back = [PutIn(m.id or 0, movement.change, m.basis) for movement, m in back]
    made = lines_made([_put_in(one) for one in added], put_back, stuff)
    return WentIn(added, made, materials, stuff)


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


def _put_in(one: Added) -> PutIn:
    about = one.movement is not None and one.movement.known is AmountKnown.ESTIMATED
    return PutIn(_id(one), one.row.amount, one.row.basis or one.material.basis, one.row.at_most, about)


def _id(one: Added) -> int:
    assert one.material.id is not None
    return one.material.id
