"""Goals of the process itself: start, memory, and what a page costs to build."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from markupsafe import escape

from service.core.shelf_codes import show_code
from service.records.store_queries import StoreWanted, find_containers
from service.web.act_view import amount_words
from service.web.pages.containers import COLUMNS, grouped
from service.web.render import environment
from tests.bench.goals_http import mixed, plain_list
from tests.bench.load import run_load
from tests.bench.ratio import Figure, Pair, interleaved, ms
from tests.bench.stock_plan import TODAY
from tests.bench.workbench import Workbench, plain, served, shop

_ROWS = 100


def start(bench: Workbench, size: int) -> Iterator[Figure]:
    """P26: from the start of the process to the first 200."""
    with bench.copy(size) as data:
        url = f"sqlite:///{bench.store(size)}"

        def ours() -> float:
            log = bench.scratch / "start.log"
            with served("service", "serve", "--data", str(data), log=log) as running:
                return running.start_ms

        def bare() -> float:
            with plain(bench, url) as running:
                return running.start_ms

        pair = interleaved(ours, bare, bench.turns)
    what = "start to first answer / small application"
    why = "half of it is building the models and routes of some 270 addresses"
    yield Figure("P26", what, size, "ms", *pair.sides, pair.ratio, 2.5, why=why)


def memory(bench: Workbench, size: int) -> Iterator[Figure]:
    """P27: what it holds after so many mixed requests, and how that grows over many more."""
    with bench.copy(size) as data, shop(bench, data) as ours:
        with plain(bench, f"sqlite:///{bench.store(size)}") as bare:
            run_load(ours.port, mixed(size), 8, 3_600, at_most=bench.requests)
            run_load(bare.port, plain_list(size), 8, 3_600, at_most=bench.requests)
            held = Pair([ours.rss_mib], [bare.rss_mib])
        run_load(ours.port, mixed(size), 8, 3_600, at_most=bench.more)
        later = Pair([ours.rss_mib], held.a)
    what = f"memory after {bench.requests:,} requests / small application"
    yield Figure("P27", what, size, "MiB", *held.sides, held.ratio, 2)
    yield Figure("P27", f"memory after {bench.more:,} more / before", size, "MiB", *later.sides, later.ratio,
                 1.05)  # fmt: skip


def page(bench: Workbench, size: int) -> Iterator[Figure]:
    """P20: the store's table of a hundred rows by template against the same by hand."""
    with bench.reading(size) as database, database.reading() as session:
        rows, _ = find_containers(session, StoreWanted(), TODAY, 0, _ROWS)
        template = environment.from_string(_TEMPLATE)
        groups = grouped(rows)
        by_hand = [_plain(row) for row in rows]
        pair = interleaved(
            ms(lambda: template.render(groups=groups, columns=COLUMNS), 20),
            ms(lambda: _by_hand(by_hand), 20),
            bench.turns,
        )
    yield Figure("P20", "table of 100 rows by template / by hand", size, "ms", *pair.sides, pair.ratio)


_TEMPLATE = (
    '{% import "parts/blocks.html" as blocks with context %}'
    "{% for group in groups %}{{ blocks.table(group.name, columns, group.rows) }}{% endfor %}"
)


def _plain(row: Any) -> tuple[str, ...]:
    place = row.place.name if row.place else ""
    amount = amount_words(row.container, row.material)[0]
    return (row.container.code, show_code(row.container.code), amount, row.container.state.value, place,
            row.standing.value)  # fmt: skip


def _by_hand(rows: list[tuple[str, ...]]) -> str:
    cells = (
        f'<tr><td><a href="/containers/{escape(code)}">{escape(shown)}</a></td>'
        + "".join(f"<td>{escape(text)}</td>" for text in rest)
        + "</tr>"
        for code, shown, *rest in rows
    )
    return f"<table>{''.join(cells)}</table>"


