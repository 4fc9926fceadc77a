"""Fills a real database of the real schema with a store of any size, by bulk inserts into the real tables.

What it writes is what the program would have written: every container has its delivery, every opened one its
opening and its draw, each act its posting and answer, and the stored dates are those `core.ageing` gives.
`check-ledger` finds nothing wrong in it.
"""

from __future__ import annotations

import itertools
import json
from collections import deque
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, time, timedelta
from decimal import Decimal
from typing import Any, Final

from sqlalchemy import Connection, Table, insert, text
from sqlmodel import SQLModel

from service.core.containers import AmountKnown, Condition, ContainerState, EventKind
from service.core.ledger import MovementKind, OtherSide
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.core.rag_log import GENESIS, canonical, entry_hash
from service.core.shelf_codes import SPACE, make_code
from service.records import tables
from service.records.engine import Database
from service.records.places import PlaceKind
from tests.bench.stock_plan import (
    FULL,
    NOW,
    PER_DELIVERY,
    POLICY,
    SEED_DAY,
    SEEDED_AT,
    Life,
    Plan,
    life,
    not_known,
)

KINDS: Final = (
    MaterialKind.DRY_PIGMENT, MaterialKind.SOLVENT, MaterialKind.DYE, MaterialKind.RESIN,
    MaterialKind.GLUE_OR_SIZE, MaterialKind.OTHER_CHEMICAL, MaterialKind.BINDER,
)  # fmt: skip
SHELVES: Final = 80
DRAWN: Final = 50_000
"""What was drawn from each opened container: 50 g or 50 ml."""
_STEP: Final = 7_919
_ROWS: Final = 5_000
Row = dict[str, Any]
assert tables.MODULES


def table(name: str) -> Table:
    return SQLModel.metadata.tables[name]


def fill(connection: Connection, name: str, rows: Iterable[Row]) -> None:
    """Insert many rows alike, a few thousand at a time."""
    waiting = iter(rows)
    while some := list(itertools.islice(waiting, _ROWS)):
        connection.execute(insert(table(name)), some)


def seed(database: Database, plan: Plan) -> None:
    """Fill an empty, migrated database, all in one transaction. Keeper 1 and finisher 2 did all the work."""
    with database.writer.begin() as connection:
        codes = _codes()
        fill(connection, "shop_profile", [_shop()])
        fill(connection, "person", _people())
        fill(connection, "place", _places(codes))
        fill(connection, "material", (_material(plan, n) for n in range(plan.materials)))
        fill(connection, "safety_sheet", (_sheet(n) for n in range(plan.materials)))
        fill(connection, "ageing_policy", map(_policy, KINDS))
        lives = [life(plan, number) for number in range(plan.containers)]
        fill(connection, "posting", _postings(plan, lives))
        fill(connection, "posting_result", ({"posting_id": n, "result": {"findings": []}}
                                            for n in range(1, _deliveries(plan) + len(_opened(lives)) + 1)))
        fill(connection, "container", (_container(plan, n, one, next(codes)) for n, one in enumerate(lives)))
        fill(connection, "movement", _movements(plan, lives))
        fill(connection, "container_event", _events(plan, lives))
        fill(connection, "rag_log", rag_log(plan.log_entries))
        fill(connection, "rag_chain_head", [_chain_head(plan.log_entries)])
        fill(connection, "book_clock", [{"id": 1, "last_recorded_at": SEEDED_AT}])
        if not database.sqlite:
            _continue_numbers(connection)


def _continue_numbers(connection: Connection) -> None:
    """PostgreSQL counts on from its own sequence, which rows with given numbers do not move."""
    for name in ("person", "place", "material", "safety_sheet", "ageing_policy", "posting", "container",
                 "movement", "container_event"):  # fmt: skip
        connection.execute(
            text(f"select setval(pg_get_serial_sequence('{name}', 'id'), (select max(id) from {name}))")
        )


def _codes() -> Iterator[str]:
    """Shelf codes, each once."""
    seen: set[str] = set()
    for number in itertools.count(1):
        code = make_code(number * _STEP % SPACE)
        if code not in seen:
            seen.add(code)
            yield code


def _shop() -> Row:
    return {"id": 1, "name": "Quay Street Finishing", "time_zone": "Europe/Berlin", "created_at": SEEDED_AT}


def _people() -> list[Row]:
    return [
        {"id": 1, "name": "Orla Brandt", "role": "keeper", "created_at": SEEDED_AT, "is_script": False},
        {"id": 2, "name": "Piet Maas", "role": "finisher", "created_at": SEEDED_AT, "is_script": False},
    ]


def _places(codes: Iterator[str]) -> Iterator[Row]:
    """One room, ten cabinets in it, eight shelves to a cabinet."""
    for number in range(1, 12 + SHELVES):
        kind, parent = PlaceKind.SHELF, 2 + (number - 12) // 8
        if number <= 11:
            kind, parent = (PlaceKind.ROOM, None) if number == 1 else (PlaceKind.CABINET, 1)
        words = f"{kind.value} {number}"
        yield {"id": number, "code": next(codes), "name": words, "kind": kind, "parent_id": parent,
               "created_at": SEEDED_AT}  # fmt: skip


def _material(plan: Plan, number: int) -> Row:
    kind = KINDS[number % len(KINDS)]
    liquid = kind in (MaterialKind.SOLVENT, MaterialKind.BINDER)
    heats = kind is MaterialKind.BINDER
    # Spread over all of them, as the containers that want attention are.
    lacks = (number + 1) * plan.lacking // plan.materials > number * plan.lacking // plan.materials
    return {
        "id": number + 1,
        "name": f"{kind.value} {number:06d}",
        "kind": kind,
        # A liquid of kind solvent that no table knows has no date by its kind.
        "known_key": "stoddard_solvent" if kind is MaterialKind.SOLVENT else None,
        "form": Form.LIQUID if liquid or lacks else Form.POWDER,
        "basis": Basis.VOLUME if liquid else Basis.MASS,
        "density_g_ml": Decimal("0.9") if liquid else Decimal("2.5"),
        "oil_share_percent": Decimal(90 if heats else 0),
        "binder": "linseed oil" if heats else "none",
        "has_drier": Unknown.NO,
        "flash_point_c": None if lacks else Decimal(40),
        "flash_point_method": "" if lacks else "closed-cup",
        "hazards": [],
        "toxic_metals": [],
        "self_heating": SelfHeating.YES if heats else SelfHeating.NO,
        "self_heating_reason": "" if heats else "no oil in it",
        "keeper_only": False,
        "created_at": SEEDED_AT,
    }


def _sheet(number: int) -> Row:
    return {"material_id": number + 1, "regime": "us-hcs", "sheet_date": SEED_DAY, "copied_whole": True,
            "added_by": 1, "added_at": SEEDED_AT}  # fmt: skip


def _policy(kind: MaterialKind) -> Row:
    return {
        "kind": kind, "sealed_months": POLICY.sealed_months, "opened_months": POLICY.opened_months,
        "end": POLICY.end.value, "house_policy": True, "set_by": 1, "set_at": SEEDED_AT,
    }  # fmt: skip


def _container(plan: Plan, number: int, one: Life, code: str) -> Row:
    unsure = not_known(one)
    return {
        "id": number + 1,
        "code": code,
        "material_id": number % plan.materials + 1,
        "place_id": 12 + number % SHELVES,
        "state": ContainerState.OPEN if one.opened else ContainerState.SEALED,
        "condition": Condition.SOUND,
        "sheet_came": Unknown.YES,
        "capacity_written": "1 kg",
        "packed_on": one.packed_on,
        "received_on": one.received_on,
        "opened_on": None if unsure else one.opened_on,
        "ever_opened": one.opened,
        "opened_by": one.opened_on if unsure else None,
        "printed_date": one.printed_date,
        "balance": FULL - DRAWN if one.opened else FULL,
        "balance_known": AmountKnown.MEASURED,
        "standing": one.at.standing,
        "in_date_until": one.at.in_date_until,
        "next_alert_on": one.next_alert_on,
        "created_at": _delivered(one),
        "version": 2 if one.opened else 1,
    }


def _delivered(one: Life) -> datetime:
    return datetime.combine(one.received_on, time(8), UTC)


def _opened(lives: list[Life]) -> list[int]:
    """The numbers of the opened containers in the order in which they were opened."""
    return [number for number, one in enumerate(lives) if one.opened]


def _deliveries(plan: Plan) -> int:
    return -(-plan.containers // PER_DELIVERY)


def _drawn(one: Life) -> datetime:
    assert one.opened_on is not None
    return datetime.combine(one.opened_on, time(10), UTC)


def _postings(plan: Plan, lives: list[Life]) -> Iterator[Row]:
    """The deliveries of ten containers, then the draws, in the order of time."""
    for number in range(_deliveries(plan)):
        # A delivery is written down when the last of its ten is in.
        at = _delivered(lives[min(number * PER_DELIVERY + PER_DELIVERY, plan.containers) - 1])
        yield _posting(number + 1, "receive", 1, at)
    for turn, number in enumerate(_opened(lives)):
        yield _posting(_deliveries(plan) + turn + 1, "draw", 2, _drawn(lives[number]))


def _posting(number: int, act: str, person: int, at: datetime) -> Row:
    return {"id": number, "once": f"seed-{number:08d}", "body_hash": f"{number:064x}", "act": act,
            "person_id": person, "happened_at": at, "recorded_at": at, "late": False}  # fmt: skip


def _movements(plan: Plan, lives: list[Life]) -> Iterator[Row]:
    numbers = itertools.count(1)
    for number in range(plan.containers):
        last = min((number // PER_DELIVERY + 1) * PER_DELIVERY, plan.containers) - 1
        yield _movement(plan, next(numbers), number, number // PER_DELIVERY + 1, _delivered(lives[last]))
    for turn, number in enumerate(_opened(lives)):
        posting = _deliveries(plan) + turn + 1
        yield _movement(plan, next(numbers), number, posting, _drawn(lives[number]), drawn=True)


def _movement(plan: Plan, id_: int, number: int, posting: int, at: datetime, *, drawn: bool = False) -> Row:
    kind = KINDS[number % plan.materials % len(KINDS)]
    return {
        "id": id_,
        "posting_id": posting,
        "container_id": number + 1,
        "kind": MovementKind.DRAW if drawn else MovementKind.RECEIVE,
        "change": -DRAWN if drawn else FULL,
        "known": AmountKnown.MEASURED,
        "written": "50 g" if drawn else "1 kg",
        "written_unit": "g" if drawn else "kg",
        "other_side": OtherSide.JOB if drawn else OtherSide.SUPPLIER,
        "other_text": "shop work" if drawn else "",
        "self_heating": kind is MaterialKind.BINDER,
        "balance_after": FULL - DRAWN if drawn else FULL,
        "person_id": 2 if drawn else 1,
        "happened_at": at,
        "recorded_at": at,
        "late": False,
    }


def _events(plan: Plan, lives: list[Life]) -> Iterator[Row]:
    for turn, number in enumerate(_opened(lives)):
        one, at = lives[number], _drawn(lives[number])
        yield {
            "posting_id": _deliveries(plan) + turn + 1, "container_id": number + 1,
            "kind": EventKind.OPENED, "on_date": None if not_known(one) else one.opened_on,
            "person_id": 2, "happened_at": at, "recorded_at": at, "late": False,
        }  # fmt: skip


def rag_log(entries: int) -> Iterator[Row]:
    """A chained log of answers to violations, one a minute up to the day of seeding."""
    head = GENESIS
    for number in range(1, entries + 1):
        at = SEEDED_AT - timedelta(minutes=entries - number)
        entry = {"kind": "violation", "load": None, "person": 2, "posting": None, "happened_at": at,
                 "recorded_at": at, "code": "rags-overdue", "about": f"shelf {number % SHELVES}",
                 "sentence": "It was drawn although oily rags were overdue."}  # fmt: skip
        written, before = canonical(entry), head
        head = entry_hash(before, number, entry)
        yield {"id": number, "kind": "violation", "load_id": None, "person_id": 2, "posting_id": None,
               "happened_at": at, "recorded_at": at, "body": written.decode(), "prev_hash": before,
               "hash": head}  # fmt: skip


def _chain_head(entries: int) -> Row:
    (last,) = deque(rag_log(entries), maxlen=1)
    return {"id": 1, "count": entries, "hash": last["hash"]}


def summary(plan: Plan) -> str:
    """What a store of this plan holds, in one line of JSON, for the head of the figures."""
    return json.dumps({"containers": plan.containers, "materials": plan.materials, "wanting": plan.wanting,
                       "lacking": plan.lacking, "soon": plan.soon, "now": NOW.isoformat()})  # fmt: skip
