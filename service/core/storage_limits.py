"""What stands in a place held against the rows of a storage table: within this row, over it, or not known.

Doors: core/store_limits.py, web/api/calc_storage.py, web/api/storage_answers.py.

*Met* says only that the sum is within this one row, for what was told. Nothing here calls a place fit or a
store in order: separation, ventilation, doors and the authority's own reading are in no row.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, Verdict, note, stop, unknown, warn
from service.core.storage_areas import (
    about_areas,
    as_told,
    not_within,
    perhaps_one_area,
    said_of,
    speaks_of,
)
from service.core.storage_groups import classes_settled
from service.core.storage_items import (
    Counted,
    Stored,
    amount_findings,
    count_under,
    counts_in,
    is_approved,
)
from service.core.storage_places import Place, PlaceKind, Total, groups, totals
from service.core.storage_rows import JudgedRow, count_cabinets, judge_row
from service.core.storage_rules import (
    Force,
    Measure,
    RuleSet,
    Scope,
    StorageRow,
    StorageTables,
    Use,
    UseGroup,
    Vessel,
)
from service.core.storage_words import begins, shown, told

NEAR_SHARE: Final = Fraction(4, 5)
"""From this share of a limit on it is said that the limit is near: this house's own figure."""
ALL_SCOPES: Final = frozenset(Scope)


@dataclass(frozen=True)
class RuleSetAnswer:
    """What one table says. ``met``: ``False`` over a row, ``None`` not known, ``True`` within all "
    "its rows."""

    rule_set: RuleSet
    met: bool | None
    things: tuple[Counted, ...]
    rows: tuple[JudgedRow, ...]
    totals: tuple[Total, ...]
    verdict: Verdict

    @property
    def sentence(self) -> str:
        """The answer in words, which say no more than the rows do."""
        if self.met is False:
            return f"{self.rule_set.value}: over at least one of its rows."
        if self.met is None:
            return f"{self.rule_set.value}: not known. What is missing stands in the findings."
        if not self.rows:
            return f"{self.rule_set.value}: none of the rows held here counts what was told."
        return f"{self.rule_set.value}: within this table's rows, for what was told and for nothing else."


def judge_storage(
    tables: StorageTables,
    rule_set: RuleSet,
    place: Place,
    items: Sequence[Stored],
    near: Fraction = NEAR_SHARE,
    scopes: frozenset[Scope] = ALL_SCOPES,
) -> RuleSetAnswer:
    """Every row of one table that counts something of what is told.

    Args:
        items: what stands there, told whole; what is left out is not counted.
        near: the share of a limit from which it is said to be near, above 0 and at most 1.
        scopes: over what rows are judged; the others are left out.
    """
    things = tuple(count_under(item, rule_set, place.ambient_max_c) for item in items)
    rows: list[JudgedRow] = []
    here = list(groups(place, things))
    for row in tables.of(rule_set):
        if row.use_group is not None and row.use_group is not place.use_group:
            continue
        if Scope.AREA in row.scopes & scopes:
            rows.extend(count_cabinets(row, place, things))
        for group in as_told(place, row, here):
            if group.scope in row.scopes & scopes:
                rows.extend(judge_row(tables, row, place, group))
    as_one = perhaps_one_area(tables, rule_set, place, here) if Scope.STOREY in scopes else []
    rows = [*not_within(rows, as_one), *as_one]
    findings = [
        *_about_things(things, rows),
        *_about_rows(rows, near),
        *_about_place(rule_set, place, things, whole=scopes == ALL_SCOPES),
    ]
    if Scope.STOREY in scopes:
        findings += about_areas(tables, rule_set, place, here, as_one)
    verdict = Verdict.of(findings)
    binding = [one.met for one in rows if one.binding]
    met = False if False in binding else None if None in binding or not verdict.complete else True
    return RuleSetAnswer(rule_set, met, things, tuple(rows), tuple(totals(rule_set, place, things)), verdict)


def room_by_areas(
    room: Sequence[RuleSetAnswer], building: Sequence[RuleSetAnswer]
) -> tuple[RuleSetAnswer, ...]:
    """Answers about a room, not within a row where its building may be over it as one control area."""
    found: list[RuleSetAnswer] = []
    for answer in room:
        whole = [one for one in building if one.rule_set is answer.rule_set]
        as_one = [
            row for one in whole for row in one.rows
            if row.as_one and any(speaks_of(row, mine) for mine in answer.rows)
        ]  # fmt: skip
        said = [finding for row in as_one for one in whole for finding in said_of(row, one.verdict)]
        found.append(
            replace(
                answer, rows=tuple(not_within(answer.rows, as_one)),
                verdict=Verdict.of([*answer.verdict, *said]),
                met=None if said and answer.met is True else answer.met,
            )
        )  # fmt: skip
    return tuple(found)


def uncounted(tables: StorageTables, place: Place, answers: Sequence[RuleSetAnswer]) -> Iterator[Finding]:
    """What no row of all the tables that were asked counts, so that none of them says anything of it."""
    rows = [
        (number, row)
        for number, one in enumerate(answers) for row in tables.of(one.rule_set)
        if row.categories and row.force is not Force.LEVEL and row.use_group in (None, place.use_group)
    ]  # fmt: skip
    held = frozenset(name for _, row in rows for name in row.categories)
    asked = ", ".join(one.rule_set.value for one in answers)
    for number, first in enumerate(answers[0].things if answers else ()):
        item = first.item
        if item.emptied and item.vapour_free:
            continue
        told = {item.material_class} if item.material_class else set()
        missing = sorted((told | item.settled | classes_settled(item.groups)) - held)
        things = [one.things[number] for one in answers]
        if any(one.burns for one in things) and not any(
            counts_in(row, things[at], False, place.approved_cabinets) for at, row in rows
        ):
            missing.append("flammable liquid, as it stands here")
        for word in missing:
            words = f"{item.name}: {word.replace('-', ' ')}. No row held here of {asked} counts that."
            yield unknown("no-row-held", words, "", item.name)


def _about_things(things: Sequence[Counted], rows: Sequence[JudgedRow]) -> Iterator[Finding]:
    units: dict[str, dict[Measure, None]] = {}
    for judged in rows:
        for name in judged.names:
            units.setdefault(name, {})[judged.row.unit] = None
    for one in things:
        yield from one.findings
        for unit in units.get(one.item.name, ()):
            yield from amount_findings(one.item, unit)
    for judged in rows:
        if (
            judged.group.scope is Scope.CONTAINER
            and judged.met is None
            and judged.row.vessels != frozenset(Vessel)
        ):
            name = judged.names[0]
            words = f"What {name} is in, or how much that holds, is not known; {judged.row.citation} asks it."
            yield unknown("container-not-known", words, judged.row.citation, name)


def _about_rows(rows: Sequence[JudgedRow], near: Fraction) -> Iterator[Finding]:
    for one in rows:
        yield from about_row(one, near)


def about_row(one: JudgedRow, near: Fraction) -> Iterator[Finding]:
    """What is said of one judged row: over it, near it, from memory, or its figure is not known.

    Of rooms taken as one control area `storage_areas.about_areas` speaks.
    """
    if one.as_one:
        return
    row, limit = one.row, one.allowed.limit
    if one.met is False and limit is not None:
        heavy = row.force is Force.MANDATORY and not row.from_memory
        make = stop if heavy else warn
        words = (
            f"{begins(one.group.name)}: {told(one.counted, row.unit, up=True)} counted, "
            f"{shown(limit, up=False)} by this row, so {shown(one.over_by, up=True)} "
            f"{'too much' if one.binding else 'above this level'}. {row.says}"
        )
        yield make("over-a-level" if not one.binding else "over-the-limit", words, cited(row), one.group.name)
    elif limit is not None and is_near(one, near):
        words = (
            f"{begins(one.group.name)}: {shown(one.counted, up=True)} of "
            f"{told(limit, row.unit, up=False)}, which is near "
            f"the limit (said from {shown(near * 100, up=False)} % on). {row.says}"
        )
        yield warn("near-the-limit", words, cited(row), one.group.name)
    if row.from_memory:
        words = f"This row is from memory and not checked, so nothing is called within it. {row.says}"
        yield (unknown if one.binding else note)("row-from-memory", words, cited(row), one.group.name)
    if one.met is None and not one.allowed.sure:
        why = "; ".join(one.allowed.why) or "what is allowed is not known"
        words = f"{begins(one.group.name)}: {why}. {row.says}"
        yield unknown("limit-not-known", words, cited(row), one.group.name)


def is_near(one: JudgedRow, near: Fraction) -> bool:
    """Sums of liquids only: a full can is not near to being too large a can."""
    if one.share is None or one.as_one or not one.binding:
        return False
    if one.row.unit in (Measure.CABINETS, Measure.CONTROL_AREAS):
        return False
    return one.group.scope is not Scope.CONTAINER and one.share >= near


def _about_place(
    rule_set: RuleSet, place: Place, things: Sequence[Counted], *, whole: bool
) -> Iterator[Finding]:
    told = [one for one in things if one.categories]
    in_cabinet = place.kind is not PlaceKind.CABINET and any(
        one.item.in_cabinet and is_approved(one.item, place.approved_cabinets) is None for one in told
    )
    if in_cabinet:
        words = "Whether the cabinets are approved ones is not known. They raise no limit."
        yield (note if rule_set is RuleSet.IFC else unknown)("cabinet-not-known", words)
    if rule_set is RuleSet.CONSTRUCTION and place.cabinets_in_area is None:
        words = "How many cabinets stand in the storage area was not told, and this table limits it."
        yield unknown("cabinets-not-told", words, "29 CFR 1926.152(b)(3)")
    if rule_set is RuleSet.OSHA and any(one.item.use is Use.OPEN for one in told):
        words = (
            "Where liquids are mixed or poured, the room is judged by the table for inside storage "
            "rooms. Its figures "
            "were not read, so none is held here."
        )
        yield unknown("room-table-not-held", words, "29 CFR 1910.106(d)(4)(ii), Table H-13")
    if rule_set is RuleSet.OSHA and told:
        words = (
            "Paints, oils and varnishes for painting or maintenance kept no more than 30 days are outside "
            "the container and cabinet rows. That is not applied here."
        )
        yield note("thirty-days-not-applied", words, "29 CFR 1910.106(d)(1)(ii)")
    if rule_set is RuleSet.IFC and place.use_group is UseGroup.SCHOOL:
        words = (
            "A school holds no more than it needs for demonstration, treatment, laboratory work, maintenance "
            "and equipment, and never more than the table."
        )
        yield note("school-needs", words, "IFC 5704.3.4.2, 5705.3.5.2, edition 2018")
    if rule_set is RuleSet.HSE and place.ambient_max_c is None and told:
        words = (
            "The highest temperature of the room is not known; 30 °C was taken. Whatever flashes below it "
            "counts as highly flammable."
        )
        yield unknown("ambient-not-known", words, "HSE, DSEAR guidance")
    if whole and place.kind is not PlaceKind.BUILDING:
        yield note(
            "only-what-was-told",
            "Only what was told is counted. Rows for a building count the rest of it as well.",
        )


def cited(row: StorageRow) -> str:
    """Citation, edition, and that it is from memory where it is."""
    words = f"{row.citation}, edition {row.edition}"
    return f"{words} (from memory)" if row.from_memory else words
