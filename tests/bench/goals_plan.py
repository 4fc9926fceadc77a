"""Goals of the plan of a term: its page with 200 jobs over 100 materials, and how it grows with the jobs."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Final

from sqlmodel import Session, col, select

from service.actions.read_recipe import LineAsked
from service.actions.write_recipe import RecipeAsked, write_recipe
from service.core.materials import Basis
from service.records.engine import open_database
from service.records.materials import Material
from service.records.orders import PackSizeRow
from service.records.plans import PlannedDate, PlannedJobRow, Term
from tests.bench.goals_http import a_page
from tests.bench.load import get, run_load
from tests.bench.ratio import Figure, interleaved
from tests.bench.stock_plan import NOW, SEEDED_AT, TODAY, Plan
from tests.bench.workbench import KEEPER, SIGNED_IN, Workbench, shop

JOBS: Final = 200
MATERIALS: Final = 100
LINES: Final = 10
PACKS: Final = (250_000, 1_000_000, 5_000_000)
FEWER: Final = 50


def term_plan(bench: Workbench, size: int) -> Iterator[Figure]:
    """P29: the page of a plan of 200 jobs against the page of the store; and against a plan of 50 jobs."""

    def page(port: int) -> float:
        return run_load(port, lambda: get("/term/1", SIGNED_IN), 1, bench.seconds).p50

    with bench.copy(size) as much, bench.copy(size) as little:
        write_plan(much, size, JOBS)
        write_plan(little, size, FEWER)
        with shop(bench, much) as many, shop(bench, little) as few:
            of_store = interleaved(
                lambda: page(many.port),
                lambda: run_load(many.port, a_page, 1, bench.seconds).p50,
                bench.turns,
            )
            grown = interleaved(lambda: page(many.port), lambda: page(few.port), bench.turns)
    why = "each job and material is met from the shelf in the order of days, then packs are searched exactly"
    what = f"plan of {JOBS} jobs over {MATERIALS} materials / page of the store, p50"
    yield Figure("P29", what, size, "ms", *of_store.sides, of_store.ratio, why=why)
    what = f"plan of {JOBS} jobs / of {FEWER} jobs over as many materials, p50"
    yield Figure("P29", what, size, "ms", *grown.sides, grown.ratio, JOBS / FEWER, why=why)


def write_plan(data: Path, size: int, jobs: int) -> None:
    """A term of so many jobs over the first hundred materials, each sold in three packs."""
    database = open_database(f"sqlite:///{data / 'umberkeep.sqlite'}", pooled=False)
    try:
        with database.writing() as session:
            materials = session.exec(
                select(Material).order_by(col(Material.id)).limit(min(MATERIALS, Plan(size).materials))
            ).all()
            recipes = _recipes(session, list(materials))
            for stuff in materials:
                _packs(session, stuff)
            _term(session, recipes, jobs)
    finally:
        database.dispose()


def _recipes(session: Session, materials: list[Material]) -> list[int]:
    found = []
    for begin in range(0, len(materials), LINES):
        lines = tuple(
            LineAsked(one.id or 0, "900 ml" if one.basis is Basis.VOLUME else "900 g")
            for one in materials[begin : begin + LINES]
        )
        asked = RecipeAsked(f"bench-plan-{begin}", f"Planned recipe {begin}", lines)
        found.append(int(write_recipe(session, KEEPER, SEEDED_AT, asked).result["recipe"]))
    return found


def _packs(session: Session, stuff: Material) -> None:
    for amount in PACKS:
        session.add(
            PackSizeRow(
                material_id=stuff.id or 0, written="", amount=amount, basis=stuff.basis or Basis.MASS,
                price_minor=amount // 1000, lead_days=5, created_by=KEEPER.person_id, created_at=NOW,
            )
        )  # fmt: skip


def _term(session: Session, recipes: list[int], jobs: int) -> None:
    """``jobs`` of one day each, spread over twenty weeks."""
    first = TODAY + timedelta(days=1)
    term = Term(
        name=f"{jobs} jobs", first_day=first, last_day=first + timedelta(days=140), weekdays="0123456",
        country="DE", part="SN", created_by=KEEPER.person_id, created_at=NOW,
    )  # fmt: skip
    session.add(term)
    session.flush()
    for number in range(jobs):
        job = PlannedJobRow(
            term_id=term.id or 0, name=f"Job {number}", recipe_id=recipes[number % len(recipes)], heads=4,
            each_written="0.5 times", each_times=Decimal("0.5"), created_by=KEEPER.person_id, created_at=NOW,
        )  # fmt: skip
        session.add(job)
        session.flush()
        day = first + timedelta(days=number * 140 // jobs)
        session.add(PlannedDate(planned_job_id=job.id or 0, on_day=day))
    session.flush()
