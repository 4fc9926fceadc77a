"""Solvent wipes at the doors: begun and handed over on the pages and by the calls."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.core.access import Role
from service.records.engine import Database
from tests.rag_shop import RagShop, once
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client

TOLD = {
    "way": "laundry", "named": "Weir Lane Laundry", "address": "2 Weir Lane, Ashford",
    "no_liquid": "Wrung out, nothing at the bottom",
}  # fmt: skip


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def test_from_the_first_wipe_to_the_laundry(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    finisher = doors.signed_in(Role.FINISHER)
    said = {"place": str(rags.bucket), "started_on": "10 Mar 2026", "labelled": "yes", "sound": "yes"}
    refused = finisher.post("/rags/wipes", data=said | {"once": once(), "labelled": "no"})
    assert refused.status_code == 409 and "Excluded Solvent-Contaminated Wipes" in refused.text
    assert "10 Mar 2026" in refused.text, "what was written is kept"
    begun = finisher.post("/rags/wipes", data=said | {"once": once()})
    page = begun.headers["location"]
    text = finisher.get(page).text.replace("\u00a0", " ")
    assert "6 Sep 2026" in text and "A keeper hands it over" in text
    assert finisher.post(page, data=TOLD | {"once": once()}).status_code == 403
    rags.now += timedelta(days=170)
    keeper = doors.signed_in(Role.KEEPER)
    assert "8 days left" in keeper.get(page).text
    alerts = keeper.get("/alerts").text
    assert "Water can, labelled" in alerts
    assert "Water can, labelled" in keeper.get("/duties").text
    short = keeper.post(page, data=TOLD | {"once": once(), "address": "Ashford"})
    assert short.status_code == 409 and "name and the address" in short.text
    assert keeper.post(page, data=TOLD | {"once": once()}).status_code == 303
    listing = keeper.get("/rags/wipes").text
    assert "No container of solvent wipes stands" in listing and "2 Weir Lane, Ashford" in listing
    assert "solvent wipes handed over" in keeper.get("/rags/log").text
    assert keeper.get(page).status_code == 404


def test_the_same_by_the_calls(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    script, reader = doors.api(Role.KEEPER), doors.api(Role.READER)
    body = {"place": rags.bucket, "started_on": "2026-03-10", "labelled": "yes", "sound": "yes"}
    assert doors.api(Role.STUDENT).post("/api/wipes", json=body | {"once": once()}).status_code == 403
    bare = {"place": rags.bucket, "started_on": "2026-03-10", "once": once()}
    lacking = script.post("/api/wipes", json=bare)
    codes = {finding["code"] for finding in lacking.json()["findings"]}
    assert lacking.status_code == 409 and codes == {"wipes-not-labelled", "wipes-container"}
    begun = script.post("/api/wipes", json=body | {"once": once()})
    assert begun.status_code == 201 and begun.json()["last_day"] == "2026-09-06"
    number = begun.json()["wipes"]
    rags.now += timedelta(days=200)
    stands = reader.get("/api/wipes").json()["wipes"]
    assert [one["id"] for one in stands] == [number]
    assert "wipes-past" in {finding["code"] for finding in stands[0]["findings"]}
    sent = doors.api(Role.KEEPER).post(f"/api/wipes/{number}/sent", json=TOLD | {"once": once()})
    assert sent.status_code == 201, sent.text
    assert "wipes-past" in {finding["code"] for finding in sent.json()["findings"]}
    assert reader.get("/api/wipes").json() == {"wipes": []}
    violations = doors.signed_in(Role.KEEPER).get("/rags/violations").text
    assert "The exclusion no longer holds" in violations


def test_a_hundred_and_eighty_days_of_the_wall(made: tuple[RagShop, Shop]) -> None:
    """Begun at 23:30 in winter: the clocks change, and 180 times 24 hours would be a day too long."""
    _, doors = made
    asked = {
        "profiles": ["epa_261_4"], "item": "solvent_wipes", "time_zone": "Europe/Berlin",
        "used_until": "2025-12-01T23:30",
    }  # fmt: skip
    answer = doors.api(Role.KEEPER).post("/api/calc/rag-deadline", json=asked)
    # 30 days of December after the 1st, 31, 28, 31, 30 are 150; 30 more: 30 May, whose end is 22:00 UTC.
    assert answer.json()["remove_by"].startswith(("2026-05-31T00:00:00+02:00", "2026-05-30T22:00:00"))
