"""What stands in a place held against the rows of a storage table: within this row, over it, or not known.

Doors: core/store_limits.py, web/api/calc_storage.py, web/api/storage_answers.py.

*Met* says only that the sum is within this one row, for what was told. Nothing here calls a place fit or a
store in order: separation, ventilation, doors and the authority's own reading are in no row.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final

from service.core.findings import Finding, Verdict, note, stop, unknown, warn
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

NEAR_SHARE: Final = Fraction(4, 5)
"""From this share of a limit on it is said that the limit is near: this house's own figure."""
_MOST_PLACES: Final = 6
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
        for group in here:
            if group.scope in row.scopes & scopes:
                rows.extend(judge_row(tables, row, place, group))
    findings = [
        *_about_things(things, rows),
        *_about_rows(rows, near),
        *_about_place(rule_set, place, things, whole=scopes == ALL_SCOPES),
    ]
    verdict = Verdict.of(findings)
    binding = [one.met for one in rows if one.binding]
    met = False if False in binding else None if None in binding or not verdict.complete else True
    return RuleSetAnswer(rule_set, met, things, tuple(rows), tuple(totals(rule_set, place, things)), verdict)


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
    """What is said of one judged row: over it, near it, from memory, or its figure is not known."""
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
    if one.share is None or not one.binding or one.row.unit in (Measure.CABINETS, Measure.CONTROL_AREAS):
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


def shown(value: Fraction, *, up: bool) -> str:
    """A figure for a sentence, to four signs, or whole: what is counted is rounded ``up``, a limit down.

    So nothing reads milder than it is, and what is over a limit never reads as the limit itself.

    >>> [shown(Fraction(one), up=True) for one in ("54.43549", "60.000001", "60", "13200.5")]
    ['54.44', '60.01', '60', '13201']
    >>> shown(Fraction("2.641720"), up=False), shown(Fraction(1, 4), up=False)
    ('2.641', '0.25')
    """
    places, part = 0, abs(value)
    while part and part < 1000 and places < _MOST_PLACES:
        places, part = places + 1, part * 10
    tens = 10**places
    whole = ceil(value * tens) if up else floor(value * tens)
    text = f"{Decimal(whole) / tens:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def told(value: Fraction, unit: Measure, *, up: bool) -> str:
    """A figure with its unit; what is counted by the piece is one or several.

    >>> told(Fraction(5), Measure.GALLON, up=True), told(Fraction(1), Measure.CONTROL_AREAS, up=False)
    ('5 gal', '1 control area')
    """
    return f"{shown(value, up=up)} {unit_words(value, unit)}"


def unit_words(value: Fraction, unit: Measure) -> str:
    """The unit beside a figure: "cabinet" with one, "cabinets" with any other number."""
    counted = unit in (Measure.CABINETS, Measure.CONTROL_AREAS)
    return unit.value.removesuffix("s") if counted and value == 1 else unit.value


def begins(name: str) -> str:
    """A place at the beginning of a sentence; what people call it stays as they wrote it.

    >>> begins("the building"), begins("storey 1"), begins("annex")
    ('The building', 'Storey 1', 'annex')
    """
    return name[0].upper() + name[1:] if name.startswith(("the ", "storey ")) else name
