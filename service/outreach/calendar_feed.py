"""A calendar as a file that calendar programs subscribe to (RFC 5545, with the properties of RFC 7986)."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Final
from uuid import NAMESPACE_URL, uuid5

from service.core.calendar_entries import CATEGORY, Entry, EntryKind
from service.core.mail_addresses import one_line

if TYPE_CHECKING:
    from icalendar import Event, vText

MEDIA_TYPE: Final = "text/calendar; charset=utf-8"
EVERY: Final = "PT1H"
"""How often programs are asked to fetch it; many look only once a day."""
_COLOURS: Final = {
    EntryKind.LOOK: "goldenrod", EntryKind.END: "firebrick", EntryKind.DUTY: "steelblue",
    EntryKind.MORE: "gray",
}  # fmt: skip
_TITLE_MOST: Final = 200
_LINE_MOST: Final = 300


@lru_cache(maxsize=8)
def calendar_file(
    name: str, text: str, entries: tuple[Entry, ...], shop_since: datetime, base: str = ""
) -> bytes:
    """The file: lines of at most 75 octets, ended by CRLF.

    The last few are kept: programs fetch every hour what has seldom changed, and writing a thousand entries
    takes far longer than finding them.

    Args:
        shop_since: when the shop was set up (aware); with it the numbers of its entries are its own.
        base: the service's own address; "" leaves the entries without a link.
    """
    # Loaded when somebody first asks for a calendar: a start waits for nothing it does not need.
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", "-//Umberkeep//Dates of the store//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    # As texts: the library writes what it does not know as it is, commas unescaped.
    for key in ("name", "x-wr-calname"):
        calendar.add(key, _text(one_line(name, _TITLE_MOST)))
    for key in ("description", "x-wr-caldesc"):
        calendar.add(key, _text(one_line(text, 1000)))
    calendar.add("color", "sienna")
    # RFC 7986 wants the type said; readers take a duration without it for a mistake.
    calendar.add("refresh-interval", _text(EVERY), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", _text(EVERY))
    for one in entries:
        calendar.add_component(_event(one, shop_since, base))
    return bytes(calendar.to_ical())


def _event(one: Entry, shop_since: datetime, base: str) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", _uid(one, shop_since))
    event.add("dtstamp", one.stamp.astimezone(UTC))
    event.add("last-modified", one.stamp.astimezone(UTC))
    event.add("sequence", one.sequence)
    # A day without a zone and without an end: it is that one day wherever it is read.
    event.add("dtstart", one.day)
    event.add("summary", _text(one_line(one.title, _TITLE_MOST)))
    event.add("description", _text("\n".join(one_line(line, _LINE_MOST) for line in one.text.splitlines())))
    event.add("categories", [CATEGORY[one.kind]])
    event.add("color", _COLOURS[one.kind])
    event.add("class", "PRIVATE")
    event.add("transp", "TRANSPARENT")
    event.add("status", "CANCELLED" if one.cancelled else "CONFIRMED")
    if base:
        event.add("url", f"{base}{one.page}")
    return event


@cache
def _exact() -> type[vText]:
    from icalendar import vText

    class Exact(vText):
        """A text that comes back as it went in: the library takes a backslash before N for a new line."""

        def to_ical(self) -> bytes:
            written = str(self)
            for sign, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
                written = written.replace(sign, escaped)
            return written.encode()

    return Exact


def _text(value: str) -> vText:
    return _exact()(value)


def _uid(one: Entry, shop_since: datetime) -> str:
    """The same for the same entry of the same shop for ever, and another one in every other shop."""
    return str(uuid5(NAMESPACE_URL, f"umberkeep:{shop_since.astimezone(UTC).isoformat()}:{one.uid}"))
