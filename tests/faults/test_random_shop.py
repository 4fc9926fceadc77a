"""Random days of a shop: acts in any order, time that passes, restarts and restores; the books always hold.

`FAULTS_LONG=1` runs 5,000 shops of 100 acts instead.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any, ClassVar

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from service.actions.check_mix import MixAsked, check_mix, keep_check
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.count_stock import CountAsked, count
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, ReturnAsked, draw, put_back
from service.actions.drop_batch import GiveUpAsked, give_up
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.handle_rags import StepAsked, add_step
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, discard, lose
from service.actions.make_batch import StartAsked, start
from service.actions.receive_stock import ReceiveAsked, receive
from service.actions.run_job import JobAsked, open_job
from service.config import Settings
from service.core.ledger import Destination
from service.core.materials import Form, Unknown
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.records.engine import Database, open_database
from service.records.places import PlaceKind
from tests.faults.how_many import LONG, how_many
from tests.faults.random_shop import RandomShop
from tests.mixing_shop import NOW, make_mix_shop
from tests.rag_shop import add_place
from tests.store_builders import container

SHOPS = how_many(50, 5_000)
ACTS = how_many(40, 100)

PHASES = (Phase.explicit, Phase.generate, *((Phase.shrink,) if LONG else ()))
"""The first story that fails is told as it is: making it shorter takes minutes, in the long run."""

picks = st.integers(0, 11)
small = st.integers(1, 400)
STEPS: dict[str, dict[str, Any]] = {
    "can": {"step": RagStep.IN_CAN},
    "water": {"step": RagStep.UNDER_WATER, "water": Water.FULL},
    "loose": {"step": RagStep.LOOSE},
    "gone": {"step": RagStep.REMOVED, "removal": Removal(RemovalHow.HAULER, "Rag haulers", "")},
}


@dataclass
class Model:
    """One furnished shop, copied for each run; one engine for all, which has compiled what it needs."""

    folder: Path
    template: Path
    database: Database
    shop: Any
    can: int
    codes: dict[str, int | None]

    def fresh(self) -> RandomShop:
        self.database.dispose()
        data = self.folder / "shop"
        shutil.rmtree(data, ignore_errors=True)
        data.mkdir()
        shutil.copy(self.template, data / "umberkeep.sqlite")
        self.shop.now = NOW
        where = Settings(data, f"sqlite:///{data / 'umberkeep.sqlite'}")
        return RandomShop(self.shop, where, self.can, NOW, amounts=dict(self.codes))


@pytest.fixture(scope="module")
def model(sqlite_template: Path) -> Iterator[Model]:
    # In memory where the machine has such a folder: a sync to a slow disk is not what is tried here.
    home = "/dev/shm" if Path("/dev/shm").is_dir() else None
    with tempfile.TemporaryDirectory(prefix="random-shop", dir=home) as name:
        folder = Path(name)
        (folder / "shop").mkdir()
        shutil.copy(sqlite_template, folder / "shop" / "umberkeep.sqlite")
        database = open_database(f"sqlite:///{folder / 'shop' / 'umberkeep.sqlite'}")
        shop = make_mix_shop(database)
        codes: dict[str, int | None] = {}
        for stuff in ("raw umber", "boiled oil", "spirit"):
            codes |= dict.fromkeys((shop.can(stuff, 900_000), shop.can(stuff, 300_000)), None)
        with database.writing() as session:
            can = add_place(
                session, "Rag can", PlaceKind.RAG_CAN, listed=Unknown.YES, self_closing=Unknown.YES
            )
        codes = {code: shop.left(code) for code in codes}
        database.dispose()
        shutil.copy(folder / "shop" / "umberkeep.sqlite", folder / "template.sqlite")
        yield Model(folder, folder / "template.sqlite", database, shop, can, codes)
        database.dispose()


class Days(RuleBasedStateMachine):
    """The rules: what may come next, whatever was before."""

    model: ClassVar[Model]
    acts: ClassVar[dict[str, int]] = {}

    def __init__(self) -> None:
        super().__init__()
        self.at = self.model.fresh()

    def count_act(self, name: str, settled: Any) -> Any:
        """How often each kind of act went through in all runs: a rule that never does shows nothing."""
        self.acts[name] = self.acts.get(name, 0) + (settled is not None)
        return settled

    def _do(self, name: str, act: Any, asked: Any, *more: Any) -> Any:
        at, now = self.at, self.at.now
        return self.count_act(name, at.do(asked.once, lambda s: act(s, at.keeper, now, asked, *more)))

    @rule(pick=picks, amount=small)
    def receive(self, pick: int, amount: int) -> None:
        name = ("raw umber", "boiled oil", "spirit")[pick % 3]
        unit = "g" if name == "raw umber" else "ml"
        asked = ReceiveAsked(self.at.once(), self.at.shop.ids[name], amount=f"{amount} {unit}")
        if (done := self._do("receive", receive, asked, self.at.chance)) is not None:
            for one in done.result["containers"]:
                self.at.amounts[one["code"]] = amount * 1000

    @rule(pick=picks, amount=small, more=st.booleans())
    def draw(self, pick: int, amount: int, more: bool) -> None:
        code = self.at.a_box(pick)
        asked = DrawAsked(
            once=self.at.once(), code=code, amount=f"{amount} {self.unit(code)}", looked=True,
            more_than_book=more,
        )  # fmt: skip
        done = self._do("draw", draw, asked)
        # With more in it than the book says, the count comes first and leaves nothing behind.
        self.at.follow(done, code, lambda said, was: max((was or 0) - said["drawn"], 0))

    @rule(pick=picks, amount=st.integers(1, 20))
    def put_back(self, pick: int, amount: int) -> None:
        code = self.at.a_box(pick)
        asked = ReturnAsked(once=self.at.once(), code=code, amount=f"{amount} {self.unit(code)}")
        done = self._do("return", put_back, asked)
        self.at.follow(done, code, lambda said, was: (was or 0) + said["returned"])

    @rule(pick=picks, amount=st.integers(0, 900))
    def count(self, pick: int, amount: int) -> None:
        code = self.at.a_box(pick)
        asked = CountAsked(once=self.at.once(), code=code, amount=f"{amount} {self.unit(code)}")
        done = self._do("count", count, asked)
        self.at.follow(done, code, lambda said, was: was if said["confirms"] else said["counted"])

    @rule(pick=picks, amount=small)
    def lose(self, pick: int, amount: int) -> None:
        code = self.at.a_box(pick)
        asked = LossAsked(
            once=self.at.once(), code=code, loss=LossKind.DRIED_UP, amount=f"{amount} {self.unit(code)}"
        )
        done = self._do("lose", lose, asked)
        self.at.follow(done, code, lambda said, was: (was or 0) - said["lost"])

    @rule(pick=picks, amount=small, all_of_it=st.booleans())
    def discard(self, pick: int, amount: int, all_of_it: bool) -> None:
        code = self.at.a_box(pick)
        asked = DiscardAsked(
            once=self.at.once(), code=code, destination=Destination.HAULER,
            amount="" if all_of_it and pick % 4 == 0 else f"{amount} {self.unit(code)}",
        )  # fmt: skip
        done = self._do("discard", discard, asked)
        self.at.follow(done, code, lambda said, was: (was or 0) - said["discarded"])

    @rule(pick=picks, other=picks, amount=small, new=st.booleans())
    def decant(self, pick: int, other: int, amount: int, new: bool) -> None:
        code, into = self.at.a_box(pick), self.at.a_box(other)
        asked = DecantAsked(
            once=self.at.once(), code=code, amount=f"{amount} {self.unit(code)}", looked=True,
            into="" if new else into,
        )  # fmt: skip
        if (done := self._do("decant", decant, asked, self.at.chance)) is not None:
            target, poured = done.result["into"]["code"], done.result["poured"]
            self.at.follow(done, code, lambda _, was: (was or 0) - poured)
            self.at.amounts[target] = (self.at.amounts.get(target) or 0) + poured

    @rule(pick=picks)
    def reverse(self, pick: int) -> None:
        asked = ReverseAsked(self.at.once(), self.at.last_movement(pick), "Written down by mistake.")
        if self._do("reverse", reverse, asked) is not None:
            self.at.look_anew()

    @rule(times=st.sampled_from(["0.1 times", "0.5 times", "1 times"]))
    def start_batch(self, times: str) -> None:
        at, now = self.at, self.at.now
        kept: list[int] = []

        def check(session: Any) -> Any:
            mix = check_mix(session, at.keeper, now, MixAsked(at.shop.recipe, times))
            kept.append(keep_check(session, at.keeper, now, mix).id or 0)
            asked = StartAsked(once=key, check_id=kept[0], open_job=True, looked=tuple(at.amounts))
            return start(session, at.keeper, now, asked)

        key = at.once()
        if self.count_act("batch", at.do(key, check)) is not None:
            # Sent again it is the kept check that is named, not a new one.
            at.asked.pop()
            at.look_anew()

    @rule(amount=small)
    def finish_batch(self, amount: int) -> None:
        if batch := self.at.a_running_batch():
            asked = FinishAsked(
                once=self.at.once(), batch_id=batch, made=f"{amount} ml", jars=(JarAsked(f"{amount} ml"),),
                loss_note="What stayed in the pot.", form=Form.LIQUID,
            )  # fmt: skip
            if self._do("finish", finish, asked, self.at.chance) is not None:
                self.at.look_anew()

    @rule()
    def give_up_batch(self) -> None:
        if batch := self.at.a_running_batch():
            asked = GiveUpAsked(
                once=self.at.once(), batch_id=batch, reason="The colour was wrong.",
                went_to=Destination.HAULER,
            )  # fmt: skip
            if self._do("give up", give_up, asked) is not None:
                self.at.look_anew()

    @rule(pick=picks, what=st.sampled_from(sorted(STEPS)))
    def rags(self, pick: int, what: str) -> None:
        if load := self.at.a_load(pick):
            can = self.at.can if what in ("can", "water") else None
            asked = StepAsked(once=self.at.once(), loads=(load,), can_id=can, **STEPS[what])
            self._do(f"rags {what}", add_step, asked)

    @rule()
    def job(self) -> None:
        self._do("job", open_job, JobAsked(self.at.once(), "More doors"))

    @rule(minutes=st.sampled_from([1, 20, 61, 240, 900, 1500, -30]))
    def time(self, minutes: int) -> None:
        self.at.pass_by(timedelta(minutes=minutes))

    @rule(pick=st.integers(0, 400))
    def again(self, pick: int) -> None:
        self.at.again(pick)

    @rule()
    def reopen(self) -> None:
        self.at.reopen()

    @rule()
    def back_up(self) -> None:
        self.at.back_up()

    @rule()
    def restore(self) -> None:
        self.at.restore()

    @invariant()
    def the_books_hold(self) -> None:
        self.at.holds()

    def unit(self, code: str) -> str:
        with self.at.database.reading() as session:
            box = container(session, code)
        return "g" if box.material_id == self.at.shop.ids["raw umber"] else "ml"


def test_random_days(model: Model) -> None:
    Days.model, Days.acts = model, {}
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        Days,
        settings=settings(
            max_examples=SHOPS, stateful_step_count=ACTS, deadline=None,
            suppress_health_check=list(HealthCheck), phases=PHASES,
        ),
    )  # fmt: skip
    wanted = ["receive", "draw", "count", "lose", "decant", "discard", "reverse", "batch", "finish", "job"]
    never = [name for name in wanted if not Days.acts.get(name)]
    assert not never, f"never went through: {never} of {Days.acts}"
    assert any(many for name, many in Days.acts.items() if name.startswith("rags"))
