"""Opposite colours: common practice, no source; hues from Colour Index generic names (an open standard)."""

from __future__ import annotations

import pytest

from service.core.colour_opposites import OPPOSITES, Hue, hue_of, opposite_of
from service.records.knowledge import load_known_materials


def test_red_and_green_kill_each_other_to_brown() -> None:
    """Common practice, no source."""
    for one, other in ((Hue.RED, Hue.GREEN), (Hue.GREEN, Hue.RED)):
        assert (opposite_of(one).hue, opposite_of(one).makes) == (other, "brown")


@pytest.mark.parametrize("hue", list(Hue))
def test_the_opposite_of_the_opposite_is_the_colour(hue: Hue) -> None:
    assert opposite_of(opposite_of(hue).hue).hue is hue
    assert opposite_of(opposite_of(hue).hue).makes == OPPOSITES[hue].makes


@pytest.mark.parametrize(
    ("names", "hue"),
    [
        ("PG17", Hue.GREEN), ("PR101; PR102", Hue.RED), ("PB15:3; PB15", Hue.BLUE), ("NR4", Hue.RED),
        ("PBr7", None), ("PBk11", None), ("PW6", None), ("PBr7; PY43", None), ("PM1", None), ("", None),
        ("powder", None), ("pr101", Hue.RED), ("c.i. pigment red 101", Hue.RED), ("pr", None),
    ],
)  # fmt: skip
def test_only_one_pure_hue_is_named(names: str, hue: Hue | None) -> None:
    """Brown (Br) is no blue, black (Bk) neither; two hues on one material are none."""
    assert hue_of(names) is hue


def test_every_hue_has_an_opposite_among_the_published_pigments() -> None:
    held = {hue_of("; ".join(row.ci_generic)) for row in load_known_materials()}
    assert set(Hue) <= held
