"""The bench works and every figure it gives is a number. How fast anything is, is never asserted here."""

from __future__ import annotations

import json
import math
from pathlib import Path

from service.actions.check_ledger import check
from service.actions.list_alerts import list_alerts
from service.core.alerts import AlertKind
from service.records.engine import Database
from tests.bench.__main__ import FIGURES, GOALS, parser, run
from tests.bench.ratio import Figure, Pair, Spread
from tests.bench.seed_stock import seed
from tests.bench.stock_plan import NOW, Plan

GATES = {
    "P3", "P5", "P6", "P8", "P9", "P10", "P13", "P14", "P15", "P16", "P17", "P18", "P19", "P26", "P27", "P28",
    "P29",
}
REPORTED = {"P1", "P2", "P4", "P7", "P8b", "P13b", "P14b", "P20", "P21"}


def test_a_seeded_store_holds_together(database: Database) -> None:
    plan = Plan(300)
    seed(database, plan)
    with database.reading() as session:
        report = check(session)
        found = list_alerts(session, NOW, 0)
    assert report.faults == ()
    assert report.counts["containers"] == 300
    kinds = [one.kind for one in found]
    missing = kinds.count(AlertKind.MISSING_FACT)
    assert (len(kinds) - missing, missing) == (plan.wanting, plan.lacking)
    assert {AlertKind.PAST, AlertKind.NOT_KNOWN} <= set(kinds)


def test_every_goal_gives_numbers(tmp_path: Path) -> None:
    written = tmp_path / "figures.json"
    options = ["--size", "300", "--turns", "1", "--seconds", "0.15", "--once", "--requests", "50"]
    options += ["--more", "50", "--folder", str(tmp_path), "--write", str(written)]
    figures = run(parser().parse_args(options))
    assert {figure.goal for figure in figures} >= GATES | REPORTED
    assert {figure.goal for figure in figures if figure.bound is not None} == GATES
    for figure in figures:
        numbers = figure.numbers()
        assert all(math.isfinite(number) and number > 0 for number in numbers), (figure.goal, numbers)
    kept = json.loads(written.read_text(encoding="utf-8"))["figures"]
    assert len(kept) == len(figures)
    assert {row["seed"] for row in kept} and all(row["date"] and row["sqlite"] for row in kept)


def test_the_last_figures_are_of_goals_that_exist() -> None:
    kept = json.loads(FIGURES.read_text(encoding="utf-8"))["figures"]
    known = {key for goal in GOALS for key in goal.keys}
    assert {row["goal"] for row in kept} == known
    assert all(row["verdict"] in ("met", "missed", "reported") for row in kept)


def figure(ratio: float, *, at_most: bool) -> Figure:
    one = Spread(1, 1, 1)
    return Figure("P3", "x", 1, "ms", one, one, Spread(ratio, ratio, ratio), 1.3, at_most=at_most)


def test_a_bound_is_kept_from_its_own_side() -> None:
    assert [figure(ratio, at_most=True).met for ratio in (1.2, 1.3, 1.4)] == [True, True, False]
    assert [figure(ratio, at_most=False).met for ratio in (1.2, 1.3, 1.4)] == [False, True, True]


def test_the_ratio_is_that_of_the_medians() -> None:
    ratio = Pair([2.0, 4.0, 9.0], [1.0, 2.0, 3.0]).ratio
    assert (ratio.least, ratio.median, ratio.most) == (2.0, 2.0, 3.0)
