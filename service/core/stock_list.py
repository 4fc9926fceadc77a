"""A stock list line by line: which columns it may have, and what each cell means.

What nobody wrote stays not known; what can be read in two ways is a problem with both readings, never a
guess. What needs the shop's book (materials, places, amounts) is judged in actions/check_list.py.

Doors: actions/check_list.py, outreach/csv_tables.py, web/pages/stock_list.py.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from typing import Final, TypeVar

from service.core.containers import Condition
from service.core.findings import Invalid
from service.core.list_amounts import list_amount
from service.core.list_days import NOBODY_KNOWS, ListDays
from service.core.materials import KIND_WORDS, MaterialKind
from service.core.spreadsheet_cells import from_text
from service.core.stock_list_file import LONGEST_CELL, SHORTER, FileRow, FileRows, LineProblem
from service.core.take_in import MOST_AT_ONCE
from service.core.written_days import tidy

COLUMNS: Final[dict[str, str]] = {
    "material": "its name as the book has it, or as you call it",
    "kind": "such as dry pigment, colour in oil, binder, drier, solvent",
    "maker": "who made it",
    "amount": "what is in it now: 250 g, about 1/2 l, about half; empty = not known",
    "capacity": "what it holds when full: 1 l, 250 g; needed for “about half”",
    "packed": "day of packing or making on the label; of a month alone its first day counts",
    "received": "day it came to the shop; empty = not known",
    "opened": "sealed, the day it was first opened, or open when nobody knows the day",
    "printed date": "use-by date printed on it; of a month alone its first day counts",
    "place": "name or code of a place in the book",
    "lot": "lot or batch number",
    "supplier": "who it was bought from",
    "condition": "sound, damaged or leaking; empty = nobody looked",
    "count": "how many alike; empty = one",
    "code": "of a shelf label stuck on ahead",
    "note": "anything else",
}
"""The columns a list may have, in the order of the blank list, with what stands in them."""
NEEDED: Final = ("material",)
SHOWN_ONLY: Final = ("standing", "in date until", "state")
"""Columns that this program writes and that follow from the others; of them only the state is read."""
_OTHER_NAMES: Final = {
    "name": "material", "quantity": "amount", "how much": "amount", "size": "capacity", "holds": "capacity",
    "packed on": "packed", "received on": "received", "came": "received", "opened on": "opened",
    "first opened": "opened", "use by": "printed date", "use-by date": "printed date",
    "best before": "printed date", "expiry": "printed date", "stands in": "place", "location": "place",
    "batch": "lot", "lot number": "lot", "remark": "note", "remarks": "note", "notes": "note",
    "pieces": "count", "shelf code": "code",
}  # fmt: skip
AS_TEXT: Final = ("lot", "code")
"""Columns whose figures are names: a spreadsheet must not make 7 of 007, or a day of 3-4."""
_LONGEST: Final = {"material": 120, "maker": 120, "amount": 200, "capacity": 60, "lot": 120, "supplier": 120}
_KINDS: Final = {tidy(name).casefold(): kind for kind, words in KIND_WORDS.items() for name in (kind, words)}
_CONDITIONS: Final = {
    "": Condition.NOT_KNOWN, "not known": Condition.NOT_KNOWN, "not looked at": Condition.NOT_KNOWN,
    "sound": Condition.SOUND, "damaged": Condition.DAMAGED, "dented": Condition.DAMAGED,
    "leaking": Condition.LEAKING, "leaks": Condition.LEAKING,
}  # fmt: skip
_ONE_OF: Final = "Write one of these, or leave it empty."
_SEALED: Final = frozenset({"sealed", "unopened", "never opened", "no", "never"})
_OPEN: Final = frozenset({"open", "opened", "yes", "not known", "unknown"})
_WHICH: Final = "Write “sealed” or “open” instead: this may mean either."
_CLOSED: Final = "Write “sealed” if it was never opened. If it was, write the day, or “open”."
_NOBODY: Final = "Write “open” if it was opened and nobody knows when, “sealed” if it was never opened."
_NEITHER: Final = {
    **dict.fromkeys(("x", "true", "false", "1", "0", "y", "n", "✓"), _WHICH),
    **dict.fromkeys(("closed", "shut", "zu", "full"), _CLOSED),
    **dict.fromkeys(sorted(NOBODY_KNOWS - {"x", "not known", "unknown", "none"}), _NOBODY),
}


class EmptyOpened(StrEnum):
    """What an empty cell under *opened* means in this list; said by whoever brings it, never assumed."""

    ASK = "ask"
    SEALED = "sealed"
    OPEN = "open"


@dataclass(frozen=True)
class ListLine:
    """One line of the list, understood as far as it can be without the shop's book. None and "" = not known.

    ``open_`` with ``opened`` None: open, nobody knows since when. ``skipped``: why it is left aside.
    ``remarks``: what was read otherwise than as written, such as a month as its first day.
    """

    line: int
    material: str
    kind: MaterialKind | None = None
    maker: str = ""
    amount: str = ""
    capacity: str = ""
    packed: date | None = None
    received: date | None = None
    open_: bool = False
    opened: date | None = None
    printed_date: date | None = None
    place: str = ""
    lot: str = ""
    supplier: str = ""
    condition: Condition = Condition.NOT_KNOWN
    count: int = 1
    code: str = ""
    note: str = ""
    skipped: str = ""
    # Not in its repr, which is what a line is known again by: how it was read is not what it says.
    remarks: tuple[str, ...] = field(default=(), repr=False)


@dataclass(frozen=True)
class StockList:
    """A list as read: its lines, its problems, and the columns that were left aside.

    ``wrong``: the lines with a problem, as far as they were understood, so that their rest is judged too.
    """

    lines: tuple[ListLine, ...]
    problems: tuple[LineProblem, ...]
    wrong: tuple[ListLine, ...] = ()
    ignored: tuple[str, ...] = ()
    header_wrong: bool = False


def read_list(rows: FileRows, empty_opened: EmptyOpened = EmptyOpened.ASK) -> StockList:
    """Every line that can be understood, and every problem of those that cannot.

    >>> from service.core.stock_list_file import read_rows
    >>> got = read_list(read_rows(b"material,amount,opened\\nraw umber,250 g,1 Mar 2026\\nochre,1 kg,\\n"))
    >>> got.lines[0].opened, [(p.line, p.column) for p in got.problems]
    (datetime.date(2026, 3, 1), [(3, 'opened')])
    """
    places, ignored, wrong = _header(rows.header)
    if wrong:
        return StockList((), tuple(wrong), ignored=tuple(ignored), header_wrong=True)
    problems = list(rows.problems)
    unreadable = {one.line for one in rows.problems}
    lines: list[ListLine] = []
    halves: list[ListLine] = []
    for row in rows.rows:
        line, found = _line(row, places, len(rows.header.cells), empty_opened)
        problems += found
        (halves if found or row.line in unreadable else lines).append(line)
    # A text too long for its column was too long for any: said once, with the column's own limit.
    own = {(one.line, one.column) for one in problems if one.expected.startswith("at most")}
    problems = [
        one for one in problems if (one.line, column_of(one.column)) not in own or one.expected != SHORTER
    ]
    ordered = tuple(sorted(problems, key=lambda p: p.line))
    return StockList(tuple(lines), ordered, tuple(halves), tuple(ignored))


def _header(row: FileRow) -> tuple[dict[str, int], list[str], list[LineProblem]]:
    places: dict[str, int] = {}
    ignored: list[str] = []
    wrong: list[LineProblem] = []
    for number, cell in enumerate(row.cells):
        name = column_of(cell)
        if not name:
            continue
        if name in places:
            mend = "Rename one of them, or take it out."
            wrong.append(LineProblem(row.line, name, f"“{tidy(cell)[:60]}” twice", "each column once", mend))
        elif name in COLUMNS or name == "state":
            places[name] = number
        elif name not in SHOWN_ONLY:
            ignored.append(tidy(cell)[:60])
    for name in NEEDED:
        if name not in places:
            seen = ", ".join(tidy(cell)[:30] for cell in row.cells[:8])
            mend = f"Name a column “{name}”. The first line of the file names the columns."
            wrong.append(LineProblem(row.line, name, seen or "nothing", f"a column “{name}”", mend))
    return places, ignored, wrong


def column_of(words: str) -> str:
    """The column that a heading names, in any letter case and by its other names.

    >>> column_of("Best_Before"), column_of("shelf life")
    ('printed date', 'shelf life')
    """
    plain = " ".join(re.sub(r"[_.:]", " ", tidy(words)).split()).casefold()
    return _OTHER_NAMES.get(plain, plain)


T = TypeVar("T")


@dataclass
class _Reader:
    """The cells of one row by name, with the problems found on the way."""

    row: FileRow
    places: Mapping[str, int]
    problems: list[LineProblem] = field(default_factory=list)

    def text(self, name: str) -> str:
        number = self.places.get(name)
        cell = self.row.cells[number] if number is not None and number < len(self.row.cells) else ""
        words = cell.strip() if name == "note" else tidy(cell)
        words = from_text(words) if name in AS_TEXT else words
        most = _LONGEST.get(name, LONGEST_CELL)
        if len(words) > most:
            signs = f"{len(words)}" if len(cell) <= LONGEST_CELL else f"more than {LONGEST_CELL}"
            self.wrong(name, f"{signs} signs", f"at most {most} signs", f"Shorten it to {most} signs.")
            return ""
        return words

    def wrong(self, column: str, found: str, expected: str, mend: str) -> None:
        self.problems.append(LineProblem(self.row.line, column, found, expected, mend))

    def read(self, name: str, how: Callable[[str], T], expected: str) -> T | None:
        """A cell by a reader that raises Invalid; None for an empty one and for a wrong one."""
        words = self.text(name)
        if not words:
            return None
        try:
            return how(words)
        except Invalid as error:
            self.wrong(name, f"“{words[:60]}”", expected, error.sentence)
            return None

    def one_of(self, name: str, known: Mapping[str, T], expected: str) -> T | None:
        words = self.text(name).casefold()
        if words in known:
            return known[words]
        if words:
            mend = "Leave it empty if nobody knows." if words in NOBODY_KNOWS else _ONE_OF
            self.wrong(name, f"“{words[:60]}”", expected, mend)
        return None


def _line(
    row: FileRow, places: Mapping[str, int], width: int, empty: EmptyOpened
) -> tuple[ListLine, list[LineProblem]]:
    cells = _Reader(row, places)
    if any(cell.strip() for cell in row.cells[width:]):
        mend = "Put quotes around a text that holds the separator, or move the text to its column."
        cells.wrong("", f"{len(row.cells)} cells", f"{width} cells, as the first line has", mend)
    name = cells.text("material")
    if not name and not cells.problems:
        cells.wrong("material", "nothing", "the name of what is in it", "Write what is in it.")
    state = cells.text("state").casefold()
    if state in ("empty", "gone") and not cells.problems:
        return ListLine(row.line, name, skipped=f"it is {state}, so there is nothing to take in"), []
    day = "a day like 2026-03-01, or a month like Mar 2026"
    days = ListDays()
    packed = cells.read("packed", days.reader("packed"), day)
    is_open, opened = _opened(cells, state, empty, days)
    line = ListLine(
        line=row.line,
        material=name,
        kind=cells.one_of("kind", _KINDS, ", ".join(KIND_WORDS.values())),
        maker=cells.text("maker"),
        amount=cells.read("amount", list_amount, "an amount with its unit, such as 250 g") or "",
        capacity=cells.text("capacity"),
        packed=packed,
        received=cells.read("received", days.reader("received"), day),
        open_=is_open,
        opened=opened,
        printed_date=cells.read("printed date", days.reader("printed date"), day),
        place=cells.text("place"),
        lot=cells.text("lot"),
        supplier=cells.text("supplier"),
        condition=cells.one_of("condition", _CONDITIONS, "sound, damaged or leaking") or Condition.NOT_KNOWN,
        count=cells.read("count", _count, f"a whole number from 1 to {MOST_AT_ONCE}") or 1,
        code=cells.text("code"),
        note=cells.text("note"),
    )
    return replace(line, remarks=(*days.remarks, *_breaks(line))), cells.problems


def _breaks(line: ListLine) -> list[str]:
    """That a text runs over several lines of the file: a quote may be missing, or it may be meant."""
    return ["the note has several lines"] if "\n" in line.note else []


def _count(words: str) -> int:
    if not re.fullmatch(r"[0-9]{1,4}", words, re.ASCII) or not 1 <= int(words) <= MOST_AT_ONCE:
        raise Invalid(f"Write a whole number from 1 to {MOST_AT_ONCE}, or use several lines.")
    return int(words)


def _opened(
    cells: _Reader, state: str, empty: EmptyOpened, days: ListDays
) -> tuple[bool, date | None]:
    words = cells.text("opened").casefold()
    if not words:
        words = state if state in ("sealed", "open") else "" if empty is EmptyOpened.ASK else empty.value
    if words in _SEALED:
        return False, None
    if words in _OPEN:
        return True, None
    expected = "sealed, open, or the day it was first opened"
    if not words:
        mend = "Write “sealed”, the day, or “open” when nobody knows the day. Nobody can tell afterwards."
        cells.wrong("opened", "nothing", expected, mend)
        return False, None
    if words in _NEITHER:
        cells.wrong("opened", f"“{words}”", expected, _NEITHER[words])
        return False, None
    return True, cells.read("opened", days.reader("opened"), expected)


def print_of_line(line: ListLine) -> str:
    """SHA-256 of what a line says, wherever in a file it stands.

    >>> print_of_line(ListLine(2, "raw umber")) == print_of_line(ListLine(9, "raw umber"))
    True
    """
    return hashlib.sha256(repr(replace(line, line=0)).encode()).hexdigest()


def print_of_rows(rows: FileRows) -> str:
    """SHA-256 that is the same for files that say the same, whatever their encoding, quotes or separator."""
    said = [[tidy(cell) for cell in row.cells] for row in (rows.header, *rows.rows)]
    return hashlib.sha256(repr(said).encode()).hexdigest()
