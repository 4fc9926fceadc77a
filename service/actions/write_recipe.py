"""Writing recipes: every edit is a new version, and what a batch was made from is never rewritten."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.actions.judge_never_with import judge_never_with, warnings_only
from service.actions.note_change import note_change
from service.actions.read_amount import shop_system
from service.actions.read_recipe import LineAsked, LineRead, check_shares, read_line, read_makes, shares_by
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Finding, Findings, Invalid, Stale
from service.core.materials import Basis
from service.core.mix_purposes import MixPurpose
from service.core.recipe_coverage import Coverage, read_coverage
from service.records.mixing import Recipe, RecipeLineRow, RecipeVersion
from service.records.mixing_queries import the_recipe

MOST_LINES = 60


@dataclass(frozen=True)
class RecipeAsked:
    """A recipe as typed; the order of the lines is the order of addition.

    Args:
        makes: what the lines as written give ("500 ml"); empty = nobody said.
        shares_by: how parts are measured, for recipes in parts or per cent.
        mix_purpose: what sort of mix it is.
        coverage: how far a litre goes, for one coat ("5 to 9.8 m2/l").
        base: the number of the line, from 1, that "so much of the base" is counted from.
        note: a remark on the whole; an edit may say what it changes.
    """

    once: str
    name: str
    lines: tuple[LineAsked, ...]
    makes: str = ""
    shares_by: Basis | None = None
    purpose: str = ""
    note: str = ""
    mix_purpose: MixPurpose | None = None
    coverage: str = ""
    base: int | None = None

    def body(self) -> dict[str, Any]:
        purpose = self.mix_purpose.value if self.mix_purpose else None
        later = {"mix_purpose": purpose, "coverage": self.coverage, "base": self.base}
        return {
            **{key: value for key, value in later.items() if value},
            "name": self.name,
            "lines": [[line.material_id, line.amount, line.note] for line in self.lines],
            "makes": self.makes,
            "shares_by": self.shares_by.value if self.shares_by else None,
            "purpose": self.purpose,
            "note": self.note,
        }


def write_recipe(session: Session, actor: Actor, now: datetime, asked: RecipeAsked) -> Settled:
    """Write a new recipe, version 1.

    Raises:
        Ambiguous: an amount can be read in several ways; `errors` names its field ("amount_0").
        Invalid: no name, no line, an unreadable amount, parts without weight or volume.
        NotAllowed: a student or reader asked.
    """
    require(actor, Permission.RECIPES)
    sent = Sent(asked.once, "write-recipe", asked.body())
    return settle(session, actor, sent, now, lambda act: _write(act, asked))


def revise_recipe(
    session: Session, actor: Actor, now: datetime, recipe_id: int, version: int, asked: RecipeAsked
) -> Settled:
    """Write the next version of a recipe.

    Args:
        version: the recipe's `version` as the page showed it.

    Raises:
        Stale: somebody changed it meanwhile.
        NotFound, Ambiguous, Invalid, NotAllowed: as for a new recipe.
    """
    require(actor, Permission.RECIPES)
    sent = Sent(asked.once, "revise-recipe", {"recipe": recipe_id, "version": version, **asked.body()})
    return settle(session, actor, sent, now, lambda act: _revise(act, recipe_id, version, asked))


def put_away_recipe(
    session: Session, actor: Actor, now: datetime, recipe_id: int, version: int, *, active: bool
) -> Recipe:
    """Take a recipe off the list, or put it back. Nothing of it is lost.

    Raises:
        Stale: somebody changed it meanwhile.
    """
    require(actor, Permission.RECIPES)
    recipe = the_recipe(session, recipe_id, lock=True)
    _same_version(recipe, version)
    note_change(session, actor, now, ("recipe", recipe.id), "in use", recipe.active, active)
    recipe.active = active
    recipe.version += 1
    session.add(recipe)
    session.flush()
    return recipe


@dataclass(frozen=True)
class _Whole:
    name: str
    lines: tuple[LineRead, ...]
    makes: tuple[str, int, Basis] | None
    shares_by: Basis | None
    coverage: Coverage | None
    findings: tuple[Finding, ...]


def _judge(act: Act, asked: RecipeAsked) -> _Whole:
    name = " ".join(asked.name.split())
    if not name or len(name) > 120:
        words = "Give the recipe a name of at most 120 letters."
        raise Invalid(words, {"name": words})
    if not asked.lines:
        raise Invalid("Write what goes into it.", {"material_0": "Choose the first material."})
    if len(asked.lines) > MOST_LINES:
        raise Invalid(f"A recipe holds at most {MOST_LINES} lines.")
    lines = tuple(read_line(act.session, act.actor, line, at) for at, line in enumerate(asked.lines))
    makes = read_makes(act.session, asked.makes)
    by = shares_by(lines, asked.shares_by)
    found = Findings([finding for line in lines for finding in line.findings])
    found.add(*check_shares(lines, by, makes))
    found.add(*warnings_only(judge_never_with(act.session, [line.material for line in lines])))
    coverage = read_coverage(asked.coverage, system=shop_system(act.session))
    _base_is_a_line(asked.base, lines)
    return _Whole(name, lines, makes, by, coverage, tuple(dict.fromkeys(found.items)))


def _base_is_a_line(base: int | None, lines: tuple[LineRead, ...]) -> None:
    if base is None:
        return
    line = lines[base - 1] if 1 <= base <= len(lines) else None
    if line is None or line.to_suit:
        words = "The base is one of the lines, with an amount or a share of its own: write its number."
        raise Invalid(words, {"base": words})


def _write(act: Act, asked: RecipeAsked) -> dict[str, Any]:
    whole = _judge(act, asked)
    recipe = Recipe(
        name=whole.name,
        purpose=asked.purpose.strip()[:60],
        mix_purpose=asked.mix_purpose.value if asked.mix_purpose else None,
        created_by=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(recipe)
    act.session.flush()
    return _add_version(act, recipe, 1, whole, asked)


def _revise(act: Act, recipe_id: int, version: int, asked: RecipeAsked) -> dict[str, Any]:
    recipe = the_recipe(act.session, recipe_id, lock=True)
    _same_version(recipe, version)
    whole = _judge(act, asked)
    about = ("recipe", recipe.id)
    note_change(act.session, act.actor, act.recorded_at, about, "name", recipe.name, whole.name)
    recipe.name, recipe.purpose = whole.name, asked.purpose.strip()[:60]
    recipe.mix_purpose = asked.mix_purpose.value if asked.mix_purpose else None
    recipe.current_version += 1
    recipe.version += 1
    act.session.add(recipe)
    return _add_version(act, recipe, recipe.current_version, whole, asked)


def _same_version(recipe: Recipe, version: int) -> None:
    if recipe.version != version:
        raise Stale(f"Somebody else changed the recipe {recipe.name}. Open it again and compare.")


def _add_version(act: Act, recipe: Recipe, number: int, whole: _Whole, asked: RecipeAsked) -> dict[str, Any]:
    assert recipe.id is not None
    makes = whole.makes
    version = RecipeVersion(
        recipe_id=recipe.id,
        number=number,
        makes_written=makes[0] if makes else "",
        makes_amount=makes[1] if makes else None,
        makes_basis=makes[2] if makes else None,
        shares_by=whole.shares_by,
        note=asked.note.strip(),
        coverage_written=whole.coverage.written if whole.coverage else None,
        coverage_low_m2_l=whole.coverage.low if whole.coverage else None,
        coverage_high_m2_l=whole.coverage.high if whole.coverage else None,
        base_position=asked.base,
        person_id=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(version)
    act.session.flush()
    for position, line in enumerate(whole.lines, start=1):
        act.session.add(line_row(version, position, line))
    act.session.flush()
    act.note(*whole.findings)
    return {"recipe": recipe.id, "name": recipe.name, "version_number": number, "version": recipe.version}


def line_row(version: RecipeVersion, position: int, line: LineRead) -> RecipeLineRow:
    """One line as it is kept in a version."""
    assert version.id is not None and line.material.id is not None
    return RecipeLineRow(
        version_id=version.id,
        position=position,
        material_id=line.material.id,
        written=line.written[:200],
        low=line.low,
        high=line.high,
        basis=line.basis,
        unit_key=line.unit_key,
        share_low=line.share[0] if line.share else None,
        share_high=line.share[1] if line.share else None,
        to_suit=line.to_suit,
        about=line.about,
        note=line.note[:500],
    )
