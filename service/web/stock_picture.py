"""The stock of one material over a term as a picture: the level in steps, deliveries, jobs, what dies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from service.actions.look_at_term import TermOutlook
from service.core.months import say_date
from service.core.shelf_codes import show_code
from service.core.stock_levels import LevelStep, Step, first_below, stock_levels, unsure_from
from service.web.plan_amounts import amount
from service.web.render import day
from service.web.term_view import weekday_of

LEFT: Final = 8
RIGHT: Final = 352
TOP: Final = 26
FLOOR: Final = 170
STEP_WORDS: Final = {
    Step.START: "on the shelf today", Step.DIES: "dies unused", Step.DELIVERY: "comes", Step.JOB: "is used",
}  # fmt: skip
COLUMNS: Final[list[dict[str, Any]]] = [
    {"key": "on", "label": "On", "whole": True},
    {"key": "what", "label": "What"},
    {"key": "change", "label": "Change", "number": True},
    {"key": "level", "label": "Then there is", "number": True},
]


@dataclass(frozen=True)
class Mark:
    """One change in the picture: ``kind`` is delivery, job or dies."""

    kind: str
    x: float
    y: float


@dataclass(frozen=True)
class StockPicture:
    """The picture in its units, with the same as a table and in one sentence. ``unsure``: the part of the
    line that is only the most there can be; empty where all of it is known."""

    title: str
    said: str
    path: str
    unsure: str
    marks: tuple[Mark, ...]
    months: tuple[tuple[float, str], ...]
    top: str
    least_y: float | None
    rows: list[dict[str, Any]]
    columns: list[dict[str, Any]]
    ordered: bool


def draw_stock(look: TermOutlook, material_id: int) -> StockPicture | None:
    """The picture from today to the end of the term, with what the order list would bring; None when it is
    over, or nobody knows what the material is counted in."""
    bought = look.bought[material_id]
    until = look.term.last_day
    if bought.basis is None or until <= look.today:
        return None
    order = next((one for one in look.plan.orders.orders if one.material_id == material_id), None)
    steps = stock_levels(
        look.plan.stock, order, material_id, look.today, until, {need.job for need in look.plan.needs.needs}
    )
    highest = max(1, bought.minimum, *(step.level for step in steps))
    lowest = min(0, *(step.level for step in steps))
    scale = _Scale(look.today, until, lowest, highest)
    unsure = unsure_from(look.plan.stock, material_id, look.today)
    unsure = None if unsure is None or unsure > until else unsure
    said = _said(steps, bought.minimum, look, material_id, unsure)
    sure_path, unsure_path = _paths(steps, scale, unsure)
    return StockPicture(
        title=f"{bought.name} from {day(look.today)} to {day(until)}",
        said=said,
        path=sure_path,
        unsure=unsure_path,
        marks=tuple(
            Mark(step.step.value, scale.x(step.on), scale.y(step.level))
            for step in steps
            if step.step is not Step.START
        ),
        months=_months(look.today, until, scale),
        top=amount(highest, bought.basis, look.unit(material_id)),
        least_y=scale.y(bought.minimum) if bought.minimum else None,
        rows=[_row(step, look, material_id, unsure) for step in steps],
        columns=COLUMNS,
        ordered=order is not None and order.chosen,
    )


@dataclass(frozen=True)
class _Scale:
    begin: date
    end: date
    lowest: int
    highest: int

    def x(self, on: date) -> float:
        share = (on - self.begin).days / max(1, (self.end - self.begin).days)
        return round(LEFT + share * (RIGHT - LEFT), 1)

    def y(self, level: int) -> float:
        share = (level - self.lowest) / (self.highest - self.lowest)
        return round(FLOOR - share * (FLOOR - TOP), 1)


def _paths(steps: Sequence[LevelStep], scale: _Scale, unsure: date | None) -> tuple[str, str]:
    """The line up to the day from which it is not sure, and from there on."""
    known = [step for step in steps if unsure is None or step.on < unsure]
    rest = steps[len(known) :]
    end = RIGHT if unsure is None else scale.x(unsure)
    before = _line(scale.x(known[0].on), known, scale, end) if known else ""
    if unsure is None:
        return before, ""
    begin = [known[-1]] if known else [rest[0]]
    return before, _line(end, [*begin, *(rest if known else rest[1:])], scale, RIGHT)


def _line(x: float, steps: Sequence[LevelStep], scale: _Scale, end: float) -> str:
    parts = [f"M{x} {scale.y(steps[0].level)}"]
    parts += [f"H{scale.x(step.on)}V{scale.y(step.level)}" for step in steps[1:]]
    return "".join([*parts, f"H{end}"])


def _months(begin: date, end: date, scale: _Scale) -> tuple[tuple[float, str], ...]:
    found: list[tuple[float, str]] = []
    year, month = begin.year, begin.month
    while True:
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
        first = date(year, month, 1)
        if first > end:
            return tuple(found)
        found.append((scale.x(first), say_date(first).split()[1][:3]))


def _row(step: LevelStep, look: TermOutlook, material_id: int, unsure: date | None) -> dict[str, Any]:
    basis, unit = look.bought[material_id].basis, look.unit(material_id)
    about = step.about
    if step.step is Step.DIES and about in {box.code for box in look.shelf if box.container_id > 0}:
        about = show_code(about)
    what = STEP_WORDS[step.step]
    change = "" if step.step is Step.START else amount(step.change, basis, unit)
    most = "at most " if unsure is not None and step.on >= unsure else ""
    return {
        "on": weekday_of(step.on),
        "what": f"{about}: {what}" if about else what,
        "change": change or "–",
        "level": f"{most}{amount(step.level, basis, unit, down=True)}",
    }


def _said(
    steps: Sequence[LevelStep], least: int, look: TermOutlook, material_id: int, unsure: date | None
) -> str:
    basis, unit = look.bought[material_id].basis, look.unit(material_id)
    kinds = [step.step for step in steps]
    most = "" if unsure is None else "not known, at most "
    today = most if unsure == look.today else ""
    words = (
        f"Today {today}{amount(steps[0].level, basis, unit)}, "
        f"at the end {most}{amount(steps[-1].level, basis, unit)}. "
        f"Deliveries: {kinds.count(Step.DELIVERY)}. Jobs: {kinds.count(Step.JOB)}. "
        f"Days on which something dies unused: {kinds.count(Step.DIES)}."
    )
    if least and (below := first_below(steps, least)):
        words += f" Less than {amount(least, basis, unit)} first on {day(below)}{_or_sooner(below, unsure)}."
    elif least and unsure is not None:
        words += f" Whether less than {amount(least, basis, unit)} is left one day is not known."
    if unsure is not None:
        words += f" From {day(unsure)} on the line is not sure: {_why(look, material_id)}."
    return words


def _or_sooner(below: date, unsure: date | None) -> str:
    return ", or sooner" if unsure is not None and unsure < below else ""


def _why(look: TermOutlook, material_id: int) -> str:
    if any(need.material_id == material_id for need in look.plan.stock.gone):
        return "a planned day is gone, and nobody said whether it was made"
    return "some job takes an amount nobody knows"
