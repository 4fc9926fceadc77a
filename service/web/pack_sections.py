"""The sections of the inspection pack that are judged: chemicals, storage, ventilation, waste.

Each is given the session of the book as it stood (`actions/book_then.py`) and the moment it is judged at.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import func
from sqlmodel import Session, col, select

from service.actions.judge_hazards import judge_material
from service.actions.judge_store import look_at_store
from service.actions.judge_ventilation import card_of_material
from service.actions.list_chemicals import hazardous_chemicals
from service.actions.look_at_drums import waste_record
from service.actions.look_at_waste import look_at_waste
from service.core.findings import Severity
from service.core.hazards.amount_band import AmountBand
from service.core.hazards.regimes import RULES, Regime
from service.core.inspection_pack import Section
from service.core.rag_log import month_words
from service.core.storage_rows import JudgedRow
from service.core.storage_rules import Scope
from service.core.store_limits import Area
from service.core.waste import say_category
from service.outreach.csv_tables import chemical_rows
from service.records.components import components_of_all
from service.records.drum_codes import codes_now, grouped
from service.records.material_queries import facts_of_all
from service.records.materials import Material
from service.records.materials_in_use import materials_here, materials_in_use
from service.web.drum_table import drum_rows
from service.web.pages.waste import HEADER as WASTE_HEADER
from service.web.pages.waste import waste_rows
from service.web.store_view import CAUTION, RULE_WORDS, findings_of, row_words, said_of, with_metric
from service.web.ventilation_view import AMOUNT_WORDS, CLASS_WORDS, short_words


def chemicals(session: Session, regime: Regime, today: date) -> Section:
    """The list of hazardous chemicals."""
    header, *rows = chemical_rows(hazardous_chemicals(session, regime, today), RULES[regime].title)
    lacking = sum(row[11] != "yes" for row in rows)
    said = (f"By {RULES[regime].title}. {lacking} of {len(rows)} materials are not told completely.",)
    shown = ("material", "signal word", "hazard classes", "where", "amount", "complete", "oily rags")
    return Section("hazardous-chemicals", "Hazardous chemicals", tuple(header), tuple(rows), said, shown)


def storage(session: Session) -> tuple[Section, Section]:
    """Every sum against its row, and what is to be read with the sums."""
    judged = look_at_store(session)
    rows = tuple(row for area in judged.areas for row in _area_rows(area))
    unjudged = sum(_is_single(row) and row.met is None for area in judged.areas for row in area.rows)
    found = tuple(
        (area.name, one.severity.value, one.sentence) for area in judged.areas for one in findings_of(area)
    )
    aside = tuple(
        ("", one.severity.value, one.sentence) for one in judged.verdict if one.code == "not-in-a-room"
    )
    tables = ", ".join(RULE_WORDS[one] for one in judged.rule_sets)
    said = [f"By {tables}.", f"All together: {said_of(judged.met)}.", CAUTION]
    said.append("Single containers stand here only where they are too large for their kind.")
    if unjudged:
        said.append(
            f"Of {unjudged} single containers it is not known whether they are too large for their kind: "
            "their size, what they are made of or the category of what they hold is missing."
        )
    header = (
        "kind", "place", "table", "row", "over what", "counted", "limit", "stands", "citation", "edition",
        "grade", "law or level",
    )  # fmt: skip
    shown = ("over what", "table", "row", "counted", "limit", "stands", "citation")
    sums = Section("storage-totals", "Storage against its limits", header, rows, tuple(said), shown)
    about = ("place", "how grave", "what")
    return sums, Section("storage-findings", "What the storage sums rest on", about, found + aside)


def _area_rows(area: Area) -> Iterator[Sequence[Any]]:
    for answer in area.answers:
        for row in answer.rows:
            if (not row.counted and row.met is True) or (_is_single(row) and row.met is not False):
                continue
            limit = row.allowed.limit
            told = "no limit" if row.allowed.unlimited else "not known"
            yield (
                area.kind.value, area.name, RULE_WORDS[row.row.rule_set], row.row.says, _where(area, row),
                ("" if row.sure else "at least ") + with_metric(row.counted, row.row.unit),
                told if limit is None else with_metric(limit, row.row.unit, up=False),
                row_words(row),
                row.row.citation, row.row.edition, row.row.provenance, row.row.force.value,
            )  # fmt: skip
    for pair in area.pairs:
        word = {True: "kept apart as asked", False: "not kept apart", None: "not known"}[pair.judged.ok]
        groups = f"{pair.judged.pair.a} and {pair.judged.pair.b}"
        yield (
            area.kind.value, area.name, "kept apart", pair.judged.why, groups,
            f"{'; '.join(pair.of_a)} / {'; '.join(pair.of_b)}", None, word,
            "; ".join(one.citation for one in pair.judged.rules), None, None, None,
        )  # fmt: skip


def _where(area: Area, row: JudgedRow) -> str:
    """What a row holds of, by its own name: a pack of two buildings has "the building" twice."""
    name = row.group.name
    return name if area.name in name else f"{area.name}, {name}"


def _is_single(row: JudgedRow) -> bool:
    """Whether it is about the size of one container, of which there are as many rows as containers."""
    return row.group.scope is Scope.CONTAINER


def ventilation(session: Session, regime: Regime, today: date) -> Section:
    """The ventilation class of every material that is here, by control banding, for its largest container."""
    present = materials_here(session, materials_in_use(session))
    materials = session.exec(
        select(Material)
        .where(col(Material.id).in_(present))
        .order_by(func.lower(col(Material.name)), col(Material.id))
    ).all()
    own = components_of_all(session, [one.id for one in materials if one.id is not None])
    rows = []
    for material, facts in zip(materials, facts_of_all(session, materials), strict=True):
        mine = own.get(material.id or 0, [])
        judged = judge_material(session, material, regime, today, facts=facts, own=mine)
        card = card_of_material(session, material, judged)
        if card is None:
            continue
        band = card.headline or AmountBand.MEDIUM
        found = card.by_amount[band]
        lacks = [one.sentence for one in found.verdict if one.severity is Severity.UNKNOWN]
        written = None if card.written is None else f"{card.written}: {CLASS_WORDS[card.written]}"
        rows.append(
            (
                material.name, material.maker, short_words(found), AMOUNT_WORDS[band],
                found.group.value if found.group else f"not known, at least {found.group_at_least.value}",
                found.volatility.value if found.volatility else None,
                {True: "yes", False: "no", None: "not known"}[found.skin], written,
                card.written_source or None, "; ".join(lacks) or "nothing",
            )
        )  # fmt: skip
    header = (
        "material", "maker", "ventilation class", "for the amount", "hazard group", "volatility",
        "skin and eyes", "written in the book", "whose word", "missing",
    )  # fmt: skip
    said = (
        "Control banding by health hazards, at 25 °C. It tells the least that is asked for, and says nothing "
        "of fire or of the air above an open can.",
    )
    shown = ("material", "ventilation class", "for the amount", "skin and eyes", "written in the book")
    return Section("ventilation", "Ventilation class by material", header, tuple(rows), said, shown)


def waste(session: Session, zone: ZoneInfo) -> Section:
    """What became waste, by month."""
    book = look_at_waste(session, zone)
    said = [finding.sentence for finding in book.findings]
    said += [f"{month_words(judged.month.name)}: {say_category(judged)}." for judged, _ in book.months[:12]]
    rows = tuple(waste_rows(book))[1:]
    shown = ("month", "day", "what", "kg", "where to", "not known because", "category at least")
    return Section("waste", "Waste by month", WASTE_HEADER, rows, tuple(said), shown)


def drums(session: Session, at: datetime) -> Section:
    """Every drum of waste with its days and clocks, as its own file has it."""
    record = waste_record(session, at)
    header, *rows = drum_rows(record)
    said = tuple(one.sentence for one in record.findings)
    stopped = [
        one.seen.row.name for one in record.drums
        if any(found.severity is Severity.STOP for found in one.judged.findings)
    ]  # fmt: skip
    if stopped:
        words = "Something stands against what is in these drums together, and nobody answered it: "
        said = (f"{words}{', '.join(stopped)}.", *said)
    shown = (
        "drum", "name", "contents", "met_in_it", "place", "area", "accumulation_start", "leaves_by",
        "overdue", "holds", "handed_over", "to", "paper",
    )  # fmt: skip
    return Section("waste-drums", "Drums of waste", tuple(header), tuple(rows), said, shown)


def drum_codes(session: Session, at: datetime) -> Section:
    """Which waste codes hold, or may, of each drum: on whose word, and how we know it."""
    record = waste_record(session, at)
    rows = tuple(
        (
            seen.number, seen.row.name, one["code"], "yes" if one["applies"] else "may apply", one["why"],
            one["citation"], one["grade"],
        )
        for seen in (*(one.seen for one in record.drums), *(gone.seen for gone in record.handed_over))
        for one in grouped(codes_now(seen, record.law))
    )  # fmt: skip
    said = ("A code that may apply is one that what is known does not rule out.",)
    header = ("drum", "name", "code", "holds", "why", "citation", "grade")
    return Section("drum-codes", "Waste codes of the drums", header, rows, said)
