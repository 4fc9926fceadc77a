"""What was ordered and has not come: packs to plan with from their day on, and what is said of the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlmodel import Session

from service.actions.what_came import left_of, what_came
from service.core.findings import Finding, unknown, warn
from service.core.life_facts import LifeFacts
from service.core.materials import Basis
from service.core.months import say_date
from service.core.on_its_way import taken_off
from service.core.plan_outlook import ShelfContainer
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.core.whole_need import show_pack
from service.records.ageing_queries import PoliciesInForce, policies_of_all, policy_of
from service.records.arrival_queries import CameBeside, came_beside, day_before, placed_of
from service.records.materials import Material
from service.records.order_queries import open_lines
from service.records.orders import LineState, OrderLineRow
from service.records.peroxide_formers import formers_among


@dataclass(frozen=True)
class Coming:
    """``packs``: each pack that counts, as a container that comes. ``lines``: all that is on its way, counted
    or not. ``left``: of each line by its number, the packs still to come in smallest units. ``found``: what
    is late, of which nobody knows the day, or may be here already; those are ``beside``, by material."""

    packs: tuple[ShelfContainer, ...]
    lines: tuple[OrderLineRow, ...]
    found: tuple[Finding, ...]
    left: Mapping[int, Sequence[int]] = field(default_factory=dict)
    beside: tuple[Sequence[OrderLineRow], ...] = ()

    def of(self, material_id: int) -> list[OrderLineRow]:
        """What is on its way of one material."""
        return [line for line in self.lines if line.material_id == material_id]

    def left_of(self, line: OrderLineRow) -> Sequence[int]:
        """The packs of a line that are still to come."""
        return self.left.get(line.id or 0, ())


@dataclass(frozen=True)
class _Left:
    """What is still to come of lines, and what of it may be here already: lines with what came beside."""

    packs: dict[int, list[int]]
    beside: tuple[tuple[list[OrderLineRow], list[CameBeside]], ...]


def what_is_coming(
    session: Session, materials: Mapping[int, Material], basis: Mapping[int, Basis | None], today: date
) -> Coming:
    """The open lines of all orders for these materials. What is late, or has no day, is never counted; of an
    order and of what came beside it without a word, only one."""
    lines = open_lines(session, list(materials)) if materials else []
    left = _left(session, lines)
    policies = policies_of_all(session, materials) if lines else PoliciesInForce(())
    formers = formers_among(session, materials) if lines else {}
    packs: list[ShelfContainer] = []
    found = [_may_be_here(asked, came, materials) for asked, came in left.beside]
    for line in lines:
        material, amounts = materials[line.material_id], left.packs[line.id or 0]
        if not amounts:
            continue
        said = _not_counted(line, material, basis[line.material_id], today, amounts)
        if said is not None:
            found.append(said)
            continue
        row = policies.of(material.id, material.known_key, material.kind)
        facts = LifeFacts(
            received_on=line.expected_on, policy=policy_of(row) if row else None,
            former=formers.get(line.material_id),
        )  # fmt: skip
        for amount in amounts:
            # Numbers below nothing: no container of the store has one.
            packs.append(
                ShelfContainer(
                    -len(packs) - 1, f"order {line.order_id}", line.material_id, amount, facts,
                    comes=line.expected_on, name=material.name,
                )
            )  # fmt: skip
    waits = tuple(line for line in lines if left.packs[line.id or 0])
    return Coming(
        tuple(packs), waits, tuple(found), left.packs, tuple(asked for asked, _ in left.beside)
    )


def _left(session: Session, lines: Sequence[OrderLineRow]) -> _Left:
    if not lines:
        return _Left({}, ())
    came = what_came(session, lines)
    packs = {line.id or 0: left_of(line, came.get(line.id or 0)) for line in lines}
    placed = placed_of(session, lines)
    beside: list[tuple[list[OrderLineRow], list[CameBeside]]] = []
    arrivals = came_beside(
        session, {line.material_id for line in lines},
        min(day_before(one.on) for one in placed.values()),
    )
    for material_id in sorted({one.material_id for one in arrivals}):
        asked = [line for line in lines if line.material_id == material_id and packs[line.id or 0]]
        mine = [one for one in arrivals if one.material_id == material_id]
        for one in mine:
            able = [line for line in asked if placed[line.id or 0].may_be(one)]
            rest = taken_off([(line.pack_amount, packs[line.id or 0]) for line in able], [one.amount])
            packs |= {line.id or 0: kept for line, kept in zip(able, rest, strict=True)}
        able = [line for line in asked if any(placed[line.id or 0].may_be(one) for one in mine)]
        which = [one for one in mine if any(placed[line.id or 0].may_be(one) for line in asked)]
        if able:
            beside.append((able, which))
    return _Left(packs, tuple(beside))


def about_beside(session: Session, line: OrderLineRow) -> list[Finding]:
    """That something came without this order and may be of it; and what writing its day down would say."""
    if line.state is not LineState.OPEN:
        return []
    placed = placed_of(session, [line])[line.id or 0]
    came = [
        one for one in came_beside(session, [line.material_id], day_before(placed.on)) if placed.may_be(one)
    ]
    if not came:
        return []
    codes = ", ".join(show_code(one.code) for one in came)
    words = (
        f"{codes} came without an order and may be of this line. If so, choose “Nothing more of it comes” "
        "under “Another day, or it does not come”. If not, leave “It is on its way” with its day there: then "
        "both count. Press “Write it down” for either."
    )
    return [unknown("may-be-of-this-line", words, about=codes)]


def _may_be_here(
    lines: Iterable[OrderLineRow], came: Sequence[CameBeside], materials: Mapping[int, Material]
) -> Finding:
    lines = list(lines)
    material = materials[lines[0].material_id]
    codes = ", ".join(show_code(one.code) for one in came)
    were = "was" if len(came) == 1 else "were"
    words = (
        f"{codes} of {material.name} {were} taken in without an order, and may be of what is on its way "
        f"({say_orders(lines)}): only one of both is counted. {HOW_TO_SETTLE}"
    )
    return unknown("may-be-here-already", words, about=material.name)


HOW_TO_SETTLE = (
    "Settle it on the page of the order, at its line, under “Another day, or it does not come”: if it is "
    "what was ordered, choose “Nothing more of it comes”; if it is not, leave “It is on its way” with the "
    "day as it stands. Then press “Write it down”."
)


def say_orders(lines: Iterable[OrderLineRow]) -> str:
    """Lines in words: "2 × 1 l of order 5"."""
    return ", ".join(
        f"{packs_words(line, [line.pack_amount] * line.count)} of order {line.order_id}" for line in lines
    )


def _not_counted(
    line: OrderLineRow, material: Material, basis: Basis | None, today: date, amounts: Sequence[int]
) -> Finding | None:
    what = f"{packs_words(line, amounts)} of {material.name} (order {line.order_id})"
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


def packs_words(line: OrderLineRow, amounts: Sequence[int]) -> str:
    """What is still to come of a line in words: "2 × 1 l", "1 × 1 l and 500 ml"."""
    whole = [one for one in amounts if one == line.pack_amount]
    part = [show_amount(one, line.basis) for one in amounts if one != line.pack_amount]
    pack = show_pack(line.pack_amount, line.basis, line.pack_written)
    return " and ".join([f"{len(whole)} × {pack}"] * bool(whole) + part)
