"""The second clock of opened containers: what the book says of the air shut in with their oil.

Only looks. A container that is not open, or in which surely no oil takes up oxygen, has no such clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session

from service.actions.read_amount import densities_of
from service.core.containers import ContainerState
from service.core.film_ranges import Span
from service.core.findings import Verdict
from service.core.lid_lifts import Lifts, lid_lifts
from service.core.materials import Basis
from service.core.second_clock import (
    NotTold,
    Oxidises,
    SecondClock,
    SmallerJar,
    head_space_ul,
    judge_clock,
    oxidises,
    reckon,
    smaller_jar,
)
from service.core.tin_content import MG_IN_G, UL_IN_L, MeasuredAs, mass_mg, volume_ul, why_no_volume
from service.core.use_first import AirStanding, air_standing
from service.records.film_facts import film_facts
from service.records.lid_queries import lid_acts_of
from service.records.material_queries import own_facts
from service.records.materials import Material
from service.records.stock import Container
from service.records.stock_queries import Held


@dataclass(frozen=True)
class ClockOfAir:
    """The second clock of one container; ``lifts`` and ``clock.each`` are in the same order.

    ``full``: how full it is, as a share of what it holds, least and most; None = not known.
    """

    oxidises: Oxidises
    lifts: Lifts
    clock: SecondClock
    left_ul: Span | None
    full: Span | None
    jar: SmallerJar | None
    verdict: Verdict

    @property
    def all_told(self) -> bool:
        """Whether everything that has been over its oil is in the estimate: no past elsewhere, no gap."""
        past = self.lifts.came_open or self.lifts.poured_in
        return bool(self.clock.each) and self.clock.oil_g is not None and not past

    @property
    def standing(self) -> AirStanding:
        """Its place among others in the line of what goes first."""
        return air_standing(self.clock, self.lifts, self.full)


def may_have_clock(box: Container, material: Material) -> bool:
    """Whether it is open and oil may be in it; what nobody knows of the oil counts as yes."""
    if box.state is not ContainerState.OPEN or box.balance == 0 or material.basis is Basis.PIECES:
        return False
    return oxidises(own_facts(material), box.inherited_self_heating) is not Oxidises.NO


def clocks_of_air(session: Session, boxes: Sequence[Held]) -> dict[int, ClockOfAir]:
    """The second clocks of those among these containers that have one, by number, by two queries."""
    wanted = [box for box in boxes if may_have_clock(box.container, box.material)]
    acts = lid_acts_of(session, [box.container_id for box in wanted])
    return {
        box.container_id: _clock(box.container, box.material, lid_lifts(acts.get(box.container_id, ())))
        for box in wanted
    }


def measured_as(material: Material) -> MeasuredAs:
    """How this material is counted and by what weight and volume of it meet."""
    return MeasuredAs(material.basis, material.form, densities_of(material), material.name)


def _clock(box: Container, material: Material, lifts: Lifts) -> ClockOfAir:
    measured = measured_as(material)
    holds = None if box.capacity_ul is None else (box.capacity_ul, box.capacity_ul)
    heads = [head_space_ul(holds, volume_ul(lift.left, measured)) for lift in lifts.each]
    whole, left = _weight_g(box, measured), volume_ul(box.balance, measured)
    oil = _oil_g(whole, material)
    litres = [None if one is None else (one[0] / UL_IN_L, one[1] / UL_IN_L) for one in heads]
    clock = reckon(litres, oil_now_g=oil, whole_g=whole)
    lacks = NotTold(
        oxidises=oxidises(own_facts(material), box.inherited_self_heating),
        capacity=box.capacity_ul is None,
        capacity_said=box.capacity_written if box.capacity_ul is None else "",
        volume=why_no_volume(measured),
        oil_share=oil is None,
        came_open=lifts.came_open,
        poured_in=lifts.poured_in,
    )
    full = None
    if box.capacity_ul and left is not None and left[0] <= box.capacity_ul:
        full = left[0] / box.capacity_ul, min(1, left[1] / box.capacity_ul)
    return ClockOfAir(
        oxidises=lacks.oxidises,
        lifts=lifts,
        clock=clock,
        left_ul=left,
        full=full,
        jar=smaller_jar(box.capacity_ul, left),
        verdict=judge_clock(clock, lacks, material.has_drier),
    )


def _weight_g(box: Container, measured: MeasuredAs) -> Span | None:
    mass = mass_mg(box.balance, measured)
    return None if mass is None else (mass[0] / MG_IN_G, mass[1] / MG_IN_G)


def _oil_g(whole: Span | None, material: Material) -> Span | None:
    """Grams of oil in so much of it; None where the weight or the share of oil is not known.

    The shop's own share, else that of the published row it was taken from.
    """
    share = _share_of_oil(material)
    return None if whole is None or share is None else (whole[0] * share[0] / 100, whole[1] * share[1] / 100)


def _share_of_oil(material: Material) -> Span | None:
    """In per cent by weight."""
    own = material.oil_share_percent
    if own is not None:
        return int(own * 10_000) / 10_000, int(own * 10_000) / 10_000
    held = film_facts(material.known_key) if material.known_key else None
    return held.oil_share.span if held is not None and held.oil_share is not None else None
