"""One container told again from its movements and events, and held against what is stored of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.post_movement import ledger_lines
from service.core.ageing import alert_dates, judge
from service.core.container_steps import OPENING_ACTS
from service.core.container_story import Story, StoryStep, tell_again
from service.core.containers import ContainerState, EventKind
from service.core.ledger import NOTHING_BOOKED, MovementKind, MovementLine, add_line, fold
from service.core.reversals import check_lines
from service.core.shelf_codes import show_code
from service.records.ageing_queries import life_of
from service.records.shop import BookClock, ShopProfile
from service.records.stock import Container, ContainerEvent, Movement
from service.records.stock_queries import events_of, material_of, movements_of


def container_faults(session: Session, container: Container) -> Iterator[str]:
    """Everything in which a container differs from its own acts, in sentences."""
    assert container.id is not None
    name = show_code(container.code)
    movements, events = movements_of(session, container.id), events_of(session, container.id)
    lines = ledger_lines(movements)
    for finding in check_lines(lines):
        yield f"{name}: {finding.sentence}"
    yield from (f"{name}: {words}" for words in _amounts(container, movements, lines))
    came_open = _brought_open(container, movements, events)
    story = tell_again(story_steps(movements, events), brought_open=came_open)
    yield from (f"{name}: {words}" for words in _state(container, story))
    yield from (f"{name}: {words}" for words in _place(container, events))
    yield from (f"{name}: {words}" for words in _opening(session, container, movements, events))
    yield from (f"{name}: {words}" for words in _dates(session, container))


def _amounts(
    container: Container, movements: Sequence[Movement], lines: list[MovementLine]
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


def story_steps(movements: Sequence[Movement], events: Sequence[ContainerEvent]) -> list[StoryStep]:
    """Movements and events in the order they were written: what brought it in first, then each posting."""
    first = movements[0].id if movements else None
    keyed: list[tuple[tuple[int, int, int], StoryStep]] = []
    for movement, line in zip(movements, ledger_lines(movements), strict=True):
        key = (movement.posting_id, 0 if movement.id == first else 2, movement.id or 0)
        keyed.append((key, StoryStep(movement.kind, line)))
    for event in events:
        keyed.append(((event.posting_id, 1, event.id or 0), StoryStep(event.kind)))
    return [step for _, step in sorted(keyed, key=lambda pair: pair[0])]


def _brought_open(
    container: Container, movements: Sequence[Movement], events: Sequence[ContainerEvent]
) -> bool:
    """It came open: said so with what brought it in, or it was poured or made here."""
    if not movements:
        return container.ever_opened
    first = movements[0]
    if first.kind is not MovementKind.RECEIVE:
        return True
    return any(e.posting_id == first.posting_id and e.kind is EventKind.OPENED for e in events)


def _state(container: Container, story: Story) -> Iterator[str]:
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
    session: Session, container: Container, movements: Sequence[Movement], events: Sequence[ContainerEvent]
) -> Iterator[str]:
    """A known opening day is the day of some opening; what was poured or made here inherited its own."""
    shop, day = session.get(ShopProfile, 1), container.opened_on
    brought = bool(movements) and movements[0].kind is MovementKind.RECEIVE
    poured = any(m.kind is MovementKind.DECANT_IN for m in movements)
    if shop is None or day is None or poured or not brought:
        return
    zone = ZoneInfo(shop.time_zone)
    days = {m.happened_at.astimezone(zone).date() for m in movements if m.kind in OPENING_ACTS}
    days |= {e.on_date for e in events if e.kind is EventKind.OPENED and e.on_date is not None}
    if day not in days:
        yield f"it says opened on {day}, but none of its acts opened it that day."


def _place(container: Container, events: Sequence[ContainerEvent]) -> Iterator[str]:
    moves = [e for e in events if e.kind is EventKind.MOVED]
    if moves and moves[-1].to_place_id != container.place_id:
        yield "it stands at another place than its last move says."


def _dates(session: Session, container: Container) -> Iterator[str]:
    """The stored standing and dates must be those of the stretch up to the next change of standing.

    What is empty or gone waits for no date.
    """
    if container.state not in (ContainerState.SEALED, ContainerState.OPEN):
        if container.next_alert_on is not None:
            yield f"it is {container.state.value}, but a change of standing is stored."
        return
    life = life_of(session, container, material_of(session, container))
    clock, shop = session.get(BookClock, 1), session.get(ShopProfile, 1)
    if clock is None or shop is None:
        return
    today = clock.last_recorded_at.astimezone(ZoneInfo(shop.time_zone)).date()
    changes, due = alert_dates(life), container.next_alert_on
    if due is not None and due not in changes:
        yield f"its next change of standing is stored as {due}, which its dates do not give."
        return
    if due is None and any(day > today for day in changes):
        yield "no change of standing is stored, but its dates give one."
        return
    at = judge(life, due - timedelta(days=1) if due else today)
    if container.in_date_until != at.in_date_until:
        yield f"it says in date until {container.in_date_until}, its dates give {at.in_date_until}."
    if container.standing is not at.standing:
        yield f"it says {container.standing.value}, its dates give {at.standing.value}."
