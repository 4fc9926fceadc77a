"""What was ordered and has not come: packs to plan with from their day on, and what is said of the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from service.core.findings import Finding, unknown, warn
from service.core.life_facts import LifeFacts
from service.core.materials import Basis
from service.core.months import say_date
from service.core.plan_outlook import ShelfContainer
from service.core.whole_need import show_pack
from service.records.ageing_queries import PoliciesInForce, policies_of_all, policy_of
from service.records.materials import Material
from service.records.order_queries import open_lines
from service.records.orders import OrderLineRow
from service.records.peroxide_formers import formers_among


@dataclass(frozen=True)
class Coming:
    """``packs``: each pack that counts, as a container that comes. ``lines``: all that is on its way, counted
    or not. ``found``: what is late, or of which nobody knows the day."""

    packs: tuple[ShelfContainer, ...]
    lines: tuple[OrderLineRow, ...]
    found: tuple[Finding, ...]

    def of(self, material_id: int) -> list[OrderLineRow]:
        """What is on its way of one material."""
        return [line for line in self.lines if line.material_id == material_id]


def what_is_coming(
    session: Session, materials: Mapping[int, Material], basis: Mapping[int, Basis | None], today: date
) -> Coming:
    """The open lines of all orders for these materials. What is late, or has no day, is never counted."""
    lines = open_lines(session, list(materials)) if materials else []
    policies = policies_of_all(session, materials) if lines else PoliciesInForce(())
    formers = formers_among(session, materials) if lines else {}
    packs: list[ShelfContainer] = []
    found: list[Finding] = []
    for line in lines:
        material = materials[line.material_id]
        said = _not_counted(line, material, basis[line.material_id], today)
        if said is not None:
            found.append(said)
            continue
        row = policies.of(material.id, material.known_key, material.kind)
        facts = LifeFacts(
            received_on=line.expected_on, policy=policy_of(row) if row else None,
            former=formers.get(line.material_id),
        )  # fmt: skip
        for _ in range(line.count - line.received_count):
            # Numbers below nothing: no container of the store has one.
            packs.append(
                ShelfContainer(
                    -len(packs) - 1, f"order {line.order_id}", line.material_id, line.pack_amount, facts,
                    comes=line.expected_on, name=material.name,
                )
            )  # fmt: skip
    return Coming(tuple(packs), tuple(lines), tuple(found))


def _not_counted(
    line: OrderLineRow, material: Material, basis: Basis | None, today: date
) -> Finding | None:
    left = line.count - line.received_count
    pack = show_pack(line.pack_amount, line.basis, line.pack_written)
    what = f"{left} × {pack} of {material.name} (order {line.order_id})"
    if basis not in (None, line.basis):
        words = f"{what}: it is measured otherwise than the material. It is not counted."
        return unknown("order-otherwise", words, about=material.name)
    if line.expected_on is None:
        words = f"{what}: nobody wrote when it comes. It is not counted."
        return unknown("order-day-not-known", words, about=material.name)
    if line.expected_on < today:
        words = f"{what} was to come on {say_date(line.expected_on)} and is late. It is not counted as here."
        return warn("order-is-late", words, about=material.name)
    return None
