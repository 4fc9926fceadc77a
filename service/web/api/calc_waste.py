"""POST /api/calc/waste: generator category by month, caps, times, codes, and how long records are kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from fastapi import APIRouter

from service.core.findings import Finding, Invalid, Verdict, unknown
from service.core.record_years import list_due, retain_until
from service.core.storage_rules import LITRES_PER_GALLON
from service.core.waste import JudgedMonth, caution, heaviest, judge_month
from service.core.waste_clocks import CapJudged, ClockJudged, Site, judge_cap, judge_clock, judge_satellite
from service.core.waste_codes import judge_stream
from service.core.waste_rules import (
    WEIGHT,
    Category,
    CategoryRow,
    Cited,
    ClockRow,
    CodeRow,
    EntryRow,
    Jurisdiction,
    Kind,
)
from service.core.waste_streams import Code, JudgedStream
from service.records.knowledge_waste import record_years, waste_tables
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.solvent_components import DataUsedOut
from service.web.api.waste_question import RecordsIn, WasteIn
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])


class RowOut(ApiModel):
    """A row that decided something. ``grade`` "memory": check it against the official text."""

    row: str
    citation: str
    grade: str
    provenance: str
    says: str


class MonthOut(ApiModel):
    """``category`` null: a mass is not known; it is then at least ``at_least``."""

    month: str
    kg: float
    kg_is_at_least: bool
    category: str | None
    at_least: str
    because: list[RowOut]


class CodeOut(ApiModel):
    """``applies`` null: not known."""

    code: str
    applies: bool | None
    why: str
    grade: str
    citations: list[str]


class ScreenOut(ApiModel):
    """The most that leaching can find: the whole content divided by 20. ``can_fail``: have it leached."""

    substance: str
    max_tclp_mg_l: float
    can_fail: bool
    code: str


class EntryOut(ApiModel):
    """An entry of the List of Waste that may fit; it is offered, and not decided here."""

    code: str
    hazardous: bool
    says: str
    grade: str


class StreamOut(ApiModel):
    """``f_listed``: whether it is a listed spent solvent; null: not known."""

    name: str
    codes: list[str]
    may_apply: list[str]
    f_listed: bool | None
    judged: list[CodeOut]
    screens: list[ScreenOut]
    entries: list[EntryOut]


class RecordsOut(ApiModel):
    """How long records are kept, and by when the list of chemicals is mended."""

    retain_until: date | None
    list_due: date | None
    list_late: bool | None
    because: list[RowOut]


class WasteOut(ApiModel):
    """``category`` in the shape the months were asked in. ``deadline`` null: none runs, or no start told."""

    category: str | list[str | None] | dict[str, str | None] | None
    months: list[MonthOut]
    codes: list[str]
    may_apply: list[str]
    streams: list[StreamOut]
    deadline: date | None
    overdue: bool | None
    satellite_deadline: date | None
    satellite_overdue: bool | None
    cap_exceeded: bool | None
    cap_kg: float | None
    records: RecordsOut | None
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/waste", summary="Hazardous waste: category by month, caps, clocks, codes")
def waste(asked: WasteIn) -> WasteOut:
    """Counts masses, days and codes against rows with their citation. Touches no stock.

    Only rows that were read are stated as law; the authority and a licensed carrier decide.
    """
    if not (asked.months() or asked.streams or asked.start or asked.records or asked.satellite) and (
        asked.on_site_kg is None and asked.acute_on_site_kg is None
    ):
        words = "Tell at least a month, a stream, a start date, what stands on the site, or records."
        raise Invalid(words, {"months_kg": words})
    tables, here = waste_tables(), asked.jurisdiction is Jurisdiction.US
    months = [judge_month(tables, one) for one in asked.months()] if here else []
    category = _category(asked, months)
    cap, clock, satellite = _standing(asked, category) if here else (CapJudged(None, None), _NONE, _NONE)
    streams = (
        [judge_stream(tables, one.known(n)) for n, one in enumerate(asked.streams, start=1)] if here else []
    )
    found = [*_told(asked, months)] if here else []
    for findings in [one.findings for one in months] + [one.findings for one in streams]:
        found.extend(findings)
    found += [*cap.findings, *clock.findings, *satellite.findings]
    verdict = Verdict.of([*found, *caution(asked.jurisdiction)])
    return WasteOut(
        category=_shaped(asked, months),
        months=[_month(one) for one in months],
        codes=sorted({code for one in streams for code in one.having(True)}),
        may_apply=sorted({code for one in streams for code in one.having(None)}),
        streams=_streams(asked, streams),
        deadline=clock.deadline,
        overdue=clock.overdue,
        satellite_deadline=satellite.deadline,
        satellite_overdue=satellite.overdue,
        cap_exceeded=cap.exceeded,
        cap_kg=None if cap.cap_kg is None else float(cap.cap_kg),
        records=_records(asked.records, asked.today) if asked.records else None,
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=[_used(row) for row in _rows(months, clock, satellite, streams)],
    )


_NONE = ClockJudged(None, None)


def _category(asked: WasteIn, months: list[JudgedMonth]) -> Category | None:
    """What rules clocks and caps: as told, and never lighter than a month that was told makes it."""
    certain, least = heaviest(months)
    if asked.category is None or (months and WEIGHT[least] > WEIGHT[asked.category]):
        return certain if asked.category is None else least
    return asked.category


def _standing(asked: WasteIn, category: Category | None) -> tuple[CapJudged, ClockJudged, ClockJudged]:
    tables = waste_tables()
    site = Site(
        None if asked.on_site_kg is None else Fraction(asked.on_site_kg),
        None if asked.acute_on_site_kg is None else Fraction(asked.acute_on_site_kg),
    )
    cap = judge_cap(tables, category, site)
    miles = None if asked.haul_miles is None else Fraction(asked.haul_miles)
    unsure = category is Category.VSQG and site.acute_kg is None and asked.acute_kg != 0
    clock = judge_clock(tables, Category.LQG if unsure else category, asked.start, asked.today, miles, cap)
    if unsure and asked.start is not None:
        words = (
            "Whether more than 1 kg of acute waste stands here was not told. A VSQG with less has no time "
            "limit; until it is told the time of an LQG is counted, 90 days."
        )
        clock = replace(
            clock, findings=(unknown("waste-acute-not-known", words, "40 CFR 262.14(a)(3)"), *clock.findings)
        )
    told = asked.on_site_kg is not None or asked.acute_on_site_kg is not None
    if not told and asked.start is None and "on_site_kg" not in asked.model_fields_set:
        cap = CapJudged(None, cap.cap_kg if category else None)
    satellite = _NONE
    if asked.satellite is not None:
        volume = asked.satellite.volume
        gallons = None if volume is None else volume.litres() / LITRES_PER_GALLON
        satellite = judge_satellite(
            tables, gallons, asked.satellite.excess_on, asked.today, asked.satellite.acute
        )
    return cap, clock, satellite


def _told(asked: WasteIn, months: list[JudgedMonth]) -> list[Finding]:
    """What was left out of the months and is no zero."""
    if months and asked.acute_kg is None:
        words = "How much acute waste arose was not told: more than 1 kg of it in a month makes an LQG."
        return [unknown("waste-acute-not-told", words, "40 CFR 262.13 and Table 1")]
    return []


def _shaped(
    asked: WasteIn, months: list[JudgedMonth]
) -> str | list[str | None] | dict[str, str | None] | None:
    if not months:
        return asked.category.value if asked.category else None
    found = {one.month.name: one.category.value if one.category else None for one in months}
    if isinstance(asked.months_kg, dict):
        return found
    return list(found.values()) if isinstance(asked.months_kg, list) else next(iter(found.values()))


def _month(one: JudgedMonth) -> MonthOut:
    mass = one.month.of(Kind.WASTE)
    return MonthOut(
        month=one.month.name,
        kg=float(mass.kg),
        kg_is_at_least=mass.more,
        category=one.category.value if one.category else None,
        at_least=one.at_least.value,
        because=[_row(row) for row in one.because],
    )


def _row(row: Cited) -> RowOut:
    return RowOut(
        row=row.key, citation=row.citation, grade=row.grade, provenance=row.provenance, says=row.says
    )


def _rows(
    months: list[JudgedMonth], clock: ClockJudged, satellite: ClockJudged, streams: list[JudgedStream]
) -> list[Cited]:
    """Every row that decided something, once."""
    found: list[Cited] = [row for one in months for row in one.because]
    found.extend(one.row for one in (clock, satellite) if one.row is not None)
    found.extend(row for one in streams for code in one.codes for row in code.rows)
    return list({row.key: row for row in found}.values())


def _used(row: Cited) -> DataUsedOut:
    value: float | str = row.says
    unit = ""
    if isinstance(row, CategoryRow):
        value, unit = float(row.kg), "kg"
    elif isinstance(row, ClockRow | CodeRow) and row.value is not None:
        value, unit = float(row.value), row.unit
    return DataUsedOut(
        ingredient="", property=row.key, value=value, unit=unit, source=row.source, grade=row.grade
    )


def _streams(asked: WasteIn, judged: list[JudgedStream]) -> list[StreamOut]:
    if not judged:
        return [
            StreamOut(
                name=one.name or f"stream {number}", codes=[], may_apply=[], f_listed=None, judged=[],
                screens=[], entries=_entries(one.kind),
            )
            for number, one in enumerate(asked.streams, start=1)
        ]  # fmt: skip
    return [_stream(one) for one in judged]


def _stream(one: JudgedStream) -> StreamOut:
    return StreamOut(
        name=one.stream.name,
        codes=list(one.having(True)),
        may_apply=list(one.having(None)),
        f_listed=one.listed,
        judged=[_code(code) for code in one.codes],
        screens=[
            ScreenOut(
                substance=seen.substance, max_tclp_mg_l=float(seen.most_mg_l), can_fail=seen.can_fail,
                code=seen.code,
            )
            for seen in one.screened
        ],
        entries=[],
    )  # fmt: skip


def _code(one: Code) -> CodeOut:
    return CodeOut(
        code=one.code,
        applies=one.applies,
        why=one.why,
        grade="read" if one.read else "memory",
        citations=list(dict.fromkeys(row.citation for row in one.rows)),
    )


def _entries(kind: str) -> list[EntryOut]:
    """Both sides of a mirror pair, the hazardous one first: which of them it is, is decided elsewhere."""
    rows: list[EntryRow] = [row for row in waste_tables().entries if row.kind == kind]
    return [EntryOut(code=row.code, hazardous=row.hazardous, says=row.says, grade=row.grade) for row in rows]


def _records(asked: RecordsIn, today: date | None) -> RecordsOut:
    periods = record_years()
    kept = retain_until(periods["exposure"], asked.last_use) if asked.last_use else None
    due: date | None = None
    late: bool | None = None
    used = ["exposure"] if kept else []
    if asked.added_on and asked.state.strip().upper() in ("MD", "MARYLAND"):
        used.append("list-addition")
        due, late = list_due(periods["list-addition"], asked.added_on, today or asked.added_on, asked.listed)
        late = late if today else None
    return RecordsOut(
        retain_until=kept,
        list_due=due,
        list_late=late,
        because=[
            RowOut(row=one.what, citation=one.citation, grade=one.grade, provenance=one.basis, says=one.says)
            for one in (periods[name] for name in used)
        ],
    )
