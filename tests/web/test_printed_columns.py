"""Columns keep their words whole on paper as far as these fit side by side."""

from __future__ import annotations

from service.web.printed_columns import kept_words

WORD = "Verantwortungsbereich"


def test_all_words_are_kept_where_they_fit() -> None:
    row = ["1204", f"{WORD} {WORD}"]
    assert kept_words(["Drum", "What"], [row], [True, False], on_letter=True) == [True, True]


def test_the_longest_words_give_way_first_and_figures_never() -> None:
    labels, plain = ["Day", *["What"] * 9], [True, *[False] * 9]
    row = ["2026-11-28", *[WORD] * 2, "x" * 400, *["short"] * 6]
    assert kept_words(labels, [row], plain, on_letter=True) == [True, True, True, False, *[True] * 6]
    row = ["2026-11-28", *["x" * 400] * 9]
    assert kept_words(labels, [row], plain, on_letter=True) == [True, *[False] * 9]


def test_a4_across_is_wider_than_letter() -> None:
    row = ["n" * 18] * 6
    assert [all(kept_words(row, [row], [False] * 6, on_letter=one)) for one in (True, False)] == [False, True]
