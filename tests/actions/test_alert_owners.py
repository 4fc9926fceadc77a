"""Who sees to an alert: a person by name and number; who opened a container last, else the keepers."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from sqlmodel import Session, update

from service.actions.arrivals import Origin
from service.actions.container_events import MoveAsked, OpenAsked, move, open_container
from service.actions.list_alerts import list_alerts
from service.core.access import Role
from service.core.alerts import AlertKind
from service.core.containers import Standing
from service.core.findings import stop
from service.records.duties import Duty
from service.records.engine import Database
from service.records.people import Person
from service.records.stock import Container
from service.records.stock_queries import container_by_code
from service.web.act_view import view_for_act
from tests.actions.test_list_alerts import drier, job_and_load, once, people, take_in
from tests.builders import TODAY, Cast

__all__ = ["people"]


def test_who_opened_it_last_sees_to_it_while_they_are_here_and_may(
    database: Database, people: Cast, now: datetime
) -> None:
    finisher, keeper = people.actor(Role.FINISHER), people.actor(Role.KEEPER)

    def owner(session: Session, days: int = 0) -> tuple[str, tuple[int, ...]]:
        (one,) = list_alerts(session, now, days)
        return one.owner, one.people

    with database.writing() as session:
        days: dict[str, Any] = {"packed_on": date(2024, 6, 1), "opened": True, "opened_on": date(2025, 6, 1)}
        stuff = drier(session, now)
        code = take_in(session, people, now, stuff, origin=Origin.STOCK_TAKE, **days)
        assert owner(session) == ("Orla Brandt", (keeper.person_id,)), "who counted the store opened nothing"
        open_container(session, finisher, now, OpenAsked(once=once(), code=code))
        assert owner(session) == ("Piet Maas", (finisher.person_id,))
        open_container(session, keeper, now, OpenAsked(once=once(), code=code))
        assert owner(session) == ("Orla Brandt", (keeper.person_id,)), "the last one"
        open_container(session, finisher, now, OpenAsked(once=once(), code=code))
        piet = session.get(Person, finisher.person_id)
        assert piet is not None
        for changed, back in (
            ({"active": False}, {"active": True}), ({"role": Role.STUDENT}, {"role": Role.FINISHER}),
            ({"expires_on": date(2026, 3, 1)}, {"expires_on": TODAY}),
        ):  # fmt: skip
            for values in (changed, back):
                piet.sqlmodel_update(values)
                session.flush()
                assert owner(session)[0] == ("Piet Maas" if values is back else "Orla Brandt"), values
        session.exec(update(Container).values(standing=Standing.IN_DATE, next_alert_on=date(2026, 3, 20)))
        assert owner(session, 14) == ("Piet Maas", (finisher.person_id,)), "what only changes soon, too"


def test_who_holds_what_was_handed_out_is_told_too(database: Database, people: Cast, now: datetime) -> None:
    keeper, finisher = people.actor(Role.KEEPER), people.actor(Role.FINISHER)
    with database.writing() as session:
        days: dict[str, Any] = {"packed_on": date(2024, 6, 1), "opened": True, "opened_on": date(2025, 6, 1)}
        code = take_in(session, people, now, drier(session, now), origin=Origin.STOCK_TAKE, **days)
        for handed, people_told, words in (
            ("Piet Maas", (finisher.person_id, keeper.person_id), "Piet Maas, Orla Brandt"),
            ("North Quay Waste", (keeper.person_id,), "Orla Brandt"),
        ):
            move(session, keeper, now, MoveAsked(once=once(), code=code, handed_to=handed))
            (one,) = list_alerts(session, now, 0)
            assert (one.people, one.owner) == (people_told, words)
            assert one.what_to_do.endswith(f" Place: handed to {handed}.")
            box = container_by_code(session, code)
            assert view_for_act(session, box, keeper, now).place == f"handed to {handed}"


def test_every_alert_has_persons(database: Database, people: Cast, now: datetime) -> None:
    keepers = (people.keeper.id,)
    silent = stop("no-channel", "No warning can reach anybody.")
    with database.writing() as session:
        stuff = drier(session, now, hazards=None)
        take_in(session, people, now, stuff, packed_on=date(2024, 3, 1))
        job_and_load(session, people, now - timedelta(hours=1), now + timedelta(hours=2))
        said = {"kind": "count-container", "sentence": "Count it.", "created_at": now}
        session.add(Duty(owed_by=people.finisher.id or 0, due_at=now, **said))
        session.flush()
        found = list_alerts(session, now, reach=[silent])
    owners = {one.kind: one.people for one in found if not one.ref.startswith("rag-load")}
    assert owners == {
        AlertKind.PAST: keepers, AlertKind.MISSING_FACT: keepers, AlertKind.CHANNEL: keepers,
        AlertKind.DUTY: (people.finisher.id,),
    }  # fmt: skip
    assert [one.people for one in found if one.ref == "rag-load 1"] == [(people.finisher.id,)]
    assert all(one.owner and one.what_to_do for one in found)
