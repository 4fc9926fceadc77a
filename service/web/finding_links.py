"""Where a finding of a plan leads: to its job, the first day it speaks of, its material or its container."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from service.actions.look_at_term import TermOutlook
from service.core.findings import Finding
from service.core.months import say_date
from service.core.plan_stock import left_open
from service.core.shelf_codes import show_code
from service.records.plans import DateState

_OF_PACKS: Final = frozenset({"no-pack-size", "lead-not-known", "cost-not-known", "pack-otherwise"})
_OF_LIFE: Final = frozenset({"pack-life-not-known", "ordered-life-not-known"})
_OF_A_MADE_DAY: Final = frozenset({"made-less", "made-not-known"})
Link = tuple[str, str]
"""An address and the words of the link."""


def links_of(look: TermOutlook, *, on_material: bool = False) -> Callable[[Finding], Link | None]:
    """What takes a finding of this plan to the page where it is mended; None where there is none.

    ``on_material``: it stands on the page of its material, which needs no link to itself. A name that two
    jobs share leads nowhere: to the wrong one would be worse.
    """
    own = {number: job.row.name for number, job in look.jobs.items() if job.row.term_id == look.term.id}
    names = list(own.values())
    jobs = {name: number for number, name in own.items() if names.count(name) == 1}
    materials = {one.name: number for number, one in look.materials.items()}
    codes = {box.code for box in look.shelf if box.container_id > 0}
    days = {(one.row.planned_job_id, one.row.on_day): one.row.id for one in look.dates}
    # The finding is about the material; it is mended at the day that nobody spoke of.
    open_days = {left_open(need): (need.job, days.get((need.job, need.on))) for need in look.plan.stock.gone}

    def link(found: Finding) -> Link | None:
        about = found.about
        if found in open_days:
            job, date_id = open_days[found]
            return f"/term/jobs/{job}" + (f"#day-{date_id}" if date_id else ""), "To that day"
        if about in jobs and (about not in materials or found.code == "no-school-day"):
            return f"/term/jobs/{jobs[about]}{_day(look, jobs[about], found)}", f"To the job {about}"
        if about in materials and found.code in _OF_PACKS:
            return f"/materials/{materials[about]}/packs", f"Packs of {about}"
        if about in materials and found.code == "may-be-here-already":
            return _order(look, materials[about])
        if about in materials and found.code in _OF_LIFE:
            return f"/policies/material/{materials[about]}", f"How long {about} keeps"
        if about in materials and not on_material:
            return f"/term/{look.term.id}/materials/{materials[about]}", f"{about} over the term"
        if about in codes:
            return f"/containers/{about}", f"To {show_code(about)}"
        return None

    return link


def _order(look: TermOutlook, material_id: int) -> Link:
    """The order that is on its way of a material, or all of them where there are several."""
    lines = [one for many in look.coming.beside for one in many]
    numbers = {one.order_id for one in lines if one.material_id == material_id}
    if len(numbers) == 1:
        (number,) = numbers
        return f"/orders/{number}", f"To order {number}"
    return "/orders", "To the orders"


def _day(look: TermOutlook, job: int, found: Finding) -> str:
    """The part of the job's page that shows the first day of a finding about days without lessons, or the day
    of which its batch made a part."""
    if found.code in _OF_A_MADE_DAY:
        own = [one.row for one in look.dates if one.row.planned_job_id == job]
        named = [row for row in own if f" on {say_date(row.on_day)}:" in found.sentence]
        return f"#day-{named[0].id}" if named else ""
    if found.code != "no-school-day":
        return ""
    closed = [
        one.row for one in look.dates
        if one.row.planned_job_id == job and one.why_free and one.row.state is DateState.PLANNED
        and one.row.on_day >= look.today
    ]  # fmt: skip
    return f"#day-{closed[0].id}" if closed else ""
