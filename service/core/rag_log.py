"""The hash chain of the rag log: how an entry is turned into bytes, and what a check of the log can prove.

Doors: records/rags.py, records/rag_queries.py, actions/write_rag_log.py, web/pages/rags.py.

Canonical form, version 1 (never change it; a new form gets a new version and domain):
UTF-8 JSON; keys sorted by code point; no spaces; text in Unicode form NFC; instants as UTC
``2026-03-12T09:00:00.000000Z`` (always microseconds); dates ``2026-03-12``; whole numbers within 64 bits;
true, false, null; lists and nested mappings up to 8 deep. Anything else (floats, decimals, naive instants,
bytes, lone surrogates) is refused, so that no two values are written alike by accident of a database.

Hash of entry n = SHA-256 of: domain, hash of entry n-1 (32 bytes), n (8 bytes, big-endian), canonical bytes.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import NamedTuple

_DOMAIN = b"umberkeep/rag-log/1\x00"
GENESIS = hashlib.sha256(_DOMAIN + b"genesis").hexdigest()
_DEEPEST = 8
_LONG_NUMBER = re.compile(r"[0-9]{19}")
"""From 19 digits on a whole number may be beyond 64 bits."""
_BIGGEST = 2**63
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


@dataclass(frozen=True)
class Head:
    """The end of the log as it was once: how many entries, the last one's hash, when, and where it was kept.

    ``at`` is aware and in the shop's zone: its date is printed. ``where`` reads like "day sheet".
    """

    count: int
    hash: str
    at: datetime
    where: str


class LogRow(NamedTuple):
    """One stored line of the log: its number from 1, what it says, and the hash stored with it.

    ``written``: the canonical bytes of the entry, where the caller has seen that they are (`read_canonical`,
    `rag_log_forms.Forms`); ``entry`` is not looked at then.
    """

    seq: int
    entry: Mapping[str, object]
    hash: str
    written: bytes | None = None


@dataclass(frozen=True)
class LogProof:
    """What a check proved. ``first_bad`` is the first entry that does not fit, ``what`` says how.

    ``last_witness`` is the furthest head kept outside that the log still agrees with; ``head_hash`` that of
    the last entry that fits.
    """

    unbroken: bool
    count: int
    head_hash: str
    first_bad: int | None
    what: str
    last_witness: Head | None
    sentence: str


def canonical(entry: Mapping[str, object]) -> bytes:
    """The one byte form of an entry (see the top of this file). ``ValueError`` names what cannot be written.

    >>> canonical({"b": 1, "a": "é"}) == '{"a":"é","b":1}'.encode()
    True
    """
    plain = _plain(entry, 0, "entry")
    text = json.dumps(plain, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return text.encode("utf-8")


def _plain(value: object, depth: int, where: str) -> object:
    if depth > _DEEPEST:
        raise ValueError(f"{where} is nested too deep")
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _text(value, where)
    if isinstance(value, int):
        if not -_BIGGEST <= value < _BIGGEST:
            raise ValueError(f"{where} is too big a number")
        return int(value)
    if isinstance(value, datetime):
        if value.utcoffset() is None:
            raise ValueError(f"{where} is an instant without a time zone")
        return _instant(value, where)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return _mapping(value, depth, where)
    if isinstance(value, list | tuple):
        return [_plain(part, depth + 1, f"{where}[{n}]") for n, part in enumerate(value)]
    raise ValueError(f"{where} is a {type(value).__name__}, which has no one written form")


def _instant(value: datetime, where: str) -> str:
    try:
        utc = value.astimezone(UTC)
    except OverflowError:
        raise ValueError(f"{where} is out of the calendar") from None
    return utc.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def _text(value: str, where: str) -> str:
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        raise ValueError(f"{where} holds half a character") from None
    return unicodedata.normalize("NFC", str(value))


def _mapping(value: Mapping[object, object], depth: int, where: str) -> dict[str, object]:
    made: dict[str, object] = {}
    for key, part in value.items():
        if not isinstance(key, str):
            raise ValueError(f"{where} has a name that is no text")
        name = _text(key, where)
        if name in made:
            raise ValueError(f"{where} has {name} twice")
        made[name] = _plain(part, depth + 1, f"{where}.{name}")
    return made


def entry_hash(prev_hash: str, seq: int, entry: Mapping[str, object]) -> str:
    """The hash of entry ``seq`` (from 1) after ``prev_hash`` (64 hex digits; ``GENESIS`` before the first).

    >>> len(entry_hash(GENESIS, 1, {"step": "loose"}))
    64
    """
    return chained(prev_hash, seq, canonical(entry))


def chained(prev_hash: str, seq: int, written: bytes) -> str:
    """As `entry_hash`, of an entry in its canonical bytes.

    Raises:
        ValueError: ``prev_hash`` or ``seq`` cannot be one.
    """
    previous = bytes.fromhex(prev_hash)
    if len(previous) != 32 or isinstance(seq, bool) or not 1 <= seq < _BIGGEST:
        raise ValueError("a hash of 32 bytes and a number from 1 are needed")
    return hashlib.sha256(_DOMAIN + previous + seq.to_bytes(8, "big") + written).hexdigest()


def _no_float(text: str) -> float:
    raise ValueError(f"{text} has no one written form")


_DECODER = json.JSONDecoder(parse_float=_no_float, parse_constant=_no_float)
_ENCODER = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def read_canonical(text: str) -> dict[str, object]:
    """The entry a stored text holds.

    Raises:
        ValueError: it is not the one written form of any entry.

    >>> read_canonical('{"a":1,"b":null}')
    {'a': 1, 'b': None}
    """
    entry = _DECODER.decode(text)
    if not isinstance(entry, dict):
        raise ValueError("an entry is a mapping")
    # Nearly every entry is flat: written back by the library alone, it is the same text. What is nested or
    # holds a very long number or a combining sign is looked at part by part.
    flat = text.count("{") + text.count("[") <= _DEEPEST and not _LONG_NUMBER.search(text)
    if flat and unicodedata.is_normalized("NFC", text) and _ENCODER.encode(entry) == text:
        text.encode("utf-8")
        return entry
    if canonical(entry).decode() != text:
        raise ValueError("it is not in its one written form")
    return entry


@dataclass(slots=True)
class _Check:
    """A check in progress: what still fits, and the first thing that does not."""

    head: str = GENESIS
    good: int = 0
    count: int = 0
    first_bad: int | None = None
    what: str = ""
    witness: Head | None = None

    def fail(self, at: int, what: str) -> None:
        if self.first_bad is None:
            self.first_bad, self.what = at, what


def verify(rows: Iterable[LogRow], witnessed: Sequence[Head] = ()) -> LogProof:
    """Check a log, read once in the order it is kept, against itself and the heads kept outside.

    Edits, deletions inside, insertions and reorderings show by themselves. A cut tail, or a tail or a whole
    log written anew, shows only against a witnessed head; without one the sentence says so.

    >>> h = entry_hash(GENESIS, 1, {"step": "loose"})
    >>> verify([LogRow(1, {"step": "loose"}, h)]).sentence
    'Unbroken, 1 entry; no outside witness yet.'
    """
    any_witness = bool(witnessed)
    by_count: dict[int, list[Head]] = {}
    for head in witnessed:
        by_count.setdefault(head.count, []).append(head)
    check = _Check()
    _meet_witnesses(check, by_count.pop(0, []))
    for row in rows:
        check.count += 1
        if check.first_bad is None:
            _take(check, row)
            if by_count and check.first_bad is None:
                _meet_witnesses(check, by_count.pop(row.seq, []))
    if check.first_bad is None and by_count:
        longest = max((h for heads in by_count.values() for h in heads), key=lambda h: h.count)
        check.fail(
            check.count + 1,
            f"the log is cut: it has {_entries(check.count)}, but {_named(longest)} "
            f"was written at entry {longest.count}",
        )
    return _proof(check, any_witness)


def _take(check: _Check, row: LogRow) -> None:
    want = check.good + 1
    if row.seq != want:
        check.fail(
            want,
            f"entry {want} is missing" if row.seq > want else f"entry {row.seq} stands where {want} belongs",
        )
        return
    try:
        due = chained(check.head, want, canonical(row.entry) if row.written is None else row.written)
    except ValueError as trouble:
        check.fail(want, f"entry {want} cannot be read ({trouble})")
        return
    if due != row.hash:
        check.fail(want, f"entry {want} or the link before it was changed")
        return
    check.head, check.good = due, want


def _meet_witnesses(check: _Check, heads: Sequence[Head]) -> None:
    for head in heads:
        if head.hash == check.head:
            check.witness = head
    for head in heads:
        if head.hash != check.head:
            since = check.witness.count if check.witness and check.witness.count < head.count else 0
            check.fail(
                head.count,
                f"{_named(head)} has another hash for entry {head.count}: the log was "
                f"written anew somewhere after entry {since}",
            )


def _named(head: Head) -> str:
    return f"{head.where} of {day_words(head.at.date())}"


def day_words(day: date) -> str:
    """A date as it is read out.

    >>> day_words(date(2026, 3, 12))
    '12 March 2026'
    """
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def month_words(month: str) -> str:
    """A month written like 2026-11, as it is read out.

    >>> month_words("2026-11")
    'November 2026'
    """
    year, number = month.split("-")
    return f"{_MONTHS[int(number) - 1]} {int(year)}"


def _entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count} entries"


def _proof(check: _Check, any_witness: bool) -> LogProof:
    seen = check.witness
    witness = (
        f"last witnessed head: entry {seen.count}, {_named(seen)}"
        if seen
        else "no outside witness agrees"
        if any_witness
        else "no outside witness yet"
    )
    state = (
        f"Unbroken, {_entries(check.count)}"
        if check.first_bad is None
        else f"Broken at entry {check.first_bad}: {check.what}; {_entries(check.count)} read"
    )
    return LogProof(
        check.first_bad is None,
        check.count,
        check.head,
        check.first_bad,
        check.what,
        seen,
        f"{state}; {witness}.",
    )
