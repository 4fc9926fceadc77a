"""A text that fits a form met before is the one written form of an entry, and never anything else."""

from __future__ import annotations

import json
import unicodedata
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.rag_log import canonical, read_canonical
from service.core.rag_log_forms import Forms

BASE: dict[str, Any] = {
    "kind": "step", "load": 4, "person": 2, "posting": None, "happened_at": "2026-03-12T09:00:00.000000Z",
    "recorded_at": "2026-03-12T09:00:00.000001Z",
}  # fmt: skip
TOLD = ("happened_at", "kind", "load", "person", "posting", "recorded_at")
ODD = ["é", "e\u0301", "\u0338", '"', "\\", "\n", "\x7f", "ﬀ", "null", "1"]
texts = st.text(max_size=6) | st.sampled_from(ODD)
values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**63), 2**63 - 1) | texts,
    lambda part: st.lists(part, max_size=2) | st.dictionaries(texts, part, max_size=2),
    max_leaves=4,
)


def written(**more: Any) -> str:
    return canonical(BASE | more).decode()


def taught(*entries: dict[str, Any]) -> Forms:
    forms = Forms()
    for entry in entries:
        forms.learn(read_canonical(written(**entry)))
    return forms


def holds(forms: Forms, text: str) -> bool:
    """Whether a form fits; if one does, the text is held against what reading it in full says."""
    told = forms.told("step", text)
    if told is not None:
        entry = read_canonical(text)
        said = [entry[name] for name in TOLD]
        assert list(told) == ["null" if one is None else str(one) for one in said]
    return told is not None


def can_be_written(entry: dict[str, Any]) -> bool:
    """Two names that are one when composed cannot stand in one entry."""
    try:
        return bool(written(**entry))
    except ValueError:
        return False


entries = st.dictionaries(st.sampled_from("abz"), values).filter(can_be_written)


@settings(max_examples=300)
@given(entries, entries)
def test_what_fits_is_what_reading_in_full_says(one: dict[str, Any], other: dict[str, Any]) -> None:
    forms = taught(one)
    for entry in (one, other):
        text = written(**entry)
        holds(forms, text)
        for end in range(0, len(text), 7):
            holds(forms, text[:end] + text[end + 1 :])
        holds(forms, unicodedata.normalize("NFD", text))
        holds(forms, json.dumps(json.loads(text)))


def test_other_values_of_the_same_sort_fit() -> None:
    forms = taught({"can": {"name": "x", "water": None}, "covers": [1, 2]})
    first: dict[str, Any] = {"name": "Küche", "water": "full"}
    for can, covers in ((first, [0, -7]), ({"name": "", "water": True}, [None, "a"])):
        assert holds(forms, written(can=can, covers=covers, load=None, person=10**17, posting=1))


@pytest.mark.parametrize(
    "change",
    [
        ('"load":4', '"load":04'), ('"load":4', '"load":-0'), ('"load":4', '"load":4.0'),
        ('"load":4', '"load":4e1'),        ('"load":4', '"load":+4'), ('"load":4', '"load": 4'),
        ('"load":4', '"load":"4"'), ('"load":4', '"load":٤'),
        ('"load":4', '"load":9223372036854775808'), ('"load":4', '"load":4,"load":5'),
        ('"load":4', '"load":[]'),
        ('"note":"a"', '"note":"e\u0301"'), ('"note":"a"', '"note":"\\u0061"'),
        ('"note":"a"', '"note":"a\n"'),
        ('"note":"a"', '"note":"a","x":1'), ('"note":"a"', '"note":NaN'), ('"note":"a"', '"note":1.5'),
        ('"kind":"step"', '"kind":null'), ("}", "}\n"), ("}", "} "), ("{", "[{"),
    ],
)  # fmt: skip
def test_what_is_no_written_form_or_another_one_fits_none(change: tuple[str, str]) -> None:
    forms, text = taught({"note": "a"}), written(note="a")
    assert holds(forms, text)
    assert text.replace(*change) != text
    assert not holds(forms, text.replace(*change))


def test_a_text_of_another_kind_and_an_entry_without_its_names_teach_nothing() -> None:
    forms = taught({"note": "a"})
    assert forms.told("other", written(note="a", kind="other")) is None
    forms.learn({"kind": "step", "note": "a"})
    assert forms.told("step", '{"kind":"step","note":"a"}') is None


def test_a_name_that_needs_an_escape_fits_only_as_it_is_written() -> None:
    forms = taught({'a"\\.b': {"c\n": 1}})
    text = written(**{'a"\\.b': {"c\n": 2}})
    assert holds(forms, text)
    assert not holds(forms, text.replace("\\", "", 1))


def test_only_so_many_forms_of_a_kind_are_kept() -> None:
    entries = [{"covers": list(range(n))} for n in range(40)]
    forms = taught(*entries)
    fit = [holds(forms, written(**entry)) for entry in entries]
    assert fit == [True] * 12 + [False] * 28
