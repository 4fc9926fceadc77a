"""A whole stock list: dry run, names settled from published facts, all or nothing, good lines, once only."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlmodel import col, select

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.check_ledger import check
from service.actions.receive_stock import receive
from service.actions.take_list import (
    HeaderWrong,
    TakeAsked,
    choose_materials,
    say_another,
    take_list,
)
from service.core.access import Role
from service.core.containers import AmountKnown, Condition, ContainerState, EventKind, Standing
from service.core.findings import Invalid, NotAllowed, Refused, Stale
from service.core.materials import Basis, Form, MaterialKind, SelfHeating
from service.core.months import say_date
from service.records.duties import Duty
from service.records.engine import Database
from service.records.materials import Material
from service.records.places import PlaceKind
from service.records.shop import ShopProfile
from service.records.stock import Container, Posting
from service.records.stock_lists import StockListFile
from service.records.stock_queries import events_of, movements_of
from tests.builders import NOW, TODAY, cast
from tests.list_steps import bring, chance, how_many, look, once, take
from tests.store_builders import material, oil, place


def test_every_line_becomes_what_it_says_and_the_ledger_agrees(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        actor = people.actor(Role.FINISHER)
        umber = material(session, "Raw umber, dry")
        linseed = oil(session)
        shelf = place(session, "Shelf 3", PlaceKind.SHELF)
        number = bring(session, actor, (
            "material,amount,capacity,packed,received,opened,place,lot,condition,count,note\n"
            '"RAW umber,  dry",about 250 g,,2025-01-02,2025-02-03,2025-03-04,shelf 3,L1,sound,1,old tub\n'
            '"Raw umber, dry",,,,,open,,,,1,\n'
            "boiled linseed oil,1 l,1 l,,2025-06-01,sealed,Shelf 3,,,3,\n"
            "boiled linseed oil,about half,2 l,,,open,,,leaking,1,\n"
        ))  # fmt: skip
        before = how_many(session, Posting)
        checked = look(session, actor, number)
        assert checked.whole and checked.containers == 6 and how_many(session) == 0
        done = take(session, actor, number)
        assert (done.result["lines"], done.result["containers"], done.result["left_out"]) == (4, 6, 0)
        assert how_many(session, Posting) == before + 1

        boxes = session.exec(select(Container).order_by(col(Container.id))).all()
        first, second, *sealed, leaking = boxes
        assert (first.material_id, first.place_id, first.balance) == (umber.id, shelf.id, 250_000)
        assert first.balance_known is AmountKnown.ESTIMATED and first.condition is Condition.SOUND
        assert (first.packed_on, first.received_on, first.opened_on) == (
            date(2025, 1, 2), date(2025, 2, 3), date(2025, 3, 4),
        )  # fmt: skip
        assert (first.lot, first.note, first.state) == ("L1", "old tub", ContainerState.OPEN)
        assert second.balance is None and second.opened_on is None and second.received_on is None
        assert second.condition is Condition.NOT_KNOWN and second.standing is Standing.NOT_KNOWN
        assert [box.state for box in sealed] == [ContainerState.SEALED] * 3
        assert {box.balance for box in sealed} == {1_000_000} and len({box.code for box in boxes}) == 6
        assert (leaking.balance, leaking.capacity_ul) == (1_000_000, 2_000_000)
        assert [e.kind for e in events_of(session, first.id or 0)] == [EventKind.OPENED]
        assert events_of(session, sealed[0].id or 0) == []
        line = movements_of(session, leaking.id or 0)[0]
        assert line.self_heating and line.written == "about half" and linseed.basis is Basis.VOLUME
        duty = session.exec(select(Duty)).one()
        assert (duty.kind, duty.about_id) == ("leaking-container", leaking.id)
        told = {f["code"]: f["sentence"] for f in done.result["findings"]}
        assert "place-not-known" in told and "2 times" in told["place-not-known"]
        assert "leaking" in told
        assert check(session).holds


def test_several_movements_and_dates_equal_those_of_taking_in_one_by_one(database: Database) -> None:
    """The list writes many rows at once; what is stored must be what single receiving stores."""
    with database.writing() as session:
        people = cast(session)
        actor = people.actor(Role.KEEPER)
        material(session, "ochre", policy={"end": "retest", "sealed_months": 24, "opened_months": 12})
        number = bring(session, actor, (
            "material,amount,capacity,packed,received,opened,printed date\n"
            "ochre,100 g,500 g,2025-01-02,2025-02-03,2026-01-04,2027-01-01\n"
            "ochre,3/4,500 g,2025-01-02,,sealed,\nochre,,,,,open,\n"
        ))  # fmt: skip
        stuff = session.exec(select(Material)).one()
        take(session, actor, number)
        many = session.exec(select(Container).order_by(col(Container.id))).all()
        assert look(session, actor, number).good == ()  # a list that was taken offers nothing again
        asked = ReceiveAsked(
            "", stuff.id or 0, origin=Origin.STOCK_TAKE, amount="100 g", capacity="500 g",
            packed_on=date(2025, 1, 2), received_on=date(2025, 2, 3), opened=True,
            opened_on=date(2026, 1, 4), printed_date=date(2027, 1, 1),
        )  # fmt: skip
        singles = [
            asked,
            replace(asked, amount="3/4", received_on=None, opened=False, opened_on=None, printed_date=None),
            replace(asked, amount="", capacity="", packed_on=None, received_on=None, opened_on=None,
                    printed_date=None),
        ]  # fmt: skip
        for one, box in zip(singles, many, strict=True):
            code = receive(session, actor, NOW, replace(one, once=once()), chance()).result["containers"][0]
            alone = session.exec(select(Container).where(Container.code == code["code"])).one()
            left_out = {"id", "code", "version"}
            assert alone.model_dump(exclude=left_out) == box.model_dump(exclude=left_out)
            left_out = {"id", "posting_id", "container_id"}
            pairs = zip(movements_of(session, alone.id or 0), movements_of(session, box.id or 0), strict=True)
            for mine, theirs in pairs:
                assert mine.model_dump(exclude=left_out) == theirs.model_dump(exclude=left_out)


def test_one_wrong_line_keeps_all_out_and_the_good_lines_are_a_second_step(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        actor = people.actor(Role.FINISHER)
        material(session, "ochre")
        text = "material,amount,opened\nochre,100 g,sealed\nochre,lots,sealed\nochre,200 g,sealed\n"
        number = bring(session, actor, text)
        checked = look(session, actor, number)
        assert [(p.line, p.column) for p in checked.problems] == [(3, "amount")]
        with pytest.raises(Refused) as refused:
            take(session, actor, number)
        assert "line 3" in str(refused.value)
        assert how_many(session) == 0
        done = take(session, actor, number, good=True)
        assert (done.result["containers"], done.result["left_out"]) == (2, 1)

        # The mended file: the lines taken are left aside, the mended one comes in.
        mended = bring(session, actor, text.replace("lots", "300 g"))
        checked = look(session, actor, mended)
        assert [line for line, _ in checked.aside] == [2, 4] and len(checked.good) == 1
        take(session, actor, mended)
        balances = sorted(box.balance or 0 for box in session.exec(select(Container)))
        assert balances == [100_000, 200_000, 300_000]


def test_the_day_a_list_was_taken_is_the_shops(sqlite_database: Database) -> None:
    """23:30 in UTC is the next day in a shop two hours east."""
    late, words = NOW.replace(hour=23, minute=30), "material,opened\nochre,sealed\n"
    with sqlite_database.writing() as session:
        keeper = cast(session).actor(Role.KEEPER)
        shop = session.get(ShopProfile, 1) or ShopProfile(id=1, name="Quay Works", created_at=NOW)
        shop.time_zone = "Africa/Cairo"
        session.add(shop)
        row = session.get(StockListFile, bring(session, keeper, words))
        assert row is not None
        row.taken_at = late
        session.add(row)
        session.flush()
        with pytest.raises(Refused) as refused:
            bring(session, keeper, words)
        assert f"on {say_date((late + timedelta(days=1)).date())}" in str(refused.value)


def test_the_same_list_is_taken_once_whatever_it_looks_like(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        actor = people.actor(Role.FINISHER)
        material(session, "ochre")
        number = bring(session, actor, "material,opened\nochre,sealed\nochre,sealed\n")
        assert bring(session, actor, "material;opened\r\nochre;sealed\r\nochre;sealed\r\n") == number
        say_another(session, actor, TODAY, number)
        asked = TakeAsked(once(), number)
        first = take_list(session, actor, NOW, asked, chance())
        assert take_list(session, actor, NOW, asked, chance()).repeated and first.result["containers"] == 2
        with pytest.raises(Refused):
            take(session, actor, number)
        with pytest.raises(Refused) as refused:
            bring(session, actor, "\ufeffmaterial,opened\nochre ,sealed\n\nochre,sealed\n")
        assert f"list {number}" in str(refused.value)
        with pytest.raises(Stale):
            choose_materials(session, actor, number, {})
        # Twice the same line in the earlier list: two are left aside, the third is new.
        text = "material,opened\nochre,sealed\nochre,sealed\nochre,sealed\n"
        third = bring(session, actor, text)
        assert [line for line, _ in look(session, actor, third).aside] == [2, 3]
        again = bring(session, actor, text, again=True)
        say_another(session, actor, TODAY, again)
        assert again == third and look(session, actor, third).containers == 3
        assert how_many(session) == 2


def test_names_the_book_does_not_know_are_proposed_and_never_picked(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        keeper, finisher = people.actor(Role.KEEPER), people.actor(Role.FINISHER)
        text = (
            "material,kind,amount,opened\nTung oil,binder,1 l,sealed\nTung oil,binder,2 l,sealed\n"
            "Chrome green,dry pigment,1 kg,sealed\nHouse stain,,1 l,sealed\n"
        )
        number = bring(session, finisher, text)
        checked = look(session, finisher, number)
        tung, green, stain = checked.proposals
        assert not checked.good and [p.line for p in checked.problems] == [2, 3, 4, 5]
        assert tung.suggested == "known:tung-oil" or tung.suggested.startswith("known:")
        assert tung.lines == (2, 3)
        assert green.suggested == "" and len(green.published) > 1  # a trade name of several pigments
        choices = {tung.key: tung.suggested, green.key: "new:powder", stain.key: "new:liquid"}
        choose_materials(session, finisher, number, choices)
        checked = look(session, finisher, number)
        assert [(p.line, p.column) for p in checked.problems] == [(5, "material")]
        assert "kind" in checked.proposals[2].wrong
        assert how_many(session, Material) == 0

        done = take(session, finisher, number, good=True)
        assert done.result["materials"] == ["Tung oil", "Chrome green"]
        oil_row, green_row = session.exec(select(Material).order_by(col(Material.id))).all()
        assert oil_row.known_key == tung.suggested.removeprefix("known:")
        # What a finisher writes down has its facts not known, and counts as the stricter.
        assert oil_row.self_heating is SelfHeating.NOT_KNOWN and oil_row.density_g_ml is None
        assert (green_row.kind, green_row.form, green_row.basis) == (
            MaterialKind.DRY_PIGMENT, Form.POWDER, Basis.MASS,
        )  # fmt: skip

        mine = bring(session, keeper, "material,kind,amount,opened\nWalnut oil,binder,1 l,sealed\n")
        walnut = look(session, keeper, mine).proposals[0]
        choose_materials(session, keeper, mine, {walnut.key: walnut.suggested})
        take(session, keeper, mine)
        row = session.exec(select(Material).where(Material.name == "Walnut oil")).one()
        assert row.self_heating is SelfHeating.YES


def test_choices_that_do_not_fit_are_said(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        gone = material(session, "old")
        gone.active = False
        number = bring(session, actor, "material,kind,opened\nnew thing,solvent,sealed\n")
        key = look(session, actor, number).proposals[0].key
        for choice in ("known:tung", "known:nothing", "new:gas", "material:999", f"material:{gone.id}",
                       "material:x", "drop", "new:"):  # fmt: skip
            choose_materials(session, actor, number, {key: choice})
            checked = look(session, actor, number)
            assert checked.proposals[0].wrong and not checked.good, choice
        choose_materials(session, actor, number, {key: ""})
        assert look(session, actor, number).proposals[0].chosen == ""


def test_who_may_and_what_is_no_list(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        for role in (Role.STUDENT, Role.READER):
            with pytest.raises(NotAllowed):
                bring(session, people.actor(role), "material\nochre\n")
        actor = people.actor(Role.FINISHER)
        with pytest.raises(HeaderWrong) as wrong:
            bring(session, actor, "what\nochre\n")
        assert wrong.value.problems[0].column == "material" and "file" in wrong.value.errors
        for text in ("material\n", "", "material\x00\nochre\n"):
            with pytest.raises(Invalid):
                bring(session, actor, text)
