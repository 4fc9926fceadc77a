"""What finished batches made of the days they stand for, as jobs of the plan where something is lacking.

A day is not done because a batch was finished: a tenth may have been made, or its jars are gone by then.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.grow_planned import Amount, GrownJob
from service.actions.read_amount import densities_of
from service.actions.waiting_batches import older
from service.core.findings import Finding, unknown, warn
from service.core.made_for_day import JarForDay, MadeForDay, lacks_by_what_went_in, share_to_make
from service.core.materials import Basis
from service.core.months import say_date
from service.core.plan_needs import PlannedJob
from service.core.plan_outlook import ShelfContainer, outlook
from service.core.pot_waste import NO_WASTE, rest_of, went_to_of
from service.core.quantities import show_amount
from service.core.recipe import Recipe as RecipeFacts
from service.core.recipe import RecipeLine, needs
from service.core.shelf_codes import show_code
from service.records.jars_for_days import JarsOfBatch, jars_for_days
from service.records.materials import Material
from service.records.mixing import Batch
from service.records.open_batches import OpenBatch
from service.records.plan_queries import materials_numbered
from service.records.pot_waste import pots_went
from service.records.shelf_of_plan import shelf_of

MOST_NAMED: Final = 5
_END: Final = "make it, and drop the rest of that day on the page of its job when it is made or was enough."


@dataclass
class MadeForDays:
    """What is still to be made: of this term's days, and of all others; ``found`` of the term's own.

    ``kept``: what of a jar is for its day, by the number of the jar; ``to_make``: the planned jobs that still
    take something; ``days``: the dates with something still to make, by number.
    """

    mine: list[PlannedJob] = field(default_factory=list)
    others: list[PlannedJob] = field(default_factory=list)
    found: list[Finding] = field(default_factory=list)
    kept: dict[int, int] = field(default_factory=dict)
    to_make: set[int] = field(default_factory=set)
    days: set[int] = field(default_factory=set)


@dataclass(frozen=True)
class _Day:
    """One finished batch, the job of its day, what it made, and how its mix is measured."""

    batch: OpenBatch
    job: GrownJob
    made: MadeForDay
    basis: Basis | None
    density: Decimal | None
    unsure: tuple[JarForDay, ...]

    @property
    def on(self) -> date:
        assert self.batch.date is not None
        return self.batch.date.on_day

    @property
    def called(self) -> str:
        return f"“{self.job.row.name}” on {say_date(self.on)}: batch {self.batch.row.id} is finished"


def made_for_days(
    session: Session, batches: Sequence[OpenBatch], grown: Mapping[int, GrownJob], term_id: int,
    today: date, zone: ZoneInfo,
) -> MadeForDays:  # fmt: skip
    """What these finished batches leave of their days; a few questions more where there are any."""
    result = MadeForDays()
    kept = [(one, job) for one in batches if (job := _job_of(one, grown)) is not None and not job.why]
    if not kept:
        return result
    jars = jars_for_days(session, [one.row.id or 0 for one, _ in kept])
    mixes = materials_numbered(session, {job.recipe.material_id or 0 for _, job in kept})
    shelf = {
        box.container_id: box
        for box in shelf_of(session, [held for many in jars.values() for held in many.jars])
    }
    for one, job in kept:
        mix = mixes.get(job.recipe.material_id or 0)
        day = _day(one, job, jars[one.row.id or 0], shelf, mix, today, zone)
        made, found = _to_make(session, day)
        own = job.row.term_id == term_id
        planned = _in_its_way(day, job.makes)
        result.kept |= day.made.kept(planned) if planned is not None else _all_of(day.made.jars)
        if made is not None:
            (result.mine if own else result.others).append(made)
            result.to_make.add(made.number)
            result.days.add(one.date.id or 0 if one.date else 0)
        if own:
            result.found += [*found, *(_look_again(day, jar) for jar in day.unsure)]
    return result


def _job_of(one: OpenBatch, grown: Mapping[int, GrownJob]) -> GrownJob | None:
    return None if one.date is None else grown.get(one.date.planned_job_id)


def _all_of(jars: Sequence[JarForDay]) -> dict[int, int]:
    return {jar.container_id: jar.counts for jar in jars if jar.counts}


def _day(
    one: OpenBatch, job: GrownJob, jars: JarsOfBatch, shelf: Mapping[int, ShelfContainer],
    mix: Material | None, today: date, zone: ZoneInfo,
) -> _Day:  # fmt: skip
    assert one.date is not None
    on, row = one.date.on_day, one.row
    boxes = [shelf[held.container_id] for held in jars.jars]
    # A mix of which no jar was ever filled is measured as this batch was.
    basis = (mix.basis if mix is not None else None) or row.yield_basis
    made = row.yield_amount if row.yield_basis is basis else None
    if made is not None:
        made = max(0, made - jars.taken_back)
    facts = tuple(_jar(box, jars.drawn.get(box.container_id, 0), on, today) for box in boxes)
    unsure = tuple(
        jar for jar, box in zip(facts, boxes, strict=True) if jar.counts and _only_not_known(box, today)
    )
    density = densities_of(mix).density_g_ml if mix is not None else None
    return _Day(one, job, MadeForDay(made, jars.filled, _used(row, on, zone), facts), basis, density, unsure)


def _used(row: Batch, on: date, zone: ZoneInfo) -> bool:
    """Whether what is in no jar was used for the day: somebody said so; or it ended on the day or after, and
    nobody said otherwise, or how much of it was lost."""
    note = row.loss_note or ""
    told = went_to_of(note) or rest_of(note)
    if told in NO_WASTE:
        return True
    ended = row.finished_at.astimezone(zone).date() if row.finished_at is not None else date.min
    return ended >= on and (told is None or row.loss_amount is not None)


def _jar(box: ShelfContainer, drawn: int, on: date, today: date) -> JarForDay:
    ahead, then = outlook(box, today), outlook(box, on)
    past = "is past by then"
    if _only_not_known(box, today):
        # It is looked at on the day; but a date that is known by then ends it.
        why = past if then.why_not and not then.look else ""
    else:
        why = ahead.why_not or ("" if ahead.usable_on(on) else past)
    return JarForDay(box.container_id, box.code, box.free, drawn, why)


def _only_not_known(box: ShelfContainer, today: date) -> bool:
    ahead = outlook(box, today)
    return ahead.look and not ahead.doubted


def _to_make(session: Session, day: _Day) -> tuple[PlannedJob | None, list[Finding]]:
    job, there = day.job, day.made.there
    planned, least = _in_its_way(day, job.makes), _in_its_way(day, job.at_least)
    if there == 0:
        return _job(day, job.lines, Fraction(1)), [_less(day, "and nothing of it is there for the day")]
    if there is not None and planned and least:
        share = share_to_make(planned, least, there)
        asked, here = _amount(day, planned), _amount(day, there, down=True)
        much = f"and of {asked} that the day asks for {here} is there"
        return (_job(day, job.lines, share), [_less(day, much)]) if share else (None, [])
    return _by_what_went_in(session, day)


def _by_what_went_in(session: Session, day: _Day) -> tuple[PlannedJob | None, list[Finding]]:
    """Where what it made and what the day asks for do not meet: by what went in, less what became waste."""
    job = day.job
    if older(day.batch.row, job):
        words = "by another version of the recipe, and how much of what the day asks for it made is not known"
        return None, [_not_known(day, f"{words}. Count what is there, and plan what it lacks.")]
    share = _serves(session, day)
    if share is None:
        words = "and how much of it is there for the day is not known. All of it is counted as still needed"
        return _job(day, job.lines, Fraction(1)), [_not_known(day, f"{words}: {_END}")]
    put_in = {number: floor(amount * share) for number, amount in day.batch.put_in.items()}
    asked = needs(RecipeFacts(job.row.name, job.lines), 1).needs
    lacks = lacks_by_what_went_in({one.material_id: one.high for one in asked}, put_in)
    if not lacks:
        return None, []
    lines = tuple(
        RecipeLine(one.material_id, one.name, lacks[one.material_id], lacks[one.material_id], one.basis)
        for one in asked if one.material_id in lacks
    )  # fmt: skip
    made = _job(day, lines, Fraction(1))
    if day.batch.unmeasured:
        words = "and of something nobody measured how much went in. What is not measured is counted as needed"
        return made, [_not_known(day, f"{words}: {_END}")]
    return made, [_less(day, "and less went in, or is left of it, than the day takes")]


def _serves(session: Session, day: _Day) -> Fraction | None:
    """What share of what went in serves the day; None: not known."""
    rows = pots_went(session, only=day.batch.row.id)
    if day.made.used:
        rows = [one for one in rows if one.destination is not None]
    if any(one.share is None for one in rows):
        return None
    left = 1 - max((one.share for one in rows if one.share is not None), default=Fraction(0))
    there, made = day.made.there, day.made.made if day.made.used else day.made.filled
    if there is None:
        return left
    return left * min(Fraction(1), there / made) if made else None


def _in_its_way(day: _Day, amount: Amount | None) -> Fraction | None:
    """An amount as the mix is measured; None where it does not meet it."""
    if amount is None or day.basis is None:
        return None
    much, basis = amount
    if basis is day.basis:
        return much
    if day.density is None or Basis.PIECES in (basis, day.basis):
        return None
    return much * Fraction(day.density) if basis is Basis.VOLUME else much / Fraction(day.density)


def _job(day: _Day, lines: Sequence[RecipeLine], share: Fraction) -> PlannedJob:
    name = day.job.row.name
    return PlannedJob(day.job.row.id or 0, name, day.on, RecipeFacts(name, tuple(lines)), share)


def _amount(day: _Day, amount: Fraction, *, down: bool = False) -> str:
    return show_amount(floor(amount) if down else ceil(amount), day.basis or Basis.PIECES)


def _less(day: _Day, words: str) -> Finding:
    gone = [f"{show_code(jar.code)} {jar.why_not}" for jar in day.made.jars if jar.why_not]
    more = f" ({'; '.join(gone[:MOST_NAMED])})" if gone else ""
    return warn(
        "made-less", f"{day.called}, {words}{more}. The plan counts the rest as still needed: {_END}",
        about=day.job.row.name,
    )  # fmt: skip


def _not_known(day: _Day, words: str) -> Finding:
    return unknown("made-not-known", f"{day.called}, {words}", about=day.job.row.name)


def _look_again(day: _Day, jar: JarForDay) -> Finding:
    words = (
        f"{day.called}, and whether what stands in {show_code(jar.code)} is in date is not known: look at it "
        "again on the day."
    )
    return unknown("made-look-again", words, about=jar.code)
