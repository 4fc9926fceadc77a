"""How the store stands against its limits, for people: a bar for each row, a word, and how it came about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from service.core.findings import Finding, Severity, Verdict
from service.core.storage_items import MASSES, VOLUMES, Counted, amount_of
from service.core.storage_ladders import NONE
from service.core.storage_limits import NEAR_SHARE, RuleSetAnswer, is_near
from service.core.storage_places import PlaceKind
from service.core.storage_rows import JudgedRow
from service.core.storage_rules import Measure, RuleSet, Scope
from service.core.storage_words import begins, shown, told, unit_words
from service.core.store_limits import Area, Box, StoreJudged
from service.core.store_tree import Spot, StoreTree
from service.core.stored_stuff import category_words
from service.web.render import number

WIDE: Final = 340
"""Units of the picture for the whole bar; the limit stands at 240, so that over shows as over."""
FULL: Final = 240
RULE_WORDS: Final = {
    RuleSet.OSHA: "US, OSHA 29 CFR 1910.106",
    RuleSet.CONSTRUCTION: "US, OSHA 29 CFR 1926.152 (construction)",
    RuleSet.IFC: "US, International Fire Code 2018",
    RuleSet.HSE: "UK, HSE guidance on DSEAR",
    RuleSet.TRGS: "Germany, TRGS 510",
}
STATES: Final = [
    ("in-date", "within this row"),
    ("look-first", "near its limit"),
    ("past", "over"),
    ("not-known", "not known"),
]
CAUTION: Final = (
    "These rows are limits of amounts alone. A sum within a row says nothing of doors, air or wiring. "
    "The code in force where you are comes first, and the fire code official who reads it."
)
_SHOWN_AT_ONCE: Final = 6
_UNKNOWN_AT_ONCE: Final = 3


@dataclass(frozen=True)
class Bar:
    """One row over one place: ``look`` is its pattern, ``state`` its words. ``width`` None: no bar."""

    title: str
    says: str
    look: str
    state: str
    counted: str
    limit: str
    width: float | None
    why: tuple[str, ...]
    lines: list[dict[str, Any]]
    cited: str
    mark: str = "limit"


COLUMNS: Final[list[dict[str, Any]]] = [
    {"key": "what", "label": "What"},
    {"key": "category", "label": "Counts as"},
    {"key": "amount", "label": "Counted", "number": True},
]


def area_view(area: Area) -> dict[str, Any]:
    """One room or building: its bars, the fullest first, and what is to be read with them."""
    bars = [
        (one, row) for answer in area.answers for row in answer.rows
        if (one := _bar(answer, row)) is not None
    ]  # fmt: skip
    bars.sort(key=lambda pair: (_rank(pair[0]), -(pair[1].share or 0)))
    shown = [one for one, _ in bars]
    said, more = first_of(findings_of(area))
    return {
        "name": area.name,
        "kind": "Building" if area.kind is PlaceKind.BUILDING else "Room",
        "number": area.number,
        "look": look_of(area.met),
        "state": said_of(area.met),
        "bars": shown[:_SHOWN_AT_ONCE],
        "more": shown[_SHOWN_AT_ONCE:],
        "findings": said,
        "more_findings": more,
    }


def loose_things(judged: StoreJudged) -> dict[str, Any]:
    """What nobody knows the place of, each once with the page where it is told, and how many more."""
    found: dict[str, dict[str, str]] = {}
    for box in judged.loose:
        href, words = _told_at(box)
        found.setdefault(href, {"name": box.what.liquid.name, "href": href, "words": words})
    things = list(found.values())
    return {"things": things[:_SHOWN_AT_ONCE], "more": len(things[_SHOWN_AT_ONCE:])}


def _told_at(box: Box) -> tuple[str, str]:
    kind, number = box.told_of
    if kind == "thrown":
        return "/waste/drums", "Name its drum"
    if kind == "rest":
        return f"/bench/{number}/rest", f"Say where the rest of batch {number} went"
    if kind == "drum":
        return f"/waste/drums/{number}", f"Say where waste drum {number} stands"
    if box.place_id is not None:
        return f"/places/{box.place_id}", "Say in which room this place is"
    if kind in ("batch", "job"):
        return f"/bench/{number}" if kind == "batch" else f"/jobs/{number}", f"Look at {kind} {number}"
    return f"/C/{number}", "Move it to where it stands"


def first_of(verdict: Verdict) -> tuple[Verdict, Verdict]:
    """What stops or warns, and the first of what is not known; and the rest, which opens below it."""
    heavy = [one for one in verdict if one.severity in (Severity.STOP, Severity.WARN)]
    open_ = [one for one in verdict if one.severity is Severity.UNKNOWN]
    said = [*heavy, *open_[:_UNKNOWN_AT_ONCE]]
    return Verdict.of(said), Verdict.of(one for one in verdict if one not in said)


def findings_of(area: Area) -> Verdict:
    """The findings of an area; what is said alike of many things is said once, with how many there are."""
    by_code: dict[tuple[str, Severity], list[Finding]] = {}
    for one in area.verdict:
        by_code.setdefault((one.code, one.severity), []).append(one)
    found: list[Finding] = []
    for many in by_code.values():
        found += many[:3]
        if len(many) > 3:
            first = many[0]
            rest = dict.fromkeys(one.about for one in many[3:] if one.about)
            of = f", of: {'; '.join(rest)}" if rest else ""
            words = f"And {len(many) - 3} more like it{of}."
            found.append(Finding(first.severity, f"{first.code}-more", words))
    return Verdict.of(found)


def look_of(met: bool | None) -> str:
    return {True: "in-date", False: "past", None: "not-known"}[met]


def said_of(met: bool | None) -> str:
    """Never more than the rows say."""
    return {True: "within the rows held here", False: "over a row or kept wrongly", None: "not known"}[met]


def _rank(bar: Bar) -> int:
    return ["past", "look-first", "not-known", "in-date"].index(bar.look)


def _bar(answer: RuleSetAnswer, row: JudgedRow) -> Bar | None:
    """Nothing for a row that counts nothing, and for containers that are not too large."""
    single = row.group.scope is Scope.CONTAINER
    if (single and row.met is not False) or (not row.counted and row.met is True):
        return None
    look, state = _state(row)
    limit = row.allowed.limit
    by_number = row.row.unit in (Measure.CABINETS, Measure.CONTROL_AREAS) and limit is not None
    width = None
    if limit:
        width = float(min(Fraction(WIDE), row.counted / limit * FULL))
    elif limit is not None and row.counted:
        width = float(WIDE)
    return Bar(
        title=f"{begins(row.group.name)}: {RULE_WORDS[row.row.rule_set]}",
        says=row.row.says,
        look=look,
        state=state,
        counted=("" if row.sure else "at least ")
        + (_figure(row.counted, up=True) if by_number else with_metric(row.counted, row.row.unit)),
        limit="no limit" if row.allowed.unlimited else "not known" if limit is None
        else with_metric(limit, row.row.unit, up=False),
        width=width,
        why=row.allowed.why,
        lines=_lines(answer, row),
        cited=f"{row.row.citation}, edition {row.row.edition}; {row.row.force.value}; {row.row.provenance}",
        mark="limit" if row.binding else "level",
    )  # fmt: skip


def row_words(row: JudgedRow) -> str:
    """How one row stands, in words."""
    return _state(row)[1]


def _state(row: JudgedRow) -> tuple[str, str]:
    if row.met is False:
        over = f"{_figure(row.over_by, up=True)} {unit_words(row.over_by, row.row.unit)}"
        return "past", f"over by {over}" if row.binding else f"level passed by {over}"
    near = is_near(row, NEAR_SHARE)
    if row.as_one and row.over_by:
        over = told(row.over_by, row.row.unit, up=True)
        return "not-known", f"not known: over by {over} if it is one control area"
    if row.met is None:
        return ("look-first", "near, not fully known") if near else ("not-known", "not known if within")
    if near:
        return "look-first", "near its limit"
    return "in-date", "within this row"


def _lines(answer: RuleSetAnswer, row: JudgedRow) -> list[dict[str, Any]]:
    wanted = set(row.names)
    lines = []
    for one in answer.things:
        if one.item.name in wanted:
            amount = amount_of(one.item, row.row.unit)
            told = with_metric(amount.value, row.row.unit)
            lines.append(
                {
                    "what": one.item.name,
                    "category": _category(one),
                    "amount": told if amount.sure else f"{told}, not known for sure",
                }
            )
    return lines


def _category(one: Counted) -> str:
    told = [one.item.material_class] if one.item.material_class else []
    told += [name for name in (one.placed.categories if one.placed else ()) if name != NONE]
    names = dict.fromkeys([*told, *sorted(one.categories)])
    return " or ".join(map(category_words, names)) or "counts in none"


def with_metric(value: Fraction, unit: Measure, *, up: bool = True) -> str:
    """A figure in the row's own unit, which never reads milder, and in litres or kilograms beside it.

    ``up``: what is counted; a limit is rounded down.
    """
    told = f"{_figure(value, up=up)} {unit_words(value, unit)}"
    if unit is Measure.GALLON:
        return f"{told} ({_figure(value * VOLUMES[unit])} l)"
    if unit is Measure.POUND:
        return f"{told} ({_figure(value * MASSES[unit])} kg)"
    return told


def _figure(value: Fraction, *, up: bool | None = None) -> str:
    """To four signs; what is less than 0.01 says so, for "0 too much" would be wrong. ``up`` None: to the
    nearest."""
    if 0 < value < Fraction(1, 100):
        return "less than 0.01"
    if up is not None:
        return number(Decimal(shown(value, up=up)))
    return number(Decimal(format(float(value), ".4g"))) if value < 10_000 else number(round(value))


def places_around(spots: Sequence[Spot], place_id: int) -> set[tuple[PlaceKind, int]]:
    """The room and the building a place is in, or is."""
    at = StoreTree.of(spots).stands(place_id)
    return {(PlaceKind.ROOM, at.room), (PlaceKind.BUILDING, at.building)}
