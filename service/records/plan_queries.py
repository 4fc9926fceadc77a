"""Reading terms, planned jobs and their dates, with the recipes they are of, by a few queries for all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from sqlmodel import Session, col, exists, func, or_, select

from service.core.findings import NotFound
from service.core.school_calendar import FreeDays, SchoolCalendar
from service.records.materials import Material
from service.records.mixing import Batch, Recipe, RecipeLineRow, RecipeVersion
from service.records.open_batches import OPEN
from service.records.orders import MaterialMinimum
from service.records.plans import DateState, PlannedDate, PlannedJobRow, Term

MOST_TERMS = 200
A_YEAR = timedelta(days=366)


def the_term(session: Session, term_id: int, *, lock: bool = False) -> Term:
    """One term; ``lock`` to change it or what is planned in it. Raises NotFound."""
    query = select(Term).where(col(Term.id) == term_id)
    if lock:
        query = query.with_for_update().execution_options(populate_existing=True)
    term = session.exec(query).one_or_none()
    if term is None:
        raise NotFound(f"There is no term number {term_id}.")
    return term


def all_terms(session: Session) -> Sequence[Term]:
    """The terms, the latest first."""
    return session.exec(
        select(Term).order_by(col(Term.first_day).desc(), col(Term.id).desc()).limit(MOST_TERMS)
    ).all()


def terms_to_order_for(session: Session, today: date) -> Sequence[Term]:
    """The terms that are not over and for which something may have to be bought, the first to begin first.

    One with a date to come that was not dropped, or whose batch is not finished; and where a least on the
    shelf is asked, every one: it is left at the end of a term. One question where nothing is planned.
    """
    standing = exists().where(
        col(PlannedJobRow.term_id) == col(Term.id),
        col(PlannedDate.planned_job_id) == col(PlannedJobRow.id),
        ((col(PlannedDate.state) != DateState.DROPPED) & (col(PlannedDate.on_day) >= today))
        | ((col(PlannedDate.state) == DateState.STARTED) & col(PlannedDate.batch_id).in_(_still_open())),
    )
    least = exists().where(col(MaterialMinimum.amount).is_not(None))
    query = select(Term).where(col(Term.last_day) >= today, or_(standing, least))
    return session.exec(query.order_by(col(Term.first_day), col(Term.id))).all()


def _still_open() -> Any:
    """The numbers of batches that may still take something."""
    return select(Batch.id).where(col(Batch.state).in_(OPEN))


def term_for_least(session: Session, today: date) -> Term | None:
    """The term whose plan asks for the least on the shelf: of those that run today and have something
    planned the last to end within a year, or the first to end; else the first to end of those that are not
    over, with something planned first.

    One alone, or each would have it bought once more. A short term takes it from no other that runs on: what
    is taken after its end would not be counted. Nor does one of years: it asks for it at its own end.
    """
    planned = exists().where(
        col(PlannedJobRow.term_id) == col(Term.id),
        col(PlannedDate.planned_job_id) == col(PlannedJobRow.id),
        col(PlannedDate.state) == DateState.PLANNED,
        col(PlannedDate.on_day) >= today,
    )
    rows = session.exec(
        select(Term, planned).where(col(Term.last_day) >= today).order_by(col(Term.last_day), col(Term.id))
    ).all()
    running = [term for term, has in rows if has and term.first_day <= today]
    soon = [term for term in running if term.last_day <= today + A_YEAR]
    first = [*soon[-1:], *running, *(term for term, has in rows if has), *(term for term, _ in rows), None]
    return first[0]


def dates_planned(session: Session, term_ids: Iterable[int]) -> dict[int, int]:
    """How many dates still stand in the plan of each term."""
    rows = session.exec(
        select(PlannedJobRow.term_id, func.count())
        .join(PlannedDate, col(PlannedDate.planned_job_id) == col(PlannedJobRow.id))
        .where(
            col(PlannedJobRow.term_id).in_(list(term_ids)), col(PlannedDate.state) == DateState.PLANNED
        )
        .group_by(col(PlannedJobRow.term_id))
    ).all()
    return dict(rows)


def calendar_of(term: Term) -> SchoolCalendar:
    """The term as the rules read it."""
    return SchoolCalendar(
        term.first_day,
        term.last_day,
        frozenset(int(digit) for digit in term.weekdays),
        term.country,
        term.part,
        term.breaks,
        tuple(
            FreeDays(date.fromisoformat(one["first"]), date.fromisoformat(one["last"]), one["name"])
            for one in term.free_days
        ),
        frozenset(date.fromisoformat(day) for day in term.extra_days),
    )


def the_planned_job(session: Session, planned_id: int) -> PlannedJobRow:
    """One planned job. Raises NotFound."""
    row = session.get(PlannedJobRow, planned_id)
    if row is None:
        raise NotFound(f"There is no planned job number {planned_id}.")
    return row


def the_date(session: Session, date_id: int) -> PlannedDate:
    """One date of a planned job. Raises NotFound."""
    row = session.get(PlannedDate, date_id)
    if row is None:
        raise NotFound(f"There is no planned date number {date_id}.")
    return row


def dates_of_job(session: Session, planned_id: int) -> Sequence[PlannedDate]:
    """Every date of a planned job, by day."""
    return session.exec(
        select(PlannedDate)
        .where(col(PlannedDate.planned_job_id) == planned_id)
        .order_by(col(PlannedDate.on_day))
    ).all()


def jobs_of_term(session: Session, term_id: int) -> Sequence[tuple[PlannedJobRow, Recipe]]:
    """The planned jobs of a term with their recipes, in the order they were written."""
    return session.exec(
        select(PlannedJobRow, Recipe)
        .join(Recipe, col(Recipe.id) == col(PlannedJobRow.recipe_id))
        .where(col(PlannedJobRow.term_id) == term_id)
        .order_by(col(PlannedJobRow.id))
    ).all()


def dates_of_plan(
    session: Session, term_id: int, until: date, today: date
) -> Sequence[tuple[PlannedDate, PlannedJobRow, Recipe]]:
    """All dates of one term, and what stands in the plan of any other up to a day, by day.

    A term that was shortened may have dates after its last day: other terms count until the last of them. So
    do days of other terms that are gone without a batch or a word, however long ago, and those whose batch is
    set aside or running; of those with a finished one what is not gone ``today``, as it may have made less.
    """
    last_own = (
        select(func.max(PlannedDate.on_day))
        .join(PlannedJobRow, col(PlannedJobRow.id) == col(PlannedDate.planned_job_id))
        .where(col(PlannedJobRow.term_id) == term_id, col(PlannedDate.state) == DateState.PLANNED)
    )
    newest: date | None = session.exec(last_own).one()
    until = until if newest is None else max(until, newest)
    return session.exec(
        select(PlannedDate, PlannedJobRow, Recipe)
        .join(PlannedJobRow, col(PlannedJobRow.id) == col(PlannedDate.planned_job_id))
        .join(Recipe, col(Recipe.id) == col(PlannedJobRow.recipe_id))
        .where(
            (col(PlannedJobRow.term_id) == term_id)
            | ((col(PlannedDate.on_day) <= until) & (col(PlannedDate.state) == DateState.PLANNED))
            | ((col(PlannedDate.state) == DateState.STARTED) & col(PlannedDate.batch_id).in_(_still_open()))
            | (
                (col(PlannedDate.state) == DateState.STARTED)
                & (col(PlannedDate.on_day) >= today) & (col(PlannedDate.on_day) <= until)
            )
        )
        .order_by(col(PlannedDate.on_day), col(PlannedDate.planned_job_id))
    ).all()


@dataclass(frozen=True)
class WrittenRecipe:
    """A recipe in the version that is planned with, and its lines in the order of addition."""

    version: RecipeVersion
    lines: list[tuple[RecipeLineRow, Material]]


def written_recipes(
    session: Session, jobs: Iterable[tuple[PlannedJobRow, Recipe]]
) -> dict[int, WrittenRecipe]:
    """For each planned job, by its number: the version it keeps to, else the recipe's present one."""
    asked = {job.id: (job, recipe) for job, recipe in jobs if job.id is not None}
    recipes = {recipe.id for _, recipe in asked.values()}
    versions = session.exec(select(RecipeVersion).where(col(RecipeVersion.recipe_id).in_(recipes))).all()
    by_id = {row.id: row for row in versions}
    by_number = {(row.recipe_id, row.number): row for row in versions}
    chosen = {
        number: by_id[job.recipe_version_id]
        if job.recipe_version_id is not None
        else by_number[job.recipe_id, recipe.current_version]
        for number, (job, recipe) in asked.items()
    }
    lines: dict[int, list[tuple[RecipeLineRow, Material]]] = {}
    rows = session.exec(
        select(RecipeLineRow, Material)
        .join(Material, col(Material.id) == col(RecipeLineRow.material_id))
        .where(col(RecipeLineRow.version_id).in_({row.id for row in chosen.values()}))
        .order_by(col(RecipeLineRow.version_id), col(RecipeLineRow.position))
    ).all()
    for line, material in rows:
        lines.setdefault(line.version_id, []).append((line, material))
    return {number: WrittenRecipe(row, lines.get(row.id or 0, [])) for number, row in chosen.items()}


def materials_numbered(session: Session, numbers: Iterable[int]) -> dict[int, Material]:
    """These materials by number."""
    wanted = select(Material).where(col(Material.id).in_(list(numbers))).order_by(col(Material.id))
    return {row.id: row for row in session.exec(wanted).all() if row.id is not None}


def batches_of(session: Session, batch_ids: Iterable[int]) -> dict[int, Batch]:
    """These batches by number."""
    rows = session.exec(select(Batch).where(col(Batch.id).in_(list(batch_ids)))).all()
    return {row.id: row for row in rows if row.id is not None}


def batches_to_link(session: Session, recipe_id: int, limit: int = 20) -> Sequence[Batch]:
    """The newest batches of a recipe that stand for no planned date yet."""
    taken = select(PlannedDate.batch_id).where(col(PlannedDate.batch_id).is_not(None))
    return session.exec(
        select(Batch)
        .where(col(Batch.recipe_id) == recipe_id, col(Batch.id).not_in(taken))
        .order_by(col(Batch.id).desc())
        .limit(limit)
    ).all()
