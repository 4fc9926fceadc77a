"""What a line of a stock list may say of places, codes and amounts, and the way from one shop to another."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import Session, select

from service.actions.check_ledger import check
from service.actions.take_list import choose_materials
from service.core.access import Actor, Role
from service.core.materials import Basis
from service.core.stock_list import EmptyOpened
from service.outreach.csv_tables import stock_rows, written
from service.records.engine import Database
from service.records.people import Person
from service.records.places import PlaceKind
from service.records.stock import Container, Movement
from tests.builders import NOW, TODAY, cast
from tests.list_steps import bring, how_many, look, take
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
