"""What a batch cost, by the prices of the containers it was drawn from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from sqlmodel import Session

from service.actions.addition_amounts import amount_of
from service.actions.settle import the_shop
from service.core.containers import AmountKnown
from service.core.costs import Cost, Used, cost_of, per_measure, say_cost
from service.core.findings import Finding, note
from service.core.shelf_codes import show_code
from service.records.materials import Material
from service.records.mixing import Batch
from service.records.mixing_queries import Added, additions_of, returns_of
from service.records.sample_queries import received_into
from service.records.stock import Movement


@dataclass(frozen=True)
class BatchCost:
    """``per`` is the cost of a litre or kilogram of what it made, None where that is not known."""

    cost: Cost
    currency: str | None
    per: tuple[Fraction, str] | None
    findings: tuple[Finding, ...]

    @property
    def words(self) -> str:
        return say_cost(self.cost.exact, self.currency, at_least=self.cost.at_least)

    @property
    def per_words(self) -> str:
        """The cost of a litre or kilogram in words, or an empty text."""
        if self.per is None:
            return ""
        return f"{say_cost(self.per[0], self.currency, at_least=self.cost.at_least)} for 1 {self.per[1]}"


def cost_of_batch(session: Session, batch: Batch) -> BatchCost:
    """Each container's share of its price by what was taken from it, less what was put back. Reads only."""
    assert batch.id is not None
    added = [one for one in additions_of(session, batch.id) if not one.reversed]
    taken = _taken([(one, amount_of(session, one)) for one in added], returns_of(session, batch.id))
    came = received_into(session, [number for number in taken if number > 0])
    used, about = [], []
    for number, one in _first_of_each(added).items():
        box, came_by = one.container, came.get(number)
        price = box.price if box is not None else None
        code = show_code(box.code) if box is not None else ""
        used.append(Used(one.material.name, code, taken[number], came_by.change if came_by else None, price))
        if price is not None and came_by is not None and came_by.known is AmountKnown.ESTIMATED:
            words = f"How much was in {code} when it came is an estimate, and so is its share of the cost."
            about.append(note("cost-about", words, about=code))
    cost = cost_of(used)
    per = None
    if batch.yield_amount and batch.yield_basis is not None:
        per = per_measure(cost.exact, batch.yield_amount, batch.yield_basis)
    return BatchCost(cost, the_shop(session).currency, per, (*cost.findings, *about))


def _key(one: Added) -> int:
    """The container an addition came from; what comes from none is kept apart by its material, below zero."""
    return one.container.id or 0 if one.container is not None else -(one.material.id or 0)


def _first_of_each(added: Iterable[Added]) -> dict[int, Added]:
    found: dict[int, Added] = {}
    for one in added:
        found.setdefault(_key(one), one)
    return found


def _taken(
    added: list[tuple[Added, int | None]], put_back: list[tuple[Movement, Material]]
) -> dict[int, int | None]:
    """What was taken from each container in all, None where a part of it is not known.

    What was put back is taken off the container it went into, and what is over (it went into another one) off
    those of the same material that were drawn from last.
    """
    total: dict[int, int | None] = {}
    for one, amount in added:
        before = total.get(_key(one), 0)
        total[_key(one)] = None if before is None or amount is None else before + amount
    material = {_key(one): one.row.material_id for one, _ in added}
    for back, stuff in put_back:
        left = back.change or 0
        alike = [number for number in reversed(total) if number > 0 and material[number] == stuff.id]
        for number in sorted(alike, key=lambda n: n != back.container_id):
            have = total[number]
            if have is not None:
                less = min(have, left)
                total[number], left = have - less, left - less
    return total
