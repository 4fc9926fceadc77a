"""What nobody can identify is asked about at every door: stock check, set-aside, start, addition."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import select

from service.actions.judge_never_with import conditions, judge_never_with
from service.actions.read_mixed_things import InPot, read_mixed_things
from service.core.access import Role
from service.core.findings import Invalid, Refused, Severity, Verdict
from service.core.materials import Form, MaterialKind
from service.records.engine import Database
from service.records.knowledge import is_ambiguous, load_known_materials
from service.records.materials import Material
from service.records.mixing_queries import additions_of
from service.records.shop import Change
from tests.actions.test_judge_never_with import LIQUID, blue_shop, confirmed, put_in, untouched
from tests.mixing_shop import MixShop, codes
from tests.store_builders import holds, material

WORDS = "It is borax, the tub's label says so, and spirit may meet it."
PAIR = ("never-unidentified", "cellar cleaner, spirit")
GIBBERISH = ["aaaaaaaaaaaaaaa", "asdf asdf asdf", "...............", "ok", "1 2 3 4 5 6 7 8", "yes yes yes"]


@pytest.fixture
def shop(database: Database) -> MixShop:
    made, _ = blue_shop(database)
    made.can("cellar cleaner")
    made.can("raw umber")
    made.can("boiled oil")
    made.recipe = made.write(("spirit", "50 ml"), ("cellar cleaner", "50 ml"), name="Cleaner")
    return made


def stops(verdict: Verdict) -> set[tuple[str, str]]:
    return codes(verdict, Severity.STOP)


def test_the_check_stops_it_says_what_to_write_and_may_be_answered(shop: MixShop) -> None:
    mix = shop.look()
    assert stops(mix.check.verdict) == {PAIR} and mix.may_set_aside and not mix.check.verdict.complete
    asked = conditions(mix.check.verdict)
    assert ["cellar cleaner" in row.sentence and "spirit" in row.sentence for row in asked] == [True]
    assert "how you know it" in asked[0].condition
    assert mix.check.fingerprint == shop.look().check.fingerprint


@pytest.mark.parametrize("said", ["", *GIBBERISH])
def test_a_start_draws_nothing_until_somebody_writes_what_it_is(shop: MixShop, said: str) -> None:
    check = shop.keep()
    with pytest.raises((Refused, Invalid)) as caught:
        shop.start(check, confirmation=said)
    if said:
        assert isinstance(caught.value, Invalid) and set(caught.value.errors) == {"confirmation"}
        assert "3 different words" in caught.value.sentence
    assert untouched(shop)


@pytest.mark.parametrize(
    "said",
    ["It is quicklime and I know it may meet spirit.", "The tub holds KMnO4 and may meet it.",
     "It is PB27, I asked the maker of it.", "This is oil of vitriol, and that is fine."],
)  # fmt: skip
def test_a_sentence_that_names_a_danger_is_no_answer_but_a_name(shop: MixShop, said: str) -> None:
    check = shop.keep()
    with pytest.raises(Invalid) as caught:
        shop.start(check, confirmation=said)
    assert "enter it as the material's name" in caught.value.errors["confirmation"]
    assert untouched(shop)


def test_what_was_written_stands_with_the_batch(shop: MixShop) -> None:
    done = shop.start(shop.keep(), confirmation=WORDS).result
    told = {(f["code"], f["severity"]) for f in done["findings"]}
    assert {("never-confirmed", "warn"), ("never-identity-not-known", "unknown")} <= told
    with shop.database.reading() as session:
        assert confirmed(session) == [(done["batch"], "never with: never-unidentified", WORDS)]
        assert session.exec(select(Change.reason).where(Change.about_kind == "batch")).one() == PAIR[1]
    holds(shop.database)


def test_what_was_set_aside_is_asked_about_at_its_start(shop: MixShop) -> None:
    batch = shop.set_aside(shop.keep())
    with pytest.raises(Refused):
        shop.start(batch_id=batch)
    assert shop.start(batch_id=batch, confirmation=WORDS).result["state"] == "running"


@pytest.mark.parametrize("order", [("cellar cleaner", "spirit"), ("spirit", "cellar cleaner")])
def test_each_addition_is_asked_about_in_whatever_order(shop: MixShop, order: tuple[str, str]) -> None:
    first = shop.write((order[0], "50 ml"), name="Begun")
    batch = int(shop.start(shop.keep(recipe=first)).result["batch"])
    for said in ("", *GIBBERISH):
        with pytest.raises((Refused, Invalid)):
            put_in(shop, batch, order[1], Role.KEEPER, confirmation=said)
    with shop.database.reading() as session:
        assert len(additions_of(session, batch)) == 1 and not confirmed(session)
    put_in(shop, batch, order[1], Role.KEEPER, confirmation=WORDS)
    again = put_in(shop, batch, order[1], Role.KEEPER)  # the two have met; more of it is no new question
    assert "never-identity-not-known" in {f["code"] for f in again.result["findings"]}
    put_in(shop, batch, "raw umber", Role.KEEPER, amount="5 g")  # nothing stops umber beside anything
    with pytest.raises(Refused) as caught:
        put_in(shop, batch, "boiled oil", Role.KEEPER)
    assert ("never-unidentified", "cellar cleaner, boiled oil") in stops(caught.value.verdict)
    with pytest.raises(Refused):
        put_in(shop, batch, "tap water")
    put_in(shop, batch, "tap water", confirmation="It is borax by its label, and water is what it is for.")
    holds(shop.database)


def test_what_has_happened_is_recorded_and_a_keeper_owes_an_answer(shop: MixShop) -> None:
    batch = int(shop.start(shop.keep(recipe=shop.write(("spirit", "50 ml"), name="Spirit"))).result["batch"])
    done = put_in(
        shop, batch, "cellar cleaner", Role.KEEPER, already_done=True, late_reason="Somebody poured it in."
    )
    assert "never-unidentified" in {f["code"] for f in done.result["findings"]}
    holds(shop.database)


MADE: dict[str, Any] = LIQUID | {"kind": MaterialKind.READY_MADE_FINISH}
SOLVENT: dict[str, Any] = LIQUID | {"kind": MaterialKind.SOLVENT}
DRY: dict[str, Any] = {"form": Form.POWDER}


@pytest.mark.parametrize(
    ("name", "facts", "told", "asked"),
    [
        ("Raw umber, dry", DRY, {}, False),
        ("burnt sienna", DRY, {}, False),
        ("blue powder", DRY, {}, True),
        ("blue powder", DRY, {"ci_name": "PB29"}, False),
        ("blue powder", DRY, {"known_key": "ultramarine"}, False),
        ("unidentified powder", DRY, {"hazards": []}, True),
        ("Mineral spirits", SOLVENT, {}, False),
        ("cellulose mixture", SOLVENT, {}, True),
        ("cellulose mixture", SOLVENT, {"cas": "67-64-1"}, False),
        ("Satin varnish", MADE, {}, False),
        ("Danish oil", MADE, {}, False),
        ("something thick", MADE, {}, True),
        ("something thick", MADE, {"binder": "tung oil and alkyd"}, False),
        ("grey stuff in a jar", LIQUID, {}, True),
        ("grey stuff in a jar", LIQUID, {"hazards": []}, False),
        ("stand oil", LIQUID | {"kind": MaterialKind.BINDER}, {}, False),
    ],
)
def test_who_is_asked_about(
    sqlite_database: Database, name: str, facts: dict[str, Any], told: dict[str, Any], asked: bool
) -> None:
    with sqlite_database.writing() as session:
        stuff, oil = material(session, name, **facts), material(session, "boiled oil", **LIQUID)
        stuff.hazards = None
        for field, value in told.items():
            setattr(stuff, field, value)
        oil.kind = MaterialKind.BINDER
        session.flush()
        assert ("never-unidentified" in judge_never_with(session, [stuff, oil]).codes) is asked


def test_nothing_of_the_published_tables_is_asked_about(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        for one in load_known_materials():
            stuff = Material(name=one.name, kind=one.kind, form=one.form, known_key=one.key)
            bare = Material(name=one.name, kind=one.kind, form=one.form)
            for thing in read_mixed_things(session, [InPot(stuff), InPot(bare)]):
                assert not thing.unidentified or is_ambiguous(one.name), one.key
