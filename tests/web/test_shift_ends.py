"""When rags must be gone, through the doors: shifts over midnight, and the nights the clocks change.

Every expected time stands here twice: as the wall of the shop shows it, and in UTC as worked out by hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from service.core.access import Role
from service.records.engine import Database
from service.records.shop import Shift, ShopProfile
from tests.rag_shop import once
from tests.web.rag_client import rag_client


@dataclass(frozen=True)
class Night:
    """A shift of one weekday, an oil drawn in it or beside it, and when its rags must be gone.

    ``drawn`` and ``gone`` are on the wall; a trailing ``*`` is the second time that the clock shows it.
    """

    zone: str
    shift: tuple[str, str]
    drawn: str
    gone: str
    gone_utc: str


NIGHTS = {
    # A plain week: 24:00 comes before the end of the shift; after midnight the end of the shift comes first.
    "berlin, evening of a late shift": Night(
        "Europe/Berlin", ("18:00", "02:00"), "2026-06-03 19:00", "2026-06-04 00:00", "2026-06-03T22:00"),
    "berlin, after midnight": Night(
        "Europe/Berlin", ("18:00", "02:00"), "2026-06-04 00:30", "2026-06-04 02:00", "2026-06-04T00:00"),
    "kathmandu, after midnight": Night(
        "Asia/Kathmandu", ("18:00", "02:00"), "2026-06-04 00:30", "2026-06-04 02:00", "2026-06-03T20:15"),
    "berlin, a shift that ends at midnight": Night(
        "Europe/Berlin", ("16:00", "00:00"), "2026-06-03 19:00", "2026-06-04 00:00", "2026-06-03T22:00"),
    "berlin, after the shift": Night(
        "Europe/Berlin", ("18:00", "02:00"), "2026-06-04 02:00", "2026-06-05 00:00", "2026-06-04T22:00"),
    # 29 March 2026: 02:00 becomes 03:00 at 01:00 UTC. 02:30 is never shown; at 03:00 it is past.
    "berlin, spring, end in the gap": Night(
        "Europe/Berlin", ("22:00", "02:30"), "2026-03-29 00:30", "2026-03-29 03:00", "2026-03-29T01:00"),
    "berlin, spring, end after the gap": Night(
        "Europe/Berlin", ("22:00", "03:30"), "2026-03-29 00:30", "2026-03-29 03:30", "2026-03-29T01:30"),
    "berlin, spring, the day of 23 hours": Night(
        "Europe/Berlin", ("22:00", "02:30"), "2026-03-29 10:00", "2026-03-30 00:00", "2026-03-29T22:00"),
    "berlin, the evening before": Night(
        "Europe/Berlin", ("22:00", "03:30"), "2026-03-28 23:30", "2026-03-29 00:00", "2026-03-28T23:00"),
    # 25 October 2026: 03:00 becomes 02:00 at 01:00 UTC. Of the two 02:30 the first counts.
    "berlin, autumn, end shown twice": Night(
        "Europe/Berlin", ("22:00", "02:30"), "2026-10-25 00:30", "2026-10-25 02:30", "2026-10-25T00:30"),
    "berlin, autumn, end after": Night(
        "Europe/Berlin", ("22:00", "03:30"), "2026-10-25 00:30", "2026-10-25 03:30", "2026-10-25T02:30"),
    "berlin, autumn, drawn in the second hour": Night(
        "Europe/Berlin", ("22:00", "03:30"), "2026-10-25 02:10*", "2026-10-25 03:30", "2026-10-25T02:30"),
    "berlin, autumn, drawn after the first end": Night(
        "Europe/Berlin", ("22:00", "02:30"), "2026-10-25 02:10*", "2026-10-26 00:00", "2026-10-25T23:00"),
    # 14 March 2027 and 7 November 2027 in New York; in St John's with its half hour.
    "new york, spring": Night(
        "America/New_York", ("20:00", "03:30"), "2027-03-14 00:15", "2027-03-14 03:30", "2027-03-14T07:30"),
    "new york, autumn": Night(
        "America/New_York", ("20:00", "03:30"), "2027-11-07 00:15", "2027-11-07 03:30", "2027-11-07T08:30"),
    "new york, autumn, end shown twice": Night(
        "America/New_York", ("20:00", "01:15"), "2027-11-07 00:15", "2027-11-07 01:15", "2027-11-07T05:15"),
    "st john's, spring, end in the gap": Night(
        "America/St_Johns", ("20:00", "02:30"), "2027-03-14 00:15", "2027-03-14 03:00", "2027-03-14T05:30"),
    # A change of half an hour: on 5 April 2026 02:00 becomes 01:30 at 15:00 UTC of the 4th.
    "lord howe, end shown twice": Night(
        "Australia/Lord_Howe", ("21:00", "01:45"),
        "2026-04-05 00:10", "2026-04-05 01:45", "2026-04-04T14:45"),
    "lord howe, end in the gap": Night(
        "Australia/Lord_Howe", ("21:00", "02:15"),
        "2026-10-04 00:10", "2026-10-04 02:30", "2026-10-03T15:30"),
    # 6 September 2026 in Santiago has no midnight: 00:00 becomes 01:00 at 04:00 UTC.
    "santiago, no midnight": Night(
        "America/Santiago", ("18:00", "00:30"), "2026-09-05 19:00", "2026-09-06 01:00", "2026-09-06T04:00"),
}  # fmt: skip


def wall(text: str, zone: str) -> datetime:
    """What the clock of a zone shows, in UTC."""
    at = datetime.strptime(text.rstrip("*"), "%Y-%m-%d %H:%M")  # noqa: DTZ007
    return at.replace(tzinfo=ZoneInfo(zone), fold=text.endswith("*")).astimezone(UTC)


@pytest.mark.parametrize("name", list(NIGHTS))
def test_gone_by(name: str, sqlite_database: Database, tmp_path: Path) -> None:
    night = NIGHTS[name]
    gone = wall(night.gone, night.zone)
    assert gone == datetime.fromisoformat(night.gone_utc).replace(tzinfo=UTC), "worked out twice"
    with rag_client(sqlite_database, tmp_path) as (rags, doors):
        with sqlite_database.writing() as session:
            session.get_one(ShopProfile, 1).time_zone = night.zone
            starts, ends = (time.fromisoformat(text) for text in night.shift)
            session.add_all(
                Shift(name="Late", weekday=day, starts=starts, ends=ends) for day in range(7)
            )
        rags.now = wall(night.drawn, night.zone)
        finisher, script = doors.signed_in(Role.FINISHER), doors.api(Role.KEEPER)
        job = {"name": "Late coat", "kind": "shop-work", "ends": "shift", "once": once()}
        opened = finisher.post("/jobs/new", data=job)
        assert opened.status_code == 303, opened.text[-2000:]
        number = opened.headers["location"].rpartition("/")[2]
        draw = {"amount": "10 ml", "when": "about", "looked": "yes", "job": number}
        page = f"/containers/{rags.oil}/draw"
        assert finisher.post(page, data=draw | {"once": once()}).status_code == 303
        load = script.get("/api/rag-loads").json()["loads"][0]
        assert datetime.fromisoformat(load["remove_by"]) == gone
        # In the can in time; on the dot nothing is late, a second later oil is stopped for everybody.
        put = {"step": "in-can", "can": str(rags.can), "once": once()}
        rags.pass_by(minutes=1)
        assert finisher.post(f"/rags/{load['id']}/step", data=put).status_code == 303
        for late, codes in ((timedelta(), False), (timedelta(seconds=1), True)):
            rags.now = gone + late
            tried = script.post(
                f"/api/containers/{rags.oil}/draws",
                json={"amount": "10 ml", "looked": True, "once": once()},
            )
            said = {finding["code"] for finding in tried.json().get("findings", [])}
            assert ("rags-overdue" in said) is codes, tried.text
