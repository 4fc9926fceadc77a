"""Field types: what they read, what they refuse, and that they refuse with a sentence."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Annotated, Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, Field, TypeAdapter, ValidationError

from service.core.findings import Invalid
from service.web import fields
from service.web.api_model import ApiModel
from service.web.text_guard import check_text


def read(kind: Any, value: Any) -> Any:
    return TypeAdapter(kind).validate_python(value)


def refused(kind: Any, value: Any) -> str:
    with pytest.raises(ValidationError) as caught:
        read(kind, value)
    return str(caught.value.errors(include_input=False)[0]["msg"])


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-25",
        "25 Nov 2026",
        "25 November 2026",
        "25. Nov. 2026",
        "Nov 25, 2026",
        "25.11.2026",
        "25/11/2026",
        "11/25/2026",
        " 25\u00a0Nov\u20092026 ",
        "25th Nov 2026",
        "25-11-2026".replace("-", "."),
        "25Nov2026",
    ],
)
def test_ways_of_writing_one_day(text: str) -> None:
    assert fields.read_day(text) == date(2026, 11, 25)


def test_a_slash_that_can_mean_two_days_is_never_guessed() -> None:
    with pytest.raises(Invalid) as caught:
        fields.read_day("5/11/2026")
    assert [r.text for r in caught.value.readings] == ["2026-11-05", "2026-05-11"]
    assert "5 Nov 2026" in caught.value.sentence and "11 May 2026" in caught.value.sentence
    assert fields.read_day("5/5/2026") == date(2026, 5, 5)
    assert fields.read_day("5.11.2026") == date(2026, 11, 5)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "soon",
        "31.02.2026",
        "25/25/2026",
        "0/1/2026",
        "25 Nov 26",
        "25 Foo 2026",
        "1899-12-31",
        "9999-01-01",
        "٢٥.١١.٢٠٢٦",
        "20261125",
        "2026-11-25T10:00",
        "1",
        "2026-13-01",
        "25.11.2026x",
    ],
)
def test_no_day(text: str) -> None:
    with pytest.raises(Invalid):
        fields.read_day(text)


@given(st.dates(date(1900, 1, 1), date(2200, 12, 31)))
def test_every_day_round_trips(day: date) -> None:
    assert fields.read_day(day.isoformat()) == day
    assert fields.read_day(f"{day.day} {day:%b} {day.year}") == day
    assert fields.read_day(f"{day:%d.%m.%Y}") == day


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12", "12"),
        ("0,5", "0.5"),
        ("0.125", "0.125"),
        ("1 000", "1000"),
        ("1\u202f250,5", "1250.5"),
        (" 7 ", "7"),
        ("−3", "-3"),
        (".5", "0.5"),
        ("-0", "0"),
        ("1,0001", "1.0001"),
        ("12.5", "12.5"),
        ("0,000", "0"),
        ("123456789012", "123456789012"),
    ],
)
def test_numbers(text: str, value: str) -> None:
    got = fields.read_number(text)
    assert got == Decimal(value) and str(got) != "-0"


@pytest.mark.parametrize("text", ["1,000", "1.000", "12.500", "999,999", "-1,000"])
def test_a_thousand_or_one_is_never_guessed(text: str) -> None:
    with pytest.raises(Invalid) as caught:
        fields.read_number(text)
    one, other = (Decimal(r.text) for r in caught.value.readings)
    assert other == one * 1000


@pytest.mark.parametrize(
    "text",
    [
        "",
        "abc",
        "1e5",
        "NaN",
        "Infinity",
        "1e999999",
        "1,000.5",
        "1,2,3",
        "1 00",
        "1_0",
        "٣",
        "½",
        "--1",
        "1 -",
        "1234567890123",
        "1" * 500,
        "0.1234567890",
    ],
)
def test_no_number(text: str) -> None:
    with pytest.raises(Invalid):
        fields.read_number(text)


def test_wall_clock_and_zone() -> None:
    berlin = ZoneInfo("Europe/Berlin")
    local = fields.read_clock("25 Nov 2026 14:05")
    assert local == fields.read_clock("2026-11-25T14:05") == fields.read_clock("25.11.2026, 14:05")
    assert fields.to_instant(local, berlin).astimezone(UTC) == datetime(2026, 11, 25, 13, 5, tzinfo=UTC)
    # EU summer time (Directive 2000/84/EC): last Sundays of March and October at 01:00 UTC.
    with pytest.raises(Invalid, match="did not exist"):
        fields.to_instant(fields.read_clock("2026-03-29 02:30"), berlin)
    with pytest.raises(Invalid) as caught:
        fields.to_instant(fields.read_clock("2026-10-25 02:30"), berlin)
    first, second = (datetime.fromisoformat(r.text) for r in caught.value.readings)
    assert (second - first).total_seconds() == 3600


@pytest.mark.parametrize(
    "text", ["14:05", "2026-11-25", "2026-11-25 24:00", "2026-11-25 14:60", "25 Nov 2026 2pm"]
)
def test_no_wall_clock(text: str) -> None:
    with pytest.raises(Invalid):
        fields.read_clock(text)


def test_instants_need_an_offset() -> None:
    assert read(fields.InstantText, "2026-11-25T14:05:00+01:00").utcoffset() is not None
    assert read(fields.InstantText, "2026-11-25 14:05z") == datetime(2026, 11, 25, 14, 5, tzinfo=UTC)
    for odd in ("2026-11-25T14:05:00", "0", "now", "2026-11-25T14:05:00+99:00", "0001-01-01T00:00:00+14:00"):
        refused(fields.InstantText, odd)
    refused(fields.InstantText, 0)


@pytest.mark.parametrize("value", [0, -1, 2**31, 2**63, "x", "1_0", " ", "٧", "1.0", True, "-1", "9" * 400])
def test_ids_out_of_range(value: Any) -> None:
    refused(fields.Id, value)


def test_ids_and_paging() -> None:
    assert read(fields.Id, "2147483647") == 2**31 - 1
    for kind, below, above in (
        (fields.PageNumber, 0, 100_001),
        (fields.PageSize, 0, 201),
        (fields.Offset, -1, 10**8),
    ):
        refused(kind, below)
        refused(kind, above)


@pytest.mark.parametrize("text", ["a\x00b", "a\ud800b", "a\x1bb", "a\u202eb", "a\x85b", "\x7fab"])
@pytest.mark.parametrize(
    "kind", [fields.Name, fields.Sentence, fields.Note, fields.Code, fields.WrittenAmount]
)
def test_hidden_signs_are_refused_with_a_sentence(kind: Any, text: str) -> None:
    message = refused(kind, text)
    assert message.startswith("Take out") or "unicode" in message.lower()


def test_lines() -> None:
    assert read(fields.Note, " one\r\ntwo\ttab ") == "one\ntwo\ttab"
    assert refused(fields.Name, "one\ntwo").startswith("Write this on one line")
    assert refused(fields.Name, "one\u2028two").startswith("Write this on one line")
    assert read(fields.Name, "  Raw\u00a0 umber ") == "Raw umber"
    assert read(fields.Code, "k7q f2b") == "K7Q F2B"


@pytest.mark.parametrize(
    ("kind", "limit"),
    [
        (fields.Name, 120),
        (fields.Sentence, 300),
        (fields.Note, 2000),
        (fields.WrittenAmount, 200),
        (fields.Secret, 128),
    ],
)
def test_lengths(kind: Any, limit: int) -> None:
    assert len(read(kind, "x" * limit)) == limit
    refused(kind, "x" * (limit + 1))


def test_secrets_are_not_trimmed() -> None:
    assert read(fields.Secret, " pass word ") == " pass word "


@pytest.mark.parametrize("key", ["", "x" * 65, "has space", "ümlaut-key", "key;drop", "abcdefgh\n"])
def test_once_keys_refused(key: str) -> None:
    refused(fields.Once, key)


@given(st.text(max_size=60))
def test_no_text_makes_a_reader_fall_over(text: str) -> None:
    for reader in (fields.read_day, fields.read_number, fields.read_clock, fields.read_instant):
        try:
            reader(text)
        except Invalid as error:
            assert error.sentence.endswith(".")


class Body(ApiModel):
    name: str = "x"
    count: int = 1
    share: Decimal = Decimal(0)
    weight: float = 0.0
    day: date | None = None
    at: datetime | None = None
    sure: bool = False
    parts: list[int] = Field(default_factory=list)
    inner: Inner | None = None


class Inner(ApiModel):
    words: list[str] = Field(default_factory=list)
    either: Annotated[int | str, Field()] = 1


Body.model_rebuild()


@pytest.mark.parametrize(
    "body",
    [
        {"name": "a\x00"},
        {"name": "\ud800"},
        {"name": "\x1b[2J"},
        {"name": "x" * 4001},
        {"name": 5},
        {"name": None},
        {"count": True},
        {"count": "1"},
        {"count": 1.0},
        {"count": 2**63},
        {"count": None},
        {"parts": [1, True]},
        {"share": float("nan")},
        {"share": "Infinity"},
        {"share": "1e999999"},
        {"share": True},
        {"share": 1e300},
        {"share": "1_0"},
        {"share": "٣"},
        {"share": ""},
        {"share": "0." + "1" * 60},
        {"weight": float("inf")},
        {"weight": False},
        {"weight": 1e200},
        {"weight": "1e999"},
        {"day": 0},
        {"day": "0"},
        {"day": "20261125"},
        {"day": "2026-02-30"},
        {"day": "2026-01-01T00:00:00"},
        {"day": 1.5},
        {"at": 0},
        {"at": "2026-01-01T00:00:00"},
        {"at": "2026-01-01"},
        {"at": "1700000000"},
        {"sure": "yes"},
        {"sure": 1},
        {"unknown": 1},
        {"parts": list(range(1001))},
        {"inner": {"words": ["ok", "b\x00"]}},
        {"inner": {"surprise": 1}},
        {"inner": 5},
    ],
)
def test_json_bodies_refuse_what_means_something_else(body: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        Body.model_validate(body)


def test_json_bodies_read_what_is_meant() -> None:
    body = Body.model_validate(
        {
            "name": "two\nlines",
            "count": 3,
            "share": "12.50",
            "weight": 2,
            "day": "2026-11-25",
            "at": "2026-11-25T14:05:00+01:00",
            "sure": True,
            "parts": [1, 2],
            "inner": {"words": ["a"], "either": "b"},
        }
    )
    assert body.share == Decimal("12.50") and body.weight == 2.0 and body.day == date(2026, 11, 25)
    assert body.at is not None and body.at.utcoffset() is not None
    assert str(Body.model_validate({"share": "-0"}).share) == "0"
    assert Body.model_validate({"share": 0.1}).share == Decimal("0.1")


class _Plain(BaseModel):
    text: str


@given(st.text(max_size=40))
def test_what_passes_the_guard_can_be_stored_and_sent(text: str) -> None:
    try:
        kept = check_text(text, lines=True)
    except Exception:
        return
    assert "\x00" not in kept
    kept.encode("utf-8")
