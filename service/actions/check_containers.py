"""One container told again from its movements and events, and held against what is stored of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.core.ageing import alert_dates, judge
from service.core.container_steps import OPENING_ACTS
from service.core.container_story import Story, StoryStep, tell_again
from service.core.containers import ContainerState, EventKind
from service.core.ledger import NOTHING_BOOKED, MovementKind, MovementLine, add_line, fold
from service.core.reversals import check_lines
from service.core.shelf_codes import show_code
from service.records.ledger_rows import EventRow, MovementRow, Told, ledger_lines
from service.records.shop import BookClock, ShopProfile
from service.records.stood_rows import StoodRow

# A delivery of cans alike has one life between them; the answers are kept, not worked out for each can.
_changes: Final = lru_cache(maxsize=20_000)(alert_dates)
_judged: Final = lru_cache(maxsize=20_000)(judge)


@dataclass(frozen=True)
class Wall:
    """The shop's zone, and the day of the book's last entry; None where there is no shop or no entry yet."""

    zone: ZoneInfo | None
    today: date | None


def wall_of(session: Session) -> Wall:
    """The wall calendar that stored dates are held against."""
    clock, shop = session.get(BookClock, 1), session.get(ShopProfile, 1)
    zone = ZoneInfo(shop.time_zone) if shop else None
    return Wall(zone, clock.last_recorded_at.astimezone(zone).date() if clock and zone else None)


def container_faults(told: Told, wall: Wall) -> Iterator[str]:
    """Everything in which a container differs from its own acts, in sentences."""
    container, movements, events = told.row, told.movements, told.events
    name = show_code(container.code)
    lines = ledger_lines(movements)
    for finding in check_lines(lines):
        yield f"{name}: {finding.sentence}"
    yield from (f"{name}: {words}" for words in _amounts(container, movements, lines))
    came_open = brought_open(container.ever_opened, movements, events)
    story = tell_again(story_steps(movements, events), brought_open=came_open)
    yield from (f"{name}: {words}" for words in _state(container, story))
    yield from (f"{name}: {words}" for words in _place(container, events))
    yield from (f"{name}: {words}" for words in _opening(wall.zone, container, movements, events))
    yield from (f"{name}: {words}" for words in _dates(told, wall))


def _amounts(
    container: StoodRow, movements: Sequence[MovementRow], lines: list[MovementLine]
) -> Iterator[str]:
    balance = fold(lines)
    if (container.balance, container.balance_known) != (balance.amount, balance.known):
        yield f"it says {_said(container.balance)} is in it, its movements come to {_said(balance.amount)}."
    after = NOTHING_BOOKED
    for at, (movement, line) in enumerate(zip(movements, lines, strict=True)):
        undoes = line.kind is MovementKind.REVERSAL
        after = fold(lines[: at + 1]) if undoes else add_line(after, line)
        if movement.balance_after != after.amount:
            yield (
                f"entry {movement.id} says {_said(movement.balance_after)} was left, "
                f"the movements up to it come to {_said(after.amount)}."
            )


def _said(amount: int | None) -> str:
    return "an unknown amount" if amount is None else str(amount)


def story_steps(movements: Sequence[MovementRow], events: Sequence[EventRow]) -> list[StoryStep]:
    """Movements and events in the order they were written: what brought it in first, then each posting."""
    first = movements[0].id if movements else None
    keyed: list[tuple[tuple[int, int, int], StoryStep]] = []
    for movement, line in zip(movements, ledger_lines(movements), strict=True):
        key = (movement.posting_id, 0 if movement.id == first else 2, movement.id or 0)
        keyed.append((key, StoryStep(movement.kind, line)))
    for event in events:
        keyed.append(((event.posting_id, 1, event.id or 0), StoryStep(event.kind)))
    return [step for _, step in sorted(keyed, key=lambda pair: pair[0])]


def brought_open(
    ever_opened: bool, movements: Sequence[MovementRow], events: Sequence[EventRow]
) -> bool:
    """It came open: said so with what brought it in, or it was poured or made here."""
    if not movements:
        return ever_opened
    first = movements[0]
    if first.kind is not MovementKind.RECEIVE:
        return True
    return any(e.posting_id == first.posting_id and e.kind is EventKind.OPENED for e in events)


def _state(container: StoodRow, story: Story) -> Iterator[str]:
    for fault in story.faults:
        yield f"{fault}."
    if story.state is None:
        yield "it is in the store, but nothing ever brought it in."
        return
    if container.state is not story.state:
        yield f"it says {container.state.value}, its acts lead to {story.state.value}."
    if container.ever_opened != story.ever_opened:
        opened = "was opened" if story.ever_opened else "was never opened"
        yield f"by its acts it {opened}; it says otherwise."


def _opening(
    zone: ZoneInfo | None, container: StoodRow, movements: Sequence[MovementRow], events: Sequence[EventRow]
) -> Iterator[str]:
    """A known opening day is the day of some opening; what was poured or made here inherited its own."""
    day = container.opened_on
    brought = bool(movements) and movements[0].kind is MovementKind.RECEIVE
    poured = any(m.kind is MovementKind.DECANT_IN for m in movements)
    if zone is None or day is None or poured or not brought:
        return
    days = {m.happened_at.astimezone(zone).date() for m in movements if m.kind in OPENING_ACTS}
    days |= {e.on_date for e in events if e.kind is EventKind.OPENED and e.on_date is not None}
    if day not in days:
        yield f"it says opened on {day}, but none of its acts opened it that day."


def _place(container: StoodRow, events: Sequence[EventRow]) -> Iterator[str]:
    moves = [e for e in events if e.kind is EventKind.MOVED]
    if moves and moves[-1].to_place_id != container.place_id:
        yield "it stands at another place than its last move says."


def _dates(told: Told, wall: Wall) -> Iterator[str]:
    """The stored standing and dates must be those of the stretch up to the next change of standing.

    What is empty or gone waits for no date.
    """
    container, today = told.row, wall.today
    if container.state not in (ContainerState.SEALED, ContainerState.OPEN):
        if container.next_alert_on is not None:
            yield f"it is {container.state.value}, but a change of standing is stored."
        return
    if today is None:
        return
    changes, due = _changes(told.life), container.next_alert_on
    if due is not None and due not in changes:
        yield f"its next change of standing is stored as {due}, which its dates do not give."
        return
    if due is None and any(day > today for day in changes):
        yield "no change of standing is stored, but its dates give one."
        return
    at = _judged(told.life, due - timedelta(days=1) if due else today)
    if container.in_date_until != at.in_date_until:
        yield f"it says in date until {container.in_date_until}, its dates give {at.in_date_until}."
    if container.standing is not at.standing:
        yield f"it says {container.standing.value}, its dates give {at.standing.value}."
