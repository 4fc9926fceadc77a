"""The plan of a term as the book stands today: jobs grown to amounts, the shelf, what comes. Only looks.

A job whose amounts cannot be worked out keeps its materials with amounts that are not known, and says why.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import ceil
from typing import Final

from sqlmodel import Session

from service.actions.grow_recipe import grow
from service.actions.meet_amount import meet_amount
from service.actions.plan_job import said_of_version
from service.actions.what_is_coming import Coming, what_is_coming
from service.core.costs import coins
from service.core.findings import Finding, Findings, Invalid, Verdict, unknown
from service.core.materials import Basis
from service.core.order_list import Bought
from service.core.pack_choice import PackSize
from service.core.peroxides import capped
from service.core.plan_needs import PlannedJob
from service.core.plan_outlook import ShelfContainer
from service.core.quantities import UNITS, Quantity, decimal_of
from service.core.recipe import Recipe as RecipeFacts
from service.core.recipe import RecipeLine
from service.core.recipe_amounts import HowMuch
from service.core.school_calendar import SchoolCalendar, about_holidays, why_closed
from service.core.term_plan import TermPlan, plan_term
from service.records.ageing_queries import PoliciesInForce, lives_of, policies_of_all, policy_of
from service.records.material_queries import keeper_only_materials
from service.records.materials import Material
from service.records.mixing import Recipe
from service.records.order_queries import minimums, packs_of, supplier_names
from service.records.orders import PackSizeRow
from service.records.peroxide_formers import former_of
from service.records.plan_queries import (
    WrittenRecipe,
    calendar_of,
    dates_of_plan,
    materials_numbered,
    the_term,
    written_recipes,
)
from service.records.plans import DateState, PlannedDate, PlannedJobRow, Term
from service.records.shop import ShopProfile
from service.records.stock_queries import Held, containers_of, handed_out, place_names, promised

_UNIT: Final = {Basis.MASS: "mg", Basis.VOLUME: "ml", Basis.PIECES: "piece"}


@dataclass(frozen=True)
class GrownJob:
    """A planned job as amounts. ``why``: why they are not known; ``found``: what to read about it."""

    row: PlannedJobRow
    recipe: Recipe
    lines: tuple[RecipeLine, ...]
    why: str = ""
    found: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class DateOfTerm:
    """One date of the term with its job."""

    row: PlannedDate
    planned: PlannedJobRow
    recipe: Recipe
    why_free: str = ""


@dataclass(frozen=True)
class TermOutlook:
    """Everything a page of the plan shows. ``materials`` by number: each that is needed, or has a minimum."""

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


def wanted_of(row: PlannedJobRow) -> HowMuch:
    """How much is to be made in all, rounded up to whole smallest units.

    >>> from service.records.plans import PlannedJobRow
    >>> job = PlannedJobRow(heads=20, each_amount=60_000, each_basis=Basis.VOLUME, spare_percent=10)
    >>> str(wanted_of(job).wanted)
    '1320 ml'
    """
    factor = row.heads * (1 + Fraction(row.spare_percent, 100))
    spare = f" + {row.spare_percent} %" if row.spare_percent else ""
    written = f"{row.heads} heads x {row.each_written}{spare}"
    if row.each_times is not None:
        return HowMuch(written, times=Fraction(row.each_times) * factor)
    assert row.each_amount is not None and row.each_basis is not None
    unit = UNITS[_UNIT[row.each_basis]]
    smallest = Fraction(ceil(row.each_amount * factor))
    return HowMuch(written, wanted=Quantity(decimal_of(smallest / Fraction(unit.factor), 9), unit))


def grow_job(row: PlannedJobRow, recipe: Recipe, written: WrittenRecipe) -> GrownJob:
    """A job's recipe lines for the amount that is planned; what cannot be worked out is not known."""
    found: list[Finding] = []
    older = said_of_version(written.version.number, recipe.current_version)
    if older is not None:
        found.append(older)
    if not written.lines:
        words = f"Nothing is written in {recipe.name} yet, so it is not known what {row.name} takes."
        return GrownJob(row, recipe, (), words, (*found, unknown("recipe-empty", words, about=row.name)))
    try:
        met, reckoned = meet_amount(written.version, written.lines, wanted_of(row))
        lines, _, lacks = grow(written.lines, written.version, met)
    except Invalid as wrong:
        words = f"How much {row.name} takes is not known. {wrong.sentence}"
        found.append(unknown("job-not-known", words, about=row.name))
        bare = tuple(
            RecipeLine(
                line.material_id, material.name, None, None, material.basis, line.written,
                stocked=not material.not_stocked, why=wrong.sentence,
            )
            for line, material in written.lines
        )  # fmt: skip
        return GrownJob(row, recipe, bare, words, tuple(found))
    return GrownJob(row, recipe, lines, "", (*found, *reckoned, *lacks))


def look_at_term(session: Session, term_id: int, today: date) -> TermOutlook:
    """The plan of a term on the shop day ``today``, by a few queries whatever its size.

    Raises:
        NotFound: there is no such term.
    """
    term = the_term(session, term_id)
    calendar = calendar_of(term)
    rows = dates_of_plan(session, term_id, today, term.last_day)
    grown = _grown(session, rows)
    mine, others = _as_jobs(rows, grown, term_id)
    found = Findings()
    found.add(*about_holidays(calendar))
    for number, job in grown.items():
        if any(one.number == number for one in mine):
            found.add(*job.found)
    materials = _materials(session, rows, grown)
    basis = _bases(materials, grown)
    shop = session.get(ShopProfile, 1)
    currency = shop.currency if shop else None
    bought = _bought(session, materials, basis, currency, found)
    shelf, coming = _shelf(session, materials, basis, today)
    found.add(*coming.found)
    plan = plan_term(mine, shelf, list(bought.values()), calendar, today, others=others)
    dates = tuple(
        DateOfTerm(row, planned, recipe, why_closed(calendar, row.on_day))
        for row, planned, recipe in rows
        if planned.term_id == term_id
    )
    return TermOutlook(
        term, calendar, today, dates, grown, materials, bought, tuple(shelf), coming, plan,
        found.verdict() + plan.verdict, currency,
    )  # fmt: skip


_Rows = Sequence[tuple[PlannedDate, PlannedJobRow, Recipe]]


def _grown(session: Session, rows: _Rows) -> dict[int, GrownJob]:
    jobs = {planned.id: (planned, recipe) for _, planned, recipe in rows if planned.id is not None}
    written = written_recipes(session, jobs.values())
    return {number: grow_job(*jobs[number], written[number]) for number in sorted(jobs)}


def _as_jobs(
    rows: _Rows, grown: Mapping[int, GrownJob], term_id: int
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
        made = PlannedJob(number, planned.name, row.on_day, facts, times)
        (mine if planned.term_id == term_id else others).append(made)
    return mine, others


def _materials(session: Session, rows: _Rows, grown: Mapping[int, GrownJob]) -> dict[int, Material]:
    standing = {planned.id for row, planned, _ in rows if row.state is DateState.PLANNED}
    wanted = {
        line.material_id for number, job in grown.items() if number in standing for line in job.lines
        if line.stocked
    }  # fmt: skip
    wanted |= {row.material_id for row, _ in minimums(session)}
    return materials_numbered(session, wanted)


def _bases(materials: Mapping[int, Material], grown: Mapping[int, GrownJob]) -> dict[int, Basis | None]:
    """What each material is counted in: its own, else what the recipes that are planned count it in."""
    basis = {number: row.basis for number, row in materials.items()}
    for job in grown.values():
        for line in job.lines:
            if line.material_id in basis and basis[line.material_id] is None:
                basis[line.material_id] = line.basis
    return basis


def _bought(
    session: Session,
    materials: Mapping[int, Material],
    basis: Mapping[int, Basis | None],
    currency: str | None,
    found: Findings,
) -> dict[int, Bought]:
    policies = policies_of_all(session) if materials else PoliciesInForce(())
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
    bought = {}
    for number, material in materials.items():
        policy = policies.of(number, material.known_key, material.kind)
        life = capped(policy_of(policy) if policy else None, former_of(material))
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
    return PackSize(row.id or 0, row.amount, price, names.get(row.supplier_id or 0, ""), row.lead_days)


def _shelf(
    session: Session, materials: Mapping[int, Material], basis: Mapping[int, Basis | None], today: date
) -> tuple[list[ShelfContainer], Coming]:
    held = containers_of(session, materials)
    shelf = shelf_of(session, held)
    coming = what_is_coming(session, materials, basis, today)
    return [*shelf, *coming.packs], coming


def shelf_of(session: Session, held: Sequence[Held]) -> list[ShelfContainer]:
    """Containers as the plan reads them, with what is promised to batches that have not drawn it yet."""
    boxes = [one.container for one in held]
    aside = promised(session, [one.container_id for one in held])
    away, places = handed_out(session, boxes), place_names(session, boxes)
    keepers = keeper_only_materials(one.material for one in held)
    lives = lives_of(session, [(one.container, one.material) for one in held])
    return [
        ShelfContainer(
            one.container_id, box.code, box.material_id, box.balance, life, box.state, box.balance_known,
            aside.get(one.container_id, 0), box.condition,
            box.inherited_keeper_only or box.material_id in keepers, one.container_id in away,
            places.get(box.place_id or 0, ""), name=one.material.name,
        )
        for one, box, life in zip(held, boxes, lives, strict=True)
    ]  # fmt: skip
