"""Saying that a duty was done, and how. Rags end with the rags, violations with a keeper's answer."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.drum_duty import KIND as DRUM_DUTY
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.store_gate import still_over
from service.core.access import Actor, Role
from service.core.containers import ContainerState
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Verdict, stop
from service.core.quantities import show_amount
from service.records.check_queries import FAILED_CHECK
from service.records.duties import MOVE_DUTY, TOLD_BY_SOMEBODY, WIPES, Duty
from service.records.stock import Container
from service.records.stock_queries import Held, material_of

SHORTEST_ANSWER = 5


def may_end_by_word(duty: Duty) -> bool:
    """Whether a word ends it. A drum or wipes end with their hand-over, a failed check with one that is fine,
    a violation with a keeper's answer.

    >>> may_end_by_word(Duty(kind="leaking-container", keeper_answers=False))
    True
    """
    return not duty.keeper_answers and duty.kind not in (DRUM_DUTY, WIPES, FAILED_CHECK)


def answer_duty(
    session: Session, actor: Actor, now: datetime, duty_id: int, answer: str, once: str
) -> Settled:
    """Mark a duty as done with a sentence that says how.

    Raises:
        NotFound: no open duty of this kind has this number.
        NotAllowed: somebody else owes it and the actor is no keeper.
        Invalid: the sentence is too short.
        Refused: it was done already, or what it is about is still there.
    """
    text = " ".join(answer.split())
    if sum(sign.isalpha() for sign in text) < SHORTEST_ANSWER:
        sentence = "Write in a few words what was done about it."
        raise Invalid(sentence, {"answer": sentence})
    sent = Sent(once, "answer-duty", {"duty": duty_id, "answer": text})
    return settle(session, actor, sent, now, lambda act: _answer(act, duty_id, text))


def _answer(act: Act, duty_id: int, answer: str) -> dict[str, Any]:
    query = select(Duty).where(col(Duty.id) == duty_id)
    duty = act.session.exec(query.with_for_update().execution_options(populate_existing=True)).one_or_none()
    if duty is None or not may_end_by_word(duty):
        raise NotFound(f"There is no duty number {duty_id} that ends by saying so.")
    if duty.owed_by != act.actor.person_id and act.actor.role is not Role.KEEPER:
        raise NotAllowed("Somebody else owes this. They or a keeper say that it is done.")
    if duty.done_at is not None:
        raise Refused(Verdict.of([stop("duty-done", "This was marked as done already.")]))
    _still_there(act.session, duty)
    duty.done_at, duty.done_by, duty.answer = act.recorded_at, act.actor.person_id, answer
    act.session.add(duty)
    act.session.flush()
    return {"duty": duty_id, "done_at": act.recorded_at.isoformat()}


def _still_there(session: Session, duty: Duty) -> None:
    """A leak is dealt with when nothing is left in the can that leaks, not when somebody says so; what was
    seen in a container is answered by looking at it.
    """
    if duty.kind == MOVE_DUTY:
        _still_over(session, duty)
    if duty.kind not in ("leaking-container", TOLD_BY_SOMEBODY) or duty.about_id is None:
        return
    container = session.get(Container, duty.about_id)
    if container is None or container.state in (ContainerState.EMPTY, ContainerState.GONE):
        return
    if duty.kind == TOLD_BY_SOMEBODY:
        if container.state is ContainerState.SEALED:
            return  # nobody looks through a lid; the doubt stands until it is opened and passes a check
        words = "Look at it, and write what you find as a check of its condition: that ends this."
        raise Refused(Verdict.of([stop("look-at-it", words)]))
    held = Held(container, material_of(session, container))
    left = show_amount(container.balance, held.basis)
    raise Refused(
        Verdict.of(
            [
                stop(
                    "still-leaking",
                    f"The book says it still holds {left}. Decant it into a sound one or discard it first.",
                )
            ]
        )
    )


def _still_over(session: Session, duty: Duty) -> None:
    """A move is made when the place of the container is within its limits, not when somebody says so."""
    container = session.get(Container, duty.about_id) if duty.about_id is not None else None
    if container is None or container.state is ContainerState.GONE:
        return
    over = still_over(session, container)
    if over.blocking:
        raise Refused(over)
