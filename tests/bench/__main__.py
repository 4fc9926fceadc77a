"""Measures every goal of speed as a ratio: `python -m tests.bench`. See DEVELOPERS.md, *Speed*."""

from __future__ import annotations

import argparse
import dataclasses
import json
import os
import platform
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from service import __version__
from service.clock import now_utc
from service.records.engine import sqlite_module
from tests.bench import (
    goals_hazards,
    goals_http,
    goals_ledger,
    goals_plan,
    goals_running,
    goals_solvents,
    goals_stock,
    goals_write,
)
from tests.bench.ratio import Figure
from tests.bench.stock_plan import SEED
from tests.bench.workbench import Workbench

SIZES = (10_000, 100_000, 1_000_000)
FIGURES = Path(__file__).parent / "figures.json"
Measure = Callable[[Workbench, int], Iterator[Figure]]


@dataclass(frozen=True)
class Goal:
    """One measurement: the goals it answers, and whether it looks at every size or only at the smallest."""

    keys: tuple[str, ...]
    measure: Measure
    every_size: bool = True


GOALS = (
    Goal(("P1",), goals_stock.stock_check),
    Goal(("P3",), goals_stock.stock_check_grows),
    Goal(("P8",), goals_stock.first_expiring),
    Goal(("P8b",), goals_stock.year),
    Goal(("P9",), goals_stock.alert_sweep),
    Goal(("P8", "P9"), goals_stock.on_postgres),
    Goal(("P10",), goals_stock.new_policy),
    Goal(("P2",), goals_http.checks),
    Goal(("P4", "P5", "P6"), goals_http.lists),
    Goal(("P13",), goals_solvents.flash_points, every_size=False),
    Goal(("P13b",), goals_solvents.loading, every_size=False),
    Goal(("P14",), goals_hazards.in_process, every_size=False),
    Goal(("P14b",), goals_hazards.by_http, every_size=False),
    Goal(("P15", "P16"), goals_write.draws),
    Goal(("P17", "P7"), goals_write.on_postgres, every_size=False),
    Goal(("P18",), goals_ledger.chain_check),
    Goal(("P18b",), goals_ledger.ledger_check),
    Goal(("P19",), goals_ledger.append, every_size=False),
    Goal(("P20",), goals_running.page, every_size=False),
    Goal(("P21",), goals_http.pages),
    Goal(("P26",), goals_running.start),
    Goal(("P27",), goals_running.memory, every_size=False),
    Goal(("P28",), goals_ledger.backup),
    Goal(("P29",), goals_plan.term_plan, every_size=False),
)


def measured(bench: Workbench, goal: Goal, size: int, tries: int = 3) -> list[Figure]:
    """The figures of a goal. A missed one is measured again: it is missed if two tries of three are."""
    figures = list(goal.measure(bench, size))
    found = [figures]
    while any(figure.met is False for figure in figures) and len(found) < tries:
        found.append(list(goal.measure(bench, size)))
        if all(_misses(found, n) >= 2 for n, f in enumerate(figures) if f.met is False):
            break
    return [dataclasses.replace(_verdict(found, n), tries=len(found)) for n in range(len(figures))]


def _misses(found: Sequence[Sequence[Figure]], number: int) -> int:
    return sum(one[number].met is False for one in found)


def _verdict(found: Sequence[Sequence[Figure]], number: int) -> Figure:
    """The middle try: with two or three of them the one that stands for the majority."""
    tried = sorted((one[number] for one in found), key=lambda figure: figure.ratio.median)
    if len(tried) == 2:
        return found[-1][number]
    return tried[len(tried) // 2]


def table(figures: Iterable[Figure]) -> Iterator[str]:
    """The figures as lines of text: minimum / median / maximum of A, of B and of the ratio."""
    yield f"{'goal':5} {'containers':>10} {'verdict':9} {'ratio':26} {'bound':>9}  what · A · B"
    for one in figures:
        sign = "" if one.bound is None else f"{'<=' if one.at_most else '>='} {one.bound:.3g}"
        again = f" ({one.tries} tries)" if one.tries > 1 else ""
        yield (
            f"{one.goal:5} {one.size:>10,} {one.verdict:9} {one.ratio!s:26} {sign:>9}  {one.what}"
            f" · {one.a} · {one.b} {one.unit}{again}"
        )
        if one.met is False and one.why:
            yield f"{'':28}{one.why}"


def machine() -> dict[str, Any]:
    """What was measured, where, with which seed."""
    return {
        "program": __version__,
        "seed": SEED,
        "date": now_utc().date().isoformat(),
        "python": platform.python_version(),
        "sqlite": sqlite_module().sqlite_version,
        "cores": len(os.sched_getaffinity(0)),
        "system": f"{platform.system()} {platform.machine()}",
    }


def keep(figures: Sequence[Figure], path: Path, turns: int) -> None:
    """Write the figures down; what was not measured now stays as it was, with its own date."""
    head = machine() | {"turns": turns}
    stored = json.loads(path.read_text(encoding="utf-8"))["figures"] if path.exists() else []
    rows = {_key(row): row for row in stored} | {_key(r): r for r in (f.as_dict() | head for f in figures)}
    ordered = sorted(
        rows.values(), key=lambda row: (int(row["goal"].strip("Pb")), row["goal"], row["containers"])
    )
    lines = ",\n".join(json.dumps(row, ensure_ascii=False) for row in ordered)
    path.write_text(f'{{"figures": [\n{lines}\n]}}\n', encoding="utf-8")


def _key(row: dict[str, Any]) -> tuple[str, int, str]:
    """One place for one measurement; numbers in its words may differ from run to run."""
    return row["goal"], row["containers"], "".join(sign for sign in row["what"] if not sign.isdigit())


def parser() -> argparse.ArgumentParser:
    made = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    made.add_argument("--goal", action="append", help="only this goal, such as P8; may be given again")
    made.add_argument("--size", action="append", type=int, help="only this many containers; repeatable")
    made.add_argument("--turns", type=int, default=5, help="how often A and B are measured (%(default)s)")
    made.add_argument("--seconds", type=float, default=3.0, help="length of a load (%(default)s)")
    made.add_argument("--requests", type=int, default=10_000, help="of P27, before the look (%(default)s)")
    made.add_argument("--more", type=int, default=100_000, help="of P27, after it (%(default)s)")
    made.add_argument("--once", action="store_true", help="do not measure a missed goal again")
    made.add_argument("--folder", type=Path, default=Path(".data/bench"), help="where seeded stores stay")
    made.add_argument("--write", type=Path, default=FIGURES, help="the file of figures (%(default)s)")
    return made


def run(asked: argparse.Namespace) -> list[Figure]:
    """Measure what was asked for, print each line as it is known, and write the figures down."""
    bench = Workbench(asked.folder.resolve(), asked.turns, asked.seconds, asked.requests, asked.more)
    sizes, wanted = sorted(asked.size or SIZES), {key.upper().replace("B", "b") for key in asked.goal or ()}
    found: list[Figure] = []
    say = sys.stdout.write
    say(f"{machine()}\nEach: minimum / median / maximum over {asked.turns} turns, A and B in turn.\n")
    try:
        for goal in GOALS:
            if wanted and not wanted & set(goal.keys):
                continue
            for size in sizes if goal.every_size else sizes[:1]:
                figures = measured(bench, goal, size, 1 if asked.once else 3)
                found += figures
                for line in list(table(figures))[0 if len(found) == len(figures) else 1 :]:
                    say(line + "\n")
                sys.stdout.flush()
                keep(found, asked.write, asked.turns)
    finally:
        bench.close()
    return found


if __name__ == "__main__":
    run(parser().parse_args())
