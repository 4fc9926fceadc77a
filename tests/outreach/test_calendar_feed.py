"""The calendar file, read back by a reader that had no part in writing it."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ical.calendar import Calendar
from ical.calendar_stream import IcsCalendarStream
from ical.event import EventStatus
from icalendar import Calendar as SameLibrary

from service.core.calendar_entries import Entry, EntryKind
from service.core.mail_addresses import one_line
from service.outreach.calendar_feed import calendar_file

AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
SHOP = datetime(2025, 1, 1, tzinfo=UTC)
HOSTILE = (
    "Beize, „dunkel“; 50\\50 \\n:X\r\nBEGIN:VEVENT\r\nSUMMARY:mine\x0b\u2028\x85\u202e 🎨🪵 <b> ^n "
    + "ä🎨" * 80
)


def read(written: bytes) -> Calendar:
    return IcsCalendarStream.calendar_from_ics(written.decode())


def entry(title: str = "Look first: R4F 34T raw umber", **more: Any) -> Entry:
    values: dict[str, Any] = {
        "uid": "container-5-look", "kind": EntryKind.LOOK, "day": date(2026, 8, 1), "title": title,
        "text": "One.\nTwo, or three; four.", "page": "/containers/R4F34T", "sequence": 7, "stamp": AT,
    }
    return Entry(**values | more)


def lines(written: bytes) -> list[str]:
    """The unfolded lines."""
    return written.decode().replace("\r\n ", "").split("\r\n")


def test_an_entry_says_what_it_is() -> None:
    written = calendar_file("Harbour, Lane", "All; of it.", (entry(),), SHOP, "https://store.example")
    (event,) = read(written).events
    assert event.summary == "Look first: R4F 34T raw umber"
    assert event.description == "One.\nTwo, or three; four."
    assert (event.dtstart, event.sequence, event.dtstamp) == (date(2026, 8, 1), 7, AT)
    assert (event.end, event.computed_duration.days) == (date(2026, 8, 2), 1), "the end is not a day of it"
    assert event.status is EventStatus.CONFIRMED and event.categories == ["Look first"]
    assert str(event.url) == "https://store.example/containers/R4F34T"
    said = lines(written)
    assert "DTSTART;VALUE=DATE:20260801" in said and "TRANSP:TRANSPARENT" in said
    assert "COLOR:goldenrod" in said and "COLOR:sienna" in said
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H" in said and "X-PUBLISHED-TTL:PT1H" in said
    assert "NAME:Harbour\\, Lane" in said and "X-WR-CALNAME:Harbour\\, Lane" in said
    assert "DESCRIPTION:All\\; of it." in said and "VERSION:2.0" in said
    assert not any(line.startswith(("METHOD", "DTEND", "BEGIN:VTIMEZONE", "URL:/")) for line in said)
    assert not any(line.startswith("URL") for line in lines(calendar_file("n", "t", (entry(),), SHOP)))


def test_numbers_are_the_same_for_ever_and_of_this_shop_alone() -> None:
    def uids(shop: datetime, *entries: Entry) -> list[str | None]:
        return [event.uid for event in read(calendar_file("n", "t", entries, shop)).events]

    first = uids(SHOP, entry(), entry(uid="container-5-end"), entry(uid="duty-5"))
    assert len(set(first)) == 3
    moved = entry(title="Something else", day=date(2027, 1, 1), sequence=9, cancelled=True)
    assert uids(SHOP, moved) == first[:1]
    assert not set(uids(AT, entry())) & set(first)
    # The same number from one version of the program to the next.
    assert first[0] == "2cdcb14a-a8cc-5ead-ad63-b38e595bb742"


def test_a_cancelled_one_says_so() -> None:
    (event,) = read(calendar_file("n", "t", (entry(cancelled=True),), SHOP)).events
    assert event.status is EventStatus.CANCELLED


def test_hostile_names_stay_inside_their_entry() -> None:
    entries = entry(HOSTILE, text=f"{HOSTILE}\n{HOSTILE}"), entry("plain", uid="container-6-look")
    written = calendar_file(HOSTILE, HOSTILE, entries, SHOP)
    one, other = read(written).events
    assert one.summary == one_line(HOSTILE, 200) and other.summary == "plain"
    assert "🎨" in (one.description or "")
    assert lines(written).count("BEGIN:VEVENT") == 2
    assert all(len(line) <= 75 for line in written.split(b"\r\n"))


@pytest.mark.parametrize("text", ["C:\\New", "\\N", "\\n", "\\\\n", "a\\,b", "\\;", "50\\", "\\\\N"])
def test_a_backslash_is_a_backslash(text: str) -> None:
    """The library that writes takes ``\\N`` in a text for a new line, if it is left to it."""
    (event,) = read(calendar_file("n", "t", (entry(text, text=f"{text}\n{text}"),), SHOP)).events
    assert (event.summary, event.description) == (text, f"{text}\n{text}")


def test_any_text_comes_back_as_it_went_in() -> None:
    texts = st.text(min_size=1, max_size=300)

    @given(texts, texts, texts, st.dates(date(1900, 1, 1), date(2199, 12, 31)), st.integers(0, 2**31 - 1))
    def comes_back(name: str, title: str, text: str, day: date, sequence: int) -> None:
        written = calendar_file(name, text, (entry(title, text=text, day=day, sequence=sequence),), SHOP)
        written.decode("utf-8")
        assert all(len(line) <= 75 for line in written.split(b"\r\n"))
        assert not any(ord(sign) < 32 and sign not in "\r\n" for sign in written.decode())
        (event,) = read(written).events
        assert event.summary == one_line(title, 200)
        assert (event.dtstart, event.sequence) == (day, sequence)
        meant = "\n".join(one_line(line, 300) for line in text.splitlines())
        assert (event.description or "") == meant
        (own,) = SameLibrary.from_ical(written).walk("VEVENT")
        assert str(own["SUMMARY"]) == one_line(title, 200)

    comes_back()


def test_a_day_is_that_day_in_every_zone_and_29_february_is_itself() -> None:
    days = [date(2028, 2, 29), date(2026, 3, 29), date(2026, 10, 25), date(2026, 12, 31)]
    entries = tuple(entry(uid=f"duty-{n}", day=day) for n, day in enumerate(days))
    calendar = read(calendar_file("n", "t", entries, SHOP))
    assert [event.dtstart for event in calendar.events] == days
    for event in calendar.events:
        assert not isinstance(event.dtstart, datetime)
    for n, day in enumerate(days):
        for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
            on = [e.uid for e in calendar.timeline_tz(ZoneInfo(zone)).on_date(day)]
            assert on == [calendar.events[n].uid], (zone, day)
