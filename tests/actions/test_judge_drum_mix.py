"""What may never be together in one drum of waste: by discards, by words, answered, recorded, not judged."""

from __future__ import annotations

from typing import Any

import pytest

from service.actions.fill_drum import SortAsked, put_discards_in
from service.actions.judge_drum_mix import STANDS
from service.actions.lose_stock import LossAsked, LossKind, lose
from service.core.access import Role
from service.core.findings import Invalid, Refused, Severity
from service.core.materials import Form, MaterialKind
from service.core.waste_drums import DrumStep
from service.records.engine import Database
from service.web.drum_table import drum_rows
from tests.builders import NOW, cast
from tests.store_builders import material, once, received
from tests.waste_yard import Yard

CHEMICAL = {"kind": MaterialKind.OTHER_CHEMICAL, "form": Form.LIQUID}
SOLVENT = {"kind": MaterialKind.SOLVENT, "form": Form.LIQUID, "hazards": ["Flam. Liq. 2 H225"]}


@pytest.fixture
def yard(database: Database) -> Yard:
    with database.writing() as session:
        return Yard(database, cast(session))


def stuff(yard: Yard, name: str, **facts: Any) -> str:
    """A container with 2 g of something with these facts."""
    with yard.database.writing() as session:
        row = material(session, name)
        for field, value in facts.items():
            setattr(row, field, value)
        session.add(row)
        return received(session, yard.people.actor(Role.KEEPER), row, 2_000)


def codes(done: dict[str, Any]) -> set[str]:
    return {one["code"] for one in done["findings"]}


def stops(yard: Yard) -> set[str]:
    [shown] = yard.record().drums
    return {f.code for f in shown.judged.findings if f.severity is Severity.STOP}


@pytest.mark.parametrize(
    ("name", "hazards", "why"),
    [
        ("Wood bleach", ["Ox. Liq. 2 H272"], {"never-oxidiser-organic"}),
        ("Etching acid", ["Skin Corr. 1A H314", "Ox. Liq. 2 H272"], {"never-oxidiser-organic"}),
        ("Harsh stripper", ["Skin Corr. 1B H314"], {"waste-drum-kept-apart"}),
        ("Grey powder", ["Water-react. 1 H260"], {"never-water-reactive-organic"}),
        ("Setter", ["Org. Perox. D H242"], {"never-organic-peroxide-organic-shut-in"}),
    ],
)
def test_a_discard_that_may_not_meet_what_is_in_the_drum_is_stopped(
    yard: Yard, name: str, hazards: list[str], why: set[str]
) -> None:
    drum = yard.begin()["drum"]
    yard.throw(stuff(yard, "Thinner", **SOLVENT), amount="1 g", drum_id=drum)
    code = stuff(yard, name, hazards=hazards, **CHEMICAL)
    with pytest.raises(Refused) as refused:
        yard.throw(code, amount="1 g", drum_id=drum)
    assert why <= {f.code for f in refused.value.verdict if f.severity is Severity.STOP}
    assert len(yard.record().drums[0].seen.entries) == 1 and not stops(yard), "nothing was booked"
    yard.throw(code, amount="1 g", drum_id=yard.begin(name="Its own", stream="Of its own kind")["drum"])


def test_what_is_put_in_by_words_is_read_as_far_as_it_can_be(yard: Yard) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Chlorine bleach, sodium hypochlorite")
    for what in ("Oxalic acid from the sink", "Rinsings with linseed oil", "What the sander left"):
        with pytest.raises(Refused):
            yard.step(drum, DrumStep.PUT_IN, what=what, confirmation="The carrier said that it is allowed")
    assert len(yard.record().drums[0].seen.entries) == 1


def test_rags_meet_no_oxidiser(yard: Yard) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Hydrogen peroxide 35 %")
    with pytest.raises(Refused) as refused:
        yard.step(drum, DrumStep.PUT_IN, what="Oily rags, linseed soaked")
    assert "never-oxidiser-oil" in refused.value.verdict.codes


def test_words_nobody_can_read_are_not_judged_and_that_is_said(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Sludge of the booth")
    yard.throw(stuff(yard, "Thinner", **SOLVENT), amount="1 g", drum_id=drum)
    [shown] = yard.record().drums
    said = [f for f in shown.judged.findings if f.code == "waste-mix-not-judged"]
    assert len(said) == 1 and "“Sludge of the booth”" in said[0].sentence and not stops(yard)


def test_what_was_in_it_already_counts_as_what_it_was_begun_for(yard: Yard) -> None:
    drum = yard.begin(stream="Spent bleach, hypochlorite", first_waste_on=NOW.date())["drum"]
    acid = stuff(yard, "Citric acid", cas="77-92-9", **CHEMICAL)
    with pytest.raises(Refused):
        yard.throw(acid, amount="1 g", drum_id=drum)
    other = yard.begin(name="Full", stream="Spent bleach, hypochlorite")["drum"]
    yard.step(other, DrumStep.WEIGHED, amount="3 kg")
    with pytest.raises(Refused):
        yard.throw(acid, amount="1 g", drum_id=other)


def test_a_keepers_sentence_answers_what_may_be_answered_for_these_two_alone(yard: Yard) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.throw(stuff(yard, "Hydrogen peroxide", cas="7722-84-1", **CHEMICAL), amount="1 g", drum_id=drum)

    white, chalk = stuff(yard, "Titanium white"), stuff(yard, "Zinc white")

    def put(code: str, role: Role = Role.KEEPER, words: str = "The sheet of the bleach names it") -> Any:
        return yard.throw(code, role, amount="1 g", drum_id=drum, confirmation=words)

    for role, words, wrong in (
        (Role.KEEPER, "", Refused), (Role.KEEPER, "ok", Invalid), (Role.FINISHER, "It is allowed", Refused)
    ):
        with pytest.raises(wrong):
            put(white, role, words)
    put(white)
    assert "never-confirmed" in {f.code for f in yard.record().drums[0].judged.findings} and not stops(yard)
    put(white, words="")
    with pytest.raises(Refused):
        put(chalk, words="")


def test_what_holds_for_use_at_once_is_never_allowed_in_a_drum(yard: Yard) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Hydrogen peroxide 35 %")
    with pytest.raises(Refused) as refused:
        yard.step(drum, DrumStep.PUT_IN, what="Caustic soda", confirmation="Its sheet says to mix the two")
    assert "never-peroxide-alkali-shut-in" in refused.value.verdict.codes


def test_what_has_happened_is_recorded_and_stands_on_the_drum(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    yard.throw(stuff(yard, "Thinner", **SOLVENT), amount="1 g", drum_id=drum)
    bleach = stuff(yard, "Wood bleach", hazards=["Ox. Liq. 2 H272"], **CHEMICAL)
    yard.throw(
        bleach, amount="1 g", drum_id=drum, already_done=True, late_reason="The student had done it already",
    )  # fmt: skip
    assert "never-oxidiser-organic" in stops(yard)
    with yard.database.writing() as session:
        asked = LossAsked(once=once(), code=bleach, amount="1 mg", loss=LossKind.SPILLED, drum_id=drum)
        lose(session, yard.people.actor(Role.FINISHER), NOW, asked)


def test_sorting_discards_asks_the_same(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    moves = [
        yard.throw(stuff(yard, name, **said), amount="1 g")
        for name, said in (("Thinner", SOLVENT), ("Bleach", CHEMICAL | {"hazards": ["Ox. Liq. 2 H272"]}))
    ]  # fmt: skip
    with pytest.raises(Refused), yard.database.writing() as session:
        put_discards_in(session, yard.people.actor(Role.KEEPER), NOW, SortAsked(once(), drum, tuple(moves)))
    assert len(yard.record().in_no_drum) == 2


def test_water_and_spirits_stop_nothing_in_a_drum(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Water")
    yard.throw(stuff(yard, "Turpentine", cas="8006-64-2", **SOLVENT), amount="1 g", drum_id=drum)
    assert not stops(yard)


def test_a_stop_that_nobody_answered_stops_again(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Acetone")
    nitric = stuff(yard, "Nitric acid 65 %", cas="7697-37-2", **CHEMICAL)
    with yard.database.writing() as session:
        asked = LossAsked(once=once(), code=nitric, amount="1 g", loss=LossKind.SPILLED, drum_id=drum)
        lose(session, yard.people.actor(Role.FINISHER), NOW, asked)
    with pytest.raises(Refused):
        yard.throw(nitric, amount="10 mg", drum_id=drum)
    with pytest.raises(Refused):
        yard.step(drum, DrumStep.PUT_IN, what="Acetone", amount="20 l")


@pytest.mark.parametrize(
    ("first", "then"),
    [("Aluminium powder", "Water"), ("Oily rags", "Prussian blue"), ("Caustic soda", "Water")],
)
def test_no_sentence_opens_what_asks_for_an_open_vessel_or_use_at_once(
    yard: Yard, first: str, then: str
) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.step(drum, DrumStep.PUT_IN, what=first)
    with pytest.raises(Refused) as refused:
        yard.step(drum, DrumStep.PUT_IN, what=then, confirmation="All of it is worked out in one go, now.")
    assert any(code.endswith("-shut-in") for code in refused.value.verdict.codes)


def test_one_thing_alone_is_together_with_nothing(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    assert "waste-mix-not-judged" not in codes(yard.step(drum, DrumStep.PUT_IN, what="Sludge of the booth"))
    assert "waste-mix-not-judged" in codes(yard.step(drum, DrumStep.PUT_IN, what="What the sander left"))


@pytest.mark.parametrize(
    ("stream", "first"),
    [("Spent nitric acid", "Acetone"), ("Chlorine bleach, spent", "Vinegar"), ("Acetone", "Nitric acid")],
)
def test_what_a_drum_is_called_is_judged_with_the_first_thing(yard: Yard, stream: str, first: str) -> None:
    drum = yard.begin(stream=stream)["drum"]
    with pytest.raises(Refused):
        yard.step(drum, DrumStep.PUT_IN, what=first)
    done = yard.step(drum, DrumStep.PUT_IN, what=stream.replace("Spent ", "").replace(", spent", ""))
    assert codes(done) == {"waste-mass-not-known"}


@pytest.mark.parametrize("what", ["nitric acid and acetone", "bleach with vinegar", "pool shock, brake oil"])
def test_two_things_of_one_line_are_two_things(yard: Yard, what: str) -> None:
    drum = yard.begin(stream="Waste of the booth")["drum"]
    with pytest.raises(Refused):
        yard.step(drum, DrumStep.PUT_IN, what=what)


def test_plain_solvents_and_water_hold_no_oil_and_are_read(yard: Yard) -> None:
    drum = yard.begin()["drum"]
    for what in ("White spirit", "Thinner", "Denatured alcohol", "Ethanol", "Prussian blue", "Rinse water"):
        assert "waste-mix-not-judged" not in codes(yard.step(drum, DrumStep.PUT_IN, what=what)), what
    assert not stops(yard)


@pytest.mark.parametrize(
    "what",
    ["Acetone sludge of the booth", "Prussian blue goo", "goo chlorine bleach", "Malachite slops"],
)  # fmt: skip
def test_one_word_that_is_read_does_not_read_the_words_beside_it(yard: Yard, what: str) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.step(drum, DrumStep.PUT_IN, what=what)
    yard.step(drum, DrumStep.PUT_IN, what="Water")
    [shown] = yard.record().drums
    [said] = [f for f in shown.judged.findings if f.code == "waste-mix-not-judged"]
    assert f"“{what}”" in said.sentence


@pytest.mark.parametrize("what", ["Linseed oil", "Boiled linseed oil", "White spirit of brush rinsings"])
def test_oil_and_what_brushes_were_rinsed_in_are_read_by_their_words(yard: Yard, what: str) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="White spirit")
    assert "waste-mix-not-judged" not in codes(yard.step(drum, DrumStep.PUT_IN, what=what))
    with pytest.raises(Refused) as refused:
        yard.step(drum, DrumStep.PUT_IN, what="Nitric acid")
    assert {f"{what}, Nitric acid", f"Nitric acid, {what}"} & {f.about for f in refused.value.verdict}


def test_rinsings_of_nobody_knows_what_are_not_judged(yard: Yard) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="White spirit")
    assert "waste-mix-not-judged" in codes(yard.step(drum, DrumStep.PUT_IN, what="Brush rinsings"))


def test_what_met_before_is_said_and_does_not_stop_that_a_discard_is_put_right(yard: Yard) -> None:
    drum = yard.begin(stream="Of its own kind")["drum"]
    yard.step(drum, DrumStep.PUT_IN, what="Oily rags")
    blue = stuff(yard, "Prussian blue")
    with yard.database.writing() as session:
        asked = LossAsked(once=once(), code=blue, amount="1 g", loss=LossKind.SPILLED, drum_id=drum)
        lose(session, yard.people.actor(Role.FINISHER), NOW, asked)
    assert stops(yard)
    header, row = drum_rows(yard.record())
    assert header[-1] == "met_in_it" and "Prussian blue" in str(row[-1])

    def sort(code: str) -> dict[str, Any]:
        move = yard.throw(code, amount="10 mg")
        with yard.database.writing() as session:
            asked = SortAsked(once(), drum, (move,))
            return put_discards_in(session, yard.people.actor(Role.KEEPER), NOW, asked).result

    with pytest.raises(Refused):
        yard.step(drum, DrumStep.PUT_IN, what="Titanium white")
    assert STANDS in codes(sort(stuff(yard, "Titanium white"))) and stops(yard)
    for code in (blue, stuff(yard, "Wood bleach", hazards=["Ox. Liq. 2 H272"], **CHEMICAL)):
        with pytest.raises(Refused):
            sort(code)
