"""A stock list that was looked at, as its page shows it: what was read, what is wrong, what is asked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from service.actions.check_list import CheckedList, GoodLine
from service.actions.list_doubles import LineQuestion
from service.actions.list_materials import Proposal
from service.actions.list_places import NOWHERE, PlaceAsked
from service.core.containers import AmountKnown, Condition
from service.core.materials import KIND_WORDS, Form
from service.core.shelf_codes import show_code
from service.core.stock_list_file import LineProblem

FORM_WORDS: Final = {
    Form.LIQUID: "a liquid", Form.PASTE: "a paste", Form.POWDER: "a powder", Form.SOLID: "a solid",
    Form.PIECES: "pieces",
}  # fmt: skip
PROBLEM_COLUMNS: Final = [
    {"key": "line", "label": "Line"},
    {"key": "column", "label": "Column"},
    {"key": "found", "label": "Found"},
    {"key": "expected", "label": "Expected"},
    {"key": "mend", "label": "Mend"},
]
GOOD_COLUMNS: Final = [
    {"key": "line", "label": "Line"},
    {"key": "name", "label": "Material"},
    {"key": "count", "label": "How many", "number": True},
    {"key": "amount", "label": "In each", "number": True},
    {"key": "opened", "label": "Opened"},
]
_NUMBERS: Final = 5


def lines_in_words(lines: Sequence[int]) -> str:
    """Numbers of lines, the first few and how many there are.

    >>> lines_in_words([3]), lines_in_words([3, 7, 12]), lines_in_words(list(range(2, 32)))
    ('Line 3', 'Lines 3, 7, 12', 'Lines 2, 3, 4, 5, 6 … (30 lines)')
    """
    if len(lines) == 1:
        return f"Line {lines[0]}"
    more = f" … ({len(lines)} lines)" if len(lines) > _NUMBERS else ""
    return "Lines " + ", ".join(str(line) for line in lines[:_NUMBERS]) + more


def problem_groups(problems: Sequence[LineProblem]) -> list[dict[str, Any]]:
    """The same mistake once, with the lines that make it; in the order of the first line of each."""
    groups: dict[tuple[str, str, str, str], list[int]] = {}
    for one in problems:
        groups.setdefault((one.column, one.found, one.expected, one.mend), []).append(one.line)
    return [
        {
            "line": lines_in_words(lines), "column": column or "the whole line", "found": found,
            "expected": expected, "mend": mend,
        }
        for (column, found, expected, mend), lines in groups.items()
    ]  # fmt: skip


def good_row(one: GoodLine, checked: CheckedList) -> dict[str, Any]:
    """A line that can be taken in with everything that was read from it."""
    line = one.line
    opened = "sealed" if not line.open_ else line.opened.isoformat() if line.opened else "day not known"
    name = f"{one.name}, {line.maker}" if line.maker else one.name
    explained = one.holds.read is not None and (
        one.holds.known is AmountKnown.ESTIMATED or one.holds.read.density_used is not None
    )
    how = f"{one.amount} from “{line.amount}”: {one.holds.how}" if explained else ""
    more = [also_read(one, checked), how, *line.remarks]
    return {
        "line": f"Line {line.line}",
        "name": {"lines": [name, *(words for words in more if words)]},
        "count": line.count,
        "amount": one.amount,
        "opened": opened,
    }


def also_read(one: GoodLine, checked: CheckedList) -> str:
    """What a line says besides its material, count, amount and opening; what it does not say is not named."""
    line = one.line
    place = checked.places_offered.get(one.asked.place_id or 0, "")
    said = [
        ("as", line.material if line.material.casefold() != one.name.casefold() else ""),
        ("holds", line.capacity),
        ("packed", line.packed.isoformat() if line.packed else ""),
        ("received", line.received.isoformat() if line.received else ""),
        ("printed date", line.printed_date.isoformat() if line.printed_date else ""),
        ("in", place),
        ("lot", line.lot),
        ("from", line.supplier),
        ("", "" if line.condition is Condition.NOT_KNOWN else line.condition.value),
        ("code", show_code(one.asked.code) if one.asked.code else ""),
        ("note", f"“{line.note[:80]}{'…' if len(line.note) > 80 else ''}”" if line.note else ""),
    ]
    return "; ".join(f"{name} {words}".strip() for name, words in said if words)


def proposed(one: Proposal) -> dict[str, Any]:
    """A name with the answers it offers, published facts first."""
    answers = [(f"known:{row.key}", f"{row.name} (published facts)") for row in one.published]
    answers += [
        (f"material:{row.id}", f"{row.name}{', ' + row.maker if row.maker else ''}, in the book")
        for row in one.similar
    ]
    answers += [(f"new:{form.value}", f"something else, {words}") for form, words in FORM_WORDS.items()]
    if one.chosen and one.chosen not in dict(answers):
        name = one.material.name if one.material is not None else "what was chosen"
        answers.append((one.chosen, name))
    return {
        "key": one.key, "name": one.first.material, "maker": one.first.maker,
        "kind": KIND_WORDS[one.first.kind] if one.first.kind else "kind not named",
        "lines": len(one.lines), "first": one.lines[0], "wrong": one.wrong, "answers": answers,
        "chosen": one.chosen or one.suggested, "settled": one.material is not None,
        "guess": not one.chosen and bool(one.suggested),
    }  # fmt: skip


def place_asked(one: PlaceAsked, checked: CheckedList) -> dict[str, Any]:
    """A name no place has, with the places of the shop to choose from."""
    answers = [(f"place:{number}", way) for number, way in checked.places_offered.items()]
    return {
        "key": one.key, "name": one.name, "lines": lines_in_words(one.lines), "chosen": one.chosen,
        "answers": [*answers, (NOWHERE, "not known yet")],
    }  # fmt: skip


def questioned(one: LineQuestion) -> dict[str, Any]:
    """A line that may be in the book already, with the way to the count that corrects it."""
    return {
        "key": one.key, "line": one.line, "sentence": one.sentence, "answered": one.answered,
        "code": show_code(one.code) if one.code else "",
        "href": f"/containers/{one.code}/count" if one.code else "",
    }  # fmt: skip
