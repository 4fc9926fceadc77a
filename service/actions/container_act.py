"""What every act on one container has in common: how it is asked, how it is settled, what is answered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlmodel import Session

from service.actions.follow_pourings import follow_pourings
from service.actions.found_more import looks_watched
from service.actions.post_movement import EventFacts, record_event
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.tell_of_held import tell_of_held
from service.core.access import Actor
from service.core.containers import ContainerState, EventKind
from service.core.findings import Invalid
from service.core.months import earliest
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.records.jobs import Job
from service.records.stock_queries import Held, hold_one

_NOT_IN_BODY = frozenset({"once", "late_reason"})


@dataclass(frozen=True, kw_only=True)
class ContainerAsked:
    """What every act on a container says.

    Args:
        once: the key that makes resending harmless, 1 to 64 signs.
        code: the shelf code as scanned or typed.
        happened_at: when it was done, aware; None = now.
        already_done: True for an act that has happened: it is recorded even where it would have been refused.
        late_reason: the sentence that a late entry needs.
    """

    once: str
    code: str
    happened_at: datetime | None = None
    already_done: bool = False
    late_reason: str = ""

    def body(self) -> dict[str, Any]:
        """Everything that makes this act another one than the next, as plain data."""
        return {
            f.name: _plain(getattr(self, f.name)) for f in fields(self) if f.name not in _NOT_IN_BODY
        }


def _plain(value: Any) -> Any:
    if isinstance(value, datetime | date):
        return value.isoformat()
    return value.value if isinstance(value, StrEnum) else value


def settle_container_act(
    session: Session,
    actor: Actor,
    now: datetime,
    asked: ContainerAsked,
    name: str,
    perform: Callable[[Act, Held], dict[str, Any]],
    *,
    has_happened: bool = False,
) -> Settled:
    """Settle an act on the one container it names, which is locked while it is worked on.

    Args:
        has_happened: True where the act itself is news of something (a spill): it is never refused for what
            should not have been done, only recorded with it.
    """
    done = asked.already_done or has_happened
    sent = Sent(asked.once, name, asked.body(), asked.happened_at, done, asked.late_reason, has_happened)

    def work(act: Act) -> dict[str, Any]:
        held = hold_one(act.session, asked.code)
        opened, before = _known_open(held), held.container.balance
        with looks_watched(act, held):
            result = perform(act, held)
        tell_of_held(act, held, before)
        now_open = _known_open(held)
        if opened is not None and now_open is not None and now_open < opened:
            follow_pourings(act, held)
        return result | {"container": told(held)}

    return settle(session, actor, sent, now, work)


def _known_open(held: Held) -> date | None:
    return earliest(held.container.opened_on, held.container.opened_by)


def told(held: Held) -> dict[str, Any]:
    """How a container is after an act, as plain data."""
    box = held.container
    basis = held.material.basis
    return {
        "code": box.code,
        "shown": show_code(box.code),
        "material": held.material.name,
        "state": box.state.value,
        "amount": box.balance,
        "basis": basis.value if basis else None,
        "known": box.balance_known.value,
        "words": show_amount(box.balance, basis) if basis else "not known",
    }


def say_left(held: Held) -> str:
    """What is left, in words.

    For a flash sentence: "750 g left", "nothing left", "how much is left is not known".
    """
    amount, basis = held.container.balance, held.material.basis
    if amount is None or basis is None:
        return "how much is left is not known"
    return f"{show_amount(amount, basis)} left" if amount else "nothing left"


@dataclass(frozen=True)
class Opening:
    """What is known about the first opening: a day, or that nobody knows it. Neither: the day of the act."""

    on: date | None = None
    not_known: bool = False


def note_first_opening(act: Act, held: Held, opening: Opening, job: Job | None = None) -> None:
    """Book the opening of a container whose seal this act breaks; does nothing to one that was opened.

    Raises:
        Invalid: the day is after the day of the act; `errors` names ``opened_on``.
    """
    if held.container.state is not ContainerState.SEALED:
        return
    day = None if opening.not_known else (opening.on or act.day)
    check_opening_day(act, day)
    record_event(act, held, EventKind.OPENED, EventFacts(day, job=job))


def check_opening_day(act: Act, day: date | None) -> None:
    """Refuse an opening day that has not come yet."""
    if day is not None and day > act.day:
        raise Invalid(
            "It cannot have been opened after this was done.",
            {"opened_on": "Enter the day it was first opened: that day or an earlier one."},
        )
