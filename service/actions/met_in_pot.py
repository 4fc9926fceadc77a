"""What should never have met and stands together in a pot or in a jar made from it.

A stop that was recorded because it had happened is not over with the recording: it is said wherever somebody
looks at the batch, fills it into a jar, or opens the jar. A condition confirmed in writing is no stop here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from sqlmodel import Session

from service.actions.expand_mixes import batches_in_container
from service.actions.judge_never_with import (
    answered,
    answers_to,
    judge_batches_together,
    judge_never_with,
    judge_pot,
    keep_answers,
)
from service.actions.post_movement import name_of
from service.actions.rag_duty import refuse_or_record
from service.actions.settle import Act
from service.core.after_use_words import DO_NOT_STIR, MET, NOT_KEPT, AfterUse
from service.core.findings import Finding, Severity, Verdict, stop
from service.core.never_with import without_answered
from service.records.knowledge_never_with import never_with
from service.records.mixing import Batch
from service.records.stock import Container
from service.records.stock_queries import Held, material_of

SHUT_IN: Final = "never-shut-in"
_DO: Final = (
    "If it fumes, hisses or smells, leave the room, do not breathe it and call for help. What gives off gas "
    "or heat bursts a closed jar. Leave the pot open outdoors or under extraction, keep people and flames "
    "away, and follow the safety data sheets of what went in before anybody moves it. It goes into no jar; "
    "give the batch up and say where it went."
)

_USE_UP: Final = (
    "That was confirmed for use at once: it goes on giving off gas or heat, and a closed jar bursts. Use it "
    "up from the open pot, or give the batch up and say where it went."
)


def met_in_batch(session: Session, batch_id: int) -> Verdict:
    """The stops that stand in a batch as it is, each once; empty where there are none."""
    return _stops(without_answered(judge_pot(session, batch_id), answered(session, batch_id)))


def met_in_container(session: Session, box: Container) -> Verdict:
    """The same of all batches a jar may hold, with each other too; empty for what was not made here."""
    if box.made_by_batch_id is None:
        return Verdict()
    batches = batches_in_container(session, box) or [box.made_by_batch_id]
    found = [finding for number in batches for finding in met_in_batch(session, number)]
    if len(batches) > 1:
        found += judge_batches_together(session, material_of(session, box), batches)
    return _stops(found)


def judge_poured(act: Act, source: Held, target: Held) -> None:
    """Whether what two jars hold may meet when one is poured into the other.

    Raises:
        Refused: a row stops it; what has happened is recorded with it.
    """
    boxes = [source.container, target.container]
    refuse_or_record(act, _stops(judge_never_with(act.session, [source.material], boxes)), name_of(target))


def not_into_a_jar(session: Session, batch_id: int) -> Verdict:
    """Why a batch is filled into no jar: what met in it, and what to do instead."""
    met = met_in_batch(session, batch_id)
    if met.findings:
        return Verdict.of([stop(SHUT_IN, _DO), *met])
    at_once = {row.code for row in never_with() if row.no_jar}
    return Verdict.of(
        stop(SHUT_IN, f"{f.sentence.partition(' Only if ')[0]} {_USE_UP}", f.source, f.about)
        for f in judge_pot(session, batch_id)
        if f.severity is Severity.STOP and f.code in at_once
    )


def judge_jars(act: Act, batch: Batch, sentence: str) -> None:
    """Whether a batch may be filled into jars, after what this person's sentence answers of it.

    Raises:
        Refused: something stands in it that should never have met, and nobody answered it.
        Invalid: it has happened, and nobody says why; or ``confirmation`` is no sentence.
    """
    assert batch.id is not None
    now = answers_to(act, met_in_batch(act.session, batch.id), sentence)
    keep_answers(act, batch, now, sentence)
    act.session.flush()
    refuse_or_record(act, not_into_a_jar(act.session, batch.id), f"jars of batch {batch.id}")


def after_what_met(met: Verdict, usual: AfterUse) -> AfterUse:
    """What to do afterwards: where things met that never should, only that."""
    return MET if met.findings else usual


def after_batch(session: Session, batch_id: int, usual: AfterUse) -> AfterUse:
    """The same of a batch; of one that is for use at once nothing is said of keeping it."""
    met = met_in_batch(session, batch_id)
    if not met.findings and not_into_a_jar(session, batch_id).findings:
        return replace(usual, left_over=NOT_KEPT)
    return after_what_met(met, usual)


def stir_what_met(met: Verdict, usual: str) -> str:
    """How it is stirred: not at all, where things met that never should."""
    return DO_NOT_STIR if met.findings else usual


def _stops(findings: Iterable[Finding]) -> Verdict:
    return Verdict.of(dict.fromkeys(one for one in findings if one.severity is Severity.STOP))
