"""What the pages of a term say: each date with what it lacks, each material with what is needed and there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from service.actions.grow_planned import GrownJob
from service.actions.look_at_term import DateOfTerm, TermOutlook
from service.core.findings import Severity
from service.core.materials import Basis
from service.core.plan_needs import MINIMUM, DayNeed
from service.core.plan_stock import Covered
from service.core.shelf_codes import show_code
from service.records.mixing import BATCH_WORDS, Batch, BatchState
from service.records.plans import DATE_WORDS, DateState
from service.web.plan_amounts import amount, span
from service.web.render import day

NEEDS = [
    {"key": "name", "label": "Material"},
    {"key": "needed", "label": "Needed in all", "number": True},
    {"key": "there", "label": "There or ordered", "number": True},
    {"key": "missing", "label": "Missing", "number": True},
    {"key": "first", "label": "First missing on", "whole": True},
    {"key": "coming", "label": "On its way", "number": True},
]
DAYS = [
    {"key": "on", "label": "On", "whole": True},
    {"key": "job", "label": "For"},
    {"key": "needed", "label": "Needs", "number": True},
    {"key": "taken", "label": "Taken from"},
    {"key": "missing", "label": "Missing", "number": True},
]
NEAR = timedelta(days=21)
"""A batch is made or named for a date at most so long before it."""
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def weekday_of(on: date) -> str:
    """A day with its weekday.

    >>> weekday_of(date(2026, 3, 16)).replace(chr(160), " ")
    'Mon 16 Mar 2026'
    """
    return f"{WEEKDAYS[on.weekday()]} {day(on)}"


@dataclass(frozen=True)
class DateCard:
    """One date on the page of its job. ``tag``: how it stands; ``lacks``: sentences about it; ``rest``: its
    batch is finished and made less than the day asks for."""

    id: int
    version: int
    on: str
    state: str
    tag: str
    lacks: list[str]
    why_free: str = ""
    batch: int | None = None
    batch_words: str = ""
    open: bool = False
    near: bool = False
    may_return: bool = False
    rest: bool = False
    gone: bool = False

    @property
    def said(self) -> str:
        """What stands beside the day while it is folded, where nothing is said of the stock."""
        return "gone, and not settled" if self.gone else self.state


@dataclass
class NeedSum:
    """One material over the term. ``sure`` False: it is not known what earlier jobs leave of it."""

    sure: bool = True
    low: int | None = 0
    high: int | None = 0
    there: int = 0
    missing: int | None = 0
    first: date | None = None


def covered_by_date(look: TermOutlook) -> dict[tuple[int, date], list[Covered]]:
    """What the plan found for each job and day."""
    found: dict[tuple[int, date], list[Covered]] = {}
    for one in look.plan.stock.covered:
        found.setdefault((one.need.job, one.need.on), []).append(one)
    return found


def how_it_is_met(
    rows: Iterable[Covered], why: str, *, may_be_made: bool = True, asked: Iterable[str] = ()
) -> tuple[str, list[str]]:
    """The word for a date, and what it lacks: missing before not known before there.

    >>> how_it_is_met([], "")
    ('not known', ['Nothing is planned to be taken from the shelf.'])
    """
    rows = list(rows)
    lacks = []
    for one in rows:
        need = one.need
        if one.missing:
            much = amount(one.missing, need.basis, need.unit_written)
            lacks.append(f"{much} of {need.material} is missing.")
    short = bool(lacks)
    unknown = [one.need.material for one in rows if one.missing is None]
    unsure = [one.need.material for one in rows if one.missing is not None and not one.left_known]
    keeps = [one.need.material for one in rows if any(p.life_not_known for p in one.promises)]
    if why:
        lacks.append(why)
    elif unknown:
        lacks.append(f"How much it takes is not known of: {', '.join(unknown)}.")
    if unsure:
        lacks.append(f"It is not known what earlier jobs leave of: {', '.join(dict.fromkeys(unsure))}.")
    if keeps:
        lacks.append(f"How long what is on its way keeps is not known of: {', '.join(dict.fromkeys(keeps))}.")
    if not rows and not why:
        lacks.append("Nothing is planned to be taken from the shelf.")
    look = [
        f"Look at {_shown(promise.code, promise.container_id)} first."
        for one in rows
        for promise in one.promises
        if promise.look_first
    ]
    lacks += list(dict.fromkeys(look))
    if not may_be_made:
        return "may not be made", lacks
    if short:
        return "missing", lacks
    questions = list(asked)
    lacks += [words for words in questions if words not in lacks]
    comes = any(promise.container_id < 0 for one in rows for promise in one.promises)
    there = "there if what is ordered comes" if comes else "there by the book"
    open_end = why or unknown or unsure or keeps or questions or not rows
    return ("not known" if open_end else there), lacks


def open_questions(job: GrownJob) -> list[str]:
    """What somebody has to answer before the job can be made."""
    return [one.sentence for one in job.found if one.severity is Severity.UNKNOWN]


def _shown(code: str, container_id: int) -> str:
    return show_code(code) if container_id > 0 else code


def date_card(
    one: DateOfTerm, rows: Iterable[Covered], job: GrownJob, today: date, batches: Mapping[int, Batch]
) -> DateCard:
    """A date as its page shows it."""
    row, rows = one.row, list(rows)
    standing = row.state is DateState.PLANNED
    gone = standing and row.on_day < today
    near = standing and row.on_day <= today + NEAR
    tag, lacks = "", list[str]()
    if standing and not gone:
        asked = open_questions(job)
        tag, lacks = how_it_is_met(rows, job.why, may_be_made=job.may_be_made, asked=asked)
    if row.state is DateState.STARTED and rows:
        # Its batch does not hold what it takes, or made less than the day asks for.
        tag, lacks = how_it_is_met(rows, "")
    if gone:
        lacks = ["This day is gone, and no batch stands for it. Name its batch, or drop it."]
    batch = batches.get(row.batch_id or 0)
    ended = batch.state if batch is not None else None
    return DateCard(
        id=row.id or 0,
        version=row.version,
        on=weekday_of(row.on_day),
        state=DATE_WORDS[row.state],
        tag=tag,
        lacks=lacks,
        why_free=one.why_free if standing else "",
        batch=row.batch_id,
        batch_words=BATCH_WORDS[ended] if ended else "",
        open=standing,
        near=near,
        may_return=row.state is DateState.DROPPED or ended is BatchState.GIVEN_UP,
        rest=bool(tag) and ended is BatchState.FINISHED,
        gone=gone,
    )


def unfolded(cards: Sequence[DateCard], about: int) -> set[int]:
    """The days that stand open at first: those that are gone and not settled or made in part, the next one,
    and the one that a form came back for."""
    ahead = [card.id for card in cards if card.open and not card.gone]
    return {card.id for card in cards if card.gone or card.rest} | set(ahead[:1]) | {about}


def sums(look: TermOutlook) -> dict[int, NeedSum]:
    """Needed, there and missing of each material for the term's own jobs and the least on its shelf."""
    own = {(need.job, need.on, need.material_id) for need in look.plan.needs.needs}
    found: dict[int, NeedSum] = {}
    for one in look.plan.stock.covered:
        need = one.need
        if need.job != MINIMUM and (need.job, need.on, need.material_id) not in own:
            continue
        total = found.setdefault(need.material_id, NeedSum())
        _add(total, need, one)
    return found


def _add(total: NeedSum, need: DayNeed, one: Covered) -> None:
    # A sum with something unknown in it is not known; what is there and what is surely missing still is.
    total.low = None if total.low is None or need.low is None else total.low + need.low
    total.high = None if total.high is None or need.high is None else total.high + need.high
    total.sure = total.sure and one.sure
    total.there += sum(promise.amount for promise in one.promises)
    if one.missing is None:
        total.missing = None
    elif total.missing is not None:
        total.missing += one.missing
    if one.missing and (total.first is None or need.on < total.first):
        total.first = need.on


def need_rows(look: TermOutlook) -> list[dict[str, Any]]:
    """A line for each material, what is missing first, then what is not known."""
    lines = []
    for number, total in sums(look).items():
        bought = look.bought[number]
        basis, unit = bought.basis, look.unit(number)
        coming = on_its_way(look, number)
        lines.append(
            (
                (total.missing == 0, total.missing is None, bought.name.casefold()),
                {
                    "name": {
                        "href": f"/term/{look.term.id}/materials/{number}", "words": bought.name,
                    },
                    "needed": span(total.low, total.high, basis, unit),
                    # All of it there: the same figure as beside it, however it was rounded.
                    "there": amount(total.there, basis, unit, down=total.there != total.high),
                    "missing": _missing(total, basis, unit),
                    "first": day(total.first) if total.first else "–",
                    "coming": amount(coming, basis, unit) if coming else "–",
                },
            )
        )  # fmt: skip
    return [line for _, line in sorted(lines, key=lambda pair: pair[0])]


def on_its_way(look: TermOutlook, material_id: int) -> int:
    """What was ordered of a material and has not come, late or not, in smallest units."""
    basis = look.bought[material_id].basis
    return sum(sum(look.coming.left_of(line)) for line in look.coming.of(material_id) if line.basis is basis)


def _missing(total: NeedSum, basis: Basis | None, unit: str) -> str:
    if total.missing is None or not (total.sure or total.missing):
        return "not known"
    if not total.sure:
        return f"at least {amount(total.missing, basis, unit)}"
    return amount(total.missing, basis, unit) if total.missing else "nothing by the book"


def _missing_on_day(one: Covered, unit: str) -> str:
    if one.missing is None:
        return "not known"
    if one.missing:
        return amount(one.missing, one.need.basis, unit)
    if not one.left_known:
        return "nothing, if an earlier job leaves it"
    return "nothing" if one.sure else "nothing, if it is in date then: how long it keeps is not known"


def day_rows(look: TermOutlook, material_id: int) -> list[dict[str, Any]]:
    """Each day on which a material is needed, by any term, with the containers it is taken from."""
    rows, unit = [], look.unit(material_id)
    for one in look.plan.stock.covered:
        need = one.need
        if need.material_id != material_id:
            continue
        taken: list[Any] = []
        for promise in one.promises:
            much = amount(promise.amount, need.basis, unit)
            words = f"{much} from {_shown(promise.code, promise.container_id)}"
            more = [promise.place] if promise.place else []
            more += ["this opens it"] if promise.opens else []
            more += ["look first"] if promise.look_first else []
            taken.append(", ".join([words, *more]))
        rows.append(
            {
                "on": weekday_of(need.on),
                "job": "the least on the shelf" if need.job == MINIMUM else need.job_name,
                "needed": span(need.low, need.high, need.basis, unit),
                "taken": {"lines": taken} if taken else "–",
                "missing": _missing_on_day(one, unit),
            }
        )
    return rows
