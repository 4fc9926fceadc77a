"""Waste drums at the doors: pages, calls and the file say the same; forms keep what was typed."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.core.access import Role
from service.records.engine import Database
from tests.rag_shop import RagShop, once
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client

DRUM = {
    "name": "Drum 1", "stream": "Spent thinner", "hazards": "Ignitable", "area": "satellite", "acute": "no",
    "capacity": "55 US gal", "liquid": "yes",
}  # fmt: skip


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_a_drum_goes_from_its_beginning_to_its_hand_over(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    keeper = doors.signed_in(Role.KEEPER)
    begun = keeper.post("/waste/drums/new", data=DRUM | {"once": once()})
    assert begun.status_code == 303
    here = begun.headers["location"]
    finisher = doors.signed_in(Role.FINISHER)
    put = {"once": once(), "what": "Rinsings", "amount": "40 US gal"}
    assert finisher.post(f"{here}/put-in", data=put).status_code == 303
    thrown = {"once": once(), "destination": "waste-drum", "amount": "100 ml", "drum": here.rsplit("/", 1)[1],
              "when": "about"}  # fmt: skip
    assert finisher.post(f"/containers/{rags.spirit}/discard", data=thrown).status_code == 303
    page = plain(finisher.get(here).text)
    for words in ("Rinsings", "151.517 l", rags.spirit, "no time runs", "40 CFR 262.15(a) (read)"):
        assert words in page, words
    assert "It is handed over" not in page and "was moved" not in page
    over = {"once": once(), "step": "over"}
    assert finisher.post(f"{here}/steps", data=over).status_code == 303
    assert "more than 55 gallons" in plain(keeper.get("/waste/drums").text).lower()
    label = plain(doors.signed_in(Role.READER).get(f"{here}/label").text)
    for words in ("Hazardous Waste", "Spent thinner", "Ignitable", "Over its amount since", "Leaves by"):
        assert words in label, words
    assert keeper.post(f"{here}/steps", data={"once": once(), "step": "moved"}).status_code == 303
    gone = {"once": once(), "receiver": "Millrace", "transporter": "Carriers", "mass": "150 kg"}
    assert finisher.post(f"{here}/hand-over", data=gone).status_code == 403
    assert keeper.post(f"{here}/hand-over", data=gone).status_code == 303
    page = plain(keeper.get("/waste/drums").text)
    assert "No drum of waste stands" in page and "Millrace" in page and "150 kg" in page
    assert keeper.get(f"{here}/label").status_code == 404
    late = finisher.post(f"{here}/put-in", data={"once": once(), "what": "x"})
    assert late.status_code == 409 and "takes nothing any more" in plain(late.text)


def test_a_refused_form_keeps_what_was_typed(made: tuple[RagShop, Shop]) -> None:
    _, doors = made
    keeper = doors.signed_in(Role.KEEPER)
    wrong = keeper.post("/waste/drums/new", data=DRUM | {"once": once(), "capacity": "55 gal"})
    assert wrong.status_code == 422
    assert "Spent thinner" in wrong.text and "55 US gal" in plain(wrong.text), "both gallons are offered"
    missing = keeper.post("/waste/drums/new", data={"once": once(), "stream": "Spent thinner"})
    assert missing.status_code == 422 and "Give it a name" in missing.text
    here = keeper.post("/waste/drums/new", data=DRUM | {"once": once()}).headers["location"]
    for path, said, field in (
        ("put-in", {"what": "Rinsings", "amount": "lots"}, "f-amount"),
        ("put-in", {"what": "Rinsings", "happened": "yesterday-ish"}, "f-happened"),
        ("steps", {"step": "weighed", "step_note": "Rinsings"}, "f-all_in"),
        ("hand-over", {"receiver": "Rinsings"}, "f-transporter"),
    ):
        answer = keeper.post(f"{here}/{path}", data=said | {"once": once()})
        assert answer.status_code == 422, path
        assert f'href="#{field}"' in answer.text and "Rinsings" in answer.text, path
    again = keeper.post("/waste/drums/new", data=DRUM | {"once": once()})
    assert again.status_code == 409 and "stands already" in plain(again.text)
    site = keeper.post("/waste/drums/site", data={"once": once(), "category": "SQG", "reason": "so"})
    assert site.status_code == 422 and "f-reason" in site.text


def test_less_than_is_known_is_asked_about_and_more_than_the_size_is_said(
    made: tuple[RagShop, Shop],
) -> None:
    _, doors = made
    keeper, api = doors.signed_in(Role.KEEPER), doors.api(Role.KEEPER)
    here = keeper.post("/waste/drums/new", data=DRUM | {"once": once()}).headers["location"]
    put = {"once": once(), "what": "Rinsings", "amount": "300 l"}
    assert keeper.post(f"{here}/put-in", data=put).status_code == 303
    page = plain(keeper.get(here).text)
    assert "One of both figures is wrong" in page, "300 l in 55 gallons"
    less = {"once": once(), "step": "weighed", "all_in": "3 l"}
    answer = keeper.post(f"{here}/steps", data=less)
    assert answer.status_code == 422 and 'href="#f-step_note"' in answer.text and "3 l" in plain(answer.text)
    body = {"once": once(), "step": "weighed", "amount": "3 l"}
    drum = here.rsplit("/", 1)[1]
    assert "note" in api.post(f"/api/waste-drums/{drum}/entries", json=body).json()["errors"]
    assert len(api.get(f"/api/waste-drums/{drum}").json()["entries"]) == 1
    said = less | {"once": once(), "step_note": "It was thirty litres, misread before"}
    assert keeper.post(f"{here}/steps", data=said).status_code == 303
    begun = DRUM | {"once": once(), "name": "B", "holds": "40 kg"}
    answer = keeper.post("/waste/drums/new", data=begun)
    assert answer.status_code == 422 and 'href="#f-first_waste_on"' in answer.text


def test_what_is_in_no_drum_is_put_into_one_and_taken_back(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    keeper, api = doors.signed_in(Role.KEEPER), doors.api(Role.KEEPER)
    spoilt = {"once": once(), "destination": "waste-drum", "amount": "100 ml"}
    assert api.post(f"/api/containers/{rags.spirit}/discards", json=spoilt).status_code == 201
    drum = api.post("/api/waste-drums", json=DRUM | {"once": once()}).json()["drum"]
    [movement] = api.get("/api/waste-drums").json()["in_no_drum"]
    assert "Not in any drum" in keeper.get("/waste/drums").text
    none = keeper.post("/waste/sort", data={"once": once(), "drum": str(drum)})
    assert none.status_code == 422
    chosen = {"once": once(), "drum": str(drum), "movements": [str(movement)]}
    assert keeper.post("/waste/sort", data=chosen).status_code == 303
    whole = api.get(f"/api/waste-drums/{drum}").json()
    assert [one["container"] for one in whole["entries"]] == [rags.spirit]
    entry = whole["entries"][0]["id"]
    assert "Why is it taken back?" in keeper.get(f"/waste/drum-entries/{entry}/take-back").text
    back = {"once": once(), "reason": "It was the other drum"}
    assert keeper.post(f"/waste/drum-entries/{entry}/take-back", data=back).status_code == 303
    whole = api.get(f"/api/waste-drums/{drum}").json()
    steps = [(one["step"], one["counts"]) for one in whole["entries"]]
    assert steps == [("put-in", False), ("taken-back", False)]
    assert api.get("/api/waste-drums").json()["in_no_drum"] == [movement]


def test_calls_and_the_file_say_the_same(made: tuple[RagShop, Shop]) -> None:
    _, doors = made
    api = doors.api(Role.KEEPER)
    told: dict[str, Any] = {"category": "SQG", "haul_miles": 201, "reason": "Weighed every month since March"}
    assert api.post("/api/waste-site", json=told | {"once": once()}).status_code == 201
    body = DRUM | {"once": once(), "area": "central", "first_waste_on": "2026-02-01", "holds": "5 kg"}
    drum = api.post("/api/waste-drums", json=body).json()["drum"]
    entry = {"once": once(), "step": "put-in", "what": "Rinsings", "amount": "2 l"}
    assert doors.api(Role.FINISHER).post(f"/api/waste-drums/{drum}/entries", json=entry).status_code == 201
    assert doors.api(Role.STUDENT).post(f"/api/waste-drums/{drum}/entries", json=entry).status_code == 403
    [one] = doors.api(Role.READER).get("/api/waste-drums").json()["drums"]
    assert (one["started"], one["leaves_by"], one["rule"]) == ("2026-02-01", "2026-10-29", "40 CFR 262.16")
    assert (one["kg"], one["kg_is_at_least"], one["overdue"]) == ("5", True, False)
    rows = list(csv.DictReader(io.StringIO(doors.signed_in(Role.READER).get("/waste/drums/drums.csv").text)))
    assert (rows[0]["leaves_by"], rows[0]["kg"], rows[0]["kg_is_at_least"]) == ("2026-10-29", "5", "yes")
    left = {"once": once(), "receiver": "Millrace", "transporter": "Carriers"}
    assert api.post(f"/api/waste-drums/{drum}/hand-over", json=left).status_code == 201
    found = api.get("/api/waste-drums").json()
    assert found["drums"] == [] and found["handed_over"][0]["kg"] is None, "not weighed is not known"
    assert api.post(f"/api/waste-drums/{drum}/entries", json=entry | {"once": once()}).status_code == 409
    assert doors.signed_in(Role.STUDENT).get("/waste/drums").status_code == 403


def test_what_meets_in_a_drum_is_said_on_page_label_and_call(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    keeper, script = doors.signed_in(Role.KEEPER), doors.api(Role.KEEPER)
    here = keeper.post("/waste/drums/new", data=DRUM | {"once": once()}).headers["location"]
    number = here.rsplit("/", 1)[1]
    put = {"once": once(), "what": "Sludge of the booth", "amount": "1 l"}
    assert keeper.post(f"{here}/put-in", data=put).status_code == 303
    assert "was not judged" not in plain(keeper.get(here).text), "one thing alone is together with nothing"
    more = {"once": once(), "what": "Sweepings of the gallery", "amount": "1 l"}
    assert keeper.post(f"{here}/put-in", data=more).status_code == 303
    assert "Whether it may be together was not judged" in plain(keeper.get(here).text)
    assert "Not judged" in plain(keeper.get(f"{here}/label").text)
    called = {one["code"] for one in script.get(f"/api/waste-drums/{number}").json()["findings"]}
    assert "waste-mix-not-judged" in called
    bleach = {"what": "Hydrogen peroxide 35 %", "confirmation": "Its sheet says that it may"}
    refused = keeper.post(f"{here}/put-in", data=bleach | {"once": once()})
    assert refused.status_code == 409 and "Its sheet says that it may" in refused.text
    told = script.post(
        f"/api/waste-drums/{number}/entries",
        json={"once": once(), "step": "put-in"} | bleach,
    )  # fmt: skip
    assert told.status_code == 409 and "never-oxidiser-organic" in told.text
    thrown = {"once": once(), "destination": "waste-drum", "amount": "100 ml", "waste_drum": int(number),
              "confirmation": "Nothing to confirm here"}  # fmt: skip
    assert script.post(f"/api/containers/{rags.spirit}/discards", json=thrown).status_code == 201


def test_a_moved_drum_stands_where_it_was_moved_to(made: tuple[RagShop, Shop]) -> None:
    _, doors = made
    keeper = doors.signed_in(Role.KEEPER)
    yard = keeper.post("/places/new", data={"once": once(), "name": "Back yard", "kind": "room"})
    assert yard.status_code == 303, plain(yard.text)
    number = yard.headers["location"].rsplit("/", 1)[1]
    here = keeper.post("/waste/drums/new", data=DRUM | {"once": once()}).headers["location"]
    assert "Where does it stand now?" in keeper.get(here).text
    wrong = keeper.post(f"{here}/steps", data={"once": once(), "step": "over", "stands": number})
    assert wrong.status_code == 422 and "Only a move tells where it stands now" in plain(wrong.text)
    moved = {"once": once(), "step": "moved", "stands": number}
    assert keeper.post(f"{here}/steps", data=moved).status_code == 303
    page = plain(keeper.get(here).text)
    assert "Back yard" in page and "Where does it stand now?" not in page
    assert "Back yard" in plain(keeper.get("/waste/drums").text)
