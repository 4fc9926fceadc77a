"""Recurring checks that are due, as the alerts and the morning mail tell them: whose, and what to do."""

from __future__ import annotations

from datetime import date
from typing import Final

from sqlmodel import Session

from service.core.alerts import DutyFact, Owner
from service.core.months import say_date
from service.records.check_queries import SeenCheck, seen_checks
from service.records.owners import Here

PUT_RIGHT: Final = "Put it right, then check it again and write down that it is fine."


def due_checks(session: Session, today: date, who: tuple[dict[int, Here], Owner]) -> list[DutyFact]:
    """Every check that will be due, with its day. Who is not here any more leaves it to the keepers.

    A late one is to be done today and stops nobody: no row of recurring_checks.csv says that work stands
    until a look is made up for. What a look found not fine is a duty of its own, and that one does.

    Args:
        who: everybody who is here, and the keepers.
    """
    here, keepers = who
    return [_fact(seen, here, keepers) for seen in seen_checks(session, today) if seen.state.due is not None]


def _fact(seen: SeenCheck, here: dict[int, Here], keepers: Owner) -> DutyFact:
    state, number = seen.state, seen.row.owner_id
    assert state.due is not None
    owner = Owner(here[number].name, (number,)) if number in here else keepers
    last = f"last on {say_date(state.last.on)}" if state.last else "never made, or nobody wrote it down"
    days = "day" if state.late_days == 1 else "days"
    late = f" {state.late_days} {days} late;" if state.late else ""
    return DutyFact(
        f"Check: {seen.name}.{late} {last}." if late else f"Check: {seen.name}; {last}.",
        state.due, seen.name, owner.words, overdue=state.late, ref=f"recurring-check {seen.number}",
        people=owner.people, stops=False,
        what_to_do=seen.row.look_at or "Look at it and write down what you found.",
    )  # fmt: skip
