"""How recurring checks stand, in the words and cells of pages."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.core.access import Actor, Permission, may
from service.core.months import say_date
from service.core.recurring_checks import RESULT_WORDS, Result, due_words
from service.records.check_queries import SeenCheck, open_failure, seen_checks
from service.records.checks import CheckDone, RecurringCheck
from service.records.people import Person
from service.web.render import day, instant


def card(seen: SeenCheck, today: date) -> dict[str, Any]:
    """A check as the list shows it."""
    state = seen.state
    return {
        "id": seen.number, "name": seen.row.what, "place": seen.place, "look_at": seen.row.look_at,
        "owner": seen.owner, "due": due_words(state, today), "tag": _tag(seen, today),
        "failed": state.failed, "said": state.last.sentence if state.last and state.failed else "",
        "last": last_words(seen), "often": seen.plan.interval.words,
    }  # fmt: skip


def _tag(seen: SeenCheck, today: date) -> tuple[str, str]:
    """Standing and word: late and not fine are never shown like what is met."""
    if seen.state.due is None:
        return "", "ended"
    if seen.state.failed:
        return "past", "not fine"
    if seen.state.late:
        return "past", "late"
    if seen.state.due == today:
        return "look-first", "due today"
    return "", "not due yet" if seen.state.last else "never made"


def last_words(seen: SeenCheck) -> str:
    """When it was made last and what came out; never made is said."""
    last = seen.state.last
    if last is None:
        return "never, or nobody wrote it down"
    return f"{say_date(last.on)}: {RESULT_WORDS[last.result]}"


def due_lines(session: Session, actor: Actor, at: datetime, zone: str) -> list[dict[str, Any]]:
    """Checks due today or late, as duty lines: one's own, and for those who set them everybody's."""
    whose = None if may(actor.role, Permission.SET_CHECKS) else actor.person_id
    lines = check_lines(session, whose, at, ZoneInfo(zone))
    return [one | {"owner": "you" if one["owner_id"] == actor.person_id else one["owner"]} for one in lines]


def check_lines(session: Session, whose: int | None, at: datetime, zone: ZoneInfo) -> list[dict[str, Any]]:
    """Checks due today or late, of one person or (None) of everybody, as duty lines."""
    today = at.astimezone(zone).date()
    return [
        line(seen, today)
        for seen in seen_checks(session, today)
        if seen.state.due is not None and seen.state.due <= today and whose in (None, seen.row.owner_id)
    ]


def line(seen: SeenCheck, today: date) -> dict[str, Any]:
    """A check that is due, as a line among the duties."""
    due = seen.state.due or today
    return {
        "sentence": f"{seen.name}: check it.",
        "due": "today" if due == today else say_date(due),
        "late": due < today,
        "href": f"/recurring-checks/{seen.number}/record",
        "button": "Check it now",
        "owner": seen.owner,
        "owner_id": seen.row.owner_id,
    }


HISTORY_COLUMNS = [
    {"key": "on", "label": "Done"},
    {"key": "result", "label": "Result"},
    {"key": "who", "label": "By"},
    {"key": "said", "label": "What was found"},
]


def history_lines(
    rows: Sequence[tuple[CheckDone, Person]], actor: Actor, zone: ZoneInfo, now: datetime
) -> list[dict[str, Any]]:
    """Every entry, those taken back struck through, late ones marked."""
    gone = {row.reverses_id for row, _ in rows if row.reverses_id is not None}
    return [_entry(row, person.name, row.id in gone, actor, zone, now) for row, person in rows]


def _entry(
    row: CheckDone, who: str, gone: bool, actor: Actor, zone: ZoneInfo, now: datetime
) -> dict[str, Any]:
    said = [text for text in (row.sentence, row.done_about and f"Done about it: {row.done_about}") if text]
    if row.late:
        said.append(f"Late entry, written down {instant(row.recorded_at, zone.key)}: {row.late_reason}")
    cells: list[Any] = [*said] or ["nothing more"]
    if row.photo_sha256:
        href = f"/recurring-checks/{row.check_id}/entries/{row.id}/photo"
        cells.append({"href": href, "words": "Photograph"})
    words = RESULT_WORDS[row.result]
    if row.result is Result.TAKEN_BACK:
        words = f"entry {row.reverses_id} taken back"
    elif gone:
        words = f"{words}, taken back later"
    found = {
        "on": {"lines": [instant(row.happened_at, zone.key), f"entry {row.id}"]},
        "result": words, "who": who, "said": {"lines": cells},
        "_class": "struck" if gone else "",
    }  # fmt: skip
    if not gone and row.result is not Result.TAKEN_BACK and _may_take_back(row, actor, zone, now):
        cells.append({"href": f"/recurring-checks/entries/{row.id}/take-back", "words": "Take it back"})
    return found


def _may_take_back(row: CheckDone, actor: Actor, zone: ZoneInfo, now: datetime) -> bool:
    if may(actor.role, Permission.REVERSE_ANY):
        return True
    same_day = row.recorded_at.astimezone(zone).date() == now.astimezone(zone).date()
    return may(actor.role, Permission.DO_CHECKS) and row.person_id == actor.person_id and same_day


def facts(session: Session, seen: SeenCheck, today: date) -> list[tuple[Any, ...]]:
    """What stands at the head of the page of one check."""
    row: RecurringCheck = seen.row
    place: Any = "no place of the list"
    if row.place_id:
        place = {"href": f"/places/{row.place_id}", "words": seen.place}
    until = f" until {day(row.until)}" if row.until else ""
    duty = open_failure(session, seen.number)
    standing = f"not fine since {day(duty.created_at.date())}" if duty else last_words(seen)
    return [
        ("Next", due_words(seen.state, today)),
        ("Last", standing if not duty else f"{last_words(seen)}; {standing}"),
        ("What to look at", row.look_at or "nothing written down"),
        ("Where", place),
        ("How often", seen.plan.interval.words, f"Whose word: {row.source}"),
        ("Who sees to it", seen.owner),
        ("In force", f"from {day(row.since)}{until}"),
    ]
