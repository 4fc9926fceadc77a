"""One more addition to a running batch: by code, by material, tap water; judged like any draw."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from service.actions.add_to_batch import AddAsked, add
from service.actions.run_job import JobAsked, open_job
from service.actions.settle import Settled
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.records.engine import Database
from service.records.jobs import JobPerson
from service.records.mixing_queries import additions_of
from tests.mixing_shop import PAST, UNKNOWN_DATES, MixShop, make_mix_shop
from tests.store_builders import holds, once


def running(database: Database) -> tuple[MixShop, int]:
    """A batch of spirit and drier to suit, in the running job with Sanne in it."""
    shop = make_mix_shop(database)
    shop.can("spirit")
    recipe = shop.write(("spirit", "100 ml"), ("drier", "to suit"), name="Glaze")
    done = shop.start(shop.keep(recipe=recipe))
    with database.writing() as session:
        session.add(JobPerson(job_id=shop.job, person_id=shop.people.student.id or 0, added_at=shop.now))
    return shop, int(done.result["batch"])


def put_in(shop: MixShop, batch: int, amount: str, role: Role = Role.FINISHER, **said: Any) -> Settled:
    asked = AddAsked(**({"once": once(), "batch_id": batch, "amount": amount} | said))
    with shop.database.writing() as session:
        return add(session, shop.actor(role), shop.now, asked)


def test_by_a_scanned_code_in_any_letter_case(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("drier")
    done = put_in(shop, batch, "5 ml", code=f"c/{code.lower()}").result
    assert shop.left(code) == 995_000 and done["additions"][0]["rag_load"] is not None
    with database.reading() as session:
        last = additions_of(session, batch)[-1]
    assert (last.material.name, last.row.position, last.row.written) == ("drier", 2, "5 ml")
    holds(database)


def test_by_the_material_in_shelf_order_from_several_cans(database: Database) -> None:
    shop, batch = running(database)
    small = shop.can("boiled oil", 2000, printed_date=shop.now.date() + timedelta(days=200))
    large = shop.can("boiled oil")
    done = put_in(shop, batch, "5 ml", material_id=shop.ids["boiled oil"]).result
    assert [(a["code"], a["amount"]) for a in done["additions"]] == [(small, 2000), (large, 3000)]
    with pytest.raises(Refused) as caught:
        put_in(shop, batch, "2 l", material_id=shop.ids["boiled oil"])
    assert "short" in caught.value.verdict.codes and shop.left(large) == 997_000
    holds(database)


def test_tap_water_goes_in_without_a_movement(database: Database) -> None:
    shop, batch = running(database)
    put_in(shop, batch, "about 200 ml", material_id=shop.ids["tap water"])
    with database.reading() as session:
        last = additions_of(session, batch)[-1]
    assert (last.row.amount, last.movement, last.row.position) == (200_000, None, None)


def test_judged_like_a_draw(database: Database) -> None:
    shop, batch = running(database)
    doubtful, old = shop.can("spirit", **UNKNOWN_DATES), shop.can("spirit", **PAST)
    for code, said in ((doubtful, "look-before-use"), (old, "past")):
        with pytest.raises(Refused) as caught:
            put_in(shop, batch, "5 ml", code=code)
        assert said in caught.value.verdict.codes
    put_in(shop, batch, "5 ml", code=doubtful, looked=True)
    with pytest.raises(Refused) as caught:
        put_in(shop, batch, "2 l", code=doubtful, looked=True)
    assert "not-enough" in caught.value.verdict.codes
    put_in(shop, batch, "2 l", code=doubtful, looked=True, more_than_book=True)
    assert shop.left(doubtful) == 0


def test_what_has_happened_is_recorded_with_a_violation(database: Database) -> None:
    shop, batch = running(database)
    old = shop.can("spirit", **PAST)
    done = put_in(shop, batch, "5 ml", code=old, already_done=True, late_reason="Nobody looked at it.").result
    assert "past" in {f["code"] for f in done["findings"]} and shop.left(old) == 995_000


def test_a_student_adds_in_their_job_and_no_keeper_only_material(database: Database) -> None:
    shop, batch = running(database)
    oil, drier = shop.can("boiled oil"), shop.can("drier")
    put_in(shop, batch, "5 ml", Role.STUDENT, code=oil)
    put_in(shop, batch, "5 ml", Role.STUDENT, material_id=shop.ids["tap water"])
    for said in ({"code": drier}, {"material_id": shop.ids["drier"]}):
        with pytest.raises(Refused) as caught:
            put_in(shop, batch, "5 ml", Role.STUDENT, **said)
        assert "keeper-only" in caught.value.verdict.codes
    with database.writing() as session:
        row = session.get(JobPerson, (shop.job, shop.people.student.id))
        session.delete(row)
    for said in ({"code": oil}, {"material_id": shop.ids["tap water"]}):
        with pytest.raises(NotAllowed):
            put_in(shop, batch, "5 ml", Role.STUDENT, **said)
    with pytest.raises(NotAllowed):
        put_in(shop, batch, "5 ml", Role.READER, code=oil)


def test_overdue_rags_stop_it(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil")
    with database.writing() as session:
        short = JobAsked(once(), "Short", ends_at=shop.now + timedelta(hours=1))
        other = int(open_job(session, shop.actor(), shop.now, short).result["job"])
    put_in(shop, batch, "5 ml", code=code, job_id=other)
    shop.now += timedelta(hours=2)
    for said in ({"code": code}, {"material_id": shop.ids["boiled oil"]}):
        with pytest.raises(Refused) as caught:
            put_in(shop, batch, "5 ml", **said)
        assert "rags-overdue" in caught.value.verdict.codes
    assert shop.left(code) == 995_000


@pytest.mark.parametrize(
    ("amount", "said", "field"),
    [
        ("5 ml", {}, "code"),
        ("0 ml", {"material_id": "tap water"}, "amount"),
        ("nonsense", {"material_id": "tap water"}, "amount"),
        ("5 ml", {"code": True, "material_id": "spirit"}, "code"),
    ],
)
def test_what_cannot_be_added_names_its_field(
    database: Database, amount: str, said: dict[str, Any], field: str
) -> None:
    shop, batch = running(database)
    if "material_id" in said:
        said = said | {"material_id": shop.ids[said["material_id"]]}
    if "code" in said:
        said = said | {"code": shop.can("boiled oil")}
    with pytest.raises(Invalid) as caught:
        put_in(shop, batch, amount, **said)
    assert set(caught.value.errors) == {field}


def test_no_such_batch_code_or_running_batch(database: Database) -> None:
    shop, batch = running(database)
    with pytest.raises(NotFound):
        put_in(shop, 999, "5 ml", material_id=shop.ids["tap water"])
    with pytest.raises(NotFound):
        put_in(shop, batch, "5 ml", code="222222")
    aside = shop.set_aside(shop.keep(recipe=shop.write(("spirit", "1 ml"), name="Later")))
    with pytest.raises(Stale, match="set aside"):
        put_in(shop, aside, "5 ml", material_id=shop.ids["tap water"])
