"""The machine's clock jumps under a running service, far back and far ahead; the book's never goes back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import col, select

from service.records.rags import RagLogRow
from service.records.stock import Posting
from tests.faults.invariants import nothing_lost
from tests.faults.served import Nursery, Served, nursery
from tests.faults.stand import AUTH, BROWSER, Stand
from tests.faults.writers import Writer, crew
from tests.wall_clock import Wall

JUMPS = {
    "three days back": timedelta(days=-3),
    "an hour back": timedelta(hours=-1),
    "to 1970": datetime(1970, 1, 2, tzinfo=UTC),
    "four hundred days ahead": timedelta(days=400),
    "to the end of 32 bits": datetime(2038, 1, 19, 3, 14, 7, tzinfo=UTC),
    "to the year 2150": datetime(2150, 6, 1, tzinfo=UTC),
}
"""Backward first: what is written far ahead stays ahead, because recorded time never goes back."""
PAGES = ("/", "/rags", "/alerts", "/containers/{box}")


@pytest.fixture(scope="module")
def wall(tmp_path_factory: pytest.TempPathFactory) -> Wall:
    return Wall(tmp_path_factory.mktemp("clock") / "clock")


@pytest.fixture(scope="module")
def faked(wall: Wall) -> Iterator[Nursery]:
    """Servers that see the clock of the file; what counts seconds for waiting stays true."""
    with nursery(**wall.environment()) as made:
        yield made


@pytest.fixture
def service(stand: Stand, faked: Nursery, wall: Wall) -> Iterator[Served]:
    wall.set(timedelta())
    made = Served(faked, stand.data, stand.url)
    made.start()
    yield made
    made.stop()


def act(stand: Stand, client: Writer, once: str) -> int:
    client.hang_up()  # the service ends a line that was idle for some seconds
    status = client.send((f"/api/containers/{stand.powders[0]}/losses",
                          {"once": once, "loss": "dried-up", "amount": "1 g"}))  # fmt: skip
    assert not client.bad, client.bad
    return status


def recorded(stand: Stand) -> list[datetime]:
    with stand.opened() as database, database.reading() as session:
        return list(session.exec(select(Posting.recorded_at).order_by(col(Posting.id))).all())


def test_the_service_goes_on_and_recorded_time_never_decreases(
    stand: Stand, service: Served, wall: Wall
) -> None:
    client = crew(stand, [service.port], 1, 71)[0]
    oil = f"/api/containers/{stand.oils[0]}/draws"
    assert client.send((oil, {"once": "oil", "amount": "1 ml", "job": stand.job})) == 201
    for number, (name, jump) in enumerate(JUMPS.items()):
        wall.set(jump)
        assert act(stand, client, f"jump-{number}") == 201, name
        # Refused by a rule or taken in, never a fault: its date may be past, its job over.
        client.send((oil, {"once": f"oil-{number}", "amount": "1 ml", "job": stand.job}))
        assert not client.bad, (name, client.bad)
        cookie = signed_in(service)
        for path in PAGES:
            status, _, body = service.get(path.format(box=stand.powders[0]), cookie)
            assert status == 200, (name, path, status, body[:500])
        for path in ("/api/alerts?days=30", "/api/rag-loads"):
            status, _, body = service.get(path, AUTH)
            assert status == 200, (name, path, body[:500])
        wall.set(timedelta())
        assert act(stand, client, f"back-{number}") == 201, name
    times = recorded(stand)
    assert times == sorted(times)
    assert times[-1].year == 2150, "the furthest entry is the book's time now"
    assert nothing_lost(stand, [client]) >= 1 + 2 * len(JUMPS)
    with stand.opened() as database, database.reading() as session:
        entries = session.exec(select(RagLogRow).order_by(col(RagLogRow.id))).all()
    assert [row.recorded_at for row in entries] == sorted(row.recorded_at for row in entries)


def test_a_year_that_no_book_is_kept_in_is_refused_and_poisons_nothing(
    stand: Stand, service: Served, wall: Wall
) -> None:
    client = crew(stand, [service.port], 1, 72)[0]
    wall.set(datetime(2250, 12, 30, tzinfo=UTC))
    path, body = f"/api/containers/{stand.powders[0]}/draws", {"once": "far", "amount": "1 g"}
    status, answer, _ = client.post((path, body))
    assert (status, answer["findings"][0]["code"]) == (409, "clock-wrong")
    assert "the year 2250" in answer["detail"]
    for page in PAGES:
        status, _, text = service.get(page.format(box=stand.powders[0]), BROWSER)
        assert status < 500, (page, text[:500])
    wall.set(timedelta())
    assert client.send((path, body)) == 201
    assert recorded(stand)[-1].year < 2100
    assert nothing_lost(stand, [client]) == 1


def test_a_clock_that_went_back_is_said_on_every_page(stand: Stand, service: Served, wall: Wall) -> None:
    client = crew(stand, [service.port], 1, 73)[0]
    words = b"clock stands before the last entry"
    assert words not in service.get("/store", BROWSER)[2]
    wall.set(timedelta(days=2))
    assert act(stand, client, "ahead") == 201
    wall.set(timedelta())
    assert words in service.get("/store", BROWSER)[2]


def test_a_sign_in_made_ahead_of_time_does_not_last_until_then(
    sqlite_stand: Stand, faked: Nursery, wall: Wall
) -> None:
    """Signed in while the clock stands twelve years ahead: when it is set right, the sign-in is over."""
    wall.set(timedelta())
    service = Served(faked, sqlite_stand.data)
    service.start()
    try:
        wall.set(datetime(2038, 1, 19, tzinfo=UTC))
        assert service.get("/me", BROWSER)[0] == 303, "a week is over"
        cookie = signed_in(service)
        assert service.get("/me", cookie)[0] == 200
        wall.set(timedelta())
        assert service.get("/me", cookie)[0] == 303
        again = signed_in(service)
        assert service.get("/me", again)[0] == 200
        wall.set(timedelta(hours=-1))
        assert service.get("/me", again)[0] == 303, "signed in at a time that has not come yet"
        wall.set(timedelta(days=8))
        assert service.get("/me", again)[0] == 303
    finally:
        service.stop()


def signed_in(service: Served) -> dict[str, str]:
    """Headers of a browser in which Orla has just signed in by her password."""
    form = {"content-type": "application/x-www-form-urlencoded", "accept": "text/html"}
    fields = "sign_in_name=orla&password=the+password+of+orla"
    status, headers, body = service.ask("POST", "/sign-in", form, fields)
    assert status == 303, body[-3000:]
    return {"cookie": headers["set-cookie"].split(";")[0], "accept": "text/html"}
