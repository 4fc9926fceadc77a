"""Recurring checks and training through pages and calls: one press, a sentence, a photograph; who may."""

from __future__ import annotations

import csv
import io
from collections.abc import Generator, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import col, select

from service.app import create_app
from service.core.access import Role
from service.records.check_queries import open_failure
from service.records.checks import CheckDone, RecurringCheck, Training
from service.records.engine import Database
from tests.builders import FAST_HASHER, cast
from tests.web.conftest import Clock, Shop, shop_settings
from tests.web.hostile import fresh_key
from tests.web.test_sample_pages import photo

BROKEN = "The seal of the second one by the door is broken."
ROOT = "/recurring-checks"


@pytest.fixture
def desk(sqlite_database: Database, tmp_path: Path) -> Iterator[Shop]:
    """The small shop; what depends on the engine stands in tests/actions."""
    with closing(opened(sqlite_database, tmp_path)) as shops:
        yield next(shops)


@pytest.fixture
def both(database: Database, tmp_path: Path) -> Iterator[Shop]:
    """The small shop on either database."""
    with closing(opened(database, tmp_path)) as shops:
        yield next(shops)


def opened(database: Database, tmp_path: Path) -> Generator[Shop, None, None]:
    with database.writing() as session:
        people = cast(session)
    clock = Clock()
    app = create_app(shop_settings(tmp_path, database), database, clock, hasher=FAST_HASHER)
    made = Shop(app, database, clock, people)
    try:
        yield made
    finally:
        for client in made.clients:
            client.close()


def number(desk: Shop, role: Role) -> int:
    return desk.cast.actor(role).person_id


def begun(desk: Shop, **said: str) -> int:
    """A check set through the page by a keeper; its number."""
    form = {"known": "extinguisher-look", "owner": str(number(desk, Role.FINISHER)), "once": fresh_key()}
    answer = desk.signed_in(Role.KEEPER).post(f"{ROOT}/new", data=form | said)
    assert answer.status_code == 303, answer.text
    return int(str(answer.headers["location"]).rsplit("/", 1)[1])


def record(client: TestClient, check: int, **said: Any) -> Any:
    files = said.pop("files", None)
    form = {"result": "not-fine", "sentence": BROKEN, "once": fresh_key()} | said
    return client.post(f"{ROOT}/{check}/record", data=form, files=files)


def test_one_press_is_fine_and_stands_in_the_history(desk: Shop) -> None:
    check, client = begun(desk), desk.signed_in(Role.FINISHER)
    listed = client.get(ROOT).text
    assert "Fire extinguishers: look at each" in listed and "Due by 31 March 2026" in listed
    assert client.post(f"{ROOT}/{check}/fine", data={"once": fresh_key()}).headers["location"] == ROOT
    after = client.get(ROOT).text
    assert "Due by 30 April 2026" in after and "12 March 2026: fine" in after
    page = client.get(f"{ROOT}/{check}").text
    assert "29 CFR 1910.157(e)(2) (memory)" in page and "Take it back" in page


def test_what_was_missed_stands_on_the_page_and_in_the_pack_after_the_next_fine(desk: Shop) -> None:
    check, client = begun(desk), desk.signed_in(Role.KEEPER)
    assert "Missed" not in client.get(ROOT).text
    desk.clock.pass_by(days=70)
    client = desk.signed_in(Role.KEEPER)
    assert client.post(f"{ROOT}/{check}/fine", data={"once": fresh_key()}).status_code == 303
    words = "2 months (1 March 2026 to 30 April 2026)"
    listed = client.get(ROOT).text
    assert words in listed and "Missed in the last 12 months" in listed
    pack = client.get("/inspection-pack")
    assert pack.status_code == 200 and words in pack.text and "1 missed in the last 12 months" in pack.text


def test_not_fine_is_owed_until_a_later_fine(both: Shop) -> None:
    desk = both
    check, client = begun(desk), desk.signed_in(Role.FINISHER)
    answer = record(client, check, done_about="A card <b>hangs</b> on it")
    assert answer.headers["location"] == f"{ROOT}/{check}"
    page = client.get(f"{ROOT}/{check}").text
    assert BROKEN in page and "A card &lt;b&gt;hangs&lt;/b&gt; on it" in page
    for where in ("/duties", "/alerts", "/", ROOT, f"{ROOT}/sheet"):
        assert BROKEN in client.get(where).text, where
    assert f'href="{ROOT}/{check}/record"' in client.get("/duties").text
    client.post(f"{ROOT}/{check}/fine", data={"once": fresh_key()})
    for where in ("/duties", "/alerts", "/"):
        assert BROKEN not in client.get(where).text, where


def test_late_it_stands_among_duties_and_today_and_alerts(desk: Shop) -> None:
    check = begun(desk)
    desk.clock.pass_by(days=21)
    finisher, keeper = desk.signed_in(Role.FINISHER), desk.signed_in(Role.KEEPER)
    for client, where in ((finisher, "/duties"), (finisher, "/"), (keeper, "/"), (keeper, "/alerts")):
        text = client.get(where).text
        assert "Fire extinguishers: look at each" in text and f'href="{ROOT}/{check}/record"' in text, where
    assert "2 days late" in keeper.get(ROOT).text
    assert "Fire extinguishers" not in keeper.get("/duties").text
    assert "Fire extinguishers" not in desk.signed_in(Role.STUDENT).get("/").text


def test_a_wrong_form_keeps_what_was_typed(desk: Shop) -> None:
    check, client = begun(desk), desk.signed_in(Role.FINISHER)
    for said, words in (
        ({"sentence": "bad", "done_about": "kept text"}, "Say what is not fine"),
        ({"result": "", "done_about": "kept text"}, "Choose fine or not fine."),
        ({"happened": "1 March 2026 10:00", "done_about": "kept text"}, "a real sentence"),
        ({"happened": "29 March 2026 02:30", "done_about": "kept text"}, "did not exist"),
        ({"happened": "13 March 2026 10:00", "done_about": "kept text"}, "not come yet"),
        ({"happened": "yesterday", "done_about": "kept text"}, "day"),
    ):
        answer = record(client, check, **said)
        assert answer.status_code == 422 and words in answer.text and "kept text" in answer.text, said
    with desk.database.reading() as session:
        assert session.exec(select(CheckDone)).all() == []
    late = {"happened": "1 March 2026 10:00", "late_reason": "It was on the paper of the round."}
    assert record(client, check, **late).status_code == 303
    assert "Late entry" in client.get(f"{ROOT}/{check}").text


def test_a_clock_put_back_asks_which_hour(desk: Shop) -> None:
    check = begun(desk)
    desk.clock.pass_by(days=228)
    client = desk.signed_in(Role.FINISHER)
    answer = record(client, check, happened="25 October 2026 02:30", late_reason="It was on paper till now.")
    assert answer.status_code == 422 and "came twice" in answer.text


def test_a_photograph_is_made_anew_and_shown(desk: Shop) -> None:
    check, client = begun(desk), desk.signed_in(Role.FINISHER)
    wrong = record(client, check, files={"photo": ("a.svg", b"<svg/>", "image/svg+xml")})
    assert wrong.status_code == 422 and "no JPEG" in wrong.text
    right = record(client, check, files={"photo": ("a.png", photo(), "image/png")})
    assert right.status_code == 303
    with desk.database.reading() as session:
        entry = session.exec(select(CheckDone)).one()
    shown = client.get(f"{ROOT}/{check}/entries/{entry.id}/photo")
    assert shown.headers["content-type"] == "image/jpeg" and shown.content[:3] == b"\xff\xd8\xff"
    assert "sandbox" in shown.headers["content-security-policy"]
    for path in (f"{ROOT}/{check}/entries/999/photo", f"{ROOT}/999/entries/{entry.id}/photo"):
        assert client.get(path).status_code == 404


def test_an_entry_is_taken_back_and_stays(desk: Shop) -> None:
    check, client = begun(desk), desk.signed_in(Role.FINISHER)
    record(client, check)
    with desk.database.reading() as session:
        entry = session.exec(select(CheckDone)).one().id
    where = f"{ROOT}/entries/{entry}/take-back"
    assert "Take entry" in client.get(where).text
    assert client.post(where, data={"reason": "", "once": fresh_key()}).status_code == 422
    done = client.post(where, data={"reason": "It was the other room", "once": fresh_key()})
    assert done.status_code == 303
    page = client.get(f"{ROOT}/{check}").text
    assert BROKEN in page and "taken back later" in page and "It was the other room" in page
    with desk.database.reading() as session:
        assert open_failure(session, check) is None


def test_a_keeper_gives_it_on_and_ends_it(desk: Shop) -> None:
    check, keeper = begun(desk), desk.signed_in(Role.KEEPER)
    assert "Who sees to it" in keeper.get(f"{ROOT}/{check}/edit").text
    form = {"owner": str(number(desk, Role.KEEPER)), "version": "1", "once": fresh_key()}
    assert keeper.post(f"{ROOT}/{check}/owner", data=form).status_code == 303
    student = form | {"owner": str(number(desk, Role.STUDENT)), "version": "2", "once": fresh_key()}
    assert keeper.post(f"{ROOT}/{check}/owner", data=student).status_code == 422
    stale = {"reason": "It hangs in another house now", "version": "1", "once": fresh_key()}
    assert keeper.post(f"{ROOT}/{check}/end", data=stale).status_code == 409
    assert keeper.post(f"{ROOT}/{check}/end", data=stale | {"reason": "x", "version": "2"}).status_code == 422
    fresh = stale | {"version": "2", "once": fresh_key()}
    assert keeper.post(f"{ROOT}/{check}/end", data=fresh).status_code == 303
    desk.clock.pass_by(days=1)
    keeper = desk.signed_in(Role.KEEPER)
    assert "Fire extinguishers: look" not in keeper.get(ROOT).text
    assert "ended" in keeper.get(f"{ROOT}/{check}").text


def test_a_check_of_ones_own_is_house_policy(desk: Shop) -> None:
    own = {"known": "", "what": "Ladder: feet", "unit": "week", "counted": "from-last", "times": "2"}
    check = begun(desk, **own)
    page = desk.signed_in(Role.READER).get(f"{ROOT}/{check}").text
    assert "at most 2 weeks after the last one" in page and "house policy" in page
    keeper = desk.signed_in(Role.KEEPER)
    for said, words in (
        ({"what": ""}, "Write what is checked"), ({"unit": ""}, "Choose how often"),
        ({"times": "77"}, "60"), ({"counted": "calendar"}, "once in each period"),
        ({"owner": ""}, "sees to it"),
        ({"known": "no-such"}, "of the list"), ({"place": "99"}, "Choose a place"), ({"since": "x"}, "day"),
    ):  # fmt: skip
        form = {"owner": str(number(desk, Role.KEEPER)), "once": fresh_key()} | own | said
        answer = keeper.post(f"{ROOT}/new", data=form)
        assert answer.status_code == 422 and words in answer.text, said
    assert "1910.157" in keeper.get(f"{ROOT}/new?known=extinguisher-service").text
    assert keeper.get(f"{ROOT}/new?known=nothing").status_code == 200


@pytest.mark.parametrize("role", [Role.STUDENT, Role.READER])
def test_a_student_sees_none_of_it_and_a_reader_only_reads(desk: Shop, role: Role) -> None:
    check, client = begun(desk), desk.signed_in(role)
    record(desk.signed_in(Role.FINISHER), check)
    reads = {path: client.get(path).status_code for path in (
        ROOT, f"{ROOT}/{check}", f"{ROOT}/sheet", f"{ROOT}/checks.csv", "/training", "/training/training.csv",
        "/records/periods", "/records/uses", "/records/uses.csv",
    )}  # fmt: skip
    assert set(reads.values()) == ({200} if role is Role.READER else {403}), reads
    if role is Role.READER:
        assert "/fine" not in client.get(ROOT).text
        assert "Take it back" not in client.get(f"{ROOT}/{check}").text
    key = {"once": "k"}
    for path, form in (
        (f"{ROOT}/{check}/fine", key), (f"{ROOT}/{check}/record", key | {"result": "fine"}),
        (f"{ROOT}/new", key | {"known": "eyewash", "owner": "1"}), (f"{ROOT}/{check}/owner", key),
        (f"{ROOT}/{check}/end", key), (f"{ROOT}/entries/1/take-back", key), ("/training/new", key),
        ("/training/1/take-back", key),
    ):  # fmt: skip
        assert client.post(path, data=form).status_code == 403, path
    with desk.database.reading() as session:
        assert len(session.exec(select(CheckDone)).all()) == 1


def test_training_for_several_people_at_once(both: Shop) -> None:
    desk = both
    keeper = desk.signed_in(Role.KEEPER)
    lacking = keeper.get("/training").text
    assert "Sanne" in lacking and "oily rags" in lacking
    form: dict[str, Any] = {
        "people": [str(number(desk, role)) for role in (Role.STUDENT, Role.FINISHER)],
        "groups": ["rags", "general"], "topic": "Where <i>rags</i> go", "taught_by": "Orla",
        "once": fresh_key(),
    }  # fmt: skip
    for said, words in (
        ({"people": []}, "who was taught"), ({"groups": []}, "what it was about"),
        ({"topic": ""}, "what was"),
        ({"on": "1 March 2026"}, "another day"), ({"on": "1 April 2026"}, "not come yet"),
        ({"groups": ["magic"]}, "About what"), ({"people": ["999"]}, "not in the book"),
    ):  # fmt: skip
        answer = keeper.post("/training/new", data=form | said)
        assert answer.status_code == 422 and words in answer.text, (said, answer.text[-3000:])
    assert keeper.post("/training/new", data=form).status_code == 303
    page = keeper.get("/training").text
    assert "Where &lt;i&gt;rags&lt;/i&gt; go" in page
    assert page.count("Where &lt;i&gt;") >= 4
    alone = keeper.get(f"/training?person={number(desk, Role.STUDENT)}").text
    assert "Sanne" in alone and keeper.get("/training?person=999").status_code == 404
    with desk.database.reading() as session:
        first = session.exec(select(Training.id).order_by(col(Training.id))).first()
    back = f"/training/{first}/take-back"
    assert keeper.get(back).status_code == 200 and keeper.get("/training/999/take-back").status_code == 404
    assert keeper.post(back, data={"reason": "Was not there", "once": fresh_key()}).status_code == 303
    assert keeper.post(back, data={"reason": "Was not there", "once": fresh_key()}).status_code == 409
    table = list(csv.DictReader(io.StringIO(keeper.get("/training/training.csv").text.lstrip("\ufeff"))))
    assert len(table) == 5 and table[-1]["takes_back_entry"] == str(first)


def test_the_same_through_calls(both: Shop) -> None:
    desk = both
    keeper, student, reader = (desk.api(role) for role in (Role.KEEPER, Role.STUDENT, Role.READER))
    body = {"once": "c-1", "known": "rag-can-lids", "owner": number(desk, Role.FINISHER)}
    made = keeper.post("/api/recurring-checks", json=body)
    assert made.status_code == 201, made.text
    check = made.json()["check"]
    assert keeper.post("/api/recurring-checks", json=body).json()["repeated"] is True
    where = f"/api/recurring-checks/{check}"
    bad = {"once": "c-2", "result": "not-fine", "sentence": BROKEN}
    assert student.post(f"{where}/entries", json=bad).status_code == 403
    assert reader.post(f"{where}/entries", json=bad).status_code == 403
    entry = keeper.post(f"{where}/entries", json=bad).json()
    assert entry["failed"] is True
    seen = reader.get(where).json()
    assert (seen["failed"], seen["last_result"], seen["due"]) == (True, "not-fine", "2026-03-22")
    assert [one["sentence"] for one in seen["entries"]] == [BROKEN]
    back = {"once": "c-3", "reason": "It was another can"}
    path = f"/api/recurring-check-entries/{entry['entry']}/reversal"
    assert keeper.post(path, json=back).json()["failed"] is False
    assert reader.get("/api/recurring-checks").json()["items"][0]["last_on"] is None
    refs = [one["ref"] for one in reader.get("/api/alerts").json()["alerts"]]
    assert f"recurring-check {check}" in refs
    end = {"once": "c-4", "version": 1, "reason": "The can was thrown away"}
    assert keeper.post(f"{where}/end", json=end).json()["version"] == 2
    taught = {
        "once": "t-1", "people": [number(desk, Role.STUDENT)], "groups": ["rags"], "topic": "Oily rags",
        "taught_by": "Orla",
    }  # fmt: skip
    assert student.post("/api/training", json=taught).status_code == 403
    number_of = keeper.post("/api/training", json=taught).json()["entries"][0]
    assert keeper.post("/api/training", json=taught | {"once": "t-2", "people": [999]}).status_code == 422
    gone = keeper.post(f"/api/training/{number_of}/reversal", json={"once": "t-3", "reason": "Was not there"})
    assert gone.status_code == 200, gone.text
    found = reader.get("/api/training").json()
    assert [one["taken_back"] for one in found["items"]] == [False, True]
    assert {one["group"] for one in found["lacking"] if one["person"] == number(desk, Role.STUDENT)} == {
        "general", "rags",
    }


def test_the_sheet_and_the_file_hold_every_check(both: Shop) -> None:
    desk = both
    for known in ("eyewash", "spill-kit", "storage-cabinet"):
        check = begun(desk, known=known)
    client = desk.signed_in(Role.FINISHER)
    record(client, check, sentence="=1+1 is what somebody wrote here")
    with desk.database.reading() as session:
        names = session.exec(select(RecurringCheck.what)).all()
    sheet = client.get(f"{ROOT}/sheet").text
    assert all(name in sheet for name in names) and "signed" in sheet
    rows = list(csv.DictReader(io.StringIO(client.get(f"{ROOT}/checks.csv").text.lstrip("\ufeff"))))
    assert len(rows) == 1 and rows[0]["found"].startswith("'=") and rows[0]["whose_word"] == "house policy"
