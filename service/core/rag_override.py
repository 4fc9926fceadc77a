"""When a keeper may let one draw or one batch through although a rag load is overdue.

Doors: records/rags.py, actions/handle_rags.py, web/pages/rags.py, web/api/rags.py.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.core.access import Actor, Role
from service.core.findings import Finding, Findings, Verdict, stop
from service.core.rag_judgement import LoadJudgement
from service.core.rags import aware
from service.core.written_reason import A_SENTENCE, is_sentence

REASON_MIN = 15
REASON_MAX = 1000


class OverrideFor(StrEnum):
    """What one override lets through: one named draw or one named batch, never a person or a day."""

    DRAW = "draw"
    BATCH = "batch"


@dataclass(frozen=True)
class Override:
    """One override as asked for or as given. ``name`` names the one draw or batch; times are aware."""

    kind: OverrideFor
    name: str
    reason: str
    until: datetime


def may_override(
    *,
    actor: Actor,
    override: Override,
    job_ends: datetime,
    judgements: Sequence[LoadJudgement],
    active_keepers: Collection[int],
    now: datetime,
) -> Verdict:
    """Whether ``actor`` may give this override now: empty when yes, else a stop for each thing in the way.

    ``job_ends`` is the end of the job of the draw or batch; ``active_keepers`` the person ids of all keepers
    who can sign in. The keeper who owes an overdue load may not, if another keeper exists.
    """
    found = Findings()
    if actor.role is not Role.KEEPER:
        found.add(stop("override-keeper-only", "Only a keeper can let a draw or batch through. Ask one."))
    if not override.name.strip():
        found.add(stop("override-name-one", "Name the one draw or batch this is for."))
    found.add(*_reason_faults(override.reason))
    found.add(*_time_faults(override.until, aware(job_ends, "job_ends"), aware(now, "now")))
    found.add(*_loose(judgements))
    if not any(j.blocks for j in judgements):
        found.add(stop("override-not-needed", "No rag load is overdue, so there is nothing to let through."))
    owing = {j.load.owed_by_id for j in judgements if j.blocks and j.load.owed_by_id is not None}
    if is_party(actor.person_id, owing, active_keepers):
        found.add(
            stop("override-own-load", "You owe an overdue load yourself. Put it away, or ask another keeper.")
        )
    return found.verdict()


def is_party(person_id: int, parties: Collection[int], active_keepers: Collection[int]) -> bool:
    """Whether somebody would decide about an own load or violation although another keeper could.

    A script is no keeper of its own: behind it may stand any keeper who is a party.

    >>> is_party(1, {1}, [1, 2]), is_party(2, {1}, [1, 2]), is_party(1, {1}, [1]), is_party(9, {1}, [1, 2])
    (True, False, False, True)
    """
    if person_id in active_keepers or person_id in parties:
        return person_id in parties and any(keeper != person_id for keeper in active_keepers)
    return len(active_keepers) > 1 and any(keeper in parties for keeper in active_keepers)


def override_holds(
    override: Override,
    *,
    kind: OverrideFor,
    name: str,
    job_ends: datetime,
    judgements: Iterable[LoadJudgement],
    now: datetime,
) -> bool:
    """Whether an override that was given still lets this very draw or batch through.

    It lapses at its own end, at the end of the job (also when the job ended early), and as soon as any load
    is loose past its time.
    """
    same = override.kind is kind and override.name.strip() == name.strip() and bool(name.strip())
    in_time = aware(now, "now") <= min(aware(override.until, "until"), aware(job_ends, "job_ends"))
    return same and in_time and not any(j.loose_overdue for j in judgements)


def _reason_faults(reason: str) -> list[Finding]:
    text = " ".join(reason.split())
    if len(text) < REASON_MIN or not is_sentence(text):
        words = f"Write the reason as {A_SENTENCE}, so that it can be read a year from now."
        return [stop("override-reason", words)]
    if len(text) > REASON_MAX:
        return [stop("override-reason", f"Keep the reason under {REASON_MAX} letters.")]
    return []


def _time_faults(until: datetime, job_ends: datetime, now: datetime) -> list[Finding]:
    if job_ends <= now:
        return [stop("override-job-over", "The job has ended, so there is nothing left to let through.")]
    if aware(until, "until") > job_ends:
        return [stop("override-too-long", "It can last until that job ends, no longer. Choose a nearer end.")]
    if until <= now:
        return [stop("override-past", "That end has passed. Choose a time from now on.")]
    return []


def _loose(judgements: Iterable[LoadJudgement]) -> list[Finding]:
    return [
        stop(
            "override-loose",
            f"{j.load.name} is loose past its time; {j.load.owed_by} owes it. Contain "
            "it first: nothing can be let through until then.",
            "this house's rule",
            j.load.name,
        )
        for j in judgements
        if j.loose_overdue
    ]
