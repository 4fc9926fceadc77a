"""Who owes a rag load, and who answers for what went wrong: a keeper says, and it stands in the log."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.handle_rags import held_load
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, may, require
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Verdict, stop
from service.core.rag_override import is_party
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.duties import Duty
from service.records.people import Person
from service.records.rag_queries import active_keepers
from service.records.rags import RagLoad, RagLogRow

REASON_MAX = 1000


def give_to(
    session: Session, actor: Actor, now: datetime, load_id: int, person_id: int, reason: str, once: str
) -> Settled:
    """Another person owes this load from now on. A keeper decides; both clocks stay where they are.

    Raises:
        NotAllowed: not a keeper.
        Invalid: that person cannot put rags away, or the reason is too short.
        Refused: it has ended; or it is overdue and the keeper's own, and another keeper could decide.
    """
    require(actor, Permission.GIVE_RAGS_ON)
    text = _reason(reason, "Say why somebody else owes it now.")
    body = {"load": load_id, "to": person_id, "reason": text}
    sent = Sent(once, "give-rags", body)
    return settle(session, actor, sent, now, lambda act: _give(act, load_id, person_id, text))


def _reason(text: str, words: str) -> str:
    tidy = " ".join(text.split())
    if not is_sentence(tidy) or len(tidy) > REASON_MAX:
        said = f"{words} Write {A_SENTENCE}; at most {REASON_MAX} signs."
        raise Invalid(said, {"reason": said})
    return tidy


def _give(act: Act, load_id: int, person_id: int, reason: str) -> dict[str, Any]:
    seen = held_load(act, load_id)
    load = seen.row
    if seen.state.ended:
        raise Refused(Verdict.of([stop("rags-ended", "This load has ended; nobody owes it any more.")]))
    if seen.judgement.blocks and is_party(
        act.actor.person_id, {load.owed_by}, active_keepers(act.session)
    ):
        words = "You owe this load and it is overdue. Put it away, or let another keeper decide."
        raise Refused(Verdict.of([stop("rags-own-load", words)]))
    person = act.session.get(Person, person_id)
    if person is None or not person.active or not may(person.role, Permission.CONTAIN_RAGS):
        words = "Choose a finisher or keeper who is in the books."
        raise Invalid(words, {"person": words})
    before, load.owed_by = load.owed_by, person_id
    act.session.add(load)
    _log(act, "given-to", load_id, {"from": before, "to": person_id, "reason": reason})
    act.session.flush()
    return {"load": load_id, "owed_by": person_id, "remove_by": load.remove_by.isoformat()}


def _log(act: Act, kind: str, load_id: int | None, data: dict[str, object]) -> None:
    write_rag_log(
        act.session,
        kind=kind,
        load_id=load_id,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data=data,
    )


def answer_violation(
    session: Session, actor: Actor, now: datetime, duty_id: int, answer: str, once: str
) -> Settled:
    """A keeper says what was done about a violation. The violation stands; the answer joins it in the log.

    Raises:
        NotFound: no violation has this number.
        NotAllowed: not a keeper, or the keeper whose own violation it is while another keeper exists.
        Invalid: the answer is too short.
        Refused: it has been answered.
    """
    require(actor, Permission.ANSWER_VIOLATION)
    text = _reason(answer, "Say what was done about it.")
    sent = Sent(once, "answer-violation", {"duty": duty_id, "answer": text})
    return settle(session, actor, sent, now, lambda act: _answer(act, duty_id, text))


def _answer(act: Act, duty_id: int, answer: str) -> dict[str, Any]:
    query = select(Duty).where(col(Duty.id) == duty_id, col(Duty.keeper_answers).is_(True))
    locked = query.with_for_update().execution_options(populate_existing=True)
    duty = act.session.exec(locked).one_or_none()
    if duty is None:
        raise NotFound(f"There is no violation number {duty_id}.")
    if duty.done_at is not None:
        raise Refused(Verdict.of([stop("violation-answered", "This one has been answered already.")]))
    if is_party(act.actor.person_id, parties_to(act.session, duty), active_keepers(act.session)):
        raise NotAllowed("It is your own violation or your own load. Let another keeper answer it.")
    duty.done_at, duty.done_by, duty.answer = act.recorded_at, act.actor.person_id, answer
    act.session.add(duty)
    load_id = duty.about_id if duty.about_kind == "rag-load" else None
    _log(act, "answer", load_id, {"duty": duty_id, "about": duty.sentence, "answer": answer})
    act.session.flush()
    return {"violation": duty_id, "answered_at": act.recorded_at.isoformat()}


def parties_to(session: Session, duty: Duty) -> set[int]:
    """Who did it and who owed the load, by the log: they do not answer for themselves.

    Whoever owed the load at any time counts, so that giving it away beforehand helps nobody.
    """
    if duty.about_kind == "rag-load":
        load = session.get(RagLoad, duty.about_id)
        return ({load.owed_by} if load else set()) | _named(session, col(RagLogRow.load_id) == duty.about_id)
    return _named(session, col(RagLogRow.posting_id) == duty.about_id)


def _named(session: Session, where: Any) -> set[int]:
    kinds = ["violation", "load-made", "given-to"]
    found: set[int] = set()
    for row in session.exec(select(RagLogRow).where(where, col(RagLogRow.kind).in_(kinds))).all():
        body = json.loads(row.body)
        who = [body.get("from")] if row.kind == "given-to" else [body.get("owed_by")]
        if row.kind == "violation" and row.load_id is None:
            who = [row.person_id]
        found.update(number for number in who if isinstance(number, int))
    return found
