"""A planned job in words: for whom, and how much it makes on each day."""

from __future__ import annotations

from service.actions.grow_planned import GrownJob
from service.actions.planned_amount import exact_times, times_words, wanted_of
from service.core.findings import Invalid
from service.core.whole_need import METRIC, as_it_was_written
from service.records.plans import PlannedJobRow
from service.web.plan_amounts import amount


def whom(job: GrownJob) -> str:
    """For how many, how much each, and the spare."""
    spare = f" + {job.row.spare_percent} %" if job.row.spare_percent else ""
    people = "1 person" if job.row.heads == 1 else f"{job.row.heads} people"
    return f"{people}, {each_words(job.row)} each{spare}"


def each_words(row: PlannedJobRow) -> str:
    """What each gets, as it was written; a number of times in no more than four signs."""
    if row.each_times is None:
        return row.each_written
    return times_words(exact_times(row.each_written, row.each_times))


def made_words(planned: PlannedJobRow) -> str:
    """What is made in all for one day, in the measure in which each gets it."""
    try:
        how = wanted_of(planned)
    except Invalid as wrong:
        return f"not known: {wrong.sentence}"
    if how.wanted is None or planned.each_amount is None or planned.each_basis is None:
        assert how.times is not None
        return times_words(how.times)
    read = as_it_was_written(planned.each_written, planned.each_amount, planned.each_basis)
    unit = read.unit.key if read is not None and read.unit.key not in METRIC else ""
    return amount(round(how.wanted.smallest), planned.each_basis, unit)
