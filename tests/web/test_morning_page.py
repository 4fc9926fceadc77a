"""`/me/morning`: what the mail would say to me, and my choices; nobody else's, and nothing is sent."""

from __future__ import annotations

import dataclasses
from datetime import timedelta

import pytest
from sqlmodel import select

from service.config import MailServer
from service.core.access import Role
from service.records.duties import Duty
from service.records.notices import DigestChoice
from service.records.outbox import OutboxRow
from tests.mail_server import SENDER
from tests.web.conftest import Shop

PATH = "/me/morning"
CHOSEN = {"wanted": "yes", "kinds_off": ["duty"], "quiet_from": "22", "quiet_until": "6.30", "version": "0"}


@pytest.fixture
def mailed(shop: Shop) -> Shop:
    """Orla and Piet have mail; Piet owes something today."""
    server = MailServer("mail.shop.example", 587, "starttls", SENDER, "store", "hidden-word")
    shop.app.state.settings = dataclasses.replace(shop.app.state.settings, mail=server)
    keeper = shop.signed_in(Role.KEEPER)
    for person in (shop.cast.keeper, shop.cast.finisher):
        said = {"mail_person": str(person.id), "email": f"{person.sign_in_name}@shop.example"}
        assert keeper.post("/warnings/mail", data=said).status_code == 303
    with shop.database.writing() as session:
        due, owed_by = shop.clock() + timedelta(hours=2), shop.cast.finisher.id or 0
        said = {"kind": "count-container", "sentence": "Count the <varnish>."}
        session.add(Duty(**said, owed_by=owed_by, due_at=due, created_at=shop.clock()))
    return shop


def test_each_sees_their_own_mail_and_nothing_is_written(mailed: Shop) -> None:
    piet = mailed.signed_in(Role.FINISHER).get(PATH).text
    assert "1 due today: " in piet and "Count the &lt;varnish&gt;." in piet and "at 07:00" in piet
    orla = mailed.signed_in(Role.KEEPER).get(PATH).text
    assert "Head of the rag log" in orla and "varnish" not in orla
    student = mailed.signed_in(Role.STUDENT).get(PATH).text
    assert "Nothing: there would be no mail for you." in student and "not yet: a keeper adds" in student
    with mailed.database.reading() as session:
        assert session.exec(select(OutboxRow)).all() == []
        assert session.exec(select(DigestChoice)).all() == []


def test_the_last_keeper_who_leaves_a_kind_out_is_told_and_so_is_the_day(mailed: Shop) -> None:
    orla, said = mailed.signed_in(Role.KEEPER), "obody is told by mail of: containers to look at first"
    assert said not in orla.get("/alerts").text
    left = {"wanted": "yes", "kinds_off": ["look-first", "missing-fact"], "version": "0"}
    assert orla.post(PATH, data=left).status_code == 303
    page = orla.get(PATH).text
    assert f"Now n{said}; facts that are missing." in page and f"N{said}" in page
    assert "Keepers who did not leave it out are told of it" not in page
    for path in ("/", "/alerts"):
        assert f"N{said}; facts that are missing. Every keeper left it out" in orla.get(path).text, path
    assert 'href="/me/morning"' in orla.get("/alerts").text
    assert orla.post(PATH, data={"wanted": "yes", "version": "1"}).status_code == 303
    assert said not in orla.get(PATH).text + orla.get("/alerts").text


@pytest.mark.parametrize(("since", "until"), [("0:00", "23:59"), ("6:00", "5:00"), ("12:00", "4:30")])
def test_quiet_hours_of_nearly_the_whole_day_are_refused(mailed: Shop, since: str, until: str) -> None:
    said = {"wanted": "yes", "quiet_from": since, "quiet_until": until, "version": "0"}
    answer = mailed.signed_in(Role.FINISHER).post(PATH, data=said)
    assert answer.status_code == 422 and "leaves hardly any time to be told" in answer.text
    assert 'id="e-quiet_until"' in answer.text and f'value="{since}"' in answer.text


def test_choices_are_kept_and_shown_again(mailed: Shop) -> None:
    piet = mailed.signed_in(Role.FINISHER)
    assert piet.post(PATH, data=CHOSEN).status_code == 303
    page = piet.get(PATH).text
    assert "are kept." in page and 'value="22:00"' in page and 'value="06:30"' in page
    assert "no mail for you" in page, "he left duties out"
    assert "varnish" in mailed.signed_in(Role.KEEPER).get(PATH).text, "the keepers are told instead"
    assert piet.post(PATH, data=CHOSEN).status_code == 409, "of another window"
    assert piet.post(PATH, data={"version": "1"}).status_code == 303
    with mailed.database.reading() as session:
        (row,) = session.exec(select(DigestChoice)).all()
    assert row.person_id == mailed.cast.finisher.id
    assert (row.wanted, row.quiet_from, row.kinds_off) == (False, None, [])


@pytest.mark.parametrize(
    ("odd", "words"),
    [
        ({"kinds_off": ["past"]}, "cannot be left out of the mail"),
        ({"kinds_off": ["duty-overdue", "duty"]}, "cannot be left out of the mail"),
        ({"kinds_off": ["nonsense"]}, "Choose among the kinds"),
        ({"quiet_until": ""}, "Enter both"),
        ({"quiet_from": ""}, "Enter both"),
        ({"quiet_from": "6:30"}, "would never end"),
        ({"quiet_from": "25:00"}, "Enter the time like 08:30."),
        ({"version": "x"}, "whole number"),
    ],
)
def test_what_cannot_be_chosen_is_refused_with_a_sentence(
    mailed: Shop, odd: dict[str, object], words: str
) -> None:
    piet = mailed.signed_in(Role.FINISHER)
    answer = piet.post(PATH, data=CHOSEN | odd)
    assert answer.status_code == 422 and words in answer.text
    kept = str(odd.get("quiet_from", "22"))
    assert f'value="{kept}"' in answer.text, "what was typed stands there again"
    with mailed.database.reading() as session:
        assert session.exec(select(DigestChoice)).all() == []


def test_a_tapped_tablet_looks_and_chooses_nothing(mailed: Shop) -> None:
    tablet = mailed.tablet(mailed.cast.finisher)
    page = tablet.get(PATH)
    assert page.status_code == 200 and "Keep it" not in page.text
    assert tablet.post(PATH, data=CHOSEN).status_code == 403
    assert mailed.client().get(PATH).status_code == 303
