"""Materials that are out of their containers and still here: drawn in open jobs, and in pots."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from sqlmodel import Session, col, select

from service.core.containers import ContainerState
from service.records.kept_statements import batched
from service.records.materials import Material
from service.records.pot_waste import additions_standing
from service.records.stock import Container
from service.records.store_in_use import drawn_in_jobs, pots_left, pots_standing

# An empty can keeps its hazards until nothing of it is left to breathe.
PRESENT = (ContainerState.SEALED, ContainerState.OPEN, ContainerState.EMPTY)


@dataclass
class InUse:
    """What is in use of one material: ``amount`` in smallest units where it is measured; ``more``: of some
    nobody knows how much; ``about``: some may have left the pot since. None among ``places``: not known."""

    amount: int = 0
    more: bool = False
    about: bool = False
    places: set[int | None] = field(default_factory=set)


def materials_in_use(session: Session) -> dict[int, InUse]:
    """By the number of the material: what open jobs drew, and what is in pots that stand or were left."""
    found: defaultdict[int, InUse] = defaultdict(InUse)
    for one in drawn_in_jobs(session):
        use = found[one.material_id]
        use.places.add(one.place_id)
        use.amount, use.more = use.amount + (one.amount or 0), use.more or one.amount is None
    # A pot that was left may have two lines: what share is there is known of one and not of the other.
    pots = {pot.batch_id: pot for pot in (*pots_left(session), *pots_standing(session))}
    for numbers in batched(sorted(pots)):
        for number, put_in in additions_standing(session, numbers).items():
            for added in put_in:
                use = found[added.material_id]
                use.places.add(pots[number].place_id)
                use.about = use.about or pots[number].share != 1
                measured = added.amount is not None and added.basis is added.own_basis
                use.amount += (added.amount or 0) if measured else 0
                use.more = use.more or not measured
    return dict(found)


def materials_here(session: Session, in_use: dict[int, InUse]) -> set[int]:
    """The numbers of all materials of which a container is here, or that are in use and kept in stock."""
    boxes = select(Container.material_id).where(col(Container.state).in_(PRESENT)).distinct()
    bought = select(Material.id).where(col(Material.id).in_(in_use), ~col(Material.not_stocked))
    return {*session.exec(boxes).all(), *(number for number in session.exec(bought).all() if number)}
