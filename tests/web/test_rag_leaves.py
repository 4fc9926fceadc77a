"""A whole can leaves, and what pages offer at closing time, without script."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import col, select

from service.core.access import Role
from service.core.materials import Unknown
from service.core.rags import RagStep, Water
from service.records.duties import Duty
from service.records.engine import Database
from service.records.places import Place
from tests.rag_shop import ENDS, RagShop, a_batch, a_recipe, once, open_a_job
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    """Two loads in the rag can, a third in the drum, a fourth loose."""
    with rag_client(sqlite_database, tmp_path) as (rags, doors):
        for number in (1, 2, 3, 4):
            rags.job = open_a_job(rags, f"Job {number}")
            rags.pass_by(minutes=1)
            rags.draw()
            rags.pass_by(minutes=1)
            if number < 3:
                rags.into_can()
            if number == 3:
                rags.step(RagStep.OUTSIDE_DRUM, can_id=rags.drum, water=Water.FULL)
        yield rags, doors


def test_only_what_lies_in_the_named_can_leaves_with_it(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    client = doors.signed_in(Role.FINISHER)
    text = client.get("/rags/hand-over").text
    assert "“Rag can” left" in text and "“Drum in the yard” left" in text and "(Job 4)" not in text
    text = client.get(f"/rags/hand-over?can={rags.can}").text
    assert "(Job 1)" in text and "(Job 2)" in text and "(Job 3)" not in text and "(Job 4)" not in text
    assert "they stay owed" in text and 'value="dried"' not in text and 'value="bin"' not in text
    form = {"can": str(rags.can), "how": "hauler", "named": "County waste service"}
    # Another set than lies in it, or nobody named, is nothing.
    for loads in (["1"], ["1", "2", "4"], []):
        said = form | {"loads": loads, "once": once()}
        assert client.post("/rags/hand-over", data=said).status_code == 409, loads
    whole = form | {"loads": ["1", "2"]}
    assert client.post("/rags/hand-over", data=whole | {"named": "", "once": once()}).status_code == 409
    assert client.post("/rags/hand-over", data=whole | {"how": "", "once": once()}).status_code == 422
    assert client.post("/rags/hand-over", data=whole | {"how": "bin", "once": once()}).status_code == 409
    assert client.post("/rags/hand-over", data=whole | {"once": once()}).status_code == 303
    assert [rags.load(n).state.ended for n in (1, 2, 3, 4)] == [True, True, False, False]
    drum = {"can": str(rags.drum), "loads": ["3"], "once": once()}
    assert client.post("/rags/hand-over", data=form | drum).status_code == 403
    assert doors.signed_in(Role.KEEPER).post("/rags/hand-over", data=form | drum).status_code == 303


def test_a_can_with_newer_rags_loose_does_not_leave(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw(job_id=3)
    rags.pass_by(minutes=1)
    client = doors.signed_in(Role.FINISHER)
    text = client.get(f"/rags/hand-over?can={rags.can}").text
    assert "It left, with all of this" not in text and "/rags/2/step" in text
    form = {"can": str(rags.can), "how": "hauler", "named": "County waste service", "loads": ["1", "2"]}
    refused = client.post("/rags/hand-over", data=form | {"once": once()})
    assert refused.status_code == 409 and "are loose by the book" in refused.text
    assert not rags.load(1).state.ended and not rags.load(2).state.ended


def test_the_way_into_the_drum_stands_on_every_page_of_the_close(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    keeper = doors.signed_in(Role.KEEPER)
    button = f"/rags/cans/{rags.can}?into={rags.drum}"
    for page in ("/rags", "/rags/1", "/", "/day/close", "/jobs/2/close"):
        assert button in keeper.get(page).text, page
    assert button not in keeper.get("/rags/3").text and button not in keeper.get("/rags/4").text
    text = keeper.get(button).text
    assert "selected" in text and "Leave it empty when it is not known yet" in text
    with rags.database.writing() as session:  # not apart from the building: no button into a refusal
        drum = session.get_one(Place, rags.drum)
        drum.detached = Unknown.NOT_KNOWN
        session.add(drum)
    assert button not in keeper.get("/rags/1").text
    with rags.database.writing() as session:
        drum = session.get_one(Place, rags.drum)
        drum.detached = Unknown.YES
        session.add(drum)
    data = {"into": str(rags.drum), "water": "full", "when": "now", "collected_on": "", "once": once()}
    assert keeper.post(f"/rags/cans/{rags.can}/empty", data=data).status_code == 303
    with rags.database.reading() as session:
        told = session.exec(select(Duty.sentence).where(col(Duty.about_id) == 1)).all()
        assert len(told) == 1 and "collection day not known, fix it" in told[0]


def test_the_day_close_names_what_stops_it_and_leads_there(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    batch = a_batch(rags, a_recipe(rags))
    keeper = doors.signed_in(Role.KEEPER)
    for way, pieces in (("out", 6), ("in", 4)):
        data = {"way": way, "thing": "gloves", "pieces": str(pieces), "once": once()}
        assert keeper.post("/jobs/1/rags", data=data).status_code == 303
    text = keeper.get(f"/day/close?on={ENDS.date()}").text
    assert f"Batch {batch} of Job 4 is not finished" in text and f'href="/bench/{batch}"' in text
    assert f'href="/jobs/{rags.job}/close"' in text and 'href="/rags/5"' not in text
    assert "6 gloves were handed out and 4 handed in: 2 are missing" in text


def test_more_in_than_out_is_said(made: tuple[RagShop, Shop]) -> None:
    _rags, doors = made
    keeper = doors.signed_in(Role.KEEPER)
    for way, pieces in (("out", 10), ("in", 18)):
        data = {"way": way, "thing": "rags", "pieces": str(pieces), "once": once()}
        answer = keeper.post("/jobs/2/rags", data=data)
    assert answer.headers["location"].endswith("/step")
    assert "8 more came in than went out" in keeper.get("/jobs/2/rags").text
    for page in ("/jobs/2/close", f"/day/close?on={ENDS.date()}"):
        assert "8 more came in than went out" in keeper.get(page).text, page


def test_a_closed_job_with_its_rags_in_the_drum_says_so(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    client = doors.signed_in(Role.FINISHER)
    for job, words in ((4, "1 rag load in the drum outside"), (3, "1 rag load still to leave the building")):
        assert client.post(f"/jobs/{job}/close", data={"once": once()}).status_code == 303
        text = client.get(f"/jobs/{job}").text
        assert words in text and (job == 3) == ("still to leave the building" in text)
    assert rags.load(3).state.remove_met


def test_by_call_the_close_names_its_own_field_and_a_place_its_name(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    script, finisher = doors.api(Role.KEEPER), rags.people.finisher.id
    hand = {"way": "out", "pieces": 3, "person": finisher}
    assert script.post("/api/jobs/2/rags", json=hand | {"once": once()}).status_code == 201
    refused = script.post("/api/jobs/2/close", json={"once": once(), "person": rags.people.keeper.id})
    assert refused.status_code == 422 and "close_note" not in refused.text
    assert "note" in refused.text and "what became of them" in refused.text
    room = script.post("/api/places", json={"once": once(), "name": "Store room", "kind": "room"}).json()
    shelf = {"name": "Shelf 1", "kind": "shelf", "parent": "store room"}
    made_shelf = script.post("/api/places", json=shelf | {"once": once()})
    assert made_shelf.status_code == 201
    listed = {one["id"]: one for one in script.get("/api/places").json()["places"]}
    assert listed[made_shelf.json()["place"]]["parent"] == room["place"]
    script.post("/api/places", json={"once": once(), "name": "Store room", "kind": "room"})
    several = script.post("/api/places", json=shelf | {"once": once()})
    assert several.status_code == 422 and "Several places have this name" in several.text
    nowhere = script.post("/api/places", json=shelf | {"once": once(), "parent": "Attic"})
    assert nowhere.status_code == 422 and "No place has this code or name" in nowhere.text
