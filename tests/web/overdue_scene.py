"""A shop whose rags are overdue, with everything in it that somebody might want to go on with."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from sqlmodel import col, select

from service.actions.check_mix import MixAsked, check_mix
from service.actions.make_batch import SetAsideAsked, set_aside
from service.core.access import Role
from service.core.containers import ContainerState
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.stock import Container
from tests.rag_shop import (
    ENDS,
    RagShop,
    a_batch,
    a_recipe,
    add_container,
    add_place,
    kept_check_of,
    material_id,
    open_a_job,
)
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client


@dataclass
class Scene:
    """Everything a request may name: an oil, a sealed can of it, a check, a batch set aside, one running."""

    rags: RagShop
    doors: Shop
    sealed: str
    jar: str
    bench: int
    check: int
    fingerprint: str
    aside: int
    batch: int
    material: int

    def fill(self, path: str) -> str:
        """The address of a route on this scene."""
        names = {"code": self.rags.oil, "check_id": self.check, "batch_id": self.batch}
        for name, value in names.items():
            path = path.replace("{" + name + "}", str(value))
        return path


@contextmanager
def overdue_scene(database: Database, folder: Path) -> Iterator[Scene]:
    """The rags of the first job are overdue; a second job runs, in which somebody would like to go on."""
    with rag_client(database, folder) as (rags, doors):
        rags.draw()
        rags.job = open_a_job(rags, "Second job", ends_at=None)
        rags.pass_by(minutes=1)
        recipe = a_recipe(rags)
        batch = a_batch(rags, recipe)
        check = kept_check_of(rags, recipe)
        with database.writing() as session:
            oil = material_id(rags, rags.oil)
            sealed, jar = add_container(session, rags.people, oil), add_container(session, rags.people, oil)
            box = session.exec(select(Container).where(col(Container.code) == sealed)).one()
            box.state, box.ever_opened, box.opened_on = ContainerState.SEALED, False, None
            session.add(box)
            bench = add_place(session, "Bench 1", PlaceKind.BENCH)
            actor = rags.actor(Role.FINISHER)
            asked = SetAsideAsked(once=uuid.uuid4().hex, check_id=check)
            aside = int(set_aside(session, actor, rags.now, asked).result["batch"])
            mix = check_mix(session, actor, rags.now, MixAsked(recipe, "1 times"))
        check = kept_check_of(rags, recipe)
        rags.now = ENDS + timedelta(minutes=30)
        assert rags.load(1).judgement.blocks
        yield Scene(rags, doors, sealed, jar, bench, check, mix.check.fingerprint, aside, batch, oil)
