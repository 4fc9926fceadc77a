"""How the shares of a recipe's materials scatter over its batches. Reads only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sqlmodel import Session

from service.actions.what_went_in import what_went_in
from service.core.as_made import Stuff
from service.core.scatter import MadeBatch, Scatter, scatter
from service.records.mixing import BATCH_WORDS, BatchState, Recipe
from service.records.mixing_queries import the_recipe
from service.records.sample_queries import batches_of_recipe

MOST_BATCHES: Final = 100
"""The newest so many are looked at."""


@dataclass(frozen=True)
class RecipeScatter:
    recipe: Recipe
    scatter: Scatter
    more: bool
    """There are older batches that were not looked at."""


def look_at_scatter(session: Session, recipe_id: int) -> RecipeScatter:
    """The scatter over the newest hundred batches; those that are not finished are named and left out.

    Raises:
        NotFound: no such recipe.
    """
    recipe = the_recipe(session, recipe_id)
    rows = batches_of_recipe(session, recipe_id, MOST_BATCHES + 1)
    batches: list[MadeBatch] = []
    stuff: dict[int, Stuff] = {}
    for row in reversed(rows[:MOST_BATCHES]):
        assert row.id is not None
        if row.state is not BatchState.FINISHED:
            batches.append(MadeBatch(row.id, (), f"It is {BATCH_WORDS[row.state]}."))
            continue
        went_in = what_went_in(session, row.id)
        stuff |= went_in.stuff
        batches.append(MadeBatch(row.id, went_in.made.lines))
    return RecipeScatter(recipe, scatter(batches, stuff), len(rows) > MOST_BATCHES)
