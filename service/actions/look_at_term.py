"""The plan of a term as the book stands today: jobs grown to amounts, the shelf, what comes. Only looks.

A job whose amounts cannot be worked out keeps its materials with amounts that are not known, and says why.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.grow_planned import GrownJob, PlannedRows, grown_jobs, standing_jobs
from service.actions.made_for_days import MadeForDays, made_for_days
from service.actions.waiting_batches import Waiting, opened_before, waiting, wanted_of_batch
from service.actions.what_is_coming import Coming, what_is_coming
from service.core.costs import coins
from service.core.findings import Finding, Findings, Verdict, unknown, warn
from service.core.materials import Basis
from service.core.months import say_date
from service.core.order_dates import taken_in_on
from service.core.order_list import Bought
from service.core.pack_choice import PackSize
from service.core.peroxides import capped
from service.core.plan_needs import PlannedJob
from service.core.plan_outlook import ShelfContainer
from service.core.recipe import Recipe as RecipeFacts
from service.core.school_calendar import SchoolCalendar, about_holidays, why_closed, why_free
from service.core.shown_alike import one_unit
from service.core.term_plan import TermPlan, plan_term
from service.core.whole_need import show_pack
from service.records.ageing_queries import PoliciesInForce, policies_of_all, policy_of
from service.records.materials import Material
from service.records.mixing import Recipe
from service.records.open_batches import OpenBatch, finished_for_days, open_batches
from service.records.order_queries import minimums, packs_of, supplier_names
from service.records.orders import PackSizeRow
from service.records.peroxide_formers import formers_among
from service.records.plan_queries import (
    calendar_of,
    dates_of_plan,
    materials_numbered,
    term_for_least,
    the_term,
)
from service.records.plans import DateState, PlannedDate, PlannedJobRow, Term
from service.records.shelf_of_plan import shelf_of
from service.records.shop import ShopProfile
from service.records.stock_queries import containers_of

MOST_TOLD: Final = 5
"""So many days are named; the rest stands on the page of the job."""


@dataclass(frozen=True)
class DateOfTerm:
    """One date of the term with its job."""

    row: PlannedDate
    planned: PlannedJobRow
    recipe: Recipe
    why_free: str = ""


@dataclass(frozen=True)
class TermOutlook:
    """Everything a page of the plan shows. ``materials`` by number: each that is needed, or has a minimum.

    ``least_in``: the term whose plan asks for the least on the shelf; None: every term is over.
    """

    term: Term
    calendar: SchoolCalendar
    today: date
    dates: tuple[DateOfTerm, ...]
    jobs: Mapping[int, GrownJob]
    materials: Mapping[int, Material]
    bought: Mapping[int, Bought]
    shelf: tuple[ShelfContainer, ...]
    coming: Coming
    plan: TermPlan
    verdict: Verdict
    currency: str | None = None
    least_in: Term | None = None
    units: Mapping[int, str] = field(default_factory=dict)

    def unit(self, material_id: int) -> str:
        """The key of the unit in which all amounts of a material are shown; empty: each as it reads."""
        return self.units.get(material_id, "")


def look_at_term(session: Session, term_id: int, today: date) -> TermOutlook:
    """The plan of a term on the shop day ``today``, by a few queries whatever its size.

    Raises:
        NotFound: there is no such term.
    """
    term = the_term(session, term_id)
    calendar = calendar_of(term)
    rows = dates_of_plan(session, term_id, term.last_day, today)
    grown = grown_jobs(session, rows)
    batches = open_batches(session)
    shop = session.get(ShopProfile, 1)
    done = made_for_days(
        session, finished_for_days(session, today), grown, term_id, today,
        ZoneInfo(shop.time_zone if shop else "UTC"),
    )  # fmt: skip
    waits = {one.date.id for one in batches if one.date is not None}
    mine, others = _as_jobs(rows, grown, term_id)
    found = Findings()
    found.add(*about_holidays(calendar))
    numbers = {one.number for one in mine}
    # With those of which a batch still takes something.
    open_jobs = numbers | {
        p.id or 0 for row, p, _ in rows if row.id in waits | done.days and p.term_id == term_id
    }
    for job in standing_jobs(grown, numbers):
        found.add(*job.found)
    found.add(*_on_closed_days(rows, numbers, calendar, today))
    least = {row.material_id for row, _ in minimums(session)}
    least_in = term_for_least(session, today)
    asks = least_in is not None and least_in.id == term_id
    materials = _materials(session, rows, grown, least | _needed(grown, done.to_make), batches)
    basis = _bases(materials, grown)
    currency = shop.currency if shop else None
    # What only other terms need is planned with in silence: their own pages tell of it.
    wanted = _needed(grown, open_jobs) | (least if asks else set())
    own = {materials[n].name for n in wanted if n in materials}
    aside = Findings()
    bought = _bought(session, materials, basis, currency, aside)
    shelf, coming = _shelf(session, materials, basis, today)
    shelf, shut = _taken_in(shelf, calendar)
    units = _units(grown, basis, shelf, bought)
    waiting_for = waiting(batches, grown, term_id, materials, shelf, today, units)
    found.add(*waiting_for.found, *done.found)
    shelf = _held(shelf, waiting_for, done)
    found.add(*(one for one in (*aside.verdict(), *coming.found, *shut) if one.about in own))
    buys = [one if asks else replace(one, minimum=0) for one in bought.values()]
    plan = plan_term(
        [*mine, *waiting_for.mine, *done.mine], shelf, buys, calendar, today,
        others=[*others, *waiting_for.others, *done.others],
    )  # fmt: skip
    found.add(*opened_before(batches, grown, term_id, plan.stock))
    dates = tuple(
        DateOfTerm(row, planned, recipe, why_free(calendar, row.on_day))
        for row, planned, recipe in rows
        if planned.term_id == term_id
    )
    return TermOutlook(
        term, calendar, today, dates, grown, materials, bought, tuple(shelf), coming, plan,
        found.verdict() + plan.verdict, currency, least_in, units,
    )  # fmt: skip


def _held(shelf: Sequence[ShelfContainer], waits: Waiting, done: MadeForDays) -> list[ShelfContainer]:
    """The shelf with what batches open, and without what of a jar is for the day of its batch."""
    return [
        replace(
            one, opens_on=waits.opens.get(one.container_id),
            promised=one.promised + done.kept.get(one.container_id, 0),
        )
        for one in shelf
    ]  # fmt: skip


def _on_closed_days(
    rows: PlannedRows, numbers: set[int], calendar: SchoolCalendar, today: date
) -> list[Finding]:
    """Planned days on which there are no lessons: free days written later, or a term that was shortened."""
    closed: dict[str, list[str]] = {}
    for row, planned, _ in rows:
        ahead = row.state is DateState.PLANNED and row.on_day >= today
        if ahead and planned.id in numbers and (why := why_free(calendar, row.on_day)):
            closed.setdefault(planned.name, []).append(f"{say_date(row.on_day)} ({why})")
    found: list[Finding] = []
    for name, days in closed.items():
        many = f"{len(days)} days are no school days" if len(days) > 1 else "a day is no school day"
        more = f" and {len(days) - MOST_TOLD} more" if len(days) > MOST_TOLD else ""
        told = ", ".join(days[:MOST_TOLD]) + more
        words = f"“{name}”: {many}: {told}. It is planned and ordered for until the day is dropped or moved."
        found.append(warn("no-school-day", words, about=name))
    return found


def _needed(grown: Mapping[int, GrownJob], numbers: set[int]) -> set[int]:
    """The materials that these jobs take from the shelf."""
    return {
        line.material_id for job in standing_jobs(grown, numbers) for line in job.lines if line.stocked
    }


def _as_jobs(
    rows: PlannedRows, grown: Mapping[int, GrownJob], term_id: int
) -> tuple[list[PlannedJob], list[PlannedJob]]:
    mine: list[PlannedJob] = []
    others: list[PlannedJob] = []
    for row, planned, _ in rows:
        if row.state is not DateState.PLANNED:
            continue
        number = planned.id or 0
        job = grown[number]
        times = None if job.why else Fraction(1)
        facts = RecipeFacts(planned.name, job.lines)
        made = PlannedJob(number, planned.name, row.on_day, facts, times, told=bool(job.why))
        (mine if planned.term_id == term_id else others).append(made)
    return mine, others


def _materials(
    session: Session, rows: PlannedRows, grown: Mapping[int, GrownJob], least: set[int],
    batches: Sequence[OpenBatch],
) -> dict[int, Material]:  # fmt: skip
    standing = {planned.id or 0 for row, planned, _ in rows if row.state is DateState.PLANNED}
    standing |= {one.date.planned_job_id for one in batches if one.date is not None} & set(grown)
    made = {n for one in batches if one.date is not None for n in wanted_of_batch(one.row)}
    return materials_numbered(session, _needed(grown, standing) | made | least)


def _bases(materials: Mapping[int, Material], grown: Mapping[int, GrownJob]) -> dict[int, Basis | None]:
    """What each material is counted in: its own, else what the recipes that are planned count it in."""
    basis = {number: row.basis for number, row in materials.items()}
    for job in grown.values():
        for line in job.lines:
            if line.material_id in basis and basis[line.material_id] is None:
                basis[line.material_id] = line.basis
    return basis


def _units(
    grown: Mapping[int, GrownJob], basis: Mapping[int, Basis | None], shelf: Sequence[ShelfContainer],
    bought: Mapping[int, Bought],
) -> dict[int, str]:  # fmt: skip
    """The one unit of each material, by the jobs that take it and by what there is of it."""
    written: dict[int, set[str]] = {number: set() for number in basis}
    amounts: dict[int, list[int | None]] = {number: [one.minimum] for number, one in bought.items()}
    for job in grown.values():
        for line in job.lines:
            if line.material_id in written:
                written[line.material_id].add(line.unit_written)
                amounts[line.material_id].append(line.high)
    for box in shelf:
        if box.material_id in amounts:
            amounts[box.material_id].append(box.amount)
    return {number: one_unit(written[number], basis[number], amounts[number]) for number in amounts}


def _bought(
    session: Session,
    materials: Mapping[int, Material],
    basis: Mapping[int, Basis | None],
    currency: str | None,
    found: Findings,
) -> dict[int, Bought]:
    policies = policies_of_all(session, materials) if materials else PoliciesInForce(())
    names = supplier_names(session)
    sizes: dict[int, list[PackSize]] = {}
    for row in packs_of(session, materials):
        if basis[row.material_id] not in (None, row.basis):
            name = materials[row.material_id].name
            words = f"The pack {row.written} of {name} is measured otherwise than {name} is. Write it anew."
            found.add(unknown("pack-otherwise", words, about=name))
            continue
        sizes.setdefault(row.material_id, []).append(pack_size(row, names, currency))
    least: dict[int, int] = {}
    for minimum, material in minimums(session):
        if basis.get(minimum.material_id) not in (None, minimum.basis):
            words = f"The least of {material.name} on the shelf is measured in another way than it is."
            found.add(unknown("minimum-otherwise", words, about=material.name))
        else:
            least[minimum.material_id] = minimum.amount or 0
    bought, formers = {}, formers_among(session, materials)
    for number, material in materials.items():
        policy = policies.of(number, material.known_key, material.kind)
        life = capped(policy_of(policy) if policy else None, formers.get(number))
        bought[number] = Bought(
            number, material.name, basis[number], life,
            tuple(sizes.get(number, ())), least.get(number, 0),
        )  # fmt: skip
    return bought


def pack_size(row: PackSizeRow, names: Mapping[int, str], currency: str | None) -> PackSize:
    """A pack as the rules read it. A price in another currency than the shop's is not known."""
    price = None
    if row.price_minor is not None and row.currency == currency:
        price = Decimal(row.price_minor).scaleb(-coins(currency))
    supplier, words = names.get(row.supplier_id or 0, ""), show_pack(row.amount, row.basis, row.written)
    return PackSize(row.id or 0, row.amount, price, supplier, row.lead_days, words)


def _shelf(
    session: Session, materials: Mapping[int, Material], basis: Mapping[int, Basis | None], today: date
) -> tuple[list[ShelfContainer], Coming]:
    held = containers_of(session, materials)
    shelf = shelf_of(session, held)
    coming = what_is_coming(session, materials, basis, today)
    return [*shelf, *coming.packs], coming


def _taken_in(
    shelf: Sequence[ShelfContainer], calendar: SchoolCalendar
) -> tuple[list[ShelfContainer], list[Finding]]:
    """The shelf, with what is expected on a day on which nobody is there coming on the next open one."""
    kept: list[ShelfContainer] = []
    found = Findings()
    for one in shelf:
        day = None if one.comes is None else taken_in_on(calendar, one.comes)
        if one.comes is not None and day is not None and day != one.comes:
            words = (
                f"{one.code[:1].upper()}{one.code[1:]} of {one.name} is expected on {say_date(one.comes)}, "
                f"when the school is closed ({why_closed(calendar, one.comes)}): it counts as taken in on "
                f"{say_date(day)}."
            )
            found.add(warn("order-on-closed-day", words, about=one.name))
        kept.append(replace(one, comes=day))
    return kept, list(found.verdict())
