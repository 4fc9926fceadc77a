"""A colour sample in the small mixing shop: begun, filled by eye, finished; for the tests of what follows."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlmodel import col, select

from service.actions.add_to_batch import AddAsked, add
from service.actions.finish_batch import FinishAsked, JarAsked, finish
from service.actions.post_movement import Line, post
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.start_sample import SampleAsked, start_sample
from service.actions.undo_addition import UndoAsked, undo_addition
from service.core.access import Role
from service.core.additions import WasIn
from service.core.colour_samples import Board
from service.core.containers import AmountKnown
from service.core.ledger import MovementKind, OtherSide
from service.core.materials import Unknown
from service.records.engine import Database
from service.records.mixing import Addition
from service.records.stock_queries import hold_one
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import once

_chance = itertools.count(1)

BOARD = Board("ash", "P180", Unknown.YES, "thin shellac", 2)


@dataclass
class Sampled:
    """A begun sample with cans of everything: 100 g or ml of a can of 1 kg or 1 l that cost 20 is 2."""

    shop: MixShop
    sample: int
    batch: int
    recipe: int
    cans: dict[str, str]

    def add(self, name: str, amount: str, role: Role = Role.FINISHER, **said: Any) -> Settled:
        where = {"code": self.cans[name]} if name in self.cans else {"material_id": self.shop.ids[name]}
        asked = AddAsked(**({"once": once(), "batch_id": self.batch, "amount": amount} | where | said))
        with self.shop.database.writing() as session:
            return add(session, self.shop.actor(role), self.shop.now, asked)

    def take_back(self, done: Settled) -> None:
        """Take back an addition that was just made."""
        number = done.result["additions"][0]["id"]
        with self.shop.database.writing() as session:
            asked = UndoAsked(once(), self.batch, number, "Wrong can", WasIn.NEVER)
            undo_addition(session, self.shop.actor(Role.KEEPER), self.shop.now, asked)

    def finish(self, *jars: str, **said: Any) -> None:
        asked = FinishAsked(
            **({"once": once(), "batch_id": self.batch, "jars": tuple(map(JarAsked, jars))} | said)
        )
        with self.shop.database.writing() as session:
            finish(session, self.shop.actor(), self.shop.now, asked, lambda: f"sample jar {next(_chance)}")

    def unmeasured(self, name: str, at_most: int | None) -> None:
        """One more addition of what went in before, as the bench writes what nobody measured."""
        with self.shop.database.writing() as session:
            query = select(Addition).where(
                col(Addition.batch_id) == self.batch, col(Addition.material_id) == self.shop.ids[name]
            )
            row = session.exec(query).first()
            assert row is not None
            session.add(Addition(**(row.model_dump(exclude={"id"}) | {"amount": None, "at_most": at_most})))

    def put_back(self, name: str, amount: int, can: str = "") -> None:
        """Something of the batch goes back into a can."""
        actor = self.shop.actor(Role.KEEPER)
        line = Line(
            MovementKind.RETURN, amount, OtherSide.BATCH, AmountKnown.MEASURED, batch_id=self.batch
        )
        with self.shop.database.writing() as session:

            def perform(act: Act) -> dict[str, Any]:
                post(act, hold_one(session, can or self.cans[name]), line)
                return {}

            settle(session, actor, Sent(once(), "return", {"amount": amount}), self.shop.now, perform)


def begun(database: Database, price: str | None = "20", job: bool = True) -> Sampled:
    """A sample in the running job; each can came with 1 kg or 1 l and cost ``price``."""
    shop = make_mix_shop(database)
    paid = Decimal(price) if price is not None else None
    cans = {name: shop.can(name, price=paid) for name in ("raw umber", "boiled oil", "spirit")}
    asked = SampleAsked(
        once=once(), target="the old  door", board=BOARD, job_id=shop.job if job else None, purpose="stain"
    )
    with database.writing() as session:
        done = start_sample(session, shop.actor(), shop.now, asked).result
    return Sampled(shop, done["sample"], done["batch"], done["recipe"], cans)
