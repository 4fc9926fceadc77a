"""Writing new containers into the book, one or thousands: row, code, first movement, opening, a leak's duty.

What may come in is judged before, in receive_stock.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from service.actions.arrivals import EachHolds, Origin, ReceiveAsked, capacity_in_ul, received_day
from service.actions.give_codes import Chance, fresh_codes, wanted_code
from service.actions.post_movement import EventFacts, Line, post_first
from service.actions.settle import Act
from service.core.containers import Condition, ContainerState
from service.core.ledger import MovementKind, OtherSide
from service.core.shelf_codes import show_code
from service.records.duties import Duty
from service.records.materials import Material
from service.records.stock import Container
from service.records.stock_queries import Held

LEAK_WITHIN: Final = timedelta(hours=1)
"""A leak is dealt with at once; an hour is this shop's own figure, no rule gives one."""


@dataclass(frozen=True)
class Arriving:
    """What comes in, judged, and what each of its containers holds."""

    asked: ReceiveAsked
    material: Material
    each: EachHolds


def put_in(act: Act, arriving: Sequence[Arriving], chance: Chance) -> list[Container]:
    """Write all of them down; the containers in the order they came.

    Raises:
        Invalid: a wanted code is none, or taken.
    """
    without = sum(one.asked.count for one in arriving if not one.asked.code)
    fresh = iter(fresh_codes(act.session, chance, without))
    capacities: dict[tuple[int | None, str], int | None] = {}
    held: list[tuple[Held, Arriving]] = []
    for one in arriving:
        key = (one.material.id, one.asked.capacity.strip())
        if key not in capacities:
            capacities[key] = capacity_in_ul(act, one.material, one.asked)
        for _ in range(one.asked.count):
            code = wanted_code(act.session, one.asked.code) if one.asked.code else next(fresh)
            held.append((Held(_container(act, one, code, capacities[key]), one.material), one))
    act.session.add_all([which.container for which, _ in held])
    act.session.flush()
    post_first(act, [(which, _line(which, one), _opening(one.asked)) for which, one in held])
    for which, one in held:
        if one.asked.condition is Condition.LEAKING:
            _owe_leak(act, which)
    return [which.container for which, _ in held]


def _container(act: Act, one: Arriving, code: str, capacity_ul: int | None) -> Container:
    assert one.material.id is not None
    asked, day = one.asked, act.day
    received: date | None = received_day(day, asked)
    unknown_start = asked.packed_on is None and received is None
    return Container(
        code=code,
        material_id=one.material.id,
        place_id=asked.place_id,
        state=ContainerState.OPEN if asked.opened else ContainerState.SEALED,
        condition=asked.condition,
        sheet_came=asked.sheet_came,
        capacity_written=asked.capacity.strip(),
        capacity_ul=capacity_ul,
        vessel=asked.vessel.value if asked.vessel else None,
        supplier=" ".join(asked.supplier.split()),
        lot=" ".join(asked.lot.split()),
        price=asked.price,
        packed_on=asked.packed_on,
        received_on=received,
        printed_date=asked.printed_date,
        # It surely existed on the day somebody saw it.
        started_by=day if unknown_start else None,
        ever_opened=asked.opened,
        opened_on=asked.opened_on,
        opened_by=day if asked.opened and asked.opened_on is None else None,
        note=asked.note.strip(),
        created_at=act.recorded_at,
    )


def _line(held: Held, one: Arriving) -> Line:
    asked, each = one.asked, one.each
    return Line(
        MovementKind.RECEIVE,
        each.change,
        OtherSide.SUPPLIER if asked.origin is Origin.SUPPLIER else OtherSide.STOCK_TAKE,
        each.known,
        written=asked.amount.strip() or "not known",
        written_unit=each.read.unit_key if each.read else "",
        density_used=each.read.density_used if each.read else None,
        how=each.how,
        other_text=held.container.supplier,
    )


def _opening(asked: ReceiveAsked) -> EventFacts | None:
    return EventFacts(asked.opened_on, note="it came open") if asked.opened else None


def _owe_leak(act: Act, held: Held) -> None:
    code = show_code(held.container.code)
    act.session.add(
        Duty(
            kind="leaking-container",
            sentence=f"{held.material.name}, {code}, leaks. Decant it into a sound container or discard it.",
            owed_by=act.actor.person_id,
            due_at=act.recorded_at + LEAK_WITHIN,
            about_kind="container",
            about_id=held.container_id,
            created_at=act.recorded_at,
        )
    )
