"""The answer of ``POST /api/calc/storage`` as JSON: items, rows, totals, pairs."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from pydantic import BaseModel, Field

from service.core.solvents.properties import DataUsed
from service.core.storage_items import (
    MASSES,
    VOLUMES,
    Counted,
    Stored,
    amount_of,
    liquid_in,
    spill_retention_l,
)
from service.core.storage_ladders import NONE, Temperature
from service.core.storage_limits import RuleSetAnswer
from service.core.storage_pairs import JudgedPair
from service.core.storage_places import Total, unit_for
from service.core.storage_rows import JudgedRow
from service.core.storage_rules import Measure, RuleSet, Use
from service.web.api.hazard_answers import FindingOut
from service.web.api.solvent_components import DataUsedOut


class CategoryOut(BaseModel):
    """Under one table. ``may_be``: every category it counts in, the worst first; more than one: not known."""

    rule_set: RuleSet
    category: str
    may_be: list[str]
    sure: bool
    below_100f: bool | None = Field(description="the branch of category 3 that 1910.106 treats more strictly")


class ItemOut(BaseModel):
    """``category`` and ``counted`` under the first table asked for. ``liquid``: what is really in it."""

    name: str
    category: str
    counted: float
    unit: str
    counted_metric: float
    metric_unit: str
    counted_is_sure: bool
    liquid: float | None
    stored_as_full: bool
    categories: list[CategoryOut]


class LimitOut(BaseModel):
    """One row over one container, cabinet, room, storey or building.

    ``met`` true: within this one row, for what was told; false: over it; null: not known. ``checked`` false:
    the row is from memory. ``binding`` false: a level from which a permit or more is asked.
    """

    row: str
    rule_set: RuleSet
    scope: str
    where: str
    limit: float | None = Field(description="null: unlimited, or not known")
    unlimited: bool
    unit: str
    limit_metric: float | None
    metric_unit: str
    because: list[str]
    counted: float
    counted_metric: float
    counted_is_sure: bool
    counts: list[str]
    met: bool | None
    over_by: float
    share: float | None
    near: bool
    binding: bool
    force: str
    citation: str
    edition: str
    grade: str
    provenance: str
    checked: bool
    says: str


class TotalOut(BaseModel):
    """What stands in one place in one category, by use and together."""

    rule_set: RuleSet
    scope: str
    where: str
    category: str
    storage: float
    closed_use: float
    open_use: float
    together: float
    unit: str
    together_metric: float
    metric_unit: str
    sure: bool


class PairOut(BaseModel):
    """``ok`` null: not known, or no text that was read names the pair."""

    a: str
    b: str
    told: bool = Field(description="false: found among the items")
    ok: bool | None
    why: str
    citations: list[str]
    grade: str | None


class RuleSetOut(BaseModel):
    rule_set: RuleSet
    met: bool | None
    sentence: str
    complete: bool


class SpillOut(BaseModel):
    """110 % of the largest vessel, by HSE's guidance as reprinted; null: a size is not known."""

    litres: float | None
    citation: str


class StorageOut(BaseModel):
    """``met``: the least favourable of tables and pairs. ``agree`` false: the tables do not say the same."""

    met: bool | None
    agree: bool
    rule_sets: list[RuleSetOut]
    items: list[ItemOut]
    limits: list[LimitOut]
    totals: list[TotalOut]
    pairs: list[PairOut]
    spill_retention: SpillOut | None
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


def _metric(value: Fraction, unit: Measure) -> tuple[float, str]:
    """The same in litres or kilograms."""
    if unit in VOLUMES:
        return float(value * VOLUMES[unit]), "l"
    if unit in MASSES:
        return float(value * MASSES[unit]), "kg"
    return float(value), unit.value


def item_out(answers: Sequence[RuleSetAnswer], number: int) -> ItemOut:
    """One item under every table asked for, counted as the first of them counts."""
    first = answers[0]
    one = first.things[number]
    category = _worst(one)
    unit = unit_for(first.rule_set, category)
    amount = amount_of(one.item, unit)
    metric, metric_unit = _metric(amount.value, unit)
    liquid = liquid_in(one.item, unit)
    return ItemOut(
        name=one.item.name,
        category=category,
        counted=float(amount.value),
        unit=unit.value,
        counted_metric=metric,
        metric_unit=metric_unit,
        counted_is_sure=amount.sure,
        liquid=None if liquid is None else float(liquid),
        stored_as_full=one.item.emptied and not one.item.vapour_free,
        categories=[_category(answer.rule_set, answer.things[number]) for answer in answers],
    )


def _worst(one: Counted) -> str:
    """The category it is shown in: the class that was told, else the worst it may be in."""
    return one.item.material_class or (one.placed.category if one.placed else NONE)


def _category(rule_set: RuleSet, one: Counted) -> CategoryOut:
    placed = one.placed
    told = [one.item.material_class] if one.item.material_class else []
    return CategoryOut(
        rule_set=rule_set,
        category=_worst(one),
        may_be=list(dict.fromkeys([*told, *(placed.categories if placed else ()), *sorted(one.categories)])),
        sure=one.sure,
        below_100f=placed.below_100f if placed and rule_set is RuleSet.OSHA else None,
    )


def limit_out(one: JudgedRow, near: Fraction) -> LimitOut:
    """A judged row in its own unit and in litres or kilograms."""
    row, limit = one.row, one.allowed.limit
    counted_metric, metric_unit = _metric(one.counted, row.unit)
    return LimitOut(
        row=row.key,
        rule_set=row.rule_set,
        scope=one.group.scope.value,
        where=one.group.name,
        limit=None if limit is None else float(limit),
        unlimited=one.allowed.unlimited,
        unit=row.unit.value,
        limit_metric=None if limit is None else _metric(limit, row.unit)[0],
        metric_unit=metric_unit,
        because=list(one.allowed.why),
        counted=float(one.counted),
        counted_metric=counted_metric,
        counted_is_sure=one.sure,
        counts=list(one.names),
        met=one.met,
        over_by=float(one.over_by),
        share=None if one.share is None else float(one.share),
        near=one.share is not None and one.share >= near and one.met is not False
        and not one.as_one,
        binding=one.binding,
        force=row.force.value,
        citation=row.citation,
        edition=row.edition,
        grade=row.grade.value,
        provenance=row.provenance,
        checked=not row.from_memory,
        says=row.says,
    )


def total_out(one: Total) -> TotalOut:
    """A sum in the unit of its table and in litres or kilograms."""
    metric, metric_unit = _metric(one.together, one.unit)
    return TotalOut(
        rule_set=one.rule_set,
        scope=one.scope.value,
        where=one.name,
        category=one.category,
        storage=float(one.by_use[Use.STORAGE]),
        closed_use=float(one.by_use[Use.CLOSED]),
        open_use=float(one.by_use[Use.OPEN]),
        together=float(one.together),
        unit=one.unit.value,
        together_metric=metric,
        metric_unit=metric_unit,
        sure=one.sure,
    )


def pair_out(one: JudgedPair, *, told: bool) -> PairOut:
    """``told`` False: found among the items."""
    return PairOut(
        a=one.pair.a,
        b=one.pair.b,
        told=told,
        ok=one.ok,
        why=one.why,
        citations=[f"{rule.citation}, edition {rule.edition}" for rule in one.rules],
        grade=one.rules[0].grade.value if one.rules else None,
    )


def spill_out(answers: Sequence[RuleSetAnswer], items: Sequence[Stored]) -> SpillOut | None:
    """What a cabinet's bottom has to hold by HSE's guidance; nothing where that was not asked."""
    if not items or not any(one.rule_set is RuleSet.HSE for one in answers):
        return None
    litres = spill_retention_l(items)
    return SpillOut(
        litres=None if litres is None else float(litres),
        citation="HSE, DSEAR guidance as reprinted: 110 % of the largest vessel",
    )


def facts_of(item: Stored) -> list[DataUsed]:
    """What was told of a liquid, in the unit it was told in."""
    liquid = item.liquid
    told: list[tuple[str, Temperature | None]] = [
        ("flash_point", liquid.flash),
        ("boiling_point", liquid.boiling),
        ("part_flash_point", liquid.part_flash),
        ("part_boiling_point", liquid.part_boiling),
        ("heated_to", liquid.heated_to),
    ]
    found = [
        DataUsed(item.name, name, float(one.value), one.unit, "given", "given")
        for name, one in told
        if one is not None
    ]
    category = item.material_class or liquid.category
    if category is not None:
        found.append(DataUsed(item.name, "category", category, "", "given", "given"))
    return found
