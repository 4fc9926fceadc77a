"""The ways to add to a batch, what nobody measured, taking back, and what an addition changed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import Session

from service.actions.add_to_batch import AddAsked, add, last_pot
from service.actions.addition_amounts import owing_a_count, span_of
from service.actions.count_stock import CountAsked, count
from service.actions.draw_stock import DrawAsked, draw
from service.actions.finish_batch import balance_of
from service.actions.mix_of_materials import judge_lines, lines_of_batch
from service.actions.settle import Settled
from service.actions.undo_addition import UndoAsked, undo_addition
from service.core.access import Role
from service.core.additions import HowAdded, Span, WasIn
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.core.hazards.regimes import Regime
from service.records.engine import Database
from service.records.jobs import JobPerson
from service.records.materials import Material
from service.records.mixing_queries import Added, additions_of, the_batch
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import holds, once

TODAY_LAW = Regime.UN_GHS


def running(database: Database) -> tuple[MixShop, int]:
    """A batch of 100 ml spirit, in the running job with Sanne in it."""
    shop = make_mix_shop(database)
    shop.can("spirit")
    done = shop.start(shop.keep(recipe=shop.write(("spirit", "100 ml"), ("drier", "to suit"), name="Glaze")))
    with database.writing() as session:
        session.add(JobPerson(job_id=shop.job, person_id=shop.people.student.id or 0, added_at=shop.now))
    return shop, int(done.result["batch"])


def put_in(shop: MixShop, batch: int, role: Role = Role.FINISHER, **said: Any) -> Settled:
    asked = AddAsked(**({"once": once(), "batch_id": batch} | said))
    with shop.database.writing() as session:
        return add(session, shop.actor(role), shop.now, asked)


def take_back(shop: MixShop, batch: int, addition: int, role: Role = Role.FINISHER) -> Settled:
    asked = UndoAsked(once(), batch, addition, "wrong can", WasIn.NEVER)
    with shop.database.writing() as session:
        return undo_addition(session, shop.actor(role), shop.now, asked)


def newest(session: Session, batch: int) -> Added:
    return additions_of(session, batch)[-1]


def test_all_of_a_container_is_its_whole_balance(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil", 123_456)
    done = put_in(shop, batch, code=code, how=HowAdded.CONTAINER).result
    assert done["additions"][0]["amount"] == 123_456 and shop.left(code) == 0
    assert shop.box(code).state.value == "empty"
    with pytest.raises(Invalid) as caught:
        put_in(shop, batch, code=code, how=HowAdded.CONTAINER)
    assert "nothing is left" in caught.value.errors["how"]
    holds(database)


def test_all_of_what_nobody_knows_is_refused_with_the_way_out(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil", None)
    with pytest.raises(Invalid) as caught:
        put_in(shop, batch, code=code, how=HowAdded.CONTAINER)
    assert "not measured" in caught.value.errors["how"]
    with pytest.raises(Invalid) as caught:
        put_in(shop, batch, material_id=shop.ids["boiled oil"], how=HowAdded.CONTAINER)
    assert set(caught.value.errors) == {"code"}


def test_the_pot_on_the_scale(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("raw umber")
    done = put_in(shop, batch, code=code, how=HowAdded.POT, before="412,5", after="430").result
    assert done["additions"][0]["amount"] == 17_500 and shop.left(code) == 982_500
    with database.reading() as session:
        row = newest(session, batch).row
        assert (row.how, row.pot_before_mg, row.pot_after_mg) == ("pot", 412_500, 430_000)
        assert last_pot(session, batch) == 430_000
    for before, after, field in (("430", "425", "after"), ("430", "430", "after"), ("", "430", "before")):
        with pytest.raises(Invalid) as caught:
            put_in(shop, batch, code=code, how=HowAdded.POT, before=before, after=after)
        assert field in caught.value.errors
    with pytest.raises(Invalid, match="5 g less after than before"):
        put_in(shop, batch, code=code, how=HowAdded.POT, before="430", after="425")
    assert shop.left(code) == 982_500


def test_a_pot_that_changed_between_is_said(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("raw umber")
    put_in(shop, batch, code=code, how=HowAdded.POT, before="400", after="410")
    done = put_in(shop, batch, code=code, how=HowAdded.POT, before="430", after="440").result
    said = [f["sentence"] for f in done["findings"] if f["code"] == "pot-changed"]
    assert said and "20 g more" in said[0]
    done = put_in(shop, batch, code=code, how=HowAdded.POT, before="440", after="450").result
    assert "pot-changed" not in {f["code"] for f in done["findings"]}
    put_in(shop, batch, code=code, amount="5 g")
    with database.reading() as session:
        assert last_pot(session, batch) is None, "something went in since that was not weighed in the pot"


def test_the_pot_by_volume_needs_a_density(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit")
    done = put_in(shop, batch, code=code, how=HowAdded.POT, before="0.4 kg", after="478 g").result
    assert done["additions"][0]["amount"] == 100_000, "78 g at 0.78 g/ml"
    with database.writing() as session:
        oil = session.get_one(Material, shop.ids["boiled oil"])
        oil.density_g_ml = None
        session.add(oil)
    with pytest.raises(Invalid, match="density"):
        put_in(shop, batch, code=shop.can("boiled oil"), how=HowAdded.POT, before="400", after="410")


def test_not_measured_owes_a_count_that_settles_it(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil", 900_000)
    done = put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED).result
    assert "owes-a-count" in {f["code"] for f in done["findings"]}
    with database.reading() as session:
        one = newest(session, batch)
        assert (one.row.amount, one.row.at_most, shop.left(code)) == (None, 900_000, None)
        assert [o.row.id for o in owing_a_count(session, additions_of(session, batch))] == [one.row.id]
        assert span_of(session, one) == Span(0, 900_000)
        assert balance_of(session, the_batch(session, batch)).difference is None
    with database.writing() as session:
        count(session, shop.actor(), shop.now, CountAsked(once=once(), code=code, amount="650 ml"))
    with database.reading() as session:
        one = newest(session, batch)
        assert owing_a_count(session, additions_of(session, batch)) == []
        assert span_of(session, one) == Span(250_000, 250_000, by_count=True)
        assert "250 ml boiled oil" in balance_of(session, the_batch(session, batch)).went_in
    holds(database)


def test_what_was_in_it_is_not_known_then_nor_the_most(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil", None)
    put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED)
    with database.reading() as session:
        assert span_of(session, newest(session, batch)) == Span(0, None)
        judged, shares = judge_lines(session, lines_of_batch(session, batch), TODAY_LAW, shop.now.date())
    assert [(p.low, p.high) for p in shares.parts][1] == (0, 100) and not judged.verdict.complete


def test_undoing_an_earlier_draw_raises_the_most(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit", 500_000)
    first = put_in(shop, batch, code=code, amount="300 ml").result["additions"][0]["id"]
    put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED)
    with database.reading() as session:
        assert span_of(session, newest(session, batch)) == Span(0, 200_000)
    take_back(shop, batch, first)
    with database.reading() as session:
        assert span_of(session, newest(session, batch)) == Span(0, 500_000)


def test_a_count_above_the_book_shows_that_nobody_knows_the_most(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit", 500_000)
    put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED)
    asked = CountAsked(once=once(), code=code, amount="600 ml")
    with pytest.raises(Refused) as caught, database.writing() as session:
        count(session, shop.actor(), shop.now, asked)
    assert "more-than-there" in caught.value.verdict.codes and shop.left(code) is None
    assert "At most 500 ml can be in it" in next(iter(caught.value.verdict)).sentence
    with database.writing() as session:
        count(session, shop.actor(), shop.now, replace(asked, more_than_book=True))
    with database.reading() as session:
        assert span_of(session, newest(session, batch)) == Span(0, None)


def test_written_late_from_before_a_count_nobody_knows_the_most(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit", 500_000)
    shop.now += timedelta(hours=1)
    with database.writing() as session:
        count(session, shop.actor(), shop.now, CountAsked(once=once(), code=code, amount="400 ml"))
    shop.now += timedelta(minutes=20)
    late = {"happened_at": shop.now - timedelta(hours=1), "late_reason": "Hands were full."}
    put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED, already_done=True, **late)
    with database.reading() as session:
        assert span_of(session, newest(session, batch)) == Span(0, None)
        assert shop.left(code) == 400_000, "the count made since still stands"


def test_between_two_not_measured_a_count_settles_neither(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit", 500_000)
    put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED)
    put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED)
    with database.writing() as session:
        count(session, shop.actor(), shop.now, CountAsked(once=once(), code=code, amount="100 ml"))
    with database.reading() as session:
        spans = [span_of(session, one) for one in additions_of(session, batch)[-2:]]
    assert spans == [Span(0, 500_000), Span(0, None)]


def test_a_known_draw_between_is_reckoned_with(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit", 500_000)
    put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED)
    with database.writing() as session:
        asked = DrawAsked(once=once(), code=code, amount="150 ml", job_id=shop.job)
        draw(session, shop.actor(), shop.now, asked)
        count(session, shop.actor(), shop.now, CountAsked(once=once(), code=code, amount="100 ml"))
    with database.reading() as session:
        assert span_of(session, newest(session, batch)) == Span(250_000, 250_000, by_count=True)


def test_not_measured_needs_its_container_or_the_tap(database: Database) -> None:
    shop, batch = running(database)
    with pytest.raises(Invalid) as caught:
        put_in(shop, batch, material_id=shop.ids["boiled oil"], how=HowAdded.NOT_MEASURED)
    assert set(caught.value.errors) == {"code"}
    done = put_in(shop, batch, material_id=shop.ids["tap water"], how=HowAdded.NOT_MEASURED).result
    assert done["additions"][0]["amount"] is None and done["additions"][0]["movement"] is None
    with pytest.raises(Invalid):
        put_in(shop, batch, code=shop.can("spirit"), how=HowAdded.TAKEN_BACK)


def test_undo_puts_the_amount_back_and_keeps_the_rag_load(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil")
    added = put_in(shop, batch, code=code, amount="50 ml").result["additions"][0]
    done = take_back(shop, batch, added["id"]).result
    assert shop.left(code) == 1_000_000 and len(done["reversals"]) == 1
    assert "load-stays" in {f["code"] for f in done["findings"]}
    with database.reading() as session:
        assert newest(session, batch).reversed
        assert "boiled oil" not in {line.material.name for line in lines_of_batch(session, batch)}
    with pytest.raises(Refused) as caught:
        take_back(shop, batch, added["id"])
    assert "reversed-already" in caught.value.verdict.codes
    holds(database)


def test_undo_of_what_was_not_measured_knows_the_balance_again(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil", 700_000)
    added = put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED).result["additions"][0]
    take_back(shop, batch, added["id"])
    assert shop.left(code) == 700_000
    with database.reading() as session:
        assert owing_a_count(session, additions_of(session, batch)) == []
    holds(database)


def test_tap_water_is_taken_back_by_a_row_of_its_own(database: Database) -> None:
    shop, batch = running(database)
    first, second = (
        put_in(shop, batch, material_id=shop.ids["tap water"], amount="200 ml").result["additions"][0]["id"]
        for _ in range(2)
    )
    take_back(shop, batch, first)
    with database.reading() as session:
        water = [(one.row.id, one.reversed) for one in additions_of(session, batch) if one.movement is None]
        line = next(one for one in lines_of_batch(session, batch) if one.material.not_stocked)
    assert water == [(first, True), (second, False)] and line.high == 200_000
    with pytest.raises(Refused):
        take_back(shop, batch, first)


def test_what_went_in_is_not_taken_back_and_counts_on(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil")
    added = put_in(shop, batch, code=code, amount="50 ml").result["additions"][0]["id"]

    def undo(was_in: WasIn | None) -> None:
        with database.writing() as session:
            asked = UndoAsked(once(), batch, added, "spilt over", was_in)
            undo_addition(session, shop.actor(Role.KEEPER), shop.now, asked)

    with pytest.raises(Invalid) as nothing_said:
        undo(None)
    assert set(nothing_said.value.errors) == {"was_in"}
    with pytest.raises(Refused) as caught:
        undo(WasIn.WENT_IN)
    assert caught.value.verdict.codes == {"went-in"} and shop.left(code) == 950_000
    with database.reading() as session:
        assert "boiled oil" in {line.material.name for line in lines_of_batch(session, batch)}
        assert not newest(session, batch).reversed
    undo(WasIn.NEVER)
    assert shop.left(code) == 1_000_000


def test_who_may_take_back_what(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit")
    mine = put_in(shop, batch, Role.STUDENT, code=code, amount="5 ml").result["additions"][0]["id"]
    water = put_in(shop, batch, Role.STUDENT, material_id=shop.ids["tap water"], amount="5 ml").result
    theirs = put_in(shop, batch, code=code, amount="5 ml").result["additions"][0]["id"]
    for number in (theirs, mine):
        role = Role.STUDENT if number == theirs else Role.FINISHER
        with pytest.raises(Refused) as caught:
            take_back(shop, batch, number, role)
        assert "reverse-not-own" in caught.value.verdict.codes
    shop.now += timedelta(minutes=3)
    for number in (mine, water["additions"][0]["id"]):
        with pytest.raises(Refused) as caught:
            take_back(shop, batch, number, Role.STUDENT)
        assert "reverse-too-late" in caught.value.verdict.codes
    shop.now += timedelta(days=1)
    with pytest.raises(Refused):
        take_back(shop, batch, theirs)
    for number in (theirs, mine, water["additions"][0]["id"]):
        take_back(shop, batch, number, Role.KEEPER)
    assert shop.left(code) == 1_000_000
    with pytest.raises(NotAllowed):
        take_back(shop, batch, theirs, Role.READER)


def test_no_undo_of_another_batch_or_after_its_end(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit")
    added = put_in(shop, batch, code=code, amount="5 ml").result["additions"][0]["id"]
    other = int(shop.start(shop.keep(recipe=shop.write(("spirit", "1 ml"), name="Other"))).result["batch"])
    with pytest.raises(NotFound):
        take_back(shop, other, added)
    aside = shop.set_aside(shop.keep(recipe=shop.write(("spirit", "1 ml"), name="Later")))
    with pytest.raises(Stale):
        take_back(shop, aside, added)


def test_sent_twice_it_goes_in_once(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("spirit", 500_000)
    said: dict[str, Any] = {"once": "all-of-it-1", "code": code, "how": HowAdded.CONTAINER}
    first, again = put_in(shop, batch, **said), put_in(shop, batch, **said)
    assert again.repeated and again.result == first.result
    with pytest.raises(Stale):
        put_in(shop, batch, **(said | {"how": HowAdded.NOT_MEASURED}))
