"""Drums of waste in the book: begun, filled from the ledger and by hand, moved, handed over, taken back."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import col, select

from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.fill_drum import (
    SortAsked,
    put_discards_in,
)
from service.actions.look_at_waste import look_at_waste
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, lose
from service.core.access import Role
from service.core.bench_writing import Ambiguous
from service.core.findings import Invalid, NotAllowed, Refused
from service.core.ledger import Destination
from service.core.materials import Unknown
from service.core.waste_drums import Area, DrumStep, Held
from service.core.waste_rules import Category, Kind
from service.records.engine import Database
from service.records.waste_drums import WasteDrumEntry
from tests.builders import NOW, TODAY, cast
from tests.store_builders import once
from tests.waste_yard import Yard

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def yard(database: Database) -> Yard:
    with database.writing() as session:
        return Yard(database, cast(session))


def test_a_drum_keeps_its_codes_with_citation_and_grade(yard: Yard) -> None:
    done = yard.begin(
        liquid=Unknown.YES, flash=Decimal("99.9"), flash_unit="F", spent=Unknown.YES, codes="d008, 08 01 11*",
        codes_reason="From the analysis of the carrier in May",
    )  # fmt: skip
    codes = {one["code"]: one for one in done["codes"]}
    assert codes["D001"]["applies"] is True and codes["D001"]["grade"] == "memory"
    assert codes["D001"]["citation"] == "40 CFR 261.21(a)(1)"
    assert codes["D008"]["grade"] == "written by a keeper"
    assert codes["D008"]["citation"] == "40 CFR 261.24, Table 1 (read)"
    assert codes["08 01 11*"]["citation"] == "List of Waste, 2000/532/EC (memory)"
    nothing_told = yard.begin(name="Drum 2")
    unsure = {one["code"]: one["applies"] for one in nothing_told["codes"]}
    assert unsure["D001"] is None, "not known is never no code"
    assert "waste-not-judged" in {one["code"] for one in nothing_told["findings"]}


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"codes": "D1", "codes_reason": "From the analysis of the carrier"}, "codes"),
        ({"codes": "D001", "codes_reason": "yes"}, "codes_reason"),
        ({"capacity": "55 kg"}, "capacity"),
        ({"capacity": "some"}, "capacity"),
        ({"place_id": 99_999}, "place"),
        ({"name": "  "}, "name"),
        ({"hazards": " "}, "hazards"),
        ({"first_waste_on": TODAY + timedelta(days=1)}, "first_waste_on"),
        ({"first_waste_on": TODAY, "holds": "three handfuls"}, "holds"),
        ({"holds": "40 kg"}, "first_waste_on"),
    ],
)
def test_what_cannot_be_used_is_told_at_its_field(yard: Yard, said: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as told:
        yard.begin(**said)
    assert list(told.value.errors) == [field]
    assert yard.record().drums == []


def test_two_gallons_are_asked_about(yard: Yard) -> None:
    with pytest.raises(Ambiguous) as told:
        yard.begin(capacity="55 gal")
    assert list(told.value.errors) == ["capacity"]


def test_who_may_what(yard: Yard) -> None:
    for role in (Role.FINISHER, Role.STUDENT, Role.READER):
        with pytest.raises(NotAllowed):
            yard.begin(role)
    drum = yard.begin(area=Area.SATELLITE)["drum"]
    for role in (Role.STUDENT, Role.READER):
        with pytest.raises(NotAllowed):
            yard.step(drum, DrumStep.PUT_IN, role, what="Rinsings")
    entry = yard.step(drum, DrumStep.PUT_IN, Role.FINISHER, what="Rinsings")["entry"]
    yard.step(drum, DrumStep.OVER, Role.FINISHER)
    for step in (DrumStep.MOVED, DrumStep.WEIGHED, DrumStep.CLOSED, DrumStep.HANDED_OVER):
        with pytest.raises(NotAllowed):
            yard.step(drum, step, Role.FINISHER)
    moved = yard.step(drum, DrumStep.MOVED)["entry"]
    with pytest.raises(NotAllowed):
        yard.back(moved, Role.FINISHER)
    yard.back(entry, Role.FINISHER)


def test_discards_and_losses_feed_the_drum_they_name(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    code = yard.stuff(10_000)
    movement = yard.throw(code, amount="4 g", drum_id=drum)
    with yard.database.writing() as session:
        spilled = LossAsked(once=once(), code=code, amount="1 g", loss=LossKind.SPILLED, drum_id=drum)
        lose(session, yard.people.actor(Role.FINISHER), NOW, spilled)
    assert yard.held(drum) == (Held(5_000), Held(0, True)), "without a density no volume is known"
    yard.throw(yard.stuff(None), drum_id=drum)
    assert yard.held(drum)[0] == Held(5_000, True), "all of an unknown amount is not nothing"
    with yard.database.writing() as session:
        asked = ReverseAsked(once(), movement, "wrong container")
        reverse(session, yard.people.actor(Role.KEEPER), NOW, asked)
    assert yard.held(drum)[0] == Held(1_000, True), "what was taken back is not in it"
    with yard.database.reading() as session:
        [(month, lines)] = look_at_waste(session, BERLIN).months
    assert [line.kg for line in lines] == [Fraction(1, 1000), None], "counted once, by its movement"
    assert month.month.of(Kind.WASTE).more
    assert yard.record().in_no_drum == []


def test_a_discard_that_names_a_drum_goes_into_the_waste(yard: Yard) -> None:
    drum, code = yard.begin()["drum"], yard.stuff()
    for said, field in (
        ({"destination": Destination.HAULER, "drum_id": drum}, "drum"), ({"drum_id": 999}, "drum")
    ):
        with pytest.raises(Invalid) as told:
            yard.throw(code, amount="1 g", **said)
        assert list(told.value.errors) == [field]
    yard.leave(drum)
    with pytest.raises(Refused) as refused:
        yard.throw(code, amount="1 g", drum_id=drum)
    assert refused.value.verdict.codes == {"drum-gone"}
    with yard.database.reading() as session:
        lines = [line for _, many in look_at_waste(session, BERLIN).months for line in many]
        assert [line.what for line in lines] == ["content not known"], "what was refused is not half written"


def test_a_discard_in_no_drum_is_said_and_can_be_put_into_one(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    movement = yard.throw(yard.stuff(), amount="1 g")
    hauler = yard.throw(yard.stuff(), destination=Destination.HAULER, amount="1 g")
    found = yard.record()
    assert [one.movement_id for one in found.in_no_drum] == [movement]
    assert found.site is not None and found.site.more, "it stands somewhere here"
    with yard.database.writing() as session:
        keeper = yard.people.actor(Role.KEEPER)
        with pytest.raises(Invalid):
            put_discards_in(session, keeper, NOW, SortAsked(once(), drum, (movement, hauler)))
        done = put_discards_in(session, keeper, NOW, SortAsked(once(), drum, (movement,)))
        assert done.result["put_in"] == 1
    assert yard.held(drum)[0] == Held(1_000)
    found = yard.record()
    assert found.in_no_drum == [] and found.site is not None and not found.site.more
    with yard.database.writing() as session, pytest.raises(Invalid):
        put_discards_in(session, yard.people.actor(Role.KEEPER), NOW, SortAsked(once(), drum, (movement,)))


def test_a_discard_goes_into_a_drum_that_left_later_and_into_none_that_left_before(yard: Yard) -> None:
    early, late = yard.begin(name="A")["drum"], yard.begin(name="B")["drum"]
    yard.leave(early, now=NOW - timedelta(hours=1))
    movement = yard.throw(yard.stuff(), amount="1 g")
    yard.leave(late, now=NOW + timedelta(hours=1))
    with yard.database.writing() as session:
        keeper, at = yard.people.actor(Role.KEEPER), NOW + timedelta(hours=2)
        with pytest.raises(Refused, match="handed over"):
            put_discards_in(session, keeper, at, SortAsked(once(), early, (movement,)))
    with yard.database.writing() as session:
        put_discards_in(session, keeper, at, SortAsked(once(), late, (movement,)))
    assert yard.held(late)[0] == Held(1_000) and yard.record().in_no_drum == []


def test_what_is_put_in_by_hand_counts_in_its_month(yard: Yard) -> None:
    yard.site(Category.VSQG)
    drum = yard.begin(first_waste_on=date(2026, 2, 3), holds="999.5 kg")["drum"]
    assert yard.record().drums[0].judged.started == date(2026, 2, 3)
    yard.step(drum, DrumStep.PUT_IN, what="Rinsings", amount="0.5 kg", now=NOW)
    names = {month.month.name: month.at_least for month, _ in yard.record().months}
    assert names == {"2026-02": Category.SQG, "2026-03": Category.VSQG}
    found = yard.record()
    assert found.site is not None and found.site.category is Category.SQG, "heavier than what was told"
    assert found.drums[0].judged.deadline == date(2026, 8, 2)
    yard.step(drum, DrumStep.PUT_IN, what="More")
    assert {m.month.name: m.month.of(Kind.WASTE).more for m, _ in yard.record().months}["2026-03"]


def test_a_hand_over_ends_the_drum_until_it_is_taken_back(yard: Yard) -> None:
    drum = yard.begin(first_waste_on=TODAY)["drum"]
    for wrong, field in (
        ({"receiver": " "}, "receiver"), ({"transporter": ""}, "transporter"), ({"amount": "5 l"}, "amount")
    ):
        with pytest.raises(Invalid) as told:
            yard.leave(drum, **wrong)
        assert list(told.value.errors) == [field]
    left = yard.leave(drum, amount="180 kg")["entry"]
    found = yard.record()
    assert found.drums == [] and [one.entry.mg for one in found.handed_over] == [180_000_000]
    for step in (DrumStep.PUT_IN, DrumStep.WEIGHED, DrumStep.CLOSED, DrumStep.HANDED_OVER):
        with pytest.raises(Refused) as refused:
            yard.step(drum, step, what="x", amount="1 kg", receiver="a", transporter="b")
        assert refused.value.verdict.codes == {"drum-gone"}
    yard.begin()  # its name is free again
    yard.back(left)
    assert len(yard.record().drums) == 2 and yard.record().handed_over == []
    with pytest.raises(Refused) as refused:
        yard.back(left)
    assert refused.value.verdict.codes == {"taken-back-already"}
    with yard.database.reading() as session:
        steps = session.exec(select(WasteDrumEntry.step).order_by(col(WasteDrumEntry.id))).all()
    assert steps == [DrumStep.PUT_IN, DrumStep.HANDED_OVER, DrumStep.TAKEN_BACK]


def test_what_makes_no_sense_is_refused(yard: Yard) -> None:
    central = yard.begin()["drum"]
    with pytest.raises(Refused, match="stands already"):
        yard.begin(name="DRUM 1")
    for step in (DrumStep.MOVED, DrumStep.OVER):
        with pytest.raises(Refused, match="central area already"):
            yard.step(central, step)
    with pytest.raises(Invalid):
        yard.step(central, DrumStep.WEIGHED)
    with pytest.raises(Invalid) as told:
        yard.step(central, DrumStep.PUT_IN)
    assert list(told.value.errors) == ["what"]
    with pytest.raises(Invalid) as told:
        yard.step(central, DrumStep.PUT_IN, load_id=77)
    assert list(told.value.errors) == ["load"]
    yard.step(central, DrumStep.CLOSED)
    for step in (DrumStep.PUT_IN, DrumStep.CLOSED):
        with pytest.raises(Refused, match="closed"):
            yard.step(central, step, what="x")
    early = {"happened_at": NOW - timedelta(days=3), "late_reason": "Found on a note in the yard"}
    with pytest.raises(Refused, match="not begun"):
        yard.step(yard.begin(name="B")["drum"], DrumStep.PUT_IN, what="x", **early)


def test_a_late_put_in_before_the_hand_over_is_taken_and_one_after_it_is_not(yard: Yard) -> None:
    drum = yard.begin(now=NOW - timedelta(days=5))["drum"]
    yard.leave(drum)
    late = {"late_reason": "Found on a note in the yard", "now": NOW + timedelta(hours=2)}
    yard.step(drum, DrumStep.PUT_IN, what="x", happened_at=NOW - timedelta(days=1), **late)
    with pytest.raises(Refused, match="handed over"):
        yard.step(drum, DrumStep.PUT_IN, what="x", happened_at=NOW + timedelta(hours=1), **late)


def test_an_act_that_names_no_drum_keeps_the_hash_it_had(yard: Yard) -> None:
    plain = DiscardAsked(once="a", code="b", destination=Destination.HAULER)
    assert "drum_id" not in plain.body() and "drum_id" not in LossAsked(once="a", code="b").body()
    named = DiscardAsked(once="a", code="b", destination=Destination.WASTE_DRUM, drum_id=3)
    assert named.body()["drum_id"] == 3
