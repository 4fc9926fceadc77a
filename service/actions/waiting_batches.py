"""What batches that are set aside or running still need, as jobs for the plan, and what is said of them.

Until a batch is finished its day is not done: what it lacks is needed like that of any planned day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from sqlmodel import Session

from service.actions.grow_planned import GrownJob, grown_jobs
from service.core.check_again import from_summary
from service.core.findings import Finding, unknown, warn
from service.core.materials import Basis
from service.core.months import say_date
from service.core.plan_needs import PlannedJob
from service.core.plan_outlook import ShelfContainer
from service.core.plan_stock import StockPlan
from service.core.recipe import Recipe as RecipeFacts
from service.core.recipe import RecipeLine, needs
from service.core.shelf_codes import show_code
from service.core.shown_alike import shown_alike
from service.core.still_needed import (
    HeldPart,
    LostPart,
    StillNeeded,
    WaitingBatch,
    opening_days,
    still_needed,
)
from service.records.materials import Material
from service.records.mixing import BATCH_WORDS, Batch, BatchState
from service.records.open_batches import OpenBatch, open_batches
from service.records.plan_queries import dates_of_plan

Say = Callable[[int, int], str]
"""So much of a material, by its number and smallest units, in words."""


@dataclass
class Waiting:
    """What batches still need: of this term's days, and of all others; ``found`` of the term's own.

    ``opens``: the first day on which one opens a sealed container, by its number.
    """

    mine: list[PlannedJob] = field(default_factory=list)
    others: list[PlannedJob] = field(default_factory=list)
    found: list[Finding] = field(default_factory=list)
    opens: dict[int, date] = field(default_factory=dict)


def waiting(
    batches: Sequence[OpenBatch], grown: Mapping[int, GrownJob], term_id: int,
    materials: Mapping[int, Material], shelf: Sequence[ShelfContainer], today: date,
    units: Mapping[int, str],
) -> Waiting:  # fmt: skip
    """What the open batches lack of these materials; one for no planned day needs it today. ``units``: how
    amounts of each are shown."""
    asked = {one.row.id or 0: one for one in batches}
    facts = [_facts(one, _job_of(one, grown), materials, today) for one in batches]
    on = {one.number: one.on for one in facts}
    much = _say(materials, units)
    result = Waiting(opens=opening_days(facts, shelf))
    for lacks in still_needed(facts, shelf, today):
        one = asked[lacks.number]
        job = _job_of(one, grown)
        own = job is not None and job.row.term_id == term_id
        number, name = -lacks.number, f"batch {lacks.number}"
        if job is not None and (own or one.row.state is not BatchState.RUNNING):
            number, name = job.row.id or 0, job.row.name
        if lacks.amounts:
            lines = tuple(_line(materials[n], amount) for n, amount in lacks.amounts.items())
            made = PlannedJob(number, name, on[lacks.number], RecipeFacts(name, lines), Fraction(1))
            (result.mine if own else result.others).append(made)
        if own and job is not None:
            result.found += _about(one, job, lacks, much)
    return result


def opened_before(
    batches: Sequence[OpenBatch], grown: Mapping[int, GrownJob], term_id: int, stock: StockPlan
) -> list[Finding]:
    """What is set aside in a tin that the plan opens for another job, and that is past, once opened, on its
    own day."""
    opened = {one.container.container_id: one for one in stock.left if one.opened_on is not None}
    found: list[Finding] = []
    for one in batches:
        job = _job_of(one, grown)
        if one.date is None or job is None or job.row.term_id != term_id:
            continue
        on = one.date.on_day
        for held, _ in one.held:
            left = opened.get(held.container_id)
            if left is None or left.opened_on is None or left.opened_on >= on or left.outlook.usable_on(on):
                continue
            if left.opened_on == left.container.opens_on:  # another batch does, and what is held is lost
                continue
            words = (
                f"What is set aside for “{job.row.name}” on {say_date(on)} stands in {left.container.shown}. "
                f"Another job opens it on {say_date(left.opened_on)}, and once opened it is past by then. "
                "Release the batch, or take another tin for that job."
            )
            found.append(unknown("set-aside-opened-before", words, about=left.container.code))
    return found


def wanted_of_batch(row: Batch) -> dict[int, int | None]:
    """What a batch takes in all by the check it was made from; empty where it was begun by eye."""
    if row.check_result is None:
        return {}
    return {need.material_id: need.high for need in from_summary(row.check_result).needs}


def wanted_of_job(job: GrownJob | None) -> dict[int, int | None]:
    """What a planned job takes as it is planned now; empty where that is not known."""
    if job is None or job.why:
        return {}
    return {one.material_id: one.high for one in needs(RecipeFacts(job.row.name, job.lines), 1).needs}


def more_is_planned(row: Batch, job: GrownJob | None) -> bool:
    """Whether a planned job takes more than the batch that stands for its day was made for."""
    made = wanted_of_batch(row)
    if not made:
        return False
    # A batch reads its amount from words: the last unit may differ.
    return any(
        made.get(number, 0) is not None and (high is None or high > (made.get(number, 0) or 0) + 1)
        for number, high in wanted_of_job(job).items()
    )


def batches_made_for_less(session: Session, term_id: int, planned_id: int, today: date) -> list[Finding]:
    """Of a job that was changed: the batches set aside or running for its days that were made for less."""
    batches = [
        one for one in open_batches(session) if one.date and one.date.planned_job_id == planned_id
    ]
    if not batches:
        return []
    rows = [one for one in dates_of_plan(session, term_id, today, today) if one[1].id == planned_id]
    job = grown_jobs(session, rows)[planned_id]
    return [otherwise(one, job) for one in batches if more_is_planned(one.row, job)]


def otherwise(one: OpenBatch, job: GrownJob) -> Finding:
    """That more is planned by now than the batch of a day was made for."""
    assert one.date is not None
    otherwise_made = one.row.state is BatchState.RUNNING and older(one.row, job)
    rest = (
        "It is made by another version of the recipe, so how much more is needed is not known."
        if otherwise_made
        else "The plan counts the rest as still needed."
    )
    end = "Release the batch" if one.row.state is BatchState.SET_ASIDE else "Finish the batch or give it up"
    words = (
        f"“{job.row.name}” on {say_date(one.date.on_day)}: batch {one.row.id} is "
        f"{BATCH_WORDS[one.row.state]} for {one.row.wanted_written}, and more is planned by now. {rest} "
        f"{end}, or change the job."
    )
    return (unknown if otherwise_made else warn)("batch-otherwise", words, about=job.row.name)


def _job_of(one: OpenBatch, grown: Mapping[int, GrownJob]) -> GrownJob | None:
    return grown.get(one.date.planned_job_id) if one.date is not None else None


def _facts(
    one: OpenBatch, job: GrownJob | None, materials: Mapping[int, Material], today: date
) -> WaitingBatch:
    wanted = wanted_of_batch(one.row)
    running = one.row.state is BatchState.RUNNING
    if (not wanted or more_is_planned(one.row, job)) and not (running and older(one.row, job)):
        for number, high in wanted_of_job(job).items():
            before = wanted.get(number, 0)
            wanted[number] = None if high is None or before is None else max(high, before)
    held = tuple(
        HeldPart(held.container_id, code, held.material_id, held.amount)
        for held, code in one.held
        if held.material_id in materials
    )
    day = max(today, one.date.on_day) if one.date is not None and not running else today
    return WaitingBatch(
        one.row.id or 0, day, running, {n: a for n, a in wanted.items() if n in materials}, one.put_in, held
    )


def older(row: Batch, job: GrownJob | None) -> bool:
    """Whether it runs by another version than the job is planned by: then its own amounts count."""
    return job is not None and job.version_id not in (None, row.recipe_version_id)


def _line(material: Material, amount: int | None) -> RecipeLine:
    basis = Basis(material.basis) if material.basis else None
    return RecipeLine(material.id or 0, material.name, amount, amount, basis)


def _about(
    one: OpenBatch, job: GrownJob, lacks: StillNeeded, much: Say
) -> list[Finding]:
    assert one.date is not None
    name, number = job.row.name, one.row.id
    day = f"“{name}” on {say_date(one.date.on_day)}"
    found = [_lost(day, one, part, much) for part in lacks.lost]
    found += [_look_again(day, part, much) for part in lacks.unsure]
    found += [_doubt(day, part, words, much) for part, words in lacks.doubts]
    if more_is_planned(one.row, job):
        found.append(otherwise(one, job))
    lost = {part.part.material_id for part in lacks.lost}
    for material_id, amount in lacks.amounts.items():
        if amount and material_id not in lost and not more_is_planned(one.row, job):
            lacking = much(material_id, amount)
            words = (
                f"{day}: batch {number} still needs {lacking}. It is counted as needed until it is finished."
            )
            found.append(warn("batch-lacks", words, about=name))
    return found


def _lost(day: str, one: OpenBatch, lost: LostPart, much: Say) -> Finding:
    part, row = lost.part, one.row
    lacking = much(part.material_id, lost.amount)
    held, end = "set aside", f"release batch {row.id} and check the stock for that day again"
    if row.state is BatchState.RUNNING:
        held, end = "held", f"finish batch {row.id} or give it up"
    if part.container_id in one.unmeasured:
        words = (
            f"{lacking} for {day} is held in {show_code(part.code)}, from which something went into batch "
            f"{row.id} that nobody measured: how much of it went in, and how much is left, is not known. So "
            f"all of it is counted as still needed: count what is left in {show_code(part.code)}, {end}."
        )
        return unknown("set-aside-not-measured", words, about=part.code)
    words = (
        f"{lacking} for {day} is {held} in {show_code(part.code)}, which {lost.why}. It is counted as still "
        f"needed: {end}."
    )
    return warn("set-aside-lost", words, about=part.code)


def _look_again(day: str, part: HeldPart, much: Say) -> Finding:
    words = (
        f"{much(part.material_id, part.amount)} for {day} is held in {show_code(part.code)}, and "
        "whether that is in date is not known: look at it again on the day."
    )
    return unknown("set-aside-look-again", words, about=part.code)


def _doubt(day: str, part: HeldPart, doubt: str, much: Say) -> Finding:
    held, box = much(part.material_id, part.amount), show_code(part.code)
    words = f"{held} for {day} is held in {box}, which {doubt}: look at it before it is used."
    return warn("set-aside-doubted", words, about=part.code)


def _say(materials: Mapping[int, Material], units: Mapping[int, str]) -> Say:
    def much(material_id: int, amount: int) -> str:
        material = materials[material_id]
        if material.basis is None:
            return material.name
        return f"{shown_alike(amount, Basis(material.basis), units.get(material_id, ''))} of {material.name}"

    return much
