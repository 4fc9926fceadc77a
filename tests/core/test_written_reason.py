"""When a written reason says something, and that every door which takes one measures it alike."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.late_entries import judge_time
from service.core.material_entry import KeeperFacts, judge_no
from service.core.materials import SelfHeating, Unknown
from service.core.wipes import WipesWay, may_leave
from service.core.written_reason import FEWEST_LETTERS, FEWEST_WORDS, SHORTEST_SENTENCE, is_sentence
from tests.builders import NOW

SERVICE = Path(__file__).parents[2] / "service"
SAID = [
    "Written up after the class",
    "It is borax, the label says so.",
    "Nobody looked at it.",
    "Sheet of 2025: no oil in it",
    "Das Etikett sagt es so",
    "Это раствор буры, так на этикетке",
    "这是硼砂，标签上写着的。",
]
NOTHING = [
    "",
    "ok",
    "a" * 15,
    "asdf asdf asdf",
    "." * 15,
    "............... ............... ...............",
    "1234567890 1234 56 789",
    "yes yes yes yes yes",
    "aaaa bbbb cccc dddd eeee",
    "abababab ababab abab ab",
    "because",
    "looked afterwards",
    "a b c d e f g h i j k l",
    "\U0001f600 \U0001f601 \U0001f602 \U0001f603",
]


@pytest.mark.parametrize("text", SAID)
def test_a_sentence_says_something(text: str) -> None:
    assert is_sentence(text) and is_sentence(text.upper()) and is_sentence(f"  {text}\n")


@pytest.mark.parametrize("text", NOTHING)
def test_what_says_nothing_is_no_sentence(text: str) -> None:
    assert not is_sentence(text)


@given(st.text(max_size=12), st.integers(1, 40))
def test_saying_it_over_and_over_says_no_more(word: str, times: int) -> None:
    one = "".join(sign for sign in word if sign.isascii())
    if not is_sentence(one):
        assert len(one.split()) > 1 or not is_sentence(" ".join([one] * times))


@given(st.text(max_size=60))
def test_what_passes_has_what_was_asked_for(text: str) -> None:
    if is_sentence(text):
        letters = [sign for sign in text.casefold() if sign.isalpha()]
        assert len(letters) >= SHORTEST_SENTENCE and len(set(letters)) >= FEWEST_LETTERS
    else:
        assert not is_sentence(f"{text}...") and not is_sentence(f"{text} 1234")


@pytest.mark.parametrize("text", [text for text in NOTHING if text])
def test_every_door_measures_alike(text: str) -> None:
    with pytest.raises(Invalid, match=f"late|{FEWEST_WORDS} different words"):
        judge_time(NOW - timedelta(hours=2), NOW, text)
    no = KeeperFacts(self_heating=SelfHeating.NO, self_heating_reason=text)
    with pytest.raises(Invalid, match=f"{FEWEST_WORDS} different words"):
        judge_no(no, None, published=False, kind_changed=False)
    wipes = may_leave(WipesWay.LAUNDRY, "Weir Lane Laundry", "2 Weir Lane", text, Unknown.NO)
    assert "wipes-free-liquid" in wipes.codes
    judge_no(replace(no, self_heating_reason=SAID[0]), None, published=False, kind_changed=False)


def test_a_reason_that_stood_before_and_still_rests_on_the_same_is_not_asked_for_again() -> None:
    old = KeeperFacts(self_heating=SelfHeating.NO, self_heating_reason="tested wetted")
    judge_no(old, old, published=False, kind_changed=False)
    with pytest.raises(Invalid):
        judge_no(old, old, published=False, kind_changed=True)
    with pytest.raises(Invalid):
        judge_no(replace(old, self_heating_reason="tested dried"), old, published=False, kind_changed=False)


def test_no_door_counts_letters_by_itself_but_where_a_few_words_are_enough() -> None:
    few_words = {"written_reason.py", "leave_job.py", "answer_duty.py", "tell_keeper.py"}
    counting = re.compile(r"sum\(\s*sign\.isalpha\(\)")
    found = {path.name for path in SERVICE.rglob("*.py") if counting.search(path.read_text("utf-8"))}
    assert found <= few_words
