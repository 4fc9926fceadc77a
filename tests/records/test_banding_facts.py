"""Lists beside what was said, for control banding: worse lists are a question, and never make it milder."""

from __future__ import annotations

import pytest

from service.core.hazards.hazard_band import Group, Scheme, Statements, band
from service.records.banding_facts import eu_statements, with_the_lists


def test_what_nobody_told_is_at_least_what_the_list_holds() -> None:
    said, found = with_the_lists(None, "108-88-3", "toluene", Scheme.WORSE)
    banded = band(said, Scheme.WORSE, "toluene")
    assert banded.group is None and banded.at_least is Group.D
    assert [one.code for one in found] == ["hazards-by-list-only"]


def test_water_is_examined() -> None:
    said, found = with_the_lists(None, "7732-18-5", "water", Scheme.WORSE)
    assert said == Statements() and not found


def test_examined_and_none_of_methanol_is_a_question() -> None:
    said, found = with_the_lists(Statements(), "67-56-1", "methanol", Scheme.WORSE)
    assert [one.code for one in found] == ["list-says-worse"] and "H301" in found[0].sentence
    assert said is not None and not said.complete and band(said, Scheme.WORSE, "methanol").group is None


@pytest.mark.parametrize("cas", ["", "99999-99-9"])
def test_what_is_on_no_list_stays_as_it_was_said(cas: str) -> None:
    given = Statements(("H336",))
    assert with_the_lists(given, cas, "it", Scheme.WORSE) == (given, ())
    assert with_the_lists(None, cas, "it", Scheme.WORSE) == (None, ())


def test_what_was_said_worse_stands() -> None:
    given = Statements(("H350",))
    assert with_the_lists(given, "108-88-3", "toluene", Scheme.WORSE) == (given, ())
    assert eu_statements("8052-41-3") is not None
    assert "H350" not in (eu_statements("8052-41-3") or Statements()).codes, "what only benzene brings"
