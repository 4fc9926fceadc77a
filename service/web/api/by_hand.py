"""Lines of a recipe that are put in at the bench, as the calls of a check and of a batch say them."""

from __future__ import annotations

from pydantic import BaseModel, Field

from service.core.materials import Basis
from service.core.recipe import ByHand


class ByHandOut(BaseModel):
    """A line of which a start draws nothing. ``high``: the most it takes; null = not known."""

    position: int
    material: int
    name: str
    words: str
    high: int | None
    basis: Basis | None
    why: str = Field(description="Why its amount is not known; empty where it is to suit")


def by_hand_out(one: ByHand) -> ByHandOut:
    """A line by hand as plain data."""
    return ByHandOut(
        position=one.position, material=one.material_id, name=one.name, words=one.words, high=one.high,
        basis=one.basis, why=one.why,
    )  # fmt: skip
