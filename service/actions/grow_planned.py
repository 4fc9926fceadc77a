"""A planned job as amounts: its recipe grown to what is planned, and whether it may be made at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sqlmodel import Session

from service.actions.grow_recipe import grow
from service.actions.judge_never_with import judge_never_with
from service.actions.meet_amount import meet_amount
from service.actions.planned_amount import wanted_of
from service.core.findings import Finding, Invalid, Severity, Verdict, stop, unknown, warn
from service.core.materials import Basis
from service.core.never_with import keys_to_answer, without_answered
from service.core.recipe import RecipeLine
from service.core.recipe_amounts import HowMuch
from service.core.whole_need import as_it_was_written
from service.records.knowledge_never_with import never_with
from service.records.mixing import Recipe
from service.records.plan_queries import WrittenRecipe, written_recipes
from service.records.plans import PlannedDate, PlannedJobRow

_Lines = tuple[tuple[RecipeLine, ...], tuple[Finding, ...]]
Amount = tuple[Fraction, Basis]
"""Smallest units, and of what."""
PlannedRows = Sequence[tuple[PlannedDate, PlannedJobRow, Recipe]]


@dataclass(frozen=True)
class GrownJob:
    """A planned job as amounts. ``why``: why they are not known; ``found``: what to read about it.

    ``may_be_made`` False: its things may never meet in one pot; then nothing is planned or bought for it.
    ``makes``: how much it makes with its spare, ``at_least`` without; None = its recipe does not say.
    """

    row: PlannedJobRow
    recipe: Recipe
    lines: tuple[RecipeLine, ...]
    why: str = ""
    found: tuple[Finding, ...] = ()
    may_be_made: bool = True
    version_id: int | None = None
    makes: Amount | None = None
    at_least: Amount | None = None


def grown_jobs(session: Session, rows: PlannedRows) -> dict[int, GrownJob]:
    """Each planned job of these dates once, by its number."""
    jobs = {planned.id: (planned, recipe) for _, planned, recipe in rows if planned.id is not None}
    written = written_recipes(session, jobs.values())
    judged: dict[int | None, Verdict] = {}
    for one in written.values():
        if one.version.id not in judged:
            judged[one.version.id] = judge_never_with(session, [material for _, material in one.lines])
    alike: dict[tuple[int | None, HowMuch], _Lines] = {}
    return {
        number: replace(
            _grow(*jobs[number], written[number], judged[written[number].version.id], alike),
            version_id=written[number].version.id,
        )
        for number in sorted(jobs)
    }


def _unit_of(row: PlannedJobRow) -> str:
    """The unit in which it is written what each gets; empty: so many times the recipe."""
    if row.each_amount is None or row.each_basis is None:
        return ""
    read = as_it_was_written(row.each_written, row.each_amount, row.each_basis)
    return read.unit.key if read is not None else ""


def _grow(
    row: PlannedJobRow, recipe: Recipe, written: WrittenRecipe, together: Verdict,
    alike: dict[tuple[int | None, HowMuch], _Lines],
) -> GrownJob:  # fmt: skip
    """A job's recipe lines for the amount that is planned; what cannot be worked out is not known.

    ``alike`` keeps what one version comes to for one amount: groups of a class are jobs of the same sort.
    """
    found: list[Finding] = []
    older = said_of_version(row.name, written.version.number, recipe.current_version)
    if older is not None:
        found.append(older)
    if without_answered(together, keys_to_answer(never_with(), together)).blocking:
        return _never(row, recipe, together, found)
    found += [_as_planned(row, one) for one in together]
    if not written.lines:
        words = f"Nothing is written in {recipe.name} yet, so it is not known what {row.name} takes."
        return GrownJob(row, recipe, (), words, (*found, unknown("recipe-empty", words, about=row.name)))
    try:
        key = (written.version.id, wanted_of(row))
        if key not in alike:
            met, reckoned = meet_amount(written.version, written.lines, key[1])
            lines, _, lacks = grow(written.lines, written.version, met, planned_in=_unit_of(row))
            alike[key] = lines, (*reckoned, *lacks)
        lines, told = alike[key]
    except Invalid as wrong:
        words = f"How much {row.name} takes is not known. {wrong.sentence}"
        found.append(unknown("job-not-known", words, about=row.name))
        bare = tuple(
            RecipeLine(
                line.material_id, material.name, None, None, material.basis, line.written,
                stocked=not material.not_stocked, why=wrong.sentence,
            )
            for line, material in written.lines
        )  # fmt: skip
        return GrownJob(row, recipe, bare, words, tuple(found))
    makes = _makes(row, written)
    bare_of_spare = 1 + Fraction(row.spare_percent, 100)
    return GrownJob(
        row, recipe, lines, "", (*found, *told), makes=makes,
        at_least=None if makes is None else (makes[0] / bare_of_spare, makes[1]),
    )  # fmt: skip


def said_of_version(name: str, kept: int, current: int) -> Finding | None:
    """That a job keeps to an older version than the recipe stands at; None where it does not."""
    if kept == current:
        return None
    words = (
        f"“{name}” is planned by version {kept} of its recipe, and version {current} stands now: its stock "
        "cannot be checked for a day, and no batch made. Plan it by the version that stands."
    )
    return unknown("older-version", words, about=name)


def _makes(row: PlannedJobRow, written: WrittenRecipe) -> Amount | None:
    how, version = wanted_of(row), written.version
    if how.wanted is not None:
        return Fraction(how.wanted.amount) * Fraction(how.wanted.unit.factor), how.wanted.basis
    if how.times is None or version.makes_amount is None or version.makes_basis is None:
        return None
    return how.times * version.makes_amount, version.makes_basis


def _never(row: PlannedJobRow, recipe: Recipe, together: Verdict, found: Sequence[Finding]) -> GrownJob:
    why = next(one.sentence for one in together if one.severity is Severity.STOP)
    words = f"“{row.name}” may not be made as {recipe.name} is written, and nothing is bought for it. {why}"
    return GrownJob(
        row, recipe, (), words, (*found, stop("may-not-be-made", words, about=row.name)), may_be_made=False
    )


def _as_planned(row: PlannedJobRow, one: Finding) -> Finding:
    """What a keeper may answer, or what is only to be heeded: planned for, and said."""
    words = f"“{row.name}”: {one.sentence}"
    kind = unknown if one.severity is Severity.UNKNOWN else warn
    return kind(one.code, words, about=row.name)


def standing_jobs(grown: Mapping[int, GrownJob], numbers: set[int]) -> list[GrownJob]:
    """Those of these numbers, in their order."""
    return [job for number, job in grown.items() if number in numbers]
