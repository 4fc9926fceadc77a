"""Stock, ledger, events and rag log as CSV, for spreadsheets and for reading back.

UTF-8 with its mark, commas, lines ended with return and newline (RFC 4180). Texts that people wrote are
guarded against being taken for formulas; figures stay figures.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from functools import lru_cache
from typing import Any, Final

from sqlmodel import Session, col, select

from service.core.bench_writing import Ambiguous, amount_as_written, read_written
from service.core.chemicals_list import ListedChemical
from service.core.containers import AmountKnown, Condition
from service.core.findings import Invalid
from service.core.materials import KIND_WORDS, Basis, Form
from service.core.spreadsheet_cells import as_text, guard
from service.core.stock_list import COLUMNS, SHOWN_ONLY
from service.core.stock_list_file import LineProblem
from service.records.material_search import all_places, path_of
from service.records.materials import Material
from service.records.people import Person
from service.records.places import Place
from service.records.rags import RagLogRow
from service.records.stock import Container, ContainerEvent, Movement, Posting
from service.records.store_queries import StoreRow, stock_in_parts

MARK: Final = "\ufeff"
STOCK_HEADER: Final = ("code", *(name for name in COLUMNS if name not in ("code", "count")), *SHOWN_ONLY)
LEDGER_HEADER: Final = (
    "entry", "happened", "recorded", "late", "late reason", "act", "container", "material", "change", "unit",
    "counted", "left", "how well known", "written", "other side", "with", "where to", "batch", "job",
    "rag load", "takes back", "reason", "who",
)  # fmt: skip
EVENT_HEADER: Final = (
    "event", "happened", "recorded", "late", "container", "material", "what", "day meant", "outcome", "found",
    "measured mg/l", "from", "to", "job", "note", "who",
)  # fmt: skip
RAG_HEADER: Final = (
    "entry", "happened", "recorded", "load", "what", "who", "body", "hash before", "hash",
)  # fmt: skip
CHEMICALS_HEADER: Final = (
    "material", "maker", "CAS number", "law", "signal word", "hazard classes", "sheet", "sheet date", "where",
    "containers", "amount", "complete", "complete because", "oily rags",
)  # fmt: skip
_UNITS: Final = {Basis.MASS: "mg", Basis.VOLUME: "microlitre", Basis.PIECES: "piece"}
_PART: Final = 1000

Cell = Any
"""A text (guarded), a whole number, a day, or None (an empty cell: not known, or none)."""


def written(rows: Iterable[Sequence[Cell]]) -> Iterator[str]:
    """The rows as the lines of a file, its mark first.

    >>> list(written([("name", "change"), ("=1+1", -5)]))
    ['\\ufeffname,change\\r\\n', "'=1+1,-5\\r\\n"]
    """
    first = MARK
    for row in rows:
        line = io.StringIO()
        csv.writer(line, lineterminator="\r\n").writerow([_cell(value) for value in row])
        yield first + line.getvalue()
        first = ""


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, int):
        return str(value)
    return value.isoformat() if isinstance(value, date) else guard(str(value))


def blank_list() -> Iterator[str]:
    """A stock list with its first line only."""
    return written([tuple(COLUMNS)])


def problem_rows(problems: Iterable[LineProblem]) -> Iterator[Sequence[Cell]]:
    """The problems of a stock list, as a table."""
    yield ("line", "column", "found", "expected", "how to mend it")
    for one in problems:
        yield (one.line, one.column, one.found, one.expected, one.mend)


def stock_rows(session: Session, today: date) -> Iterator[Sequence[Cell]]:
    """Everything in the store, empty ones too, in the columns a stock list is read by, with how it stands."""
    yield STOCK_HEADER
    places = all_places(session)
    for rows in stock_in_parts(session, today, _PART):
        for row in rows:
            yield _stock_row(row, places)


def _stock_row(row: StoreRow, places: dict[int, Place]) -> Sequence[Cell]:
    box, material = row.container, row.material
    cells: dict[str, Cell] = {
        "code": as_text(box.code),
        "material": material.name,
        "kind": KIND_WORDS[material.kind],
        "maker": material.maker,
        "amount": amount_cell(box, material),
        "capacity": capacity_cell(box, material),
        "packed": box.packed_on,
        "received": box.received_on,
        "opened": (box.opened_on or "open") if box.ever_opened else "sealed",
        "printed date": box.printed_date,
        "place": path_of(row.place, places),
        "lot": as_text(box.lot),
        "supplier": box.supplier,
        "condition": None if box.condition is Condition.NOT_KNOWN else box.condition.value,
        "note": box.note,
        "standing": row.standing.value.replace("-", " "),
        "in date until": row.in_date_until,
        "state": box.state.value,
    }
    return [cells[name] for name in STOCK_HEADER]


def amount_cell(box: Container, material: Material) -> str:
    """The amount as a stock list is read back by: exact, "about" for an estimate, empty when not known."""
    if box.balance is None or material.basis is None:
        return ""
    words = amount_as_written(box.balance, material.basis)
    return f"about {words}" if box.balance_known is AmountKnown.ESTIMATED else words


def capacity_cell(box: Container, material: Material) -> str:
    """The capacity as written; where only this shop's habits tell what was meant, its figure by volume."""
    if box.capacity_ul is None or not _is_doubtful(box.capacity_written, material.form):
        return box.capacity_written
    return amount_as_written(box.capacity_ul, Basis.VOLUME)


@lru_cache(maxsize=4096)
def _is_doubtful(text: str, form: Form) -> bool:
    try:
        read_written(text, form=form)
    except Ambiguous:
        return True
    except Invalid:
        return False
    return False


def ledger_rows(session: Session) -> Iterator[Sequence[Cell]]:
    """Every movement, the oldest first; amounts in whole smallest units."""
    yield LEDGER_HEADER
    query = (
        select(  # type: ignore[call-overload]  # more columns than its types foresee
            Movement, Container.code, Material.name, Material.basis, Person.name, Posting.late_reason
        )
        .join(Container, col(Container.id) == col(Movement.container_id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .join(Person, col(Person.id) == col(Movement.person_id))
        .join(Posting, col(Posting.id) == col(Movement.posting_id))
        .order_by(col(Movement.id))
        .execution_options(yield_per=_PART)
    )
    for m, code, name, basis, person, late_reason in session.exec(query):
        yield (
            m.id, m.happened_at, m.recorded_at, m.late, late_reason, m.kind.value, code, name, m.change,
            _UNITS[basis] if basis else None, m.counted, m.balance_after, m.known.value, m.written,
            m.other_side.value, m.other_text, m.destination.value if m.destination else None, m.batch_id,
            m.job_id, m.rag_load_id, m.reverses_id, m.reason, person,
        )  # fmt: skip


def event_rows(session: Session) -> Iterator[Sequence[Cell]]:
    """Every event of a container, the oldest first."""
    yield EVENT_HEADER
    places = all_places(session)
    query = (
        select(ContainerEvent, Container.code, Material.name, Person.name)
        .join(Container, col(Container.id) == col(ContainerEvent.container_id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .join(Person, col(Person.id) == col(ContainerEvent.person_id))
        .order_by(col(ContainerEvent.id))
        .execution_options(yield_per=_PART)
    )
    for event, code, name, person in session.exec(query):
        came, went = places.get(event.from_place_id or 0), places.get(event.to_place_id or 0)
        yield (
            event.id, event.happened_at, event.recorded_at, event.late, code, name, event.kind.value,
            event.on_date, event.outcome, event.found, event.measured_mg_l, path_of(came, places),
            path_of(went, places), event.job_id, event.note, person,
        )  # fmt: skip


def rag_log_rows(session: Session) -> Iterator[Sequence[Cell]]:
    """Every entry of the rag log with the very text that was hashed, so that anybody can check the chain."""
    yield RAG_HEADER
    query = (
        select(RagLogRow, Person.name)
        .outerjoin(Person, col(Person.id) == col(RagLogRow.person_id))
        .order_by(col(RagLogRow.id))
        .execution_options(yield_per=_PART)
    )
    for row, person in session.exec(query):
        yield (
            row.id, row.happened_at, row.recorded_at, row.load_id, row.kind, person, row.body, row.prev_hash,
            row.hash,
        )  # fmt: skip


def chemical_rows(found: Iterable[ListedChemical], law: str) -> Iterator[Sequence[Cell]]:
    """The list of hazardous chemicals. What is not known says so: an empty cell could be read as none."""
    yield CHEMICALS_HEADER
    for one in found:
        none = "examined, none" if one.complete else "not known"
        yield (
            one.name, one.maker, one.cas, law, one.signal or ("none" if one.complete else "not known"),
            "; ".join(one.classes) or none, "yes" if one.sheet else "none", one.sheet_date,
            "; ".join(place or "not known" for place in one.places), one.containers,
            one.held or "not known", "yes" if one.complete else f"no, {one.lacks} facts missing",
            one.why_complete or ("nothing is missing" if one.complete else "it is not"),
            "yes, they can ignite by themselves" if one.oily else "no",
        )  # fmt: skip
