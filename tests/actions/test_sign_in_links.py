"""One-time addresses and tokens of scripts; on both databases."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest

from service.actions.api_tokens import find_api_token, make_api_token, revoke_token
from service.actions.sign_in_links import look_at_link, make_link, printed_link, spend_link
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound
from service.records.engine import Database
from service.records.people import LinkPurpose
from tests.builders import NOW, TODAY, Cast, cast


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def test_a_printed_link_works_once_for_ten_minutes(database: Database, people: Cast) -> None:
    purposes = (LinkPurpose.SIGN_IN,)
    with database.writing() as session:
        _, who = printed_link(session, "first", NOW)
        assert who is not None and who.id == people.keeper.id
        look_at_link(session, "first", purposes, NOW + timedelta(minutes=9))
        spend_link(session, "first", purposes, NOW + timedelta(minutes=9))
        with pytest.raises(NotFound):
            spend_link(session, "first", purposes, NOW + timedelta(minutes=9))
        printed_link(session, "second", NOW)
        with pytest.raises(NotFound):
            look_at_link(session, "second", purposes, NOW + timedelta(minutes=10))
        with pytest.raises(NotFound):
            look_at_link(session, "never made", purposes, NOW)


def test_a_link_has_one_purpose_and_a_newer_one_ends_it(database: Database, people: Cast) -> None:
    with database.writing() as session:
        make_link(session, LinkPurpose.PASSWORD, "one", NOW, person_id=people.student.id)
        with pytest.raises(NotFound):
            look_at_link(session, "one", (LinkPurpose.SIGN_IN, LinkPurpose.DEVICE), NOW)
        make_link(session, LinkPurpose.PASSWORD, "two", NOW, person_id=people.student.id)
        make_link(session, LinkPurpose.PASSWORD, "other", NOW, person_id=people.finisher.id)
        with pytest.raises(NotFound):
            look_at_link(session, "one", (LinkPurpose.PASSWORD,), NOW)
        look_at_link(session, "two", (LinkPurpose.PASSWORD,), NOW)


def test_two_at_once_spend_a_link_once(database: Database, people: Cast) -> None:
    with database.writing() as session:
        make_link(session, LinkPurpose.SIGN_IN, "one", NOW, person_id=people.keeper.id)
    got: list[bool] = []
    start = threading.Barrier(4)

    def use() -> None:
        start.wait()
        try:
            with database.writing() as session:
                spend_link(session, "one", (LinkPurpose.SIGN_IN,), NOW)
            got.append(True)
        except NotFound:
            got.append(False)

    threads = [threading.Thread(target=use) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == [False, False, False, True]


def test_an_empty_shop_gets_the_link_of_the_first_keeper(database: Database) -> None:
    with database.writing() as session:
        make_api_token(session, None, NOW, "x", Role.KEEPER, "a script is no keeper")
        link, who = printed_link(session, "one", NOW)
        assert who is None and link.purpose is LinkPurpose.FIRST_KEEPER


def test_a_token_acts_under_its_own_name_with_its_own_role_until_revoked(
    database: Database, people: Cast
) -> None:
    with database.writing() as session:
        keeper = people.actor(Role.KEEPER)
        row = make_api_token(session, keeper, NOW, "secret", Role.FINISHER, " till  scale ")
        found = find_api_token(session, "secret", TODAY)
        assert found is not None and found.name == "script: till scale"
        assert found.role is Role.FINISHER and "secret" not in row.token_hash
        revoke_token(session, people.actor(Role.KEEPER), NOW, row.id or 0)
        revoke_token(session, people.actor(Role.KEEPER), NOW, row.id or 0)
        assert find_api_token(session, "secret", TODAY) is None
        with pytest.raises(NotAllowed):
            make_api_token(session, people.actor(Role.FINISHER), NOW, "y", Role.KEEPER, "no")
        with pytest.raises(Invalid):
            make_api_token(session, None, NOW, "y", Role.KEEPER, "  ")


