"""A shop that mixes a stain: pigment, oil, spirit, drier and tap water, a recipe of them, for mixing tests.

The proportions are invented; amounts are chosen so that every sum can be done in the head.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from service.actions.check_mix import MixAsked, MixCheck, check_mix, keep_check
from service.actions.make_batch import SetAsideAsked, StartAsked, set_aside, start
from service.actions.read_recipe import LineAsked
from service.actions.settle import Settled
from service.actions.write_recipe import RecipeAsked, write_recipe
from service.core.access import Actor, Role
from service.core.findings import Severity, Verdict
from service.core.materials import Basis, Form, MaterialKind
from service.records.engine import Database
from service.records.materials import Material
from service.records.mixing import Batch
from service.records.mixing_queries import the_batch
from service.records.stock import Container
from tests.builders import NOW, Cast, cast
from tests.store_builders import container, job, material, oil, once, received

UNKNOWN_DATES: dict[str, Any] = {"packed_on": None, "received_on": None, "opened_on": None}
"""Keyword arguments of a can about which nobody knows anything."""
PAST: dict[str, Any] = {"printed_date": date(2026, 1, 31)}


@dataclass
class MixShop:
    """The shop in one database, with the materials by name and one recipe."""

    database: Database
    people: Cast
    now: datetime = field(default=NOW)
    ids: dict[str, int] = field(default_factory=dict)
    recipe: int = 0
    job: int = 0

    def actor(self, role: Role = Role.FINISHER) -> Actor:
        return self.people.actor(role)

    def can(self, name: str, amount: int | None = 1_000_000, **facts: Any) -> str:
        """One more container of a material; open since today if nothing else is said."""
        with self.database.writing() as session:
            stuff = session.get(Material, self.ids[name])
            assert stuff is not None
            return received(session, self.actor(Role.KEEPER), stuff, amount, **facts)

    def write(self, *lines: tuple[str, str], name: str = "Walnut stain", **said: Any) -> int:
        """A recipe of (material, amount) lines; its number."""
        asked = RecipeAsked(once(), name, tuple(LineAsked(self.ids[m], a) for m, a in lines), **said)
        with self.database.writing() as session:
            return int(write_recipe(session, self.actor(), self.now, asked).result["recipe"])

    def look(self, amount: str = "1 times", role: Role = Role.FINISHER, recipe: int = 0) -> MixCheck:
        """Check the stock, and keep nothing."""
        with self.database.reading() as session:
            return check_mix(session, self.actor(role), self.now, MixAsked(recipe or self.recipe, amount))

    def keep(self, amount: str = "1 times", recipe: int = 0) -> int:
        """Check the stock and keep the answer; the number of the kept check."""
        with self.database.writing() as session:
            actor = self.actor()
            mix = check_mix(session, actor, self.now, MixAsked(recipe or self.recipe, amount))
            return keep_check(session, actor, self.now, mix).id or 0

    def start(self, check_id: int | None = None, **said: Any) -> Settled:
        """Start from a kept check in the running job."""
        asked = StartAsked(**({"once": once(), "check_id": check_id, "job_id": self.job} | said))
        with self.database.writing() as session:
            return start(session, self.actor(), self.now, asked)

    def set_aside(self, check_id: int) -> int:
        with self.database.writing() as session:
            asked = SetAsideAsked(once=once(), check_id=check_id)
            return int(set_aside(session, self.actor(), self.now, asked).result["batch"])

    def box(self, code: str) -> Container:
        with self.database.reading() as session:
            return container(session, code)

    def left(self, code: str) -> int | None:
        return self.box(code).balance

    def batch(self, number: int) -> Batch:
        with self.database.reading() as session:
            return the_batch(session, number)


def make_mix_shop(database: Database, people: Cast | None = None) -> MixShop:
    """Raw umber by weight, boiled oil and spirit by volume, a drier for keepers, tap water; a running job."""
    with database.writing() as session:
        people = people or cast(session)
        keeper = people.actor(Role.KEEPER)
        stuff = [
            material(session, "raw umber"),
            oil(session, "boiled oil"),
            material(
                session, "spirit", basis=Basis.VOLUME, form=Form.LIQUID, kind=MaterialKind.SOLVENT,
                density="0.78",
            ),
            oil(session, "drier", kind=MaterialKind.DRIER, keeper_only=True),
            tap_water(session),
        ]  # fmt: skip
        shop = MixShop(database, people, ids={m.name: m.id or 0 for m in stuff})
        shop.job = job(session, keeper).id or 0
    shop.recipe = shop.write(("raw umber", "100 g"), ("boiled oil", "200 ml"), ("spirit", "300 ml"))
    return shop


def tap_water(session: Session) -> Material:
    water = material(
        session, "tap water", basis=Basis.VOLUME, form=Form.LIQUID, kind=MaterialKind.OTHER_CHEMICAL
    )
    water.not_stocked, water.density_g_ml = True, Decimal(1)
    session.add(water)
    session.flush()
    return water


def codes(verdict: Verdict, severity: Severity | None = None) -> set[tuple[str, str]]:
    """(code, about) of the findings, of one severity if asked."""
    return {(f.code, f.about) for f in verdict if severity in (None, f.severity)}
