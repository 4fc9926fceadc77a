"""A shop in which anything may be asked at any time, and what must hold of it after every single act."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlmodel import Session, col, select

from service.actions.back_up import back_up, restore
from service.actions.rag_duty import blocked_by
from service.actions.settle import Settled
from service.config import Settings
from service.core.access import Actor, Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.core.ledger import MovementKind
from service.records.engine import Database
from service.records.mixing import Batch, BatchState
from service.records.rags import RagLoad
from service.records.stock import Container, Movement
from tests.faults.invariants import faults_of
from tests.faults.writers import Kept
from tests.mixing_shop import MixShop

Perform = Callable[[Session], Settled]
_TAKES_OUT = (MovementKind.DRAW, MovementKind.DECANT_OUT)


@dataclass
class RandomShop:
    """The shop of the mixing tests, a clock that is moved by hand, and everything it was ever answered.

    `amounts` is a model of its own: what is in each container by plain adding up of the answers.
    """

    shop: MixShop
    settings: Settings
    can: int
    now: datetime
    kept: list[Kept] = field(default_factory=list)
    asked: list[tuple[Perform, str]] = field(default_factory=list)
    amounts: dict[str, int | None] = field(default_factory=dict)
    copy: tuple[Path, int, dict[str, int | None], int] | None = None
    numbers: int = 0
    done: int = 0

    @property
    def database(self) -> Database:
        return self.shop.database

    @property
    def keeper(self) -> Actor:
        return self.shop.actor(Role.KEEPER)

    def once(self) -> str:
        self.numbers += 1
        return f"random-{self.numbers:05d}"

    def chance(self) -> str:
        self.numbers += 1
        return f"chance-{self.numbers}"

    def do(self, once: str, perform: Perform) -> Settled | None:
        """Perform one act in its own transaction; None when a rule refused it."""
        try:
            with self.database.writing() as session:
                blocked = blocked_by(session, self.now).blocking
                before = session.exec(select(Movement.id).order_by(col(Movement.id).desc()).limit(1)).first()
                settled = perform(session)
                if blocked and not settled.repeated:
                    self._nothing_that_heats_left(session, before or 0)
        except (Refused, Invalid, NotFound, NotAllowed, Stale):
            return None
        if not settled.repeated:
            plain = json.loads(json.dumps(settled.result, default=str))
            self.kept.append(Kept(once, "", {}, plain))
            self.asked.append((perform, once))
            self.done += 1
        return settled

    def _nothing_that_heats_left(self, session: Session, before: int) -> None:
        made = session.exec(select(Movement).where(col(Movement.id) > before)).all()
        wrong = [m.id for m in made if m.kind in _TAKES_OUT and m.self_heating and not m.late]
        assert not wrong, "something self-heating was taken out while rags were overdue"

    def again(self, pick: int) -> None:
        """Send an old act again: the same answer, and nothing booked."""
        if not self.asked:
            return
        perform, once = self.asked[pick % len(self.asked)]
        first = next(kept.answer for kept in self.kept if kept.once == once)
        settled = self.do(once, perform)
        assert settled is not None and settled.repeated
        assert json.loads(json.dumps(settled.result, default=str)) == first

    # --- what is there -----------------------------------------------------------------------------------

    def boxes(self) -> list[Container]:
        with self.database.reading() as session:
            return list(session.exec(select(Container).order_by(col(Container.id))).all())

    def a_box(self, pick: int) -> str:
        found = self.boxes()
        return found[pick % len(found)].code

    def last_movement(self, pick: int) -> int:
        with self.database.reading() as session:
            found = session.exec(select(Movement.id).order_by(col(Movement.id).desc()).limit(12)).all()
        return found[pick % len(found)] or 0

    def a_load(self, pick: int) -> int:
        with self.database.reading() as session:
            found = session.exec(select(RagLoad.id).where(col(RagLoad.ended_at).is_(None))).all()
        return (found[pick % len(found)] or 0) if found else 0

    def a_running_batch(self) -> int:
        with self.database.reading() as session:
            running = select(Batch.id).where(Batch.state == BatchState.RUNNING).order_by(col(Batch.id))
            return session.exec(running).first() or 0

    # --- what happens to the whole -----------------------------------------------------------------------

    def pass_by(self, span: timedelta) -> None:
        """Let time pass, or set the clock back: recorded time goes on from the last entry all the same."""
        self.now += span
        self.shop.now = self.now

    def reopen(self) -> None:
        """Close every connection; the next use opens the file anew."""
        self.database.dispose()

    def back_up(self) -> None:
        self.numbers += 1
        into = self.settings.data / "backups"
        made = back_up(self.settings, into, self.now + timedelta(seconds=self.numbers))
        self.copy = (made, len(self.kept), dict(self.amounts), len(self.asked))

    def restore(self) -> None:
        """Into an empty folder, which takes the place of the old one: the book is as it was at the copy."""
        if self.copy is None:
            return
        made, kept, amounts, asked = self.copy
        self.database.dispose()
        new = self.settings.data / "new"
        file = self.settings.data / "umberkeep.sqlite"
        restore(Settings(new, f"sqlite:///{new / file.name}"), made)
        for old in self.settings.data.glob("umberkeep.sqlite*"):
            old.unlink()
        (new / file.name).rename(file)
        shutil.rmtree(new)
        del self.kept[kept:], self.asked[asked:]
        self.amounts = dict(amounts)

    # --- what must hold ----------------------------------------------------------------------------------

    def follow(
        self, settled: Settled | None, code: str, change: Callable[[dict[str, Any], int | None], Any]
    ) -> None:
        """Do in the model what was answered, and compare."""
        if settled is None or settled.repeated:
            return
        self.amounts[code] = change(settled.result, self.amounts.get(code))
        said = settled.result["container"]["amount"]
        assert said == self.amounts[code], f"{code}: answered {said}, the model has {self.amounts[code]}"

    def look_anew(self) -> None:
        """After an act on several containers at once the model takes the book's amounts over."""
        self.amounts = {box.code: box.balance for box in self.boxes()}

    def holds(self) -> None:
        """Everything: the file, every answer ever given, balances, the rag log, the model."""
        faults = faults_of(self.database, self.kept)
        assert not faults, "\n".join(faults)
        stored = {box.code: box.balance for box in self.boxes()}
        assert stored == self.amounts
        assert all(amount is None or amount >= 0 for amount in stored.values())
