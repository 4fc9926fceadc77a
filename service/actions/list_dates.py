"""The dates of one person's calendar: what they see to, for keepers every container. It only reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.core.access import Role
from service.core.ageing import judge, more_time
from service.core.calendar_entries import (
    BACK_DAYS,
    DatedCheck,
    DatedContainer,
    DatedDuty,
    Entry,
    Window,
    not_shown,
    of_check,
    of_container,
    of_duty,
)
from service.core.containers import ContainerState
from service.core.life_facts import CheckOutcome
from service.core.shop_days import due_day
from service.records.ageing_queries import lives_of_rows
from service.records.calendar_dates import (
    changes_of,
    check_changes,
    duties_of,
    emptied_since,
    newest,
    with_dates,
)
from service.records.check_queries import seen_checks
from service.records.duties import Duty
from service.records.owners import Here, who_is_here
from service.records.places import Place
from service.records.shop import ShopProfile
from service.records.stood_rows import StoodRow


@dataclass(frozen=True)
class Dates:
    """The entries in the order of their days, of which shop, and what makes their numbers its own."""

    shop: str
    owner: str
    entries: tuple[Entry, ...]
    shop_since: datetime


def list_dates(session: Session, now: datetime, person: Here) -> Dates:
    """What stands in somebody's calendar: from 90 days back to 400 days ahead of the shop's day.

    A finisher sees what they opened last or were handed, a keeper every container; others only what they
    owe: duties, and the recurring checks they see to. A container of which something is not known has no
    date. What is gone or done stays for 90 days, cancelled.
    """
    shop = session.get(ShopProfile, 1)
    assert shop is not None, "there is nobody in a shop that has not been set up"
    zone = ZoneInfo(shop.time_zone)
    today = now.astimezone(zone).date()
    window = Window.around(today)
    entries: list[Entry] = []
    for check in _checks(session, today, person):
        entries += of_check(check, window)
    if person.sees_to_containers:
        entries += _containers(session, today, window, zone, person)
    people = [person.id]
    if person.role is Role.KEEPER:
        people += _owing_and_gone(session, today)
    since = now - timedelta(days=BACK_DAYS)
    for duty in duties_of(session, people, since):
        entries += of_duty(_duty(duty, zone), window)
    ordered = sorted(entries, key=lambda one: (one.day, one.title, one.uid))
    return Dates(shop.name, person.name, tuple(ordered), shop.created_at)


def _owing_and_gone(session: Session, today: date) -> list[int]:
    """Who owes something and is not here any more: the keepers see to it."""
    here = who_is_here(session, today)
    owing = session.exec(select(Duty.owed_by).where(col(Duty.done_at).is_(None)).distinct()).all()
    return [number for number in owing if number not in here]


def _checks(session: Session, today: date, person: Here) -> list[DatedCheck]:
    """The checks somebody sees to; for a keeper also those of people who are not here any more."""
    here = who_is_here(session, today) if person.role is Role.KEEPER else {}
    found = []
    for seen in seen_checks(session, today):
        mine = seen.row.owner_id == person.id
        if seen.state.due is None or not (mine or (here and seen.row.owner_id not in here)):
            continue
        found.append(seen)
    changed = check_changes(session, [one.number for one in found])
    return [
        DatedCheck(
            one.number, one.name, one.row.look_at, f"To be made {one.plan.interval.words}.",
            one.state.due or today, one.row.version + changed[one.number].times,
            max(one.row.created_at, changed[one.number].at or one.row.created_at),
        )
        for one in found
    ]  # fmt: skip


def _duty(duty: Duty, zone: ZoneInfo) -> DatedDuty:
    assert duty.id is not None
    day = due_day(duty.due_at, zone)
    return DatedDuty(duty.id, duty.sentence, day, duty.done_at is not None, duty.done_at or duty.created_at)


def _containers(
    session: Session, today: date, window: Window, zone: ZoneInfo, person: Here
) -> list[Entry]:
    whose = None if person.role is Role.KEEPER else person.id
    kept, more = with_dates(session, window.since, window.until, whose)
    begin = datetime.combine(window.since, time(0), zone)
    left = emptied_since(session, begin, whose)
    dated = _dated(session, [*kept, *left], {row.id for row in left}, today)
    entries = [entry for one in dated for entry in of_container(one, window)]
    if more:
        # What is kept is cut by the day of the next change: nothing up to that day is missing.
        days = [row.next_alert_on for row in kept if row.next_alert_on is not None]
        last = max(days, default=window.until)
        sequence, stamp = newest(session)
        assert stamp is not None
        entries.append(not_shown(last, sequence, stamp))
    return entries


def _dated(session: Session, rows: Sequence[StoodRow], left: set[int], today: date) -> list[DatedContainer]:
    changed, places = changes_of(session, rows), _places(session, rows)
    found = []
    for row, life in zip(rows, lives_of_rows(session, rows), strict=True):
        ageing = judge(life, today)
        gone = row.id in left or row.state not in (ContainerState.SEALED, ContainerState.OPEN)
        found.append(
            DatedContainer(
                row.id, row.code, row.name, places.get(row.place_id or 0, ""),
                ageing.doubt.on if ageing.doubt else ageing.warn_from,
                ageing.in_date_until, more_time(life, ageing.in_date_until), gone,
                changed[row.id].times, changed[row.id].at,
                any(check.outcome is CheckOutcome.FAILED and check.on <= today for check in life.checks),
            )
        )
    return found


def _places(session: Session, rows: Sequence[StoodRow]) -> dict[int, str]:
    wanted = sorted({row.place_id for row in rows if row.place_id is not None})
    named = session.exec(select(Place.id, Place.name).where(col(Place.id).in_(wanted))).all()
    return {number: name for number, name in named if number is not None}
