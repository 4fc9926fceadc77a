"""Policies: which row counts for a material, and figures that cannot be."""

from __future__ import annotations

import pytest

from service.core.ageing_policies import END_WORDS, AgeingPolicy, PolicyEnd, PolicyRow, choose, tidy_key
from service.core.materials import MaterialKind

KIND = PolicyRow("", AgeingPolicy(PolicyEnd.RETEST, sealed_months=24), MaterialKind.BINDER)
OWN = PolicyRow("linseed_raw", AgeingPolicy(PolicyEnd.RETEST, sealed_months=36), MaterialKind.BINDER)


def test_own_row_beats_the_kind_and_no_row_is_none() -> None:
    rows = [KIND, OWN]
    assert choose(rows, MaterialKind.BINDER, "Linseed-raw") is OWN
    assert choose(rows, MaterialKind.BINDER, "poppy") is KIND
    assert choose(rows, MaterialKind.BINDER, None) is choose(rows, MaterialKind.BINDER, "") is KIND
    assert choose([OWN], MaterialKind.BINDER, None) is None  # a named row is not for its kind
    assert choose(rows, MaterialKind.DYE, "poppy") is None
    assert tidy_key(" Hide_glue mixed") == "hide-glue-mixed"


@pytest.mark.parametrize("wrong", [
    {"sealed_months": -1}, {"opened_months": 1201}, {"opened_days": -7}, {"sealed_days": 10**9},
    {"sealed_months": 1, "sealed_days": 7}, {"opened_months": 0, "opened_days": 0}, {"max_extensions": -1},
    {"hard_months": -1}, {"extends_months": -1},
])  # fmt: skip
def test_figures_that_cannot_be_are_refused(wrong: dict[str, int]) -> None:
    with pytest.raises(ValueError, match=r"must|range|negative|both"):
        AgeingPolicy(PolicyEnd.RETEST, **wrong)


def test_only_a_retest_item_is_extended() -> None:
    extends = {end: AgeingPolicy(end, extends_months=6).extends for end in PolicyEnd}
    assert extends == {e: 6 if e is PolicyEnd.RETEST else None for e in PolicyEnd}
    assert set(END_WORDS) == set(PolicyEnd)
