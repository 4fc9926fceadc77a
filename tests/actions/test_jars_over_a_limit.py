"""A batch whose jars would stand over a storage limit: refused before; recorded after, with a duty."""

from __future__ import annotations

import pytest
from sqlmodel import select

from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.core.access import Role
from service.core.findings import Refused
from service.records.duties import Duty
from service.records.engine import Database
from service.records.mixing_queries import jars_of
from service.records.places import PlaceKind
from tests.actions.test_finish_batch import chance, filled
from tests.store_builders import once, place


def test_a_jar_does_not_go_where_too_much_stands(database: Database) -> None:
    shop, batch = filled(database)
    with database.writing() as session:
        room = place(session, "Store room", PlaceKind.ROOM).id
    shop.can("spirit", 113_500_000, place_id=room)
    asked = FinishAsked(once=once(), batch_id=batch, jars=(JarAsked("250 ml", room),), made="250 ml")
    with pytest.raises(Refused) as refused, database.writing() as session:
        finish(session, shop.actor(Role.KEEPER), shop.now, asked, chance)
    said = {one.code: one.sentence for one in refused.value.verdict}
    assert {"over-the-limit", "flash-not-known", "room-elsewhere"} <= said.keys()
    with database.reading() as session:
        assert not jars_of(session, batch)
    late = FinishAsked(
        once=once(), batch_id=batch, jars=asked.jars, made="250 ml", already_done=True,
        late_reason="It was filled before anybody looked",
    )  # fmt: skip
    with database.writing() as session:
        finish(session, shop.actor(Role.KEEPER), shop.now, late, chance)
    with database.reading() as session:
        duty = session.exec(select(Duty).where(Duty.kind == "move-container")).one()
        assert "over a storage limit" in duty.sentence and len(jars_of(session, batch)) == 1
