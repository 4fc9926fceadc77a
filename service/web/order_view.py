"""What the order list says of each line, on the page and as a table to save."""

from __future__ import annotations

import re
from collections.abc import Container, Iterator, Mapping, Sequence
from typing import Any, Final

from service.actions.limits_after import LESS, ONE_BY_ONE
from service.actions.look_at_orders import ToBuy
from service.actions.look_at_term import TermOutlook
from service.actions.what_is_coming import packs_words
from service.core.costs import say_cost
from service.core.materials import Basis
from service.core.order_list import MaterialOrder, OrderLine
from service.core.shelf_codes import show_code
from service.core.use_suggestion import UseOfWeeks
from service.core.waste_avoided import DiesUnused
from service.records.orders import PackSizeRow
from service.web.plan_amounts import amount, least_words, packs
from service.web.render import HARD, day
from service.web.term_view import on_its_way

COLUMNS: Final = [
    {"key": "name", "label": "Material"},
    {"key": "short", "label": "Missing", "number": True},
    {"key": "buy", "label": "Buy", "whole": True},
    {"key": "supplier", "label": "Of whom"},
    {"key": "order_by", "label": "Order by", "whole": True},
    {"key": "needed", "label": "Needed", "whole": True},
    {"key": "cost", "label": "Cost", "number": True},
    {"key": "left", "label": "Left over", "number": True},
]
_FIGURES: Final = re.compile(r".*?(?: counted, .*?(?:too much|above this level)|% on\))\. ")
SEVERAL: Final = "as it stands under the table, of several"
CSV_HEADER: Final = (
    "material", "missing", "packs", "pack", "supplier", "lead time in working days", "order by", "comes by",
    "first use", "last use", "cost", "currency", "left over", "complete", "on its way",
    "least on the shelf", "use a week, low",
    "use a week, middle", "use a week, high", "why no use", "goes first", "storage limits", "too late",
    "comes if ordered today",
)  # fmt: skip


def rows(look: TermOutlook, found: Sequence[ToBuy]) -> list[dict[str, Any]]:
    """A line for each pack size and delivery; one that says so where no packs could be chosen."""
    lines: list[dict[str, Any]] = []
    for one in found:
        order = one.order
        link = {"href": f"/term/{look.term.id}/materials/{order.material_id}", "words": order.name}
        said = missing_words(order, look.unit(order.material_id))
        if not order.lines:
            sizes = {"href": f"/materials/{order.material_id}/packs", "words": "Write down its packs"}
            lines.append(
                {
                    "name": link, "short": said, "buy": sizes if not order.chosen else "not known how much",
                    "supplier": None, "order_by": None, "needed": _first_day(look, order.material_id),
                    "cost": None, "left": "–",
                }
            )  # fmt: skip
        for at, line in enumerate(order.lines):
            lines.append(_line(look, line, link, "the same, as above" if at else said, order))
    return lines


def missing_words(order: MaterialOrder, unit: str = "") -> str:
    """What is missing in all. Where some job takes an unknown amount, what is known is the least."""
    short = amount(order.short, order.basis, unit)
    return short if order.complete else f"at least {short}" if order.short else "not known"


def _first_day(look: TermOutlook, material_id: int) -> str | None:
    days = look.plan.stock.shortages(material_id)
    return day(min(days)) if days else None


def _line(
    look: TermOutlook, line: OrderLine, link: dict[str, str], short: str, order: MaterialOrder
) -> dict[str, Any]:
    order_by = None if line.order_by is None else day(line.order_by)
    left = amount(line.left, order.basis, look.unit(order.material_id), down=True)
    lead = f"lead time {lead_words(line.pack.lead_days)}"
    return {
        "name": link,
        "short": short,
        "buy": packs(line.count, line.pack.words),
        "supplier": {"lines": [line.pack.supplier or "not known", lead]},
        "order_by": f"{order_by}: too late" if line.late else order_by,
        "needed": f"{day(line.first_use)}; here by {day(line.arrive)}",
        "cost": None if line.cost is None else say_cost(line.cost, look.currency),
        "left": left if line.left else "nothing",
    }


def lead_words(days: int | None) -> str:
    """How long a pack takes to come.

    >>> lead_words(1), lead_words(None)
    ('1 working day', 'not known')
    """
    if days is None:
        return "not known"
    return f"{days} working day{'' if days == 1 else 's'}"


def said_of_several(found: Sequence[ToBuy]) -> list[tuple[str, dict[str, list[str]]]]:
    """What is said of the storage limits in the same words for several materials: of which, and the words."""
    names: dict[str, list[str]] = {}
    for one in found:
        for words in dict.fromkeys(one.limits):
            if words in (LESS, ONE_BY_ONE):  # speaks of the lines above it
                continue
            names.setdefault(words, []).append(one.order.name)
    whole = {words for words, of in names.items() if len(of) > 1}
    for one in found:
        for rest in dict.fromkeys(_asks(words) for words in one.limits if words not in whole):
            if rest:
                names.setdefault(rest, []).append(one.order.name)
    told: dict[str, list[str]] = {}
    for words, of in names.items():
        if len(of) > 1:
            told.setdefault(", ".join(of), []).append(words)
    return [(of, {"lines": lines}) for of, lines in told.items()]


def _asks(words: str) -> str:
    """What a row asks, without the figures before it; empty where there are none.

    >>> _asks("The building: 12 gal counted, 5 gal by this row, so 7 gal above this level. Ask for a permit.")
    'Ask for a permit.'
    """
    found = _FIGURES.match(words)
    return words[found.end() :] if found else ""


def _shortly(words: str, several: Container[str]) -> str:
    """A line without what its row asks where that stands under the table; all its figures stay."""
    rest = _asks(words)
    return f"{words.removesuffix(rest).rstrip()} What that row asks: {SEVERAL}." if rest in several else words


def beside(look: TermOutlook, one: ToBuy, several: Container[str] = ()) -> dict[str, Any]:
    """What is to be known of a material before it is ordered; ``several``: what stands under the table."""
    number, basis = one.order.material_id, one.order.basis
    unit = look.unit(number)
    first = go_first(one, unit)
    limits = [_shortly(words, several) for words in one.limits if words not in several]
    if len(limits) < len(one.limits):
        limits.insert(0, SEVERAL)
    coming = [
        packs_words(line, look.coming.left_of(line)).replace(" ", HARD)
        + (f", expected {day(line.expected_on)}" if line.expected_on else ", nobody knows when")
        + f" (order {line.order_id})"
        for line in look.coming.of(number)
    ]
    return {
        "name": one.order.name,
        "href": f"/materials/{number}/packs",
        "facts": [
            ("Use a week by the ledger", use_words(one.use, basis, unit)),
            ("Least on the shelf at the end", least_words(look, number)),
            ("On its way already", {"lines": coming} if coming else "nothing"),
            ("Must be used or go first", {"lines": first} if first else "nothing"),
            ("Storage limits after the delivery", {"lines": limits}),
        ],
    }


def use_words(use: UseOfWeeks, basis: Basis | None, unit: str = "") -> str:
    """The suggestion with its spread, or why there is none."""
    if use.why_not or use.high is None:
        return f"no suggestion. {use.why_not}"
    words = (
        f"half of {use.weeks} weeks took at most {amount(use.middle, basis, unit)}, a quarter at most "
        f"{amount(use.low, basis, unit)}, nine of ten at most {amount(use.high, basis, unit)}"
    )
    return f"{words}; {use.not_known} more are not known" if use.not_known else words


def go_first(one: ToBuy, unit: str = "") -> list[str]:
    """The containers of it that die unused, want a look, or have to go."""
    basis = one.order.basis
    lines = [_dies(each, basis, unit) for each in one.first]
    return [*lines, *(f"{show_code(code)} {why}" for code, why in one.aside)]


def _dies(each: DiesUnused, basis: Basis | None, unit: str) -> str:
    code = show_code(each.code) if each.container_id > 0 else each.code
    if each.last_day is None:
        return f"{code}: {amount(each.amount, basis, unit, down=True)}, not known; look at it"
    return f"{code}: {amount(each.amount, basis, unit, down=True)} not used by {day(each.last_day)}"


def by_supplier(look: TermOutlook, found: Sequence[ToBuy], packs: Mapping[int, PackSizeRow]) -> list[Any]:
    """Number (0: not known), name and how many lines of each supplier, by name."""
    counts: dict[tuple[str, int], int] = {}
    for one in found:
        for line in one.order.lines:
            key = (line.pack.supplier, packs[line.pack.pack_id].supplier_id or 0)
            counts[key] = counts.get(key, 0) + 1
    return [(number, name or "not known of whom", many) for (name, number), many in sorted(counts.items())]


def csv_rows(look: TermOutlook, found: Sequence[ToBuy]) -> Iterator[Sequence[Any]]:
    """The order list as a table. What is not known says so: an empty cell could be read as none.

    A file has plain spaces: a spreadsheet does not find "250 ml" by what a page prints.
    """
    for row in _csv_rows(look, found):
        yield [cell.replace(HARD, " ") if isinstance(cell, str) else cell for cell in row]


def _csv_rows(look: TermOutlook, found: Sequence[ToBuy]) -> Iterator[Sequence[Any]]:
    yield CSV_HEADER
    for one in found:
        order, basis = one.order, one.order.basis
        coming, unit = on_its_way(look, order.material_id), look.unit(order.material_id)
        after = (
            "yes" if order.complete else "no, at least this",
            amount(coming, basis, unit) if coming else "nothing",
            least_words(look, order.material_id),
            *(amount(part, basis, unit) for part in (one.use.low, one.use.middle, one.use.high)),
            one.use.why_not, "; ".join(go_first(one, unit)) or "nothing", "; ".join(one.limits),
        )  # fmt: skip
        short = missing_words(order, unit)
        if not order.lines:
            yield (order.name, short, None, "not known", *["not known"] * 9, *after, *["not known"] * 2)
        for line in order.lines:
            yield (
                order.name, short, line.count, line.pack.words,
                line.pack.supplier or "not known",
                "not known" if line.pack.lead_days is None else line.pack.lead_days,
                line.order_by or "not known", line.expected,
                line.first_use,
                line.last_use, "not known" if line.cost is None else say_cost(line.cost, None),
                look.currency or "", amount(line.left, basis, unit, down=True), *after,
                "not known" if line.order_by is None else "yes" if line.late else "no",
                line.comes or "not known",
            )  # fmt: skip
