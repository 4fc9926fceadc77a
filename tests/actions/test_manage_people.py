"""People and the shop's settings: who may, what is written down, the last keeper; on both databases."""

from __future__ import annotations

import threading
from datetime import date, time

import pytest
from sqlmodel import Session, col, select

from service.actions.manage_people import (
    Description,
    add_person,
    change_person,
    choose_theme,
    password_link,
    people,
    set_password,
    set_pin,
    switch_person,
)
from service.actions.set_up_shop import (
    FirstKeeper,
    Profile,
    add_number,
    add_shifts,
    change_emergency_text,
    change_profile,
    emergency_numbers,
    remove_number,
    remove_shift,
    set_up,
    shifts,
)
from service.actions.sign_in import open_session
from service.actions.sign_in_links import keepers
from service.core.access import Actor, Role
from service.core.findings import Invalid, NotAllowed, NotFound, Stale
from service.records.engine import Database
from service.records.people import Person, WebSession
from service.records.shop import Change, ShopProfile
from tests.builders import FAST_HASHER, NOW, TODAY, Cast, cast, opening, person

STUDENT = Description("Noor", Role.STUDENT, "noor")


@pytest.fixture
def shop(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


@pytest.fixture
def keeper(shop: Cast) -> Actor:
    return shop.actor(Role.KEEPER)


def changes(session: Session, kind: str, number: int | None) -> list[tuple[str, str | None, str | None]]:
    rows = session.exec(
        select(Change)
        .where(col(Change.about_kind) == kind, col(Change.about_id) == number)
        .order_by(col(Change.id))
    )
    return [(row.field, row.before, row.after) for row in rows]


def test_adding_and_changing_are_written_down(database: Database, shop: Cast, keeper: Actor) -> None:
    with database.writing() as session:
        added = add_person(session, keeper, NOW, TODAY, STUDENT)
        changed = change_person(
            session, keeper, NOW, TODAY, added.id or 0, 1, Description("Noor Bakker", Role.FINISHER, "noor")
        )
        assert changed.version == 2
        assert changes(session, "person", added.id) == [
            ("name", None, "Noor"), ("role", None, "student"), ("sign-in name", None, "noor"),
            ("name", "Noor", "Noor Bakker"), ("role", "student", "finisher"),
        ]


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER])
def test_only_a_keeper_looks_after_people(database: Database, shop: Cast, role: Role) -> None:
    actor = shop.actor(role)
    with database.writing() as session:
        number = shop.student.id or 0
        for attempt in (
            lambda: add_person(session, actor, NOW, TODAY, STUDENT),
            lambda: change_person(session, actor, NOW, TODAY, number, 1, STUDENT),
            lambda: switch_person(session, actor, NOW, number, 1, active=False),
            lambda: password_link(session, actor, NOW, shop.keeper.id or 0, "t"),
            lambda: set_pin(session, actor, NOW, shop.keeper.id or 0, "x"),
            lambda: change_emergency_text(session, actor, NOW, 1, "x"),
            lambda: add_number(session, actor, NOW, "a", "1"),
            lambda: add_shifts(session, actor, NOW, "Day", [0], time(8), time(16)),
        ):
            with pytest.raises(NotAllowed):
                attempt()
        assert session.exec(select(Change)).all() == []


def test_own_pin_and_password_but_nobody_elses(database: Database, shop: Cast) -> None:
    student, keeper = shop.actor(Role.STUDENT), shop.actor(Role.KEEPER)
    with database.writing() as session:
        set_pin(session, student, NOW, student.person_id, "hash")
        set_password(session, student, NOW, student.person_id, "hash")
        with pytest.raises(NotAllowed):
            set_password(session, keeper, NOW, student.person_id, "hash")
        # The secret itself, and even its hash, stand nowhere in what is written down.
        assert changes(session, "person", student.person_id) == [("PIN", "", "set"), ("password", "", "set")]


def test_a_stale_page_changes_nothing(database: Database, shop: Cast, keeper: Actor) -> None:
    number = shop.student.id or 0
    with database.writing() as session:
        switch_person(session, keeper, NOW, number, 1, active=False)
    with database.writing() as session, pytest.raises(Stale):
        change_person(session, keeper, NOW, TODAY, number, 1, STUDENT)
    with database.reading() as session:
        assert session.get_one(Person, number).name == "Sanne Vos"


@pytest.mark.parametrize("ending", ["role", "off", "password"])
def test_what_ends_every_sign_in(database: Database, shop: Cast, keeper: Actor, ending: str) -> None:
    number = shop.finisher.id or 0
    with database.writing() as session:
        open_session(session, opening("a"), person_id=number)
        open_session(session, opening("b"), person_id=number)
        open_session(session, opening("c"), person_id=shop.student.id)
        if ending == "role":
            change_person(session, keeper, NOW, TODAY, number, 1, Description("Piet", Role.STUDENT, "piet"))
        elif ending == "off":
            switch_person(session, keeper, NOW, number, 1, active=False)
        else:
            set_password(session, shop.actor(Role.FINISHER), NOW, number, "x")
        session.flush()
        session.expire_all()
        ended = {row.person_id: row.ended_at for row in session.exec(select(WebSession))}
        assert ended[number] == NOW and ended[shop.student.id] is None


def test_a_new_name_ends_no_sign_in(database: Database, shop: Cast, keeper: Actor) -> None:
    with database.writing() as session:
        open_session(session, opening("a"), person_id=shop.finisher.id)
        said = Description("Piet M.", Role.FINISHER, "piet")
        change_person(session, keeper, NOW, TODAY, shop.finisher.id or 0, 1, said)
        assert session.exec(select(WebSession.ended_at)).one() is None


def test_the_last_keeper_stays(database: Database, shop: Cast, keeper: Actor) -> None:
    number = shop.keeper.id or 0
    for said in (
        Description("Orla", Role.FINISHER, "orla"),
        Description("Orla", Role.KEEPER, "orla", expires_on=date(2026, 12, 1)),
    ):
        with database.writing() as session, pytest.raises(Invalid, match="last keeper"):
            change_person(session, keeper, NOW, TODAY, number, 1, said)
    with database.writing() as session, pytest.raises(Invalid, match="last keeper"):
        switch_person(session, keeper, NOW, number, 1, active=False)
    with database.writing() as session:
        # A keeper without a password could not sign in: does not count as another one.
        add_person(session, keeper, NOW, TODAY, Description("Second", Role.KEEPER, "second"))
        with pytest.raises(Invalid, match="last keeper"):
            switch_person(session, keeper, NOW, number, 1, active=False)
    with database.writing() as session:
        person(session, "Third Keeper", Role.KEEPER)
        switch_person(session, keeper, NOW, number, 1, active=False)


def test_two_keepers_cannot_switch_each_other_off_at_once(database: Database, shop: Cast) -> None:
    with database.writing() as session:
        second = person(session, "Wout", Role.KEEPER)
    pairs = [(shop.keeper, second), (second, shop.keeper)]
    start = threading.Barrier(2)
    refused: list[Exception] = []

    def switch(by: Person, whom: Person) -> None:
        start.wait()
        try:
            with database.writing() as session:
                actor = Actor(by.id or 0, by.name, Role.KEEPER)
                switch_person(session, actor, NOW, whom.id or 0, 1, active=False)
        except Invalid as error:
            refused.append(error)

    threads = [threading.Thread(target=switch, args=pair) for pair in pairs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with database.reading() as session:
        assert len(keepers(session)) == 1 and len(refused) == 1


@pytest.mark.parametrize(
    ("said", "field"),
    [
        (Description("Inspector", Role.READER), "expires_on"),
        (Description("Inspector", Role.READER, expires_on=date(2026, 3, 11)), "expires_on"),
        (Description("Inspector", Role.READER, expires_on=date(2028, 3, 11)), "expires_on"),
        (Description("Anybody", Role.STUDENT, "two words"), "sign_in_name"),
        (Description("Anybody", Role.STUDENT, "ORLA"), "sign_in_name"),
    ],
)
def test_descriptions_that_cannot_be_used(
    database: Database, shop: Cast, keeper: Actor, said: Description, field: str
) -> None:
    with pytest.raises(Invalid) as refused, database.writing() as session:
        add_person(session, keeper, NOW, TODAY, said)
    assert list(refused.value.errors) == [field]
    with database.reading() as session:
        assert len(people(session)) == 4


def test_scripts_stand_in_no_list_and_are_not_changed(database: Database, shop: Cast, keeper: Actor) -> None:
    with database.writing() as session:
        robot = Person(name="script: x", role=Role.KEEPER, is_script=True, created_at=NOW)
        session.add(robot)
        session.flush()
        with pytest.raises(NotFound):
            switch_person(session, keeper, NOW, robot.id or 0, 1, active=False)
        with pytest.raises(NotFound):
            set_pin(session, keeper, NOW, robot.id or 0, "x")
        assert len(people(session)) == 4 and len(keepers(session)) == 1


def test_a_theme_is_one_of_three(database: Database, shop: Cast) -> None:
    with database.writing() as session:
        choose_theme(session, shop.actor(Role.STUDENT), "dark")
        with pytest.raises(Invalid):
            choose_theme(session, shop.actor(Role.STUDENT), "purple")
        assert session.get_one(Person, shop.student.id).theme == "dark"


def first_keeper(zone: str = "Europe/Berlin") -> FirstKeeper:
    return FirstKeeper("Orla", "orla", FAST_HASHER.make("four walnut drawers"), "Harbour Lane", zone)


def test_the_first_keeper_once(database: Database) -> None:
    with database.writing() as session:
        set_up(session, NOW, TODAY, first_keeper())
        shop = session.get_one(ShopProfile, 1)
        assert (shop.name, shop.time_zone) == ("Harbour Lane", "Europe/Berlin")
    with database.writing() as session, pytest.raises(NotAllowed):
        set_up(session, NOW, TODAY, first_keeper())


def test_no_shop_without_a_zone(database: Database) -> None:
    with pytest.raises(Invalid) as refused, database.writing() as session:
        set_up(session, NOW, TODAY, first_keeper("Middle/Nowhere"))
    assert list(refused.value.errors) == ["time_zone"]
    with database.reading() as session:
        assert session.exec(select(Person)).all() == [] and session.get(ShopProfile, 1) is None


def test_profile_changes_are_written_down_and_bounded(database: Database, shop: Cast, keeper: Actor) -> None:
    said = Profile("Harbour Lane Finishing", "America/Chicago", "eu-clp", "us", 15)
    with database.writing() as session:
        change_profile(session, keeper, NOW, 1, said)
        assert changes(session, "shop", 1) == [
            ("time zone", "Europe/Berlin", "America/Chicago"), ("regime", "us-hcs", "eu-clp"),
            ("unit system", None, "us"), ("rag grace min", "0", "15"),
        ]
        with pytest.raises(Stale):
            change_profile(session, keeper, NOW, 1, said)
    for wrong in (
        Profile("x", "America/Chicago", "eu-clp", "us", 121), Profile("x", "Nowhere", "eu-clp", "us", 0),
        Profile("x", "America/Chicago", "none", "us", 0), Profile("x", "America/Chicago", "eu-clp", "si", 0),
    ):
        with database.writing() as session, pytest.raises(Invalid):
            change_profile(session, keeper, NOW, 2, wrong)


def test_emergency_text_numbers_and_shifts(database: Database, shop: Cast, keeper: Actor) -> None:
    with database.writing() as session:
        change_emergency_text(session, keeper, NOW, 1, "Out by the yard door.")
        add_number(session, keeper, NOW, "Fire brigade", "112")
        add_number(session, keeper, NOW, "Poison information", "030 1234")
        with pytest.raises(Invalid):
            add_number(session, keeper, NOW, "Nobody", "call us")
        listed = emergency_numbers(session)
        assert [row.who for row in listed] == ["Fire brigade", "Poison information"]
        remove_number(session, keeper, NOW, listed[0].id or 0)
        remove_number(session, keeper, NOW, listed[0].id or 0)
        assert len(emergency_numbers(session)) == 1
        add_shifts(session, keeper, NOW, "Evening", [2, 0, 2], time(18), time(22))
        assert [(row.weekday, row.starts) for row in shifts(session)] == [(0, time(18)), (2, time(18))]
        remove_shift(session, keeper, NOW, shifts(session)[0].id or 0)
        assert len(shifts(session)) == 1
        for days, ends in (([], time(22)), ([7], time(22)), ([0], time(18))):
            with pytest.raises(Invalid):
                add_shifts(session, keeper, NOW, "Evening", days, time(18), ends)
