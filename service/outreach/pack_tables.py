"""The sections of the inspection pack that come straight from the records: sheets, rags, checks, entries.

Each is given the session of the book as it stood (`actions/book_then.py`), so none asks what the time is.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlalchemy import Executable, func
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, select

from service.core.containers import EventKind
from service.core.inspection_pack import LACKING, OLD_SHEET_MONTHS, Section, age_words, months_between
from service.core.rag_log import day_words
from service.core.shelf_codes import show_code
from service.core.training import GROUP_WORDS
from service.outreach.check_tables import CHECKS_HEADER, TRAINING_HEADER, check_rows, training_rows
from service.outreach.csv_tables import RAG_HEADER, rag_log_rows
from service.outreach.pack_earlier import told_of_earlier_days
from service.records.check_queries import missed_of, seen_checks
from service.records.jobs import Job
from service.records.kept_statements import batched
from service.records.knowledge_periods import record_periods
from service.records.materials import Material, SafetySheet
from service.records.materials_in_use import PRESENT, materials_here, materials_in_use
from service.records.override_words import what_is_let_through
from service.records.people import Person
from service.records.rag_queries import state_of
from service.records.rags import Override, OverrideUse, RagLogRow
from service.records.shop import Change
from service.records.stock import Container, ContainerEvent, Movement, Posting
from service.records.training_queries import who_lacks

ON_LABELS: Final = frozenset({"name", "hazards", "self heating", "kind"})
"""Changes of a material that change what stands on the labels of its containers; its components do too."""


def _by_first(session: Session, query: Executable) -> dict[Any, Any]:
    """Rows of two columns, the second by the first."""
    return {row[0]: row[1] for row in session.connection().execute(query).all()}


def sheets(session: Session, law: str, today: date) -> Section:
    """Every material that is here or in use, its newest sheet, how old that is, and what is missing of it."""
    counted = columns_of(col(Container.material_id), func.count()).where(col(Container.state).in_(PRESENT))
    boxes = _by_first(session, counted.group_by(col(Container.material_id)))
    here = dict.fromkeys(materials_here(session, materials_in_use(session)), 0) | boxes
    kept: dict[int, list[SafetySheet]] = defaultdict(list)
    order = col(SafetySheet.sheet_date).desc().nulls_last(), col(SafetySheet.id).desc()
    for sheet in session.exec(select(SafetySheet).order_by(*order)):
        kept[sheet.material_id].append(sheet)
    materials = session.exec(select(Material).order_by(func.lower(Material.name), col(Material.id))).all()
    rows = [
        _sheet_row(one, kept[one.id or 0], here[one.id or 0], law, today)
        for one in materials if one.id in here
    ]  # fmt: skip
    lacking = sum(row[-1] != "none" for row in rows)
    said = (
        f"{lacking} of {len(rows)} materials that are here lack something of their sheet.",
        f"A sheet of {OLD_SHEET_MONTHS} months or more is named as old: our own measure, no rule says so.",
    )
    header = (
        "material", "maker", "containers", "sheets kept", "law", "sheet date", "age", "copied whole",
        "file sha256", "gaps",
    )  # fmt: skip
    shown = ("material", "maker", "law", "sheet date", "age", "gaps")
    return Section("data-sheets", "Safety data sheets", header, tuple(rows), said, shown)


def _sheet_row(
    material: Material, kept: Sequence[SafetySheet], boxes: int, law: str, today: date
) -> Sequence[Any]:
    if not kept:
        return (material.name, material.maker, boxes, 0, None, None, None, None, None, "no sheet is kept")
    newest = kept[0]
    gaps = []
    if newest.sheet_date is None:
        gaps.append("no date on it")
    elif months_between(newest.sheet_date, today) >= OLD_SHEET_MONTHS:
        gaps.append("old: ask the supplier for a newer one")
    if not newest.copied_whole:
        gaps.append("sections 2, 3 and 9 not copied whole")
    if newest.regime != law:
        gaps.append(f"written under another law ({newest.regime})")
    if newest.file_sha256 is None:
        gaps.append("on paper only, no file")
    age = age_words(newest.sheet_date, today) if newest.sheet_date else "not known"
    return (
        material.name, material.maker, boxes, len(kept), newest.regime, newest.sheet_date, age,
        "yes" if newest.copied_whole else "no", newest.file_sha256, "; ".join(gaps) or "none",
    )  # fmt: skip


def rag_log(session: Session, proved: str, in_words: Callable[[RagLogRow], str]) -> Section:
    """Every entry in words and with the text that was hashed; ``proved``: what a check of the chain says."""
    told = {row.id: in_words(row) for row in session.exec(select(RagLogRow))}
    rows = tuple((*row[:5], told[row[0]], *row[5:]) for row in tuple(rag_log_rows(session))[1:])
    said = (
        proved,
        "A changed, missing or moved entry inside shows by itself. A cut end or a log written anew shows "
        "only against a head kept outside, such as the one on this pack: keep it.",
        "In the file “body” is the very text that was hashed, for a check of the chain; “in words” says what "
        "is to be read in it.",
    )
    shown = ("entry", "happened", "recorded", "in words", "who", "hash")
    header = (*RAG_HEADER[:5], "in words", *RAG_HEADER[5:])
    return Section("rag-log", "Log of oily rags", header, rows, said, shown)


def rag_loads(session: Session, at: datetime) -> Section:
    """Each load of oily rags, read from the log: its two clocks, what was done last, how it ended."""
    of_load: dict[int, list[RagLogRow]] = defaultdict(list)
    for row in session.exec(select(RagLogRow).order_by(col(RagLogRow.id))):
        if row.load_id is not None:
            of_load[row.load_id].append(row)
    names = _by_first(session, columns_of(col(Job.id), col(Job.name)))
    rows = [_load_row(number, told, names, at) for number, told in sorted(of_load.items(), reverse=True)]
    late = sum(row[-1] == "overdue" for row in rows)
    header = ("load", "job", "made", "contain by", "remove by", "last step", "last at", "ended", "state")
    said = (f"{len(rows)} loads, {late} overdue at the moment of this pack.",)
    return Section("rag-loads", "Loads of oily rags", header, tuple(rows), said)


def _load_row(number: int, told: list[RagLogRow], jobs: dict[int, str], at: datetime) -> Sequence[Any]:
    made = next((row for row in told if row.kind == "load-made"), None)
    if made is None:
        return (number, None, None, None, None, None, None, None, "not known: it begins nowhere")
    body = json.loads(made.body)
    clocks = [json.loads(row.body)["contain_by"] for row in told if row.kind in ("load-made", "job-closed")]
    contain, remove = min(map(datetime.fromisoformat, clocks)), datetime.fromisoformat(body["remove_by"])
    contain = min(contain, remove)
    state = state_of(told, made.happened_at, at)
    over = (not state.contained and at > contain) or (not state.remove_met and at > remove)
    held = "put away" if state.contained else "in use or loose"
    word = "ended" if state.ended else "overdue" if over else held
    step = state.last_step.value if state.last_step else None
    return (
        number, jobs.get(body["job"]), made.happened_at, contain, remove, step, state.last_at, state.ended_at,
        word,
    )  # fmt: skip


def checks(session: Session, today: date) -> Section:
    """How each recurring check stands on the day."""
    rows = []
    seen = seen_checks(session, today)
    missed = missed_of(session, seen, today)
    for one in seen:
        last, late = one.state.last, one.state.late_days
        said = ("not fine" if one.state.failed else "", "late" if one.state.late else "")
        word = ", ".join(filter(None, said)) or "in time"
        rows.append(
            (
                one.number, one.row.what, one.place, one.plan.interval.words, one.row.source, one.owner,
                last.on if last else "never, or nobody wrote it down", last.result.value if last else None,
                last.sentence if last else None, one.state.due, late, word,
                missed[one.number] or "none",
            )
        )  # fmt: skip
    late_ones, holes = sum(one.state.late for one in seen), sum(map(bool, missed.values()))
    words = (f"{len(rows)} checks hold; {late_ones} late; {holes} missed in the last 12 months.",)
    header = (
        "check", "what", "place", "how often", "whose word", "owner", "last made", "result", "found", "due",
        "days late", "stands", "missed",
    )  # fmt: skip
    shown = ("what", "place", "how often", "whose word", "last made", "result", "due", "stands", "missed")
    return Section("recurring-checks", "Recurring checks", header, tuple(rows), words, shown)


def checks_done(session: Session) -> Section:
    """Every entry of every check."""
    rows = tuple(check_rows(session))[1:]
    shown = ("entry", "what", "place", "day", "result", "found", "by")
    return Section("checks-made", "Checks that were made", CHECKS_HEADER, rows, (), shown)


def training(session: Session) -> Section:
    """Every training, those taken back with them."""
    rows = tuple(training_rows(session))[1:]
    shown = ("entry", "person", "about", "topic", "day", "taught_by", "takes_back_entry")
    return Section("training", "Training", TRAINING_HEADER, rows, (), shown)


def lacking(session: Session, today: date, zone: ZoneInfo, *, past: bool) -> Section:
    """Who still lacks which training, as known when the pack is printed, of a past day too."""
    here, needs = who_lacks(session, today, zone)
    rows = tuple(
        (here[one.person].name, here[one.person].role.value, GROUP_WORDS[one.group], one.last,
         one.newer or None)
        for one in needs
    )  # fmt: skip
    said = [f"As known on {today.isoformat()}, of everybody who is here and takes material."]
    if past:
        said.append("Who was here on the day of this pack, and lacked what, the books do not know.")
    if not rows:
        said.append("By the books nobody lacks any.")
    header = ("person", "role", "lacks", "taught last", "came in since")
    return Section(LACKING, "Who still lacks which training", header, rows, tuple(said))


def overrides(session: Session) -> Section:
    """Each time a keeper let one named draw or batch happen while rags were overdue."""
    used = set(session.exec(select(OverrideUse.override_id)).all())
    query = select(Override, Person.name, Job.name).join(Person, col(Person.id) == col(Override.keeper_id))
    query = query.join(Job, col(Job.id) == col(Override.job_id)).order_by(col(Override.id))
    rows = tuple(
        (
            row.id, keeper, job, what_is_let_through(session, row), row.reason, row.created_at, row.until,
            "used" if row.id in used else "not used",
        )
        for row, keeper, job in session.exec(query)
    )  # fmt: skip
    header = ("override", "keeper", "job", "what was let through", "reason", "given", "until", "used")
    return Section("overrides", "Overrides of the rag block", header, rows)


LATE_HEADER: Final = ("entry", "act", "who", "happened", "recorded", "reason")


def late_entries(session: Session, zone: ZoneInfo) -> Section:
    """What was written down more than 15 minutes after it happened, or tells of an earlier day."""
    earlier: dict[int, list[str]] = defaultdict(list)
    for one in told_of_earlier_days(session, zone):
        earlier[one.posting].append(one.words)
    query = columns_of(Posting, Person.name).join(Person, col(Person.id) == col(Posting.person_id))  # type: ignore[call-overload]
    found = {p.id: (p, who) for p, who in session.execute(query.where(col(Posting.late)))}
    for numbers in batched(earlier):
        for p, who in session.execute(query.where(col(Posting.id).in_(numbers))):
            found[p.id] = (p, who)
    rows = tuple(
        (p.id, p.act, who, p.happened_at, p.recorded_at,
         "; ".join([*([p.late_reason] if p.late_reason else []), *earlier.get(number, ())]))
        for number, (p, who) in sorted(found.items())
    )  # fmt: skip
    said = (
        "Among them what was told of an earlier day: waste, into which drum a discard went, and containers "
        "that came or were opened.",
    )
    return Section("late-entries", "Late entries", LATE_HEADER, rows, said)


def labels_due(session: Session, zone: ZoneInfo) -> Section:
    """Containers whose label may say something that was changed since they came or were labelled last."""
    changed: dict[int, list[tuple[datetime, str]]] = defaultdict(list)
    query = columns_of(col(Change.about_id), col(Change.changed_at), col(Change.field), col(Change.before))
    for number, at, field, before in session.connection().execute(query.order_by(col(Change.id))):
        if field.startswith("component ") or (field in ON_LABELS and (before, field) != (None, "name")):
            changed[number].append((at, field))
    labelled = columns_of(col(ContainerEvent.container_id), func.max(col(ContainerEvent.recorded_at)))
    labelled = labelled.where(col(ContainerEvent.kind) == EventKind.RELABELLED)
    last = _by_first(session, labelled.group_by(col(ContainerEvent.container_id)))
    asked = (Container.id, Container.code, Container.created_at, Material.id, Material.name)
    boxes: Any = columns_of(*map(col, asked))
    boxes = boxes.join(Material, col(Material.id) == col(Container.material_id))
    boxes = boxes.where(col(Container.state).in_(PRESENT), col(Material.id).in_(list(changed)))
    rows = []
    stand = session.connection().execute(boxes.order_by(col(Container.code)))
    for number, code, came, material, name in stand:
        since = max(came, last.get(number, came))
        found = [(at, field) for at, field in changed[material] if at > since]
        if found:
            what = ", ".join(sorted({field for _, field in found}))
            day = max(at for at, _ in found).astimezone(zone).date()
            rows.append((show_code(code), name, since.astimezone(zone).date(), day, what))
    header = ("container", "material", "labelled or came", "changed", "what changed")
    said = (
        "A label is due when the name, kind, hazards or make-up of its material were changed after the "
        "container came or was labelled anew. The books do not know what stands on the paper itself.",
    )
    return Section("labels-due", "Labels to print anew", header, tuple(rows), said)


def periods() -> Section:
    """How long each log is kept at the least, and on whose word."""
    rows = tuple(
        (one.words, one.kept, one.basis.value, one.citation, one.grade.value, one.note)
        for one in record_periods()
    )
    header = ("what is kept", "at the least", "law or policy", "on whose word", "grade", "note")
    said = ("A period is the least. No entry of these logs can be removed by anybody.",)
    return Section("record-periods", "How long records are kept", header, rows, said)


def ledger_head(session: Session, zone: ZoneInfo) -> str:
    """The last movement and a hash over all up to it, which anybody can work out from the ledger again.

    Hashed is one line a movement: its number, container, kind, change, count and recorded instant, by ``|``.
    """
    columns = (
        col(Movement.id), col(Movement.container_id), col(Movement.kind), col(Movement.change),
        col(Movement.counted), col(Movement.recorded_at),
    )  # fmt: skip
    digest, count = hashlib.sha256(), 0
    last: int | None = None
    at: datetime | None = None
    for row in session.connection().execute(columns_of(*columns).order_by(col(Movement.id))):
        digest.update((_line(row) + "\n").encode())
        count, last, at = count + 1, row[0], row[5]
    if at is None:
        return "no movement yet"
    when = at.astimezone(zone)
    said = f"{count} movements, the last number {last} of {day_words(when.date())}, {when:%H:%M}"
    return f"{said}; SHA-256 {digest.hexdigest()}"


def _line(row: Iterable[Any]) -> str:
    number, box, kind, change, counted, at = row
    cells = (number, box, kind.value, change, counted, at.isoformat())
    return "|".join("" if cell is None else str(cell) for cell in cells)
