"""Field types for forms, paths and JSON that refuse what the tables cannot hold, with a sentence.

Use them as annotations: ``amount: WrittenAmount``, ``opened_on: DayText | None = None``. An id or a paging
number in a path or query needs them as much as a form does: an unbounded integer is a 500.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any, Final
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints
from pydantic_core import PydanticCustomError

from service.core.findings import Invalid, Reading
from service.core.written_days import YEARS, read_day, tidy
from service.web.text_guard import check_text, sentence

MAX_ID: Final = 2**31 - 1
"""PostgreSQL's integer ends here."""


def _one_line(value: Any) -> Any:
    if isinstance(value, str):
        check_text(value, lines=False)
        return tidy(value)
    return value


def _lines(value: Any) -> Any:
    if isinstance(value, str):
        check_text(value, lines=True)
        return value.replace("\r\n", "\n").replace("\r", "\n").strip()
    return value


def _not_bool(value: Any) -> Any:
    if isinstance(value, bool):
        raise sentence("Enter a number here.")
    return value


def _plain_int(value: Any) -> Any:
    """Digits only where text comes in: "1_0", " 7" and "٧" are not ids that anybody printed."""
    if isinstance(value, str) and not re.fullmatch(r"[0-9]{1,18}", value.strip(), re.ASCII):
        raise sentence("Enter a whole number in digits.")
    return _not_bool(value)


# The bounds stand before the validators that read text: so they are told in the description of the calls.
Id = Annotated[int, Field(ge=1, le=MAX_ID), BeforeValidator(_plain_int)]
"""A row's id, 1 … 2³¹ - 1."""
PageNumber = Annotated[int, Field(ge=1, le=100_000), BeforeValidator(_plain_int)]
PageSize = Annotated[int, Field(ge=1, le=200), BeforeValidator(_plain_int)]
Offset = Annotated[int, Field(ge=0, le=10_000_000), BeforeValidator(_plain_int)]
Version = Annotated[int, Field(ge=0, le=MAX_ID), BeforeValidator(_plain_int)]
"""The version of a record that the page showed; compared before an edit."""
Whole = Annotated[int, Field(ge=0, le=1_000_000), BeforeValidator(_plain_int)]
"""A count: 0 … 1 000 000."""

Name = Annotated[str, StringConstraints(min_length=1, max_length=120), BeforeValidator(_one_line)]
Sentence = Annotated[str, StringConstraints(min_length=1, max_length=300), BeforeValidator(_one_line)]
"""A reason or remark of one line, up to 300 signs."""
Note = Annotated[str, StringConstraints(max_length=2000), BeforeValidator(_lines)]
"""Free text of several lines, up to 2000 signs."""
WrittenAmount = Annotated[str, StringConstraints(min_length=1, max_length=200), BeforeValidator(_one_line)]
"""An amount as the bench writes it ("1 1/2 tsp"); `core.quantities` reads it."""
Code = Annotated[
    str, StringConstraints(min_length=1, max_length=120, to_upper=True), BeforeValidator(_one_line)
]
"""A shelf code or a scanned address, capitals; the check character is judged further in."""
Once = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9._:~-]{1,64}$")]
"""The key that makes sending the same thing twice harmless."""
Secret = Annotated[str, AfterValidator(lambda v: check_text(v, lines=False)), Field(max_length=128)]
"""A password or PIN: never trimmed, never shown again."""


def _time_of_day(value: Any) -> Any:
    """"8:30", "08.30" or "8" as a time of day."""
    if not isinstance(value, str):
        return value
    hour, _, minute = value.strip().replace(".", ":").partition(":")
    if not (hour.isascii() and hour.isdigit() and len(hour) <= 2 and int(hour) < 24):
        raise sentence("Enter the time like 08:30.")
    if minute and not (minute.isascii() and minute.isdigit() and len(minute) == 2 and int(minute) < 60):
        raise sentence("Enter the time like 08:30.")
    return time(int(hour), int(minute or 0))


ClockTime = Annotated[time, BeforeValidator(_time_of_day)]
"""A time of day on the wall, "8:30"."""


def read_clock(text: str) -> datetime:
    """A wall-clock time without zone: "2026-11-25 14:05", "25 Nov 2026 14:05", "2026-11-25T14:05".

    The result is naive on purpose; `to_instant` settles it in the shop's zone.

    >>> read_clock("25 Nov 2026, 14:05")
    datetime.datetime(2026, 11, 25, 14, 5)
    """
    match = re.fullmatch(
        r"(.+?)(?:, ?| |T)(\d{1,2})[:.](\d{2})(?::(\d{2})(?:\.0+)?)?", tidy(text), re.ASCII
    )
    if match is None:
        raise Invalid("Enter day and time like 25 Nov 2026 14:05.")
    hour, minute, second = int(match[2]), int(match[3]), int(match[4] or 0)
    if hour > 23 or minute > 59 or second > 59:
        raise Invalid("Enter the time between 00:00 and 23:59.")
    return datetime.combine(read_day(match[1]), time(hour, minute, second))


def to_instant(local: datetime, zone: ZoneInfo) -> datetime:
    """A wall-clock time of the shop with its offset. The hour that a change of the clocks skips is Invalid;
    the hour it repeats is never guessed: Invalid with both readings (ISO 8601 with offset).

    >>> to_instant(datetime(2026, 11, 25, 14, 5), ZoneInfo("Europe/Berlin")).isoformat()
    '2026-11-25T14:05:00+01:00'
    """
    early, late = local.replace(tzinfo=zone, fold=0), local.replace(tzinfo=zone, fold=1)
    if early.utcoffset() == late.utcoffset():
        return early
    utc = ZoneInfo("UTC")
    if early.astimezone(utc).astimezone(zone).replace(tzinfo=None) != local:
        raise Invalid("The clocks were put forward over that time; it did not exist. Check the time.")
    raise Invalid(
        "The clocks were put back: that time came twice. Say which one is meant.",
        readings=[Reading(early.isoformat(), "the first one, before the clocks were put back"),
                  Reading(late.isoformat(), "the second one, after the clocks were put back")],
    )


def read_instant(text: str) -> datetime:
    """An ISO 8601 instant with an offset or Z, between 1900 and 2200.

    >>> read_instant("2026-11-25T14:05:00Z").isoformat()
    '2026-11-25T14:05:00+00:00'
    """
    text = text.strip()
    shape = r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:?\d\d)"
    try:
        if re.fullmatch(shape, text, re.ASCII | re.IGNORECASE) is None:
            raise ValueError
        instant = datetime.fromisoformat(text.upper())
    except ValueError:
        raise Invalid("Enter the time with its zone, like 2026-11-25T14:05:00+01:00.") from None
    if not YEARS[0] < instant.year < YEARS[1]:
        raise Invalid("Enter a time between the years 1900 and 2200.")
    return instant


def read_number(text: str) -> Decimal:
    """A number as people type it: point or comma, thin or hard spaces between groups of three.

    "1,000" and "1.000" can be one or one thousand: Invalid, with both readings; never guessed.
    Up to 12 digits before the point and 9 after.

    >>> read_number("0,5"), read_number("1 250.5"), read_number("−3")
    (Decimal('0.5'), Decimal('1250.5'), Decimal('-3'))
    """
    plain = tidy(text).replace("\u2212", "-")
    if re.fullmatch(r"-?\d{1,3}( \d{3})+([.,]\d+)?", plain, re.ASCII):
        plain = plain.replace(" ", "")
    elif match := re.fullmatch(r"-?[1-9]\d{0,2}[.,]\d{3}", plain, re.ASCII):
        small, large = plain.replace(",", "."), re.sub(r"[.,]", "", plain)
        raise Invalid(
            f"{match[0]} can be {small} (between {small.split('.')[0]} and the next whole number) "
            f"or {large}. Choose which.",
            readings=[Reading(small.rstrip("0").rstrip("."), f"{small}, a decimal number"),
                      Reading(large, f"{large}, in thousands")],
        )
    if re.fullmatch(r"-?(\d{1,12}([.,]\d{1,9})?|[.,]\d{1,9})", plain, re.ASCII) is None:
        raise Invalid("Enter a number, like 12 or 0.5.")
    try:
        number = Decimal(plain.replace(",", "."))
    except InvalidOperation:
        raise Invalid("Enter a number, like 12 or 0.5.") from None
    return number if number else Decimal(0)


def _from_text(read: Callable[[str], Any], kind: type) -> BeforeValidator:
    def judge(value: Any) -> Any:
        if isinstance(value, kind) and not isinstance(value, bool):
            return value
        if not isinstance(value, str):
            raise sentence("Enter this as text.")
        check_text(value, lines=False)
        try:
            return read(value)
        except Invalid as error:
            readings = [(r.text, r.words) for r in error.readings]
            raise PydanticCustomError(
                "sentence", "{sentence}", {"sentence": error.sentence, "readings": readings}
            ) from None

    return BeforeValidator(judge, json_schema_input_type=str)


DayText = Annotated[date, _from_text(read_day, date)]
ClockText = Annotated[datetime, _from_text(read_clock, datetime)]
"""A wall-clock time of the shop, naive; `to_instant` gives it its zone."""
InstantText = Annotated[datetime, _from_text(read_instant, datetime)]
NumberText = Annotated[Decimal, _from_text(read_number, Decimal)]
"""A bounded decimal number as typed; add ``Field(ge=…, le=…)`` for the field's own range."""
