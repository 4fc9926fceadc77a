"""A week at a shop: its keeper, its clock, its dice, and what was done. `pack_week.py` has the acts."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

from sqlmodel import Session, SQLModel, col, select

from service.core.access import Actor
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.records.engine import Database
from service.records.stock import Container

LATE = "It was written up the morning after, from the notes at the bench."
numbers = itertools.count(1)


@dataclass
class Week:
    """The shop, its keeper, dice and clock; ``done`` counts the acts by name."""

    database: Database
    keeper: Actor
    folder: Path
    now: datetime
    dice: Random
    done: Counter[str] = field(default_factory=Counter)

    def once(self) -> str:
        return f"pack-week-{next(numbers):06d}"

    def pick(self, session: Session, kind: type[SQLModel], *where: Any) -> Any:
        rows = session.exec(select(kind).where(*where).order_by(col(kind.id))).all()  # type: ignore[attr-defined]
        return self.dice.choice(rows) if rows else None

    def late(self) -> dict[str, Any]:
        """Half of the acts happened some hours or days before they are written down."""
        if self.dice.random() < 0.5:
            return {}
        return {"happened_at": self.now - timedelta(hours=self.dice.randint(2, 60)), "late_reason": LATE}

    def box(self, session: Session) -> dict[str, Any]:
        box = self.pick(session, Container, col(Container.state).in_(["sealed", "open"]))
        return {"once": self.once(), "code": box.code}

    def a_day(self, acts: int, kinds: Sequence[Act]) -> None:
        """So many tries of acts of these kinds, some minutes apart."""
        for _ in range(acts):
            self.now += timedelta(minutes=self.dice.randint(1, 20))
            act = self.dice.choice(kinds)
            try:
                with self.database.writing() as session:
                    act(self, session)
            except (Invalid, NotAllowed, NotFound, Refused, Stale):
                continue
            self.done[act.__name__] += 1


Act = Callable[[Week, Session], None]
