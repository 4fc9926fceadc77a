"""Writing movements and events of a container into the book: the only place that makes either.

A house test sees to it that no other file makes a `Movement` or a `ContainerEvent`. Whether something may be
taken at all is judged in gate.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final, NamedTuple

from sqlalchemy import insert

from service.actions.first_opening import lid_lifted, opened
from service.actions.how_it_stands import has_written, settle_its_dates
from service.actions.settle import Act
from service.core.container_steps import OPENING_ACTS, allowed, next_state, state_after_reversal
from service.core.containers import AmountKnown, EventKind
from service.core.counting import LATE_AGAIN
from service.core.findings import Refused, stop
from service.core.ledger import (
    INFLOWS,
    Balance,
    Destination,
    MovementKind,
    MovementLine,
    OtherSide,
    check_sign,
    counted_since,
    fold,
)
from service.core.life_facts import CheckOutcome
from service.core.shelf_codes import show_code
from service.records.jobs import Job
from service.records.kept_statements import write_row, write_rows
from service.records.material_queries import counts_self_heating
from service.records.settle_dates import settle_all_dates
from service.records.stock import ContainerEvent, Movement
from service.records.stock_queries import Held, lines_of


@dataclass(frozen=True)
class Line:
    """One movement as an action asks for it; amounts in whole smallest units, outflows negative."""

    kind: MovementKind
    change: int | None
    other_side: OtherSide
    known: AmountKnown = AmountKnown.MEASURED
    counted: int | None = None
    written: str = ""
    written_unit: str = ""
    density_used: Decimal | None = None
    how: str = ""
    other_text: str = ""
    destination: Destination | None = None
    other_container_id: int | None = None
    batch_id: int | None = None
    reverses_id: int | None = None
    reason: str = ""


@dataclass(frozen=True)
class EventFacts:
    """What an event says besides its kind. `on_date` None = not known; `found_out`: only now found out."""

    on_date: date | None = None
    outcome: CheckOutcome | None = None
    found: str | None = None
    measured_mg_l: Decimal | None = None
    to_place_id: int | None = None
    job: Job | None = None
    note: str = ""
    found_out: bool = False


class Written(NamedTuple):
    """A movement as it was written down: its number, and the rag load it joined."""

    id: int
    rag_load_id: int | None


_NEW_MOVEMENT: Final = insert(Movement)


def name_of(held: Held) -> str:
    """A container in words: "burnt umber in oil, K7Q F2B"."""
    return f"{held.material.name}, {show_code(held.container.code)}"


def post(
    act: Act,
    held: Held,
    line: Line,
    *,
    job: Job | None = None,
    rag_load_id: int | None = None,
    before: list[MovementLine] | None = None,
) -> Written:
    """Write one movement and bring the container's cached state, balance and dates up to it.

    Args:
        before: the container's whole ledger, if it was read within this act and has not grown since.

    Does not judge dates, people or rags: `gate.take` does. State steps and the balance are always judged.

    Raises:
        Refused: the container's state does not allow it, or the balance would fall below nothing.
    """
    container = held.container
    before = _counted_already(
        act, held, line, lines_of(act.session, held.container_id) if before is None else before
    )
    state = container.state if before else None
    trial = MovementLine(
        max((one.id for one in before), default=0) + 1,
        line.kind,
        line.change,
        line.known,
        line.counted,
        line.reverses_id,
        act.happened_at,
    )
    wrong = check_sign(trial)
    if line.kind is not MovementKind.REVERSAL:
        wrong = allowed(state, line.kind) + wrong
    balance = fold([*before, trial])
    if balance.amount is not None and balance.amount < 0:
        wrong += (stop("not-enough", "That is more than the book says is in it."),)
    if wrong.blocking:
        raise Refused(wrong)
    movement = _insert(act, held, line, balance, job, rag_load_id)
    container.balance, container.balance_known = balance.amount, balance.known
    if line.kind is MovementKind.REVERSAL:
        container.state = state_after_reversal(
            balance.amount,
            ever_opened=container.ever_opened,
            reversed_entry=bool(before) and line.reverses_id == before[0].id,
        )
    else:
        container.state = next_state(
            state, line.kind, emptied=balance.amount == 0, brought_open=container.ever_opened
        )
    if line.kind in OPENING_ACTS:
        lid_lifted(act, container)
    touch(act, held)
    _keep_counted(act, held, line, before)
    return movement


def post_first(act: Act, arrivals: Sequence[tuple[Held, Line, EventFacts | None]]) -> None:
    """Write the first movement of many containers that are new in the book, by a few writes for all.

    What came open gets its opening written too (`EventFacts`). Settles states, balances and dates as `post`
    and `record_event` do one by one.

    Raises:
        Refused: the amount does not go with its kind.
    """
    heats: dict[int | None, bool] = {}
    rows: list[dict[str, Any]] = []
    for held, line, _ in arrivals:
        trial = MovementLine(1, line.kind, line.change, line.known, line.counted, None, act.happened_at)
        wrong = check_sign(trial) + allowed(None, line.kind)
        if wrong.blocking:
            raise Refused(wrong)
        container, balance = held.container, fold([trial])
        if held.material.id not in heats:
            heats[held.material.id] = counts_self_heating(act.session, held.material)
        rows.append(_row(act, held, line, balance, None, None, heats[held.material.id]))
        container.balance, container.balance_known = balance.amount, balance.known
        container.state = next_state(None, line.kind, brought_open=container.ever_opened)
        container.version += 1
    write_rows(act.session, _NEW_MOVEMENT, rows)
    events = [_event(act, held, EventKind.OPENED, facts) for held, _, facts in arrivals if facts is not None]
    act.session.add_all(events)
    boxes = [(held.container, held.material) for held, _, _ in arrivals]
    settle_all_dates(act.session, boxes, act.recorded_at.astimezone(act.zone).date())
    act.session.flush()


def _insert(
    act: Act, held: Held, line: Line, balance: Balance, job: Job | None, rag_load_id: int | None
) -> Written:
    heats = counts_self_heating(act.session, held.material, held.container)
    row = _row(act, held, line, balance, job, rag_load_id, heats)
    number = write_row(act.session, _NEW_MOVEMENT, row)
    has_written(act, held, line.kind)
    return Written(number, rag_load_id)


def _row(
    act: Act, held: Held, line: Line, balance: Balance, job: Job | None, rag_load_id: int | None, heats: bool
) -> dict[str, Any]:
    return {
        "posting_id": act.posting_id,
        "container_id": held.container_id,
        "kind": line.kind,
        "change": line.change,
        "counted": line.counted,
        "known": line.known,
        "written": line.written[:200],
        "written_unit": line.written_unit,
        "density_used": line.density_used,
        "how": line.how[:300],
        "other_side": line.other_side,
        "other_text": line.other_text[:200],
        "destination": line.destination,
        "other_container_id": line.other_container_id,
        "batch_id": line.batch_id,
        "job_id": job.id if job else None,
        "rag_load_id": rag_load_id,
        "reverses_id": line.reverses_id,
        "reason": line.reason,
        "self_heating": heats,
        "balance_after": balance.amount,
        "person_id": act.actor.person_id,
        "happened_at": act.happened_at,
        "recorded_at": act.recorded_at,
        "late": act.posting.late,
    }


def _counted_already(act: Act, held: Held, line: Line, before: list[MovementLine]) -> list[MovementLine]:
    """A late taking from before a count was in that count already: put back first what it takes off again,
    so that the counted amount stands and nothing is overdrawn on the way.
    """
    if line.change is None or line.change >= 0 or not _from_before_a_count(act, line, before):
        return before
    kept = fold(before)
    if kept.amount is None:
        return before
    _state_again(act, held, -line.change, kept.amount - line.change, kept.known)
    return lines_of(act.session, held.container_id)


def _keep_counted(act: Act, held: Held, line: Line, before: list[MovementLine]) -> None:
    """The same for what came in, or whose size is not known: the counted amount is stated again after it."""
    if (line.change is not None and line.change < 0) or not _from_before_a_count(act, line, before):
        return
    kept = fold(before)
    if kept.amount is not None:
        change = None if line.change is None else -line.change
        _state_again(act, held, change, kept.amount, kept.known)


def _from_before_a_count(act: Act, line: Line, before: list[MovementLine]) -> bool:
    if line.counted is not None or line.kind is MovementKind.REVERSAL or not before:
        return False
    # What came in may have been in that count; that what went out was not in it takes a late entry to say.
    at = act.happened_at if line.kind in INFLOWS else act.judged_at
    return counted_since(before, at) is not None


def _state_again(act: Act, held: Held, change: int | None, counted: int, known: AmountKnown) -> None:
    post(
        act,
        held,
        Line(
            MovementKind.COUNT_DIFFERENCE,
            change,
            OtherSide.COUNT,
            known,
            counted=counted,
            reason=LATE_AGAIN,
        ),
    )


def record_event(
    act: Act, held: Held, kind: EventKind, facts: EventFacts, *, whatever_state: bool = False
) -> ContainerEvent:
    """Write one event and bring the container's cached state and dates up to it.

    ``whatever_state``: it was found elsewhere; what is empty or gone by the book may come back, and keeps its
    state.

    Raises:
        Refused: the container's state does not allow it.
    """
    container = held.container
    step = allowed(container.state, kind)
    if step.blocking and not whatever_state:
        raise Refused(step)
    event = _event(act, held, kind, facts)
    act.session.add(event)
    act.session.flush()
    has_written(act, held, kind)
    if not whatever_state:
        container.state = next_state(container.state, kind, emptied=kind is EventKind.EMPTIED)
    if kind is EventKind.OPENED:
        opened(act, container, facts.on_date, found_out=facts.found_out)
    if kind is EventKind.MOVED:
        container.place_id = facts.to_place_id
    touch(act, held)
    return event


def _event(act: Act, held: Held, kind: EventKind, facts: EventFacts) -> ContainerEvent:
    return ContainerEvent(
        posting_id=act.posting_id,
        container_id=held.container_id,
        kind=kind,
        on_date=facts.on_date,
        outcome=facts.outcome.value if facts.outcome else "",
        found=facts.found,
        measured_mg_l=facts.measured_mg_l,
        from_place_id=held.container.place_id if kind is EventKind.MOVED else None,
        to_place_id=facts.to_place_id,
        job_id=facts.job.id if facts.job else None,
        note=facts.note,
        person_id=act.actor.person_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        late=act.posting.late,
    )


def touch(act: Act, held: Held) -> None:
    """Count the container's version up and settle its dates."""
    held.container.version += 1
    act.session.add(held.container)
    # Its dates rest on rows that are written already, so that the container is written once, at the end.
    with act.session.no_autoflush:
        settle_its_dates(act, held)
    act.session.flush()
