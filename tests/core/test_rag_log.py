"""The hash chain: what a check finds by itself, and what it finds only against a head kept outside."""

from __future__ import annotations

import hashlib
import json
import unicodedata
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from enum import StrEnum
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.core.rag_log import GENESIS, Head, LogRow, canonical, entry_hash, read_canonical, verify

NOON = datetime(2026, 3, 12, 12, tzinfo=UTC)
NAIVE = NOON.replace(tzinfo=None)
SIZES = range(1, 25)
slow_machine = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


def replace(row: LogRow, **changes: Any) -> LogRow:
    return row._replace(**changes)


def entry(n: int) -> dict[str, object]:
    return {
        "load": n % 3,
        "step": ("loose", "in-can", "removed")[n % 3],
        "at": NOON + timedelta(minutes=n),
        "witness": f"M. Keeper {n}",
        "note": "",
        "can": None,
        "late": n % 2 == 0,
        "covers": [n, n + 1],
    }


def chain(count: int, make: Callable[[int], Mapping[str, object]] = entry) -> list[LogRow]:
    rows, previous = [], GENESIS
    for n in range(1, count + 1):
        previous = entry_hash(previous, n, make(n))
        rows.append(LogRow(n, make(n), previous))
    return rows


def head(rows: list[LogRow], where: str = "day sheet") -> Head:
    return Head(len(rows), rows[-1].hash if rows else GENESIS, NOON, where)


def other(value: object) -> object:
    """Another value of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, str):
        return value + "x"
    if isinstance(value, datetime):
        return value + timedelta(microseconds=1)
    if isinstance(value, list):
        return value[::-1]
    return "something"


def test_an_unbroken_log_says_so_and_names_the_last_witness() -> None:
    rows = chain(412)
    proof = verify(rows, [head(rows[:100]), head(rows[:405])])
    assert proof.unbroken and proof.count == 412 and proof.head_hash == rows[-1].hash
    assert proof.last_witness == head(rows[:405])
    assert (
        proof.sentence == "Unbroken, 412 entries; last witnessed head: entry 405, day sheet of 12 March 2026."
    )


def test_without_a_witness_the_sentence_says_so() -> None:
    assert verify(chain(3)).sentence == "Unbroken, 3 entries; no outside witness yet."
    assert verify([]).sentence == "Unbroken, 0 entries; no outside witness yet."
    assert verify([]).head_hash == GENESIS


@pytest.mark.parametrize("count", SIZES)
def test_every_edit_of_every_field_is_found_where_it_is(count: int) -> None:
    rows = chain(count)
    for n, row in enumerate(rows):
        for name, value in row.entry.items():
            for changed in (
                {**row.entry, name: other(value)},
                {k: v for k, v in row.entry.items() if k != name},
            ):
                proof = verify([*rows[:n], replace(row, entry=changed), *rows[n + 1 :]])
                assert not proof.unbroken and proof.first_bad == n + 1, (n, name)
        added = verify([*rows[:n], replace(row, entry={**row.entry, "more": 1}), *rows[n + 1 :]])
        assert added.first_bad == n + 1
        for bad in (
            replace(row, hash="0" * 64),
            replace(row, hash=""),
            replace(row, seq=row.seq + 1),
            replace(row, seq=row.seq - 1),
            replace(row, seq=0),
            replace(row, seq=-row.seq),
        ):
            assert verify([*rows[:n], bad, *rows[n + 1 :]]).first_bad == n + 1


@pytest.mark.parametrize("count", SIZES[1:])
def test_an_edit_with_its_own_hash_made_anew_is_found_at_the_next_entry(count: int) -> None:
    rows = chain(count)
    for n, row in enumerate(rows[:-1]):
        changed = {**row.entry, "note": "never happened"}
        previous = rows[n - 1].hash if n else GENESIS
        forged = LogRow(row.seq, changed, entry_hash(previous, row.seq, changed))
        assert verify([*rows[:n], forged, *rows[n + 1 :]]).first_bad == n + 2


@pytest.mark.parametrize("count", SIZES[1:])
def test_every_deletion_inside_is_found_also_with_new_numbers(count: int) -> None:
    rows = chain(count)
    for n in range(count - 1):
        left = [*rows[:n], *rows[n + 1 :]]
        proof = verify(left)
        assert not proof.unbroken and proof.first_bad == n + 1 and "missing" in proof.what
        renumbered = [replace(r, seq=i) for i, r in enumerate(left, 1)]
        assert verify(renumbered).first_bad == n + 1


@pytest.mark.parametrize("count", SIZES)
def test_every_insertion_is_found(count: int) -> None:
    rows = chain(count)
    for n in range(count):
        for row in rows:
            assert not verify([*rows[:n], row, *rows[n:]]).unbroken
        previous = rows[n - 1].hash if n else GENESIS
        made_up = LogRow(n + 1, entry(99), entry_hash(previous, n + 1, entry(99)))
        assert verify([*rows[:n], made_up, *rows[n:]]).first_bad == n + 2
        renumbered = [replace(r, seq=i) for i, r in enumerate([*rows[:n], made_up, *rows[n:]], 1)]
        assert verify(renumbered).first_bad == n + 2
    assert verify([*rows, rows[-1]]).first_bad == count + 1


@pytest.mark.parametrize("count", SIZES[1:])
def test_every_swap_is_found(count: int) -> None:
    rows = chain(count)
    for a in range(count):
        for b in range(a + 1, count):
            swapped = list(rows)
            swapped[a], swapped[b] = rows[b], rows[a]
            assert verify(swapped).first_bad == a + 1
            renumbered = [replace(r, seq=i) for i, r in enumerate(swapped, 1)]
            assert verify(renumbered).first_bad == a + 1


@pytest.mark.parametrize("count", SIZES)
def test_a_cut_tail_shows_only_against_a_witnessed_head(count: int) -> None:
    rows = chain(count)
    for left in range(count):
        honest = verify(rows[:left])
        assert honest.unbroken and "no outside witness yet" in honest.sentence
        proof = verify(rows[:left], [head(rows)])
        assert not proof.unbroken and proof.first_bad == left + 1
        assert "cut" in proof.what and "day sheet of 12 March 2026" in proof.sentence
        earlier = verify(rows[:left], [head(rows[:left])])
        assert earlier.unbroken and earlier.last_witness == head(rows[:left])


@pytest.mark.parametrize("count", SIZES)
def test_a_rewrite_shows_only_against_a_witnessed_head(count: int) -> None:
    rows = chain(count)
    for first in range(1, count + 1):
        anew = chain(count, lambda n, first=first: {**entry(n), "note": "kind"} if n >= first else entry(n))
        assert verify(anew).unbroken
        for seen in range(count + 1):
            proof = verify(anew, [head(rows[:seen])])
            assert proof.unbroken == (seen < first), (first, seen)
            if seen >= first:
                assert proof.first_bad == seen and "anew" in proof.what and proof.last_witness is None
                assert "no outside witness agrees" in proof.sentence
    assert verify([*rows, *chain(count + 3)[count:]], [head(rows)]).unbroken


def test_two_witnesses_bracket_a_rewrite() -> None:
    rows = chain(20)
    anew = chain(20, lambda n: {**entry(n), "note": "kind"} if n >= 12 else entry(n))
    proof = verify(anew, [head(rows[:15], "morning mail"), head(rows[:8]), head(rows)])
    assert proof.first_bad == 15 and proof.last_witness == head(rows[:8])
    assert "after entry 8" in proof.what and "morning mail of 12 March 2026" in proof.what


def test_a_break_after_the_last_witness_still_names_that_witness() -> None:
    rows = chain(9)
    broken = [*rows[:7], replace(rows[7], entry=entry(50)), rows[8]]
    proof = verify(broken, [head(rows[:5])])
    assert proof.first_bad == 8 and proof.count == 9 and proof.last_witness == head(rows[:5])
    assert proof.head_hash == rows[6].hash


def test_it_streams() -> None:
    rows = chain(5)
    assert verify(iter(rows)).unbroken


def test_the_hash_is_what_the_file_says_it_is() -> None:
    """Worked out a second time here from the description alone."""
    said = {
        "b": [1, None, True],
        "a": "é",
        "at": datetime(2026, 3, 12, 10, tzinfo=timezone(timedelta(hours=1))),
    }
    form = '{"a":"é","at":"2026-03-12T09:00:00.000000Z","b":[1,null,true]}'.encode()
    assert canonical(said) == form
    domain = b"umberkeep/rag-log/1\x00"
    genesis = hashlib.sha256(domain + b"genesis").digest()
    assert genesis.hex() == GENESIS
    assert (
        entry_hash(GENESIS, 1, said)
        == hashlib.sha256(domain + genesis + (1).to_bytes(8, "big") + form).hexdigest()
    )


class Word(StrEnum):
    LOOSE = "loose"


def test_values_that_mean_the_same_are_written_the_same() -> None:
    assert canonical({"s": Word.LOOSE}) == canonical({"s": "loose"})
    assert canonical({"t": unicodedata.normalize("NFD", "é")}) == canonical({"t": "é"})
    assert canonical({"t": ("a", 1)}) == canonical({"t": ["a", 1]})
    assert canonical({"d": date(2026, 3, 12)}) == b'{"d":"2026-03-12"}'
    assert canonical({"a": 1, "b": 2}) == canonical({"b": 2, "a": 1})


@pytest.mark.parametrize(
    "value",
    [
        1.0,
        float("nan"),
        Decimal("1"),
        b"x",
        {1},
        NAIVE,
        "\ud800",
        2**63,
        -(2**63) - 1,
        {1: 2},
        {"e\u0301": 1, "\u00e9": 2},
        object(),
        datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=5))),
    ],
)
def test_what_has_no_one_written_form_is_refused(value: object) -> None:
    with pytest.raises(ValueError):
        canonical({"x": value})
    assert not verify([LogRow(1, {"x": value}, "0" * 64)]).unbroken


def test_nesting_has_an_end() -> None:
    deep: object = 1
    for _ in range(5000):
        deep = [deep]
    with pytest.raises(ValueError):
        canonical({"x": deep})


def test_bad_links_are_refused() -> None:
    for previous, seq in (
        (GENESIS[:-2], 1),
        ("zz", 1),
        (GENESIS, 0),
        (GENESIS, -1),
        (GENESIS, 2**63),
        (GENESIS, True),
    ):
        with pytest.raises(ValueError):
            entry_hash(previous, seq, {})


names = st.text(max_size=4)
plain = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.text(max_size=20),
    lambda part: st.lists(part, max_size=3) | st.dictionaries(names, part, max_size=3),
    max_leaves=8,
)


@slow_machine
@given(
    st.dictionaries(
        st.sampled_from("abcdef"), st.none() | st.integers(-9, 9) | st.text(max_size=9), max_size=5
    )
)
def test_the_canonical_form_is_json_and_reads_back(made: dict[str, object]) -> None:
    back = json.loads(canonical(made))
    assert back == {k: unicodedata.normalize("NFC", v) if isinstance(v, str) else v for k, v in made.items()}


@slow_machine
@given(st.dictionaries(names, plain, max_size=4))
def test_anything_is_either_written_or_refused(made: dict[str, object]) -> None:
    with suppress(ValueError):
        assert isinstance(canonical(made), bytes)


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
FLAT = st.none() | st.booleans() | st.integers(-(2**70), 2**70) | st.floats(allow_nan=False) | TEXTS
ANYTHING = st.recursive(
    FLAT, lambda inner: st.lists(inner, max_size=2) | st.dictionaries(TEXTS, inner, max_size=2), max_leaves=12
)


@given(st.dictionaries(TEXTS, ANYTHING, max_size=4), st.booleans())
def test_a_stored_text_is_read_only_in_its_one_written_form(entry: dict[str, object], tidy: bool) -> None:
    """The quick way says the same as writing the entry again part by part."""
    separators = (",", ":") if tidy else (", ", ":")
    text = json.dumps(entry, ensure_ascii=False, sort_keys=tidy, separators=separators)
    try:
        same = canonical(json.loads(text)).decode() == text
    except ValueError:
        same = False
    if same:
        assert read_canonical(text) == entry
    else:
        with pytest.raises(ValueError):
            read_canonical(text)


@pytest.mark.parametrize(
    "text",
    ['[]', '{"a":1,"a":1}', '{"a":1.0}', '{"a":NaN}', '{"a": 1}', '{"b":1,"a":2}', '{"a":"e\\u0301"}',
     '{"a":"e\u0301"}', '{"a":9223372036854775808}', '{"a":' * 10 + "1" + "}" * 10, "no json"],
)  # fmt: skip
def test_texts_that_are_no_entry(text: str) -> None:
    with pytest.raises(ValueError):
        read_canonical(text)


def test_a_very_negative_number_and_a_combining_sign_after_a_line_break_are_read() -> None:
    for entry in ({"a": -(2**63)}, {"a": "\n\u0301"}, {"a": [[[1]]]}):
        assert read_canonical(canonical(entry).decode()) == entry
