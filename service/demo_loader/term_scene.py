"""The term of the demo: its jobs, the packs that things are sold in, and what is on its way.

Its keys are its own, so that the codes of the demo stay what they are without it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from service.actions.place_order import LineAsked, OrderAsked, place_order
from service.actions.plan_job import DateAsked, JobAsked, drop_date, plan_job
from service.actions.write_packs import MinimumAsked, PackAsked, set_minimum, write_pack
from service.actions.write_term import TermAsked, write_term
from service.core.access import Actor
from service.core.term_dates import Repeat
from service.demo_loader.tale import read
from service.records.plan_queries import dates_of_job


@dataclass
class _Table:
    """Who writes, when, and what the short names of the data mean."""

    session: Session
    actor: Actor
    at: datetime
    today: date
    materials: Mapping[str, int]
    recipes: Mapping[str, int]
    packs: dict[tuple[str, str], int] = field(default_factory=dict)
    counted: int = 0

    def once(self) -> str:
        self.counted += 1
        return f"demo-term-{self.counted:03}"


def lay_out(
    session: Session,
    actor: Actor,
    at: datetime,
    today: date,
    materials: Mapping[str, int],
    recipes: Mapping[str, int],
) -> int:
    """Write the whole term at one moment; its number."""
    table = _Table(session, actor, at, today, materials, recipes)
    rows = read("term")
    asked = TermAsked(
        once=table.once(), name=rows["name"], first_day=today - timedelta(weeks=rows["weeks_before"]),
        last_day=today + timedelta(weeks=rows["weeks_after"]), country=rows["country"],
        weekdays=tuple(range(7)), breaks=False,
    )  # fmt: skip
    term = int(write_term(session, actor, at, asked).result["term"])
    for row in rows["jobs"]:
        _job(table, term, row)
    for row in rows["packs"]:
        _pack(table, row)
    for row in rows["least"]:
        least = MinimumAsked(table.once(), materials[row["material"]], row["amount"])
        set_minimum(session, actor, at, least)
    for row in rows["orders"]:
        lines = tuple(_line(table, *one) for one in row["lines"])
        place_order(session, actor, at, OrderAsked(once=table.once(), lines=lines, term_id=term))
    return term


def _job(table: _Table, term: int, row: Mapping[str, Any]) -> None:
    first = table.today + timedelta(days=row["first_in_days"])
    asked = JobAsked(
        once=table.once(), term_id=term, recipe_id=table.recipes[row["recipe"]], name=row["name"],
        heads=row["heads"], each=row["each"], first=first, spare_percent=row["spare_percent"],
        repeat=Repeat(row["repeat"]),
        last=first + timedelta(weeks=row["weeks"] - 1) if "weeks" in row else None,
    )  # fmt: skip
    number = plan_job(table.session, table.actor, table.at, asked).result["planned"]
    if row.get("drop_last"):
        last = dates_of_job(table.session, number)[-1]
        drop_date(table.session, table.actor, table.at, DateAsked(table.once(), last.id or 0, last.version))


def _pack(table: _Table, row: Mapping[str, Any]) -> None:
    asked = PackAsked(
        once=table.once(), material_id=table.materials[row["material"]], amount=row["amount"],
        price=Decimal(row["price"]) if "price" in row else None, supplier=row["supplier"],
        lead_days=row.get("lead_days"),
    )  # fmt: skip
    done = write_pack(table.session, table.actor, table.at, asked).result
    table.packs[row["material"], row["amount"]] = done["pack"]


def _line(table: _Table, material: str, amount: str, count: int, in_days: int | None = None) -> LineAsked:
    comes = None if in_days is None else table.today + timedelta(days=in_days)
    return LineAsked(table.packs[material, amount], count, comes)
