"""What planned jobs need of each material on each day, in whole smallest units, ranges at their upper end.

Doors: core/term_plan.py, core/plan_stock.py.

What nobody wrote stays not known: it is never counted as nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, Findings, Invalid, Verdict, stop, unknown
from service.core.materials import Basis
from service.core.recipe import Recipe, needs
from service.core.whole_need import rounded_up

MOST_HEADS: Final = 10_000
MOST_SPARE: Final = Fraction(5)
"""Five times as much again; a larger spare is a slip."""

MUCH: Final = {Basis.MASS: 500_000_000, Basis.VOLUME: 500_000_000, Basis.PIECES: 10_000}
"""What one job makes on one day beyond these (500 kg, 500 l) is asked about once: more likely a slip than
meant. A house measure."""

MINIMUM: Final = 2**31 - 1
"""Stands for a job: what is to be left on the shelf when the plan ends, after every real job of that day."""


@dataclass(frozen=True)
class PlannedJob:
    """One job on one day: the recipe ``times`` over (above zero), None = nobody knows how many times.

    ``number`` tells jobs apart and decides who comes first on one day: the lower one. ``told``: the caller
    says why nobody knows.
    """

    number: int
    name: str
    on: date
    recipe: Recipe
    times: Fraction | None
    told: bool = False


@dataclass(frozen=True)
class DayNeed:
    """What one job needs of one material on its day; ``high`` is what counts, None = not known."""

    job: int
    job_name: str
    on: date
    material_id: int
    material: str
    basis: Basis | None
    low: int | None
    high: int | None
    unit_written: str = ""


@dataclass(frozen=True)
class PlanNeeds:
    """All needs, by day, then by job; and what could not be worked out. ``others``: those of other plans."""

    needs: tuple[DayNeed, ...]
    verdict: Verdict
    others: tuple[DayNeed, ...] = ()


def times_of(
    recipe: Recipe,
    heads: int,
    *,
    each: int | None = None,
    each_times: Fraction | None = None,
    spare: Fraction = Fraction(0),
) -> Fraction | None:
    """How many times the recipe is made for ``heads`` people and the ``spare`` (0.1 = a tenth more).

    Each of them gets ``each`` (smallest units of what the recipe makes) or the recipe ``each_times``. None
    where neither is told, or the recipe does not say what it makes: not known. Raises Invalid (fields
    ``heads``, ``each``, ``spare``).

    >>> times_of(Recipe("stain", (), makes=500), 20, each=60, spare=Fraction(1, 10))
    Fraction(66, 25)
    """
    if not 1 <= heads <= MOST_HEADS:
        _refuse("heads", f"Enter for how many people: from 1 to {MOST_HEADS}.")
    if not 0 <= spare <= MOST_SPARE:
        _refuse("spare", "Enter the spare in per cent, from 0 to 500.")
    if each is not None and each_times is not None:
        _refuse("each", "Enter an amount for each, or how many times the recipe, not both.")
    if (each is not None and each <= 0) or (each_times is not None and each_times <= 0):
        _refuse("each", "Enter what each person gets: more than nothing.")
    if each is not None:
        each_times = Fraction(each, recipe.makes) if recipe.makes else None
    return None if each_times is None else heads * each_times * (1 + spare)


def _refuse(field: str, words: str) -> None:
    raise Invalid(words, {field: words})


def on_dates(job: PlannedJob, dates: Iterable[date]) -> list[PlannedJob]:
    """The same job on each of several days (of `term_dates.dates_of`).

    >>> job = PlannedJob(1, "staining", date(2026, 3, 2), Recipe("stain", ()), Fraction(1))
    >>> [one.on.day for one in on_dates(job, [date(2026, 3, 2), date(2026, 3, 9)])]
    [2, 9]
    """
    return [replace(job, on=day) for day in dates]


def plan_needs(jobs: Sequence[PlannedJob], others: Sequence[PlannedJob] = ()) -> PlanNeeds:
    """What all jobs need, by day, then by number. Rounded up to whole units for each job and material.

    A material that stands in the plan, or in the ``others`` of the same shelf, by mass and by volume is a
    stop, and its needs are not known. The verdict is about ``jobs``.

    >>> from service.core.recipe import RecipeLine
    >>> stain = Recipe("stain", (RecipeLine(1, "raw umber", 5, 10, Basis.MASS),))
    >>> [n.high for n in plan_needs([PlannedJob(1, "s", date(2026, 3, 2), stain, Fraction(1, 3))]).needs]
    [4]
    """
    found = Findings()
    kept, rest = _grown(jobs, found), _grown(others, Findings())
    mixed = _in_two_ways([*kept, *rest])
    own = {need.material_id for need in kept}
    found.add(*(_two_ways(name) for number, name in mixed.items() if number in own))
    kept, rest = ([_judged(need, mixed) for need in many] for many in (kept, rest))
    found.add(*(_no_upper(need) for need in kept if need.high is None))
    return PlanNeeds(tuple(kept), found.verdict(), tuple(rest))


def _judged(need: DayNeed, mixed: Mapping[int, str]) -> DayNeed:
    return replace(need, low=None, high=None) if need.material_id in mixed else need


def _grown(jobs: Sequence[PlannedJob], found: Findings) -> list[DayNeed]:
    kept: list[DayNeed] = []
    over: dict[int, Fraction] = {}
    for job in sorted(jobs, key=lambda one: (one.on, one.number)):
        for need in needs(job.recipe, Fraction(1) if job.times is None else job.times).needs:
            known = job.times is not None
            before = over.get(need.material_id, Fraction(0))
            over[need.material_id] = before + need.over if known else before
            # Whole as soon as a part of a unit is needed: the sum is never less than what is used.
            more = rounded_up(over[need.material_id]) - rounded_up(before)
            kept.append(
                DayNeed(
                    job.number,
                    job.name,
                    job.on,
                    need.material_id,
                    need.name,
                    need.basis,
                    need.low if known else None,
                    need.high + more if known and need.high is not None else None,
                    need.unit_written,
                )
            )
        if job.times is None and not job.told:
            words = f"How much “{job.name}” takes is not known. Its own page says what is missing."
            found.add(unknown("times-not-known", words, about=job.name))
    return kept


def _in_two_ways(kept: Sequence[DayNeed]) -> dict[int, str]:
    seen: dict[int, Basis] = {}
    mixed: dict[int, str] = {}
    for need in kept:
        if need.basis is not None and seen.setdefault(need.material_id, need.basis) is not need.basis:
            mixed[need.material_id] = need.material
    return mixed


def _two_ways(name: str) -> Finding:
    words = f"{name} stands in the plan by mass and by volume. Write its recipe lines in one way."
    return stop("two-bases", words, about=name)


def _no_upper(need: DayNeed) -> Finding:
    words = f"How much {need.material} is taken at most for “{need.job_name}” is not known."
    return unknown("need-not-known", words, about=need.material)
