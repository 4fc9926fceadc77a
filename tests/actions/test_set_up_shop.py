"""What a new shop begins with."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import select

from service.actions.begin_shop import begin_shop
from service.actions.set_up_shop import make_profile
from service.core.materials import MaterialKind
from service.records.ageing_queries import policy_of
from service.records.engine import Database
from service.records.knowledge_policies import known_policies
from service.records.materials import AgeingPolicyRow


def rows_of(database: Database) -> list[AgeingPolicyRow]:
    with database.reading() as session:
        return list(session.exec(select(AgeingPolicyRow).order_by(AgeingPolicyRow.id)))  # type: ignore[arg-type]


def test_a_new_shop_has_every_policy_of_the_table_and_no_other(database: Database, now: datetime) -> None:
    with database.writing() as session:
        make_profile(session, now, "Harbour Lane Finishing", "Europe/Berlin")
    rows = rows_of(database)
    assert [(row.key, row.kind) for row in rows] == [(k.key, k.kind) for k in known_policies()]
    assert [policy_of(row) for row in rows] == [k.policy for k in known_policies()]
    assert [row.note for row in rows] == [k.note for k in known_policies()]
    assert all(row.set_by is None and row.set_at == now and row.material_id is None for row in rows)


def test_beginning_again_adds_nothing_and_keeps_what_a_keeper_set(database: Database, now: datetime) -> None:
    with database.writing() as session:
        make_profile(session, now, "Harbour Lane Finishing", "Europe/Berlin")
        session.add(
            AgeingPolicyRow(kind=MaterialKind.SOLVENT, end="expiry", sealed_months=3, set_at=now)
        )
    with database.writing() as session:
        assert begin_shop(session, now) == 0
        make_profile(session, now, "Another name", "UTC")
    rows = rows_of(database)
    assert len(rows) == len(known_policies()) + 1
    assert rows[-1].sealed_months == 3


def test_only_what_is_missing_is_added(database: Database, now: datetime) -> None:
    with database.writing() as session:
        begin_shop(session, now)
        for row in session.exec(select(AgeingPolicyRow)).all():
            if row.kind is MaterialKind.DRIER:
                session.delete(row)
    with database.writing() as session:
        assert begin_shop(session, now) == 1
