"""What a line of a stock list may say of places, codes and amounts, and the way from one shop to another."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import Session, select

from service.actions.arrivals import ReceiveAsked
from service.actions.check_ledger import check
from service.actions.list_places import NOWHERE
from service.actions.read_amount import remember_choice
from service.actions.receive_stock import receive
from service.actions.take_list import choose_materials, choose_places
from service.core.access import Actor, Role
from service.core.containers import AmountKnown
from service.core.findings import Invalid
from service.core.materials import Basis
from service.core.stock_list import EmptyOpened
from service.outreach.csv_tables import stock_rows, written
from service.records.engine import Database
from service.records.people import Person
from service.records.places import PlaceKind
from service.records.stock import Container, Movement
from tests.builders import NOW, TODAY, cast
from tests.list_steps import bring, chance, how_many, look, take
from tests.store_builders import material, oil, place


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"kind": "solvent"}, "kind"),
        ({"amount": "1,000 g"}, "amount"),
        ({"amount": "0 g"}, "amount"),
        ({"amount": "half"}, "capacity"),
        ({"amount": "1 l"}, "amount"),
        ({"amount": "-5 g"}, "amount"),
        ({"amount": "1e999 g"}, "amount"),
        ({"amount": "NaN g"}, "amount"),
        ({"capacity": "big"}, "capacity"),
        ({"amount": "1 kg", "capacity": "500 g"}, "amount"),
        ({"amount": "250 Kg", "capacity": "1 kg"}, "amount"),
        ({"amount": "551 g", "capacity": "500 g"}, "amount"),
        ({"packed": "2999-01-01"}, "packed"),
        ({"packed": "2100-01-01"}, "packed"),
        ({"packed": "2025-02-01", "received": "2025-01-01"}, "received"),
        ({"opened": "2100-01-01"}, "opened"),
        ({"place": "Attic"}, "place"),
        ({"place": "Shelf"}, "place"),
        ({"place": "Rag can"}, "place"),
        ({"code": "K7Q F2C"}, "code"),
        ({"code": "R4F34T", "count": "2"}, "code"),
        ({"material": "retired"}, "material"),
        ({"material": "not stocked"}, "material"),
        ({"material": "twin"}, "material"),
    ],
)
def test_what_the_book_cannot_take_is_named_by_its_column(
    database: Database, cells: dict[str, str], column: str
) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        material(session, "ochre")
        material(session, "retired").active = False
        material(session, "not stocked").not_stocked = True
        material(session, "twin").maker = "A"
        material(session, "twin").maker = "B"
        for one in ("One", "Two"):
            place(session, "Shelf", PlaceKind.SHELF, place(session, one, PlaceKind.ROOM))
        place(session, "Rag can", PlaceKind.RAG_CAN)
        line = {"material": "ochre", "opened": "sealed"} | cells
        quoted = ",".join(f'"{cell}"' for cell in line.values())
        number = bring(session, actor, f"{','.join(line)}\n{quoted}\n")
        checked = look(session, actor, number)
        assert not checked.good
        assert {p.column for p in checked.problems} == {column}, checked.problems
        for problem in checked.problems:
            assert problem.line == 2 and problem.found and problem.expected and problem.mend


def test_a_code_is_used_once_and_a_place_is_found_by_name_way_or_code(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        material(session, "ochre")
        one = place(session, "One", PlaceKind.ROOM)
        shelf = place(session, "Shelf", PlaceKind.SHELF, one)
        place(session, "Shelf", PlaceKind.SHELF, place(session, "Two", PlaceKind.ROOM))
        text = (
            f'material,opened,place,code\nochre,sealed,"shelf, ONE",r4f-34t\nochre,sealed,{shelf.code},\n'
            f"ochre,sealed,One,R4F34T\nochre,sealed,,{one.code}\n"
        )
        number = bring(session, actor, text)
        checked = look(session, actor, number)
        assert [(p.line, p.column) for p in checked.problems] == [(4, "code"), (5, "code")]
        assert [good.asked.place_id for good in checked.good] == [shelf.id, shelf.id]
        take(session, actor, number, good=True)
        assert session.exec(select(Container).where(Container.code == "R4F34T")).one().place_id == shelf.id


def test_stock_saved_from_one_shop_is_read_by_another_and_saved_the_same(
    database: Database, sqlite_database: Database
) -> None:
    """The round trip: the second shop has the places and materials, an empty store; both files are equal."""
    names = ["=1+1", "-umber", "'quoted", 'two "words"; and', "ocre, séché", "@x"]
    for number, one in enumerate((database, sqlite_database)):
        with one.writing() as session:
            actor = cast(session).actor(Role.KEEPER)
            room = place(session, "Room", PlaceKind.ROOM)
            place(session, "Shelf;=2", PlaceKind.SHELF, room)
            for name in names:
                material(session, name)
            oil(session, "oil")
            if number:
                continue
            lines = ["material;amount;capacity;packed;received;opened;place;lot;condition;note;count"]
            for name in names:
                quoted = name.replace('"', '""')
                lines.append(f'"{quoted}";about 251 g;1 kg;2025-01-01;;open;"Shelf;=2";=L;sound;"+1\n-2";2')
                lines.append(f'"{quoted}";;;;2025-03-01;2025-04-01;Room;-;leaking;;1')
            lines.append("oil;1,2505 l;2 l;;;sealed;;;;;1")
            take(session, actor, bring(session, actor, "\n".join(lines)))
    with database.reading() as session:
        saved = "".join(written(stock_rows(session, TODAY)))
    with sqlite_database.writing() as session:
        actor = session_actor(session)
        number = bring(session, actor, saved)
        checked = look(session, actor, number)
        assert checked.whole, checked.problems
        take(session, actor, number)
        assert "".join(written(stock_rows(session, TODAY))) == saved
        assert check(session).holds
        assert how_many(session) == 19
        assert all(m.recorded_at == NOW for m in session.exec(select(Movement)))
    for cell in saved.replace("\r\n", ",").replace(";", ",").split(","):
        assert cell.strip('"')[:1] not in ("=", "+", "@", "-"), cell


def session_actor(session: Session) -> Actor:
    person = session.exec(select(Person).where(Person.role == Role.KEEPER)).first()
    assert person is not None and person.id is not None
    return Actor(person.id, person.name, Role.KEEPER)


def test_empty_containers_of_a_saved_list_are_left_aside(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        material(session, "ochre")
        text = (
            "material,amount,opened,state\n"
            "ochre,0 g,2025-01-01,empty\nochre,1 kg,,open\nochre,1 kg,,sealed\n"
        )
        number = bring(session, actor, text, empty_opened=EmptyOpened.ASK)
        checked = look(session, actor, number)
        assert [line for line, _ in checked.aside] == [2] and len(checked.good) == 2
        assert [good.asked.opened for good in checked.good] == [True, False]


def test_the_first_line_settles_the_basis_for_the_others(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        row = oil(session, basis=None)
        row.density_g_ml = None
        session.flush()
        number = bring(session, actor, (
            "material,amount,opened\nboiled linseed oil,500 g,sealed\nboiled linseed oil,1 l,sealed\n"
        ))  # fmt: skip
        checked = look(session, actor, number)
        assert [(p.line, p.column) for p in checked.problems] == [(3, "amount")]
        mend = checked.problems[0].mend
        assert "Give it by weight, such as 250 g" in mend and "write its density down" in mend
        session.refresh(row)
        assert row.basis is None  # a dry run writes nothing
        row.density_g_ml = Decimal("0.93")
        session.flush()
        assert look(session, actor, number).whole


def test_one_material_under_two_names_of_a_list_has_one_basis(database: Database) -> None:
    """Litres under the shop's own word and grams under the book's name must not be added as if alike."""
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        row = oil(session, basis=None)
        row.density_g_ml = None
        session.flush()
        number = bring(session, actor, (
            "material,amount,opened\nThe old oil,2 l,sealed\nboiled linseed oil,500 g,sealed\n"
        ))  # fmt: skip
        key = look(session, actor, number).proposals[0].key
        choose_materials(session, actor, number, {key: f"material:{row.id}"})
        checked = look(session, actor, number)
        assert [(p.line, p.column) for p in checked.problems] == [(3, "amount")]
        take(session, actor, number, good=True)
        assert row.basis is Basis.VOLUME
        assert [box.balance for box in session.exec(select(Container))] == [2_000_000]


def test_a_volume_of_loose_powder_is_never_more_than_about(database: Database) -> None:
    """How a powder lies is no measure: the weight is about, and the density it rests on is named."""
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        row = material(session)
        row.bulk_low_g_ml = row.bulk_high_g_ml = Decimal("0.66")
        row.bulk_source = "published"
        session.flush()
        number = bring(session, actor, (
            '"material",amount,capacity,opened\n"raw umber, dry",500 ml,500 g,sealed\n'
            '"raw umber, dry",330 g,500 g,sealed\n'
        ))  # fmt: skip
        volume, weight = look(session, actor, number).good
        assert (volume.amount, weight.amount) == ("about 330 g", "330 g")
        assert "loose density 0.66 g/ml (published)" in volume.holds.how
        take(session, actor, number)
        assert [(box.balance, box.balance_known) for box in session.exec(select(Container))] == [
            (330_000, AmountKnown.ESTIMATED), (330_000, AmountKnown.MEASURED),
        ]  # fmt: skip


def test_some_overfill_is_no_mistake_and_more_is_one_at_every_door(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        row = oil(session)
        number = bring(session, actor, (
            "material,amount,capacity,opened\nboiled linseed oil,1.1 l,1 l,sealed\n"
            "boiled linseed oil,3 l,1 l,open\nboiled linseed oil,1 kg,1 l,open\n"
            "boiled linseed oil,2 kg,1 l,open\n"
        ))  # fmt: skip
        checked = look(session, actor, number)
        assert [good.line.line for good in checked.good] == [2, 4]
        assert [(p.line, p.column) for p in checked.problems] == [(3, "amount"), (5, "amount")]
        assert checked.problems[0].mend.startswith("3 l is more than the 1 l it holds when full.")
        for amount, wrong in (("1.1 l", False), ("3 l", True)):
            asked = ReceiveAsked(f"fill-{amount}", row.id or 0, amount=amount, capacity="1 l")
            if wrong:
                with pytest.raises(Invalid, match="more than the 1 l"):
                    receive(session, actor, NOW, asked, chance())
            else:
                receive(session, actor, NOW, asked, chance())


@pytest.mark.parametrize("amount", ["8 oz by weight", "1/2 lb", "1 US tsp", "1/3 l", "226,7960 g"])
def test_what_this_program_saves_it_reads_without_a_doubt(database: Database, amount: str) -> None:
    """226.796 g may be a quarter of a ton to some readers, so the file says 226.7960 g."""
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        oil(session, basis=None)
        number = bring(session, actor, f"material;amount;opened\nboiled linseed oil;{amount};sealed\n")
        take(session, actor, number)
        box = session.exec(select(Container)).one()
        saved = "".join(written(stock_rows(session, TODAY)))
        again = saved.replace(box.code, "")
        checked = look(session, actor, bring(session, actor, again, again=True))
        assert checked.whole, checked.problems
        assert checked.good[0].holds.change == box.balance
        assert checked.good[0].holds.known is box.balance_known


def test_a_place_the_book_does_not_have_is_answered_once_for_all_its_lines(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        material(session, "ochre")
        shelf = place(session, "Shelf 1", PlaceKind.SHELF)
        can = place(session, "Rag can", PlaceKind.RAG_CAN)
        text = "material,opened,place,lot\nochre,sealed,Regal 1,1\nochre,open,regal  1,2\nochre,open,Loft,3\n"
        number = bring(session, actor, text)
        checked = look(session, actor, number)
        assert [(one.name, one.lines) for one in checked.places] == [("Regal 1", (2, 3)), ("Loft", (4,))]
        assert shelf.id in checked.places_offered and can.id not in checked.places_offered
        regal, attic = checked.places
        choose_places(session, actor, number, {regal.key: f"place:{can.id}", attic.key: "place:999"})
        assert len(look(session, actor, number).problems) == 3
        choose_places(session, actor, number, {regal.key: f"place:{shelf.id}", attic.key: NOWHERE})
        checked = look(session, actor, number)
        assert checked.whole and [one.asked.place_id for one in checked.good] == [shelf.id, shelf.id, None]
        # The next list knows the answer, as it knows what unknown names are.
        later = look(session, actor, bring(session, actor, "material,opened,place\nochre,open,Regal 1\n"))
        assert later.whole and later.good[0].asked.place_id == shelf.id


def test_names_answered_for_an_earlier_list_are_known_to_the_next(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        row = oil(session)
        number = bring(session, actor, "material,opened\nThe old oil,sealed\n")
        key = look(session, actor, number).proposals[0].key
        choose_materials(session, actor, number, {key: f"material:{row.id}"})
        later = look(session, actor, bring(session, actor, "material,opened\nthe old OIL,open\n"))
        assert later.whole and later.good[0].asked.material_id == row.id


def test_all_that_is_wrong_with_a_line_is_said_before_its_name_is_answered(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        number = bring(session, actor, (
            "material,amount,capacity,packed,opened,place\nMystery,250,,2025-06-01,2025-05-01,Attic\n"
            "Mystery,1E3,,,sealed,\nMystery,3 l,1 l,,sealed,\nMystery,1 l,1 kg,,sealed,\n=1+1,1 l,,,sealed,\n"
        ))  # fmt: skip
        checked = look(session, actor, number)
        assert [(p.line, p.column) for p in checked.problems if p.column != "material"] == [
            (2, "place"), (2, "opened"), (2, "amount"), (3, "amount"), (4, "amount"),
        ]  # fmt: skip
        # A sign and figures name nothing: no fact is proposed for them.
        assert [one.published for one in checked.proposals] == [(), ()]


def test_a_liquid_counted_in_nothing_yet_is_counted_by_volume_when_the_list_says_so(
    database: Database,
) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        row = oil(session, basis=None)
        row.density_g_ml = None
        session.flush()
        take(session, actor, bring(session, actor, "material;amount;opened\nboiled linseed oil;1,5 l;open\n"))
        assert row.basis is Basis.VOLUME
        number = bring(session, actor, "material;amount;opened\nboiled linseed oil;1 kg;open\n")
        problems = look(session, actor, number).problems
        assert ["Give it by volume, such as 250 ml" in p.mend for p in problems if p.column] == [True]


def test_a_capacity_that_only_one_shops_habits_explain_is_saved_as_all_read_it(database: Database) -> None:
    """Elsewhere a pint may be another pint."""
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        row = oil(session)
        remember_choice(session, actor, row, "1 pint", "1 US pint")
        asked = ReceiveAsked("a-pint-can", row.id or 0, amount="200 ml", capacity="1 pint")
        receive(session, actor, NOW, asked, chance())
        saved = "".join(written(stock_rows(session, TODAY)))
        assert ",1 US pint," in saved and ",1 pint," not in saved
