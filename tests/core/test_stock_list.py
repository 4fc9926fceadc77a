"""Stock lists as files: RFC 4180 and what spreadsheets really write; mistakes named by line and column."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.containers import Condition
from service.core.findings import Invalid
from service.core.materials import MaterialKind
from service.core.spreadsheet_cells import as_text, guard, unguard
from service.core.stock_list import EmptyOpened, StockList, print_of_line, print_of_rows, read_list
from service.core.stock_list_file import MOST_BYTES, MOST_LINES, read_rows

DEMO = Path(__file__).parents[2] / "seed_data" / "demo"


def read(text: str | bytes, empty: EmptyOpened = EmptyOpened.ASK) -> StockList:
    return read_list(read_rows(text.encode() if isinstance(text, str) else text), empty)


def test_a_whole_line() -> None:
    text = (
        "Material,Kind,Maker,Amount,Capacity,Packed on,Received,First opened,Use by,Location,Lot,Supplier,"
        "Condition,Count,Code,Remark\n"
        "Raw umber,Dry Pigment,Lower Mill,250 g,500 g,2025-02-01,1 Mar 2025,20.5.2025,2030-01-01,Shelf 3,L 1,"
        'S & Co,Sound,2,,"two, alike"\n'
    )
    got = read(text)
    assert got.problems == () and got.ignored == ()
    line = got.lines[0]
    assert (line.line, line.material, line.kind, line.maker) == (
        2, "Raw umber", MaterialKind.DRY_PIGMENT, "Lower Mill",
    )  # fmt: skip
    assert (line.packed, line.received, line.opened) == (
        date(2025, 2, 1), date(2025, 3, 1), date(2025, 5, 20),
    )  # fmt: skip
    assert line.open_ and line.printed_date == date(2030, 1, 1) and line.condition is Condition.SOUND
    assert (line.amount, line.capacity, line.place, line.count) == ("250 g", "500 g", "Shelf 3", 2)
    assert line.note == "two, alike"


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_whatever_a_spreadsheet_writes(separator: str, encoding: str, ends: str) -> None:
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=separator, lineterminator=ends)
    writer.writerow(["material", "opened", "note"])
    writer.writerow(["Ocre jaune, séché", "sealed", 'says "old";\nsecond line'])
    writer.writerow(["Umber", "open", ""])
    got = read(out.getvalue().encode(encoding))
    assert got.problems == ()
    assert [(one.line, one.material) for one in got.lines] == [(2, "Ocre jaune, séché"), (4, "Umber")]
    assert got.lines[0].note == 'says "old";\nsecond line'


def test_a_file_that_says_the_same_has_the_same_print_whatever_its_shape() -> None:
    one = read_rows(b"material,amount\nochre,1 kg\n")
    other = read_rows("\ufeffmaterial;amount\r\n\r\nochre ; 1\u00a0kg\r\n".encode())
    assert print_of_rows(one) == print_of_rows(other)
    assert print_of_rows(one) != print_of_rows(read_rows(b"material,amount\nochre,2 kg\n"))
    got = read("material,opened\nochre,sealed\n\nochre,sealed\nochre,open\n")
    prints = [print_of_line(line) for line in got.lines]
    assert prints[0] == prints[1] != prints[2]


@pytest.mark.parametrize(
    ("cells", "column", "expected"),
    [
        ({"material": ""}, "material", "the name"),
        ({"material": "x" * 121}, "material", "at most 120 signs"),
        ({"kind": "paint"}, "kind", "dry pigment"),
        ({"packed": "03/04/2026"}, "packed", "a day"),
        ({"packed": "2026-02-30"}, "packed", "a day"),
        ({"received": "soon"}, "received", "a day"),
        ({"printed date": "13/2026"}, "printed date", "a day"),
        ({"opened": ""}, "opened", "sealed, open"),
        ({"opened": "maybe"}, "opened", "sealed, open"),
        ({"condition": "fine"}, "condition", "sound, damaged"),
        ({"count": "0"}, "count", "1 to 200"),
        ({"count": "1.5"}, "count", "1 to 200"),
        ({"count": "٣"}, "count", "1 to 200"),
        ({"lot": "l" * 121}, "lot", "at most 120"),
        ({"note": "a\x07b"}, "note", "plain text"),
        ({"note": "n" * 2001}, "note", "at most 2000 signs"),
        ({"material": "x" * 2500}, "material", "at most 120 signs"),
        ({"amount": "2 x 500 g"}, "amount", "an amount"),
    ],
)
def test_each_mistake_is_named_by_line_and_column(cells: dict[str, str], column: str, expected: str) -> None:
    """Line, column, found, expected, mend; a line with a mistake gives no container."""
    good = {"material": "ochre", "opened": "sealed"}
    names = [*dict.fromkeys([*good, *cells])]
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, names)
    writer.writeheader()
    writer.writerow(good)
    writer.writerow(good | cells)
    got = read(out.getvalue())
    assert [line.line for line in got.lines] == [2]
    assert [(one.line, one.column) for one in got.problems] == [(3, column)]
    assert expected in got.problems[0].expected and got.problems[0].found and got.problems[0].mend


def test_what_an_empty_opened_cell_means_is_said_by_whoever_brings_it() -> None:
    text = "material,opened\nochre,\n"
    assert read(text).lines == () and read(text).problems[0].column == "opened"
    assert not read(text, EmptyOpened.SEALED).lines[0].open_
    opened = read(text, EmptyOpened.OPEN).lines[0]
    assert opened.open_ and opened.opened is None
    # A list without the column says it for no container either.
    assert read("material\nochre\n").problems[0].column == "opened"


def test_header_mistakes_stop_all() -> None:
    assert read("what,amount\nochre,1 kg\n").header_wrong
    twice = read("material,amount,Quantity\nochre,1 kg,2 kg\n")
    assert twice.header_wrong and "twice" in twice.problems[0].found
    got = read("material,opened,shelf life\nochre,sealed,5\n")
    assert got.ignored == ("shelf life",) and len(got.lines) == 1


def test_ragged_rows_and_quotes() -> None:
    got = read('material,opened\nochre,sealed,yes\number\nred,"sealed\nblue,sealed\n')
    assert [(one.line, one.column) for one in got.problems] == [(2, ""), (3, "opened"), (4, "")]
    assert "quote" in got.problems[2].found


def test_what_is_no_list_is_refused_early() -> None:
    too_large = b"x" * (MOST_BYTES + 1)
    for content in (b"", b" \n\n", b"material\x00\n", b"\xff\xfe\x00", b"material,\x81\n", too_large):
        with pytest.raises(Invalid):
            read_rows(content)
    with pytest.raises(Invalid, match="at most"):
        read_rows(b"material\n" + b"ochre\n" * (MOST_LINES + 1))
    assert len(read_rows(b"material\n" + b"ochre\n" * MOST_LINES).rows) == MOST_LINES
    with pytest.raises(Invalid, match="columns"):
        read_rows(b"," * 80 + b"\n")


@given(st.text(alphabet=st.sampled_from(list("=+-@\t\r;\n'ax1 \uff1d\uff0b"))))
def test_no_text_begins_a_formula_and_each_is_read_back(text: str) -> None:
    safe = guard(text)
    assert unguard(safe) == text
    for cell in [safe, *(part for part in safe.replace("\t", ";").split(";"))]:
        assert not cell or cell[0] not in "=+-@\uff1d\uff0b" or cell is not safe
    assert not safe or safe[0] not in "=+-@\t\r\uff1d\uff0b\uff0d\uff20"


def test_the_sample_lists_are_what_they_say() -> None:
    good = read((DEMO / "stock-list.csv").read_bytes())
    assert good.problems == () and len(good.lines) == 9
    wrong = read((DEMO / "stock-list-with-mistakes.csv").read_bytes())
    assert {one.column for one in wrong.problems} == {"received", "opened"}


@pytest.mark.parametrize(
    ("cells", "days", "remark"),
    [
        ({"packed": "Mar 2025"}, {"packed": date(2025, 3, 1)}, "packed “Mar 2025” taken as 1 March 2025"),
        ({"packed": "2025-03"}, {"packed": date(2025, 3, 1)}, "1 March 2025"),
        ({"packed": "2025"}, {"packed": date(2025, 1, 1)}, "1 January 2025"),
        ({"received": "03/2025"}, {"received": date(2025, 3, 1)}, "1 March 2025"),
        ({"printed date": "1/2027"}, {"printed_date": date(2027, 1, 1)}, "1 January 2027"),
        ({"printed date": "2027"}, {"printed_date": date(2027, 1, 1)}, "1 January 2027"),
        ({"opened": "June 2025"}, {"opened": date(2025, 6, 1)}, "1 June 2025"),
        # Nothing comes or is opened before it is packed: the month of packing begins that day.
        ({"packed": "2025-03-12", "received": "Mar 2025"}, {"received": date(2025, 3, 12)}, "12 March 2025"),
        ({"packed": "2025-03-12", "opened": "2025"}, {"opened": date(2025, 3, 12)}, "12 March 2025"),
        ({"packed": "2025-03-12", "received": "Apr 2025"}, {"received": date(2025, 4, 1)}, "1 April 2025"),
        ({"packed": "2025-03-12", "received": "Feb 2025"}, {"received": date(2025, 2, 1)}, "1 February 2025"),
    ],
)
def test_a_month_is_read_on_the_strict_side_and_said(
    cells: dict[str, str], days: dict[str, date], remark: str
) -> None:
    line = {"material": "ochre", "opened": "sealed"} | cells
    got = read(f"{';'.join(line)}\n{';'.join(line.values())}\n")
    assert got.problems == ()
    assert {name: getattr(got.lines[0], name) for name in days} == days
    assert any(remark in words for words in got.lines[0].remarks), got.lines[0].remarks
    whole = dict(line)
    for name, day in days.items():
        whole[name.replace("_", " ")] = day.isoformat()
    same = read(f"{';'.join(whole)}\n{';'.join(whole.values())}\n").lines[0]
    assert same.remarks == () and print_of_line(same) == print_of_line(got.lines[0])


@pytest.mark.parametrize(
    ("column", "cell", "mend"),
    [
        ("packed", "unknown", "Leave it empty if nobody knows"),
        ("received", "?", "Leave it empty if nobody knows"),
        ("printed date", "n/a", "Leave it empty if nobody knows"),
        ("amount", "n/a", "Leave it empty if nobody knows"),
        ("condition", "n/a", "Leave it empty if nobody knows"),
        ("packed", "31/12/24", "four digits"),
        ("packed", "45728", "12 March 2025"),
        ("packed", "0/2025", "twelve months"),
        ("amount", "1E3", "Write 1000 g"),
        ("amount", "1.5E+03 ml", "Write 1500 ml"),
        ("amount", "2 x 500 g", "write “500 g” here and 2 under count"),
        ("opened", "zu", "“sealed” if it was never opened"),
        ("opened", "closed", "“sealed” if it was never opened"),
        ("opened", "x", "may mean either"),
        ("opened", "FALSE", "may mean either"),
        ("opened", "?", "“open” if it was opened and nobody knows when"),
    ],
)
def test_a_mend_never_asks_for_what_nobody_knows(column: str, cell: str, mend: str) -> None:
    line = {"material": "ochre", "opened": "sealed"} | {column: cell}
    got = read(f"{';'.join(line)}\n{';'.join(line.values())}\n")
    assert [one.column for one in got.problems] == [column]
    assert mend in got.problems[0].mend


def test_a_stray_quote_hides_no_line() -> None:
    """However the quotes pair up, a line they swallow is named, and read."""
    head = "material;amount;opened;note\n"
    lines = ["umber;1 g;sealed;ok", "umber;2 g;sealed;a", "umber;3 g;sealed;b", "umber;4 g;sealed;c"]
    for wrong in ('"5 inch brush', '"5" brush"', '5 inch "brush', '"one'):
        for close in (None, 2, 3):
            several = [*lines]
            several[1] = f"umber;2 g;sealed;{wrong}"
            if close is not None:
                several[close] += '"'
            got = read(head + "\n".join(several) + "\n")
            seen = {line.line for line in (*got.lines, *got.wrong)}
            assert seen == {2, 3, 4, 5}, (wrong, close)
            if wrong.startswith('"'):
                assert [p.line for p in got.problems] == [3], (wrong, close, got.problems)
    got = read(head + 'umber;1 g;sealed;"a\number;2 g;sealed;b"\n')
    assert "line 2 runs to line 3" in got.problems[0].found and "quote missing" in got.problems[0].mend
    # A note of several lines that holds no line of the list is a note; that it runs on is said.
    got = read(head + 'umber;1 g;sealed;"bought at the fair\nlid sticks"\n')
    assert got.problems == () and got.lines[0].remarks == ("the note has several lines",)
    many = read(head + 'umber;1 g;sealed;"x\n' * 300)
    assert 0 < len(many.problems) < 60 and "not read" in many.problems[-1].mend


def test_names_made_of_figures_are_texts_to_a_spreadsheet() -> None:
    for lot in ("3-4", "007", "1E3", "12/25", "G-3", "'42", "-5", "=1", "''7"):
        cell = guard(as_text(lot))
        assert not re.fullmatch(r"[0-9][0-9.,/eE+-]*", cell)
        assert read(f'material,opened,lot\nochre,sealed,"{cell}"\n').lines[0].lot == lot


def test_a_first_line_that_names_the_separator_is_understood() -> None:
    got = read("sep=;\nmaterial;opened;amount\nochre;sealed;1,5 l\n")
    assert got.problems == () and (got.lines[0].line, got.lines[0].amount) == (3, "1,5 l")
    assert print_of_rows(read_rows(b"sep=;\nmaterial;lot\nochre;1\n")) == print_of_rows(
        read_rows(b"material,lot\nochre,1\n")
    )
