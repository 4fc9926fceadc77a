"""Boards and steps: what is typed, the running total, and shares only where everything is known."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.batch import Part
from service.core.colour_samples import Board, board_words, name_of, percent_of, steps
from service.core.findings import Invalid
from service.core.materials import Basis, Unknown

part = st.builds(
    Part, st.just("x"), st.none() | st.integers(1, 10**9), st.sampled_from(list(Basis)),
    st.none() | st.just(Decimal("0.8")),
)  # fmt: skip


@given(st.lists(part, max_size=10))
def test_the_total_never_falls_and_shares_stand_only_where_all_is_known(parts: list[Part]) -> None:
    found = steps(parts)
    totals = [step.total_mg for step in found]
    assert totals == sorted(totals)
    unknown = [step.mass_mg is None for step in found]
    assert all(step.at_least == any(unknown[: at + 1]) for at, step in enumerate(found))
    if any(unknown):
        assert all(step.percent is None for step in found)
    elif found:
        assert abs(sum(step.percent or 0 for step in found) - 100) < Decimal("0.06") * len(found) + 1


def test_pieces_weigh_nothing_that_anybody_knows() -> None:
    assert steps([Part("tacks", 3, Basis.PIECES)])[0].mass_mg is None


@pytest.mark.parametrize(
    ("share", "shown"), [((1, 2), "50.0"), ((1, 2000), "0.050"), ((0, 1), "0.0"), ((1, 1), "100.0")]
)
def test_per_cent(share: tuple[int, int], shown: str) -> None:
    assert str(percent_of(Fraction(*share))) == shown


def test_the_name_is_cut_between_words_and_never_longer_than_a_name() -> None:
    assert name_of("a" * 130) == "a" * 119 + "…"
    long = name_of("the door of the walnut cupboard " * 10)
    assert len(long) <= 120 and long.endswith("…") and " …" not in long
    with pytest.raises(Invalid):
        name_of(" \n ")


def test_what_nobody_said_of_a_board_is_said() -> None:
    assert board_words(Board("ash")) == "ash, grit not known, sealed or not is not known, coats not known"
    sealed = Board("ash", "P180", Unknown.YES, "", 1)
    assert board_words(sealed) == "ash, sanded to P180, sealed, 1 coat"
