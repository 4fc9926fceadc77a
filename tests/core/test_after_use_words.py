"""Words after use: the most careful ones wherever something heats or nobody can tell; no word assumes oil."""

from __future__ import annotations

import itertools

import pytest

from service.core.after_use_words import AFTER_USE, Carrier, Medium, medium_of


@pytest.mark.parametrize("others", list(itertools.permutations(Carrier, 2)))
def test_whatever_is_beside_it_what_heats_makes_it_oil(others: tuple[Carrier, ...]) -> None:
    assert medium_of([*others, Carrier.HEATING]) is Medium.OIL


@pytest.mark.parametrize("known", [Carrier.SPIRIT, Carrier.WATER, Carrier.DRY])
def test_one_thing_nobody_can_tell_makes_it_not_known(known: Carrier) -> None:
    assert medium_of([known, Carrier.OTHER]) is Medium.NOT_KNOWN
    assert medium_of([]) is Medium.NOT_KNOWN


def test_every_medium_waits_tests_and_says_where_the_rest_goes() -> None:
    assert set(AFTER_USE) == set(Medium)
    for words in AFTER_USE.values():
        assert "no colour on a white rag" in words.test and all(words.sentences)
        assert "drain" in words.left_over
    for medium in (Medium.OIL, Medium.NOT_KNOWN):
        said = AFTER_USE[medium]
        assert "before the next morning" in said.clear_coat and "cold or damp" in said.clear_coat
        assert "no smell" in said.test and "ignite by themselves" in said.wiping


def test_what_holds_no_oil_is_not_told_about_oil() -> None:
    for medium in (Medium.SPIRIT, Medium.WATER):
        assert not any("oil" in sentence.split() for sentence in AFTER_USE[medium].sentences)
        assert "scuff" in AFTER_USE[medium].test
