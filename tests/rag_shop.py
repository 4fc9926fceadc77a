"""A shop with an oil, a rag can and a running job, for every test that is about oily rags.

Time is moved by hand: a step at the very instant of a draw counts as coming before it.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from sqlmodel import Session, col, select

from service.actions.check_mix import MixAsked, check_mix, keep_check
from service.actions.draw_stock import DrawAsked, draw
from service.actions.handle_rags import StepAsked, add_step
from service.actions.make_batch import StartAsked, start
from service.actions.post_movement import Line, post
from service.actions.read_recipe import LineAsked
from service.actions.run_job import JobAsked, open_job
from service.actions.settle import Sent, Settled, settle
from service.actions.write_recipe import RecipeAsked, write_recipe
from service.core.access import Actor, Role
from service.core.containers import AmountKnown, ContainerState
from service.core.findings import Refused, Severity
from service.core.ledger import MovementKind, OtherSide
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.core.rags import RagStep
from service.core.shelf_codes import make_code
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow, Material
from service.records.people import Person
from service.records.places import Place, PlaceKind
from service.records.rag_queries import JudgedLoad, judged
from service.records.rags import RagLoad
from service.records.shop import Shift
from service.records.stock import Container
from service.records.stock_queries import hold
from tests.builders import NOW, TODAY, Cast, cast, person

_numbers = itertools.count(1)
ENDS = datetime(2026, 3, 12, 11, 30, tzinfo=UTC)
"""When the job of these tests ends: two hours after it began; the shift ends at 16:00 UTC."""


def once() -> str:
    """A key that no other posting has."""
    return f"test-once-{next(_numbers):06d}"


@dataclass
class RagShop:
    """The shop in one database, its people and things, and a clock of its own."""

    database: Database
    people: Cast
    oil: str = ""
    spirit: str = ""
    can: int = 0
    bucket: int = 0
    drum: int = 0
    job: int = 0
    now: datetime = field(default=NOW)

    def actor(self, role: Role) -> Actor:
        return self.people.actor(role)

    def pass_by(self, **span: float) -> None:
        self.now += timedelta(**span)

    def draw(self, code: str = "", role: Role = Role.FINISHER, **asked: Any) -> Settled:
        """Draw 10 ml for the job; anything may be said otherwise."""
        said: dict[str, Any] = {
            "amount": "10 ml",
            "job_id": self.job,
            "once": once(),
            "looked": True,
        } | asked
        with self.database.writing() as session:
            return draw(session, self.actor(role), self.now, DrawAsked(code=code or self.oil, **said))

    def step(self, step: RagStep, role: Role = Role.FINISHER, **asked: Any) -> Settled:
        """Write down a step of the only load."""
        said: dict[str, Any] = {"loads": (self.load_id(),), "once": once()} | asked
        with self.database.writing() as session:
            return add_step(session, self.actor(role), self.now, StepAsked(step=step, **said))

    def into_can(self, role: Role = Role.FINISHER, **asked: Any) -> Settled:
        return self.step(RagStep.IN_CAN, role, **({"can_id": self.can} | asked))

    def load_id(self) -> int:
        """The newest load."""
        with self.database.reading() as session:
            row = session.exec(select(RagLoad).order_by(col(RagLoad.id).desc())).first()
            assert row is not None and row.id is not None
            return row.id

    def load(self, load_id: int | None = None) -> JudgedLoad:
        """A load judged now; the newest without a number."""
        number = load_id or self.load_id()
        with self.database.reading() as session:
            row = session.get(RagLoad, number)
            assert row is not None
            return judged(session, row, self.now)

    def overdue(self) -> int:
        """Draw oil in the job, then let its end pass by with the rags loose: everything is blocked."""
        self.draw()
        self.now = ENDS + timedelta(minutes=30)
        assert self.load().judgement.blocks
        return self.load_id()

    def overdue_in_can(self) -> int:
        """The rags are in the can in time, but still in the building after they had to leave."""
        self.draw()
        self.pass_by(minutes=5)
        self.into_can()
        self.now = ENDS + timedelta(minutes=30)
        assert self.load().judgement.past_remove
        return self.load_id()


def open_a_job(
    shop: RagShop, name: str = "Table tops", ends_at: datetime | None = ENDS, **said: Any
) -> int:
    """A job led by the finisher, with the student in it."""
    asked: dict[str, Any] = {"people": (shop.people.student.id,)} | said
    with shop.database.writing() as session:
        settled = open_job(
            session, shop.actor(Role.FINISHER), shop.now, JobAsked(once(), name, ends_at=ends_at, **asked)
        )
    return int(settled.result["job"])


def make_shop(database: Database) -> RagShop:
    """The cast, a second keeper, an oil (self-heating), a spirit (not), can, bucket, drum and a job."""
    with database.writing() as session:
        people = cast(session)
        person(session, "Ruth Keller", Role.KEEPER)
        session.add(Shift(name="Day", weekday=3, starts=time(8), ends=time(17)))
        shop = RagShop(database, people)
        shop.oil = add_stock(session, people, "Linseed oil, boiled", SelfHeating.YES)
        shop.spirit = add_stock(session, people, "Spirit of the shop", SelfHeating.NO)
        shop.can = add_place(
            session, "Rag can", PlaceKind.RAG_CAN, listed=Unknown.YES, self_closing=Unknown.YES
        )
        shop.bucket = add_place(session, "Water can", PlaceKind.RAG_CAN)
        shop.drum = add_place(session, "Drum in the yard", PlaceKind.OUTSIDE_DRUM, detached=Unknown.YES)
    shop.job = open_a_job(shop)
    shop.pass_by(minutes=5)
    return shop


def add_place(session: Session, name: str, kind: PlaceKind, **facts: Any) -> int:
    """A place of metal with a lid, if nothing else is said."""
    said: dict[str, Any] = {"metal": Unknown.YES, "lid": Unknown.YES} | facts
    place = Place(
        code=make_code(900_000 + 37 * next(_numbers)), name=name, kind=kind, created_at=NOW, **said
    )
    session.add(place)
    session.flush()
    assert place.id is not None
    return place.id


def add_material(session: Session, name: str, self_heating: SelfHeating, **facts: Any) -> Material:
    """A liquid whose every fact is known, self-heating or not as told; a keeper's reason goes with "not"."""
    said: dict[str, Any] = {
        "kind": MaterialKind.BINDER, "form": Form.LIQUID, "basis": Basis.VOLUME, "binder": "linseed oil",
        "density_g_ml": Decimal("0.93"), "hazards": [], "toxic_metals": [], "has_drier": Unknown.NO,
        "keeper_only": False, "flash_point_c": Decimal(250), "ventilation_class": 1,
    }  # fmt: skip
    if self_heating is SelfHeating.NO:
        said |= {
            "kind": MaterialKind.SOLVENT,
            "binder": "none",
            "self_heating_reason": "Evaporates whole, no oil in it.",
        }
    material = Material(name=name, self_heating=self_heating, created_at=NOW, **(said | facts))
    session.add(material)
    session.flush()
    return material


def add_stock(
    session: Session, people: Cast, name: str, self_heating: SelfHeating, litres: int = 1, **facts: Any
) -> str:
    """A material with an ageing policy and one open container of it; returns the container's code."""
    material = add_material(session, name, self_heating, **facts)
    session.add(
        AgeingPolicyRow(
            material_id=material.id,
            sealed_months=60,
            opened_months=24,
            end="retest",
            source="test",
            grade="house",
            house_policy=True,
            set_at=NOW,
            set_by=people.keeper.id,
        )
    )
    session.flush()
    assert material.id is not None
    return add_container(session, people, material.id, litres)


def add_container(session: Session, people: Cast, material_id: int, litres: int = 1) -> str:
    """An open container of a material, counted at the opening stock-take."""
    container = Container(
        code=make_code(37 * next(_numbers)), material_id=material_id, state=ContainerState.OPEN,
        packed_on=date(2026, 2, 1), received_on=TODAY, opened_on=TODAY, ever_opened=True, created_at=NOW,
    )  # fmt: skip
    session.add(container)
    session.flush()
    assert container.id is not None
    container_id = container.id

    def receive(act: Any) -> dict[str, Any]:
        held = hold(session, [container_id])[container_id]
        line = Line(MovementKind.RECEIVE, litres * 1_000_000, OtherSide.STOCK_TAKE, AmountKnown.MEASURED)
        post(act, held, line)
        return {}

    settle(
        session,
        people.actor(Role.KEEPER),
        Sent(once(), "test-receive", {}),
        NOW - timedelta(days=1),
        receive,
    )
    container.state = ContainerState.OPEN
    session.add(container)
    session.flush()
    return container.code


def codes_of(refused: Refused) -> set[str]:
    """The codes of what refused it."""
    return {finding.code for finding in refused.verdict if finding.severity is Severity.STOP}


def second_keeper(session: Session) -> Actor:
    """Ruth, the other keeper."""
    row = session.exec(select(Person).where(col(Person.sign_in_name) == "ruth")).one()
    assert row.id is not None
    return Actor(row.id, row.name, row.role)


def material_id(shop: RagShop, code: str) -> int:
    """The material in a container."""
    with shop.database.reading() as session:
        return session.exec(select(Container).where(col(Container.code) == code)).one().material_id


def a_recipe(shop: RagShop, name: str = "Oil stain") -> int:
    """100 ml oil and 100 ml spirit."""
    lines = tuple(LineAsked(material_id(shop, code), "100 ml") for code in (shop.oil, shop.spirit))
    with shop.database.writing() as session:
        asked = RecipeAsked(once(), name, lines)
        return int(write_recipe(session, shop.actor(Role.FINISHER), shop.now, asked).result["recipe"])


def kept_check_of(shop: RagShop, recipe: int, amount: str = "1 times") -> int:
    """A stock check of a recipe, kept for starting; its number."""
    with shop.database.writing() as session:
        actor = shop.actor(Role.FINISHER)
        mix = check_mix(session, actor, shop.now, MixAsked(recipe, amount))
        return keep_check(session, actor, shop.now, mix).id or 0


def a_batch(shop: RagShop, recipe: int) -> int:
    """A batch of a recipe, started in the shop's job; its number."""
    check = kept_check_of(shop, recipe)
    asked = StartAsked(once=once(), check_id=check, job_id=shop.job)
    with shop.database.writing() as session:
        return int(start(session, shop.actor(Role.FINISHER), shop.now, asked).result["batch"])
