"""The bytes of a stock list as rows of texts, each with the number of its line in the file.

Comma, semicolon or tab between the cells; UTF-8, UTF-16 with its mark, or Windows-1252. What is wrong is said
by line; reading goes on as far as it can, so that one pass finds every mistake.

Doors: core/stock_list.py, actions/take_list.py.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from service.core.findings import Invalid
from service.core.spreadsheet_cells import unguard
from service.core.written_signs import composed, wrong_sign

MOST_BYTES: Final = 2_000_000
MOST_LINES: Final = 5_000
"""Lines with something in them, the header aside."""
MOST_COLUMNS: Final = 60
_MOST_ANEW: Final = 40
"""Lines with a stray quote after which reading begins anew: each may have read to the end of the file."""
LONGEST_CELL: Final = 2000
SHORTER: Final = "a shorter text"
SEPARATORS: Final = (",", ";", "\t")
_NAMED: Final = re.compile(r"sep=([,;\t])[,;\t]*(?=\n)", re.IGNORECASE)
"""What some spreadsheets write as a first line of its own: which sign parts the cells."""
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(frozen=True)
class LineProblem:
    """One mistake: the line in the file, the column, what stands there, what is expected, how to mend it.

    The first line of the file is line 1; ``column`` is empty for the whole line.
    """

    line: int
    column: str
    found: str
    expected: str
    mend: str

    def as_dict(self) -> dict[str, object]:
        return {
            "line": self.line, "column": self.column, "found": self.found, "expected": self.expected,
            "mend": self.mend,
        }  # fmt: skip


@dataclass(frozen=True)
class FileRow:
    """One record: ``line`` is the first line it stands on, ``cells`` its texts as typed."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class FileRows:
    """The header, the rows under it, and the lines that could not be read."""

    header: FileRow
    rows: tuple[FileRow, ...]
    problems: tuple[LineProblem, ...]
    encoding: str


def read_rows(content: bytes) -> FileRows:
    """Every record of the file.

    Raises:
        Invalid: empty, too large, no text in a known encoding, too many lines or columns.

    >>> rows = read_rows(b"material;amount\\nraw umber;250 g\\n")
    >>> rows.header.cells, rows.rows[0].line, rows.rows[0].cells
    (('material', 'amount'), 2, ('raw umber', '250 g'))
    """
    text, encoding = decoded(content)
    # A lone return is a line's end too; the reader of the standard library would stop at one.
    whole = composed(text).replace("\r\n", "\n").replace("\r", "\n")
    named = _NAMED.match(whole)
    separator = named[1] if named else _separator(whole)
    rows: list[FileRow] = []
    problems: list[LineProblem] = []
    lines = whole.split("\n")
    lines[0] = "" if named else lines[0]
    for line, cells, wrong in _records(lines, separator):
        if wrong is not None:
            problems.append(wrong)
        if not any(cell.strip() for cell in cells):
            continue
        problems += _wrong_cells(line, cells, rows[0].cells if rows else ())
        rows.append(FileRow(line, tuple(unguard(cell[: LONGEST_CELL + 1]) for cell in cells)))
        if len(rows) > MOST_LINES + 1:
            raise Invalid(f"A list has at most {MOST_LINES} lines. Part it into several files.")
    if not rows:
        raise Invalid("The file is empty. Its first line names the columns; each line below is a container.")
    if len(rows[0].cells) > MOST_COLUMNS:
        raise Invalid(f"A list has at most {MOST_COLUMNS} columns. Take out those that are not needed.")
    return FileRows(rows[0], tuple(rows[1:]), tuple(problems), encoding)


def _records(lines: list[str], separator: str) -> Iterator[tuple[int, list[str], LineProblem | None]]:
    """Each record with its first line. One that may have swallowed others is wrong; these are read anew.

    A quote that is opened and not closed, or closed two lines on, must not hide the lines between.
    """
    reader = csv.reader((f"{text}\n" for text in lines), delimiter=separator, strict=True)
    done, begun, anew = 0, 0, 0
    width = 0
    while done < len(lines):
        wrong: LineProblem | None = None
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            wrong = _unreadable(done + 1, begun + reader.line_num, str(error))
            cells = []
        line, last = done + 1, begun + reader.line_num
        width = width or len(cells)
        hidden = [text for text in lines[line:last] if 2 * text.count(separator) >= max(1, width - 1)]
        if wrong is None and hidden:
            wrong = _runs_on(line, last)
        done = last
        if wrong is not None:
            anew += 1
            if anew > _MOST_ANEW:
                yield line, cells, replace(wrong, mend=f"{wrong.mend} Lines below were not read.")
                return
            cells = _alone(lines[line - 1], separator)
            done = begun = line
            reader = csv.reader((f"{text}\n" for text in lines[line:]), delimiter=separator, strict=True)
        yield line, cells, wrong


def _alone(text: str, separator: str) -> list[str]:
    """The cells of one line by itself, its quotes taken as they come."""
    try:
        return next(csv.reader([text], delimiter=separator), [])
    except csv.Error:
        return []


def decoded(content: bytes) -> tuple[str, str]:
    """The text of a file and the name of its encoding.

    Raises:
        Invalid: empty, too large, or in none of the known encodings.
    """
    if not content.strip():
        raise Invalid("The file is empty. Choose the list again.")
    if len(content) > MOST_BYTES:
        raise Invalid(f"The file is larger than {MOST_BYTES // 1_000_000} MB. Part it into several files.")
    encoding = next((name for mark, name in _MARKS if content.startswith(mark)), "utf-8")
    if encoding != "utf-16" and (at := content.find(b"\x00")) >= 0:
        raise _no_text(content.count(b"\n", 0, at) + 1)
    try:
        text = content.decode(encoding)
        if "\x00" in text:
            raise _no_text(text.count("\n", 0, text.index("\x00")) + 1)
        return text, "UTF-16" if encoding == "utf-16" else "UTF-8"
    except UnicodeDecodeError as error:
        wrong = content.count(b"\n", 0, error.start) + 1
    if encoding == "utf-8":
        try:
            return content.decode("cp1252"), "Windows-1252"
        except UnicodeDecodeError:
            pass
    raise _no_text(wrong)


def _no_text(line: int) -> Invalid:
    return Invalid(f"Line {line} holds signs that cannot be read. Save the list as CSV in UTF-8.")


def _separator(text: str) -> str:
    """What parts the names in the first line that says anything; a comma where nothing does."""
    first = next((line for line in text.split("\n") if line.strip()), "")
    bare = "".join(part for number, part in enumerate(first.split('"')) if number % 2 == 0)
    return max(SEPARATORS, key=bare.count)


def _unreadable(line: int, last: int, words: str) -> LineProblem:
    if "field larger" in words and last == line:
        mend = f"Shorten it to {LONGEST_CELL} signs."
        return LineProblem(line, "", "a text without end", "a short text", mend)
    if last > line:
        return _runs_on(line, last)
    mend = "Quote that text at both ends, and write a quote inside it twice."
    return LineProblem(line, "", "a quote out of place", "quotes in pairs", mend)


def _runs_on(line: int, last: int) -> LineProblem:
    mend = "Is a quote missing? Put a text in quotes at both ends, on one line; a quote inside it twice."
    return LineProblem(line, "", f"line {line} runs to line {last} by its quotes", "quotes in pairs", mend)


def _wrong_cells(line: int, cells: list[str], names: tuple[str, ...]) -> list[LineProblem]:
    found = []
    for number, cell in enumerate(cells):
        column = names[number].strip()[:60] if number < len(names) else f"column {number + 1}"
        if len(cell) > LONGEST_CELL:
            mend = f"Shorten it to {LONGEST_CELL} signs."
            found.append(LineProblem(line, column, f"{len(cell)} signs", SHORTER, mend))
        elif wrong := wrong_sign(cell, lines=True):
            found.append(LineProblem(line, column, "signs that cannot be seen", "plain text", wrong))
    return found
