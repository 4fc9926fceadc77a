"""A keeper lets one named draw or batch happen while rags are overdue; reason, end and use are written."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.settle import Act, Sent, Settled, settle
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, NotFound, Refused, Verdict, stop
from service.core.rag_override import Override as OverrideFacts
from service.core.rag_override import OverrideFor, may_override
from service.records.job_queries import the_job
from service.records.jobs import Job
from service.records.mixing import Recipe
from service.records.override_words import override_words, what_is_let_through
from service.records.people import Person
from service.records.rag_queries import active_keepers, standing_loads
from service.records.rags import Override, OverrideUse
from service.records.stock import Container
from service.records.stock_queries import container_by_code

FOR_WORDS = "Write “draw of” and the container's code, or “batch of recipe” and its number."


@dataclass(frozen=True)
class OverrideAsked:
    """What is to be let through. `until` None = until the job ends."""

    once: str
    kind: OverrideFor
    name: str
    job_id: int
    reason: str
    until: datetime | None = None

    def body(self) -> dict[str, Any]:
        return {
            "kind": self.kind.value,
            "name": self.name,
            "job": self.job_id,
            "reason": self.reason,
            "until": self.until.isoformat() if self.until else None,
        }


def read_for(text: str) -> tuple[OverrideFor, str]:
    """What "for" names.

    Raises:
        Invalid: neither a draw nor a batch.

    >>> read_for("draw of K7Q F2B"), read_for("batch of recipe 4")
    ((<OverrideFor.DRAW: 'draw'>, 'K7Q F2B'), (<OverrideFor.BATCH: 'batch'>, '4'))
    """
    # The (?!of\b) keeps "draw of" without a code from being a draw of a code "of".
    if match := re.fullmatch(r"\s*draw(?: of)?\s+(?!of\b)(\w[\w/:. -]{0,60}?)\s*", text, re.I | re.A):
        return OverrideFor.DRAW, match[1]
    if match := re.fullmatch(r"\s*batch(?: of)? recipe\s+(\d{1,9})\s*", text, re.I | re.A):
        return OverrideFor.BATCH, match[1]
    raise Invalid(FOR_WORDS, {"for": FOR_WORDS})


def give_override(session: Session, actor: Actor, now: datetime, asked: OverrideAsked) -> Settled:
    """Give an override for one draw (by its container) or one batch (by its recipe) in one job.

    Raises:
        NotAllowed: not a keeper.
        NotFound: no such container, recipe or job.
        Refused: core.rag_override says why not: nothing overdue, a load loose past its time, the keeper's own
            load while another keeper exists, an end after the job's, a reason too short.
    """
    require(actor, Permission.OVERRIDE)
    sent = Sent(asked.once, "give-override", asked.body())
    return settle(session, actor, sent, now, lambda act: _give(act, asked))


def _give(act: Act, asked: OverrideAsked) -> dict[str, Any]:
    job = the_job(act.session, asked.job_id)
    ends = min(job.ends_by, job.closed_at or job.ends_by)
    container, recipe = _named(act.session, asked)
    name = container.code if container else f"recipe {recipe.id}" if recipe else ""
    facts = OverrideFacts(asked.kind, name, asked.reason, asked.until or ends)
    verdict = may_override(
        actor=act.actor,
        override=facts,
        job_ends=ends,
        judgements=[j.judgement for j in standing_loads(act.session, act.recorded_at)],
        active_keepers=active_keepers(act.session),
        now=act.recorded_at,
    )
    if verdict.blocking:
        raise Refused(verdict)
    _none_is_open(act, asked.job_id, container, recipe)
    row = Override(
        keeper_id=act.actor.person_id,
        job_id=asked.job_id,
        container_id=container.id if container else None,
        recipe_id=recipe.id if recipe else None,
        reason=" ".join(asked.reason.split()),
        created_at=act.recorded_at,
        until=facts.until,
    )
    act.session.add(row)
    act.session.flush()
    write_rag_log(
        act.session,
        kind="override",
        load_id=None,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={
            "override": row.id, "for": asked.kind.value, "name": name, "job": job.id, "reason": row.reason,
            "until": row.until,
        },
    )  # fmt: skip
    return {"override": row.id, "for": override_words(container, recipe), "until": row.until.isoformat()}


def _none_is_open(act: Act, job_id: int, container: Container | None, recipe: Recipe | None) -> None:
    """One at a time: a second for the same draw or batch is given when the first was used or has lapsed.

    Raises:
        Refused: one for it in this job still waits to be used.
    """
    # Two keepers giving at once: the second waits here and then sees the first one's.
    act.session.exec(select(Job.id).where(col(Job.id) == job_id).with_for_update())
    query = select(Override.id).where(
        col(Override.job_id) == job_id,
        col(Override.container_id) == (container.id if container else None),
        col(Override.recipe_id) == (recipe.id if recipe else None),
        col(Override.until) >= act.recorded_at,
        col(Override.id).not_in(select(OverrideUse.override_id)),
    )
    if act.session.exec(query.limit(1)).first() is not None:
        words = (
            f"The {override_words(container, recipe)} is let through already and was not made yet. "
            "Let it be used first; another one then needs a reason of its own."
        )
        raise Refused(Verdict.of([stop("override-waits", words)]))


def _named(session: Session, asked: OverrideAsked) -> tuple[Container | None, Recipe | None]:
    if asked.kind is OverrideFor.DRAW:
        return container_by_code(session, asked.name), None
    number = int(asked.name) if asked.name.isdigit() and len(asked.name) < 10 else 0
    recipe = session.get(Recipe, number)
    if recipe is None:
        raise NotFound(f"There is no recipe number {asked.name[:20]}.")
    return None, recipe


@dataclass(frozen=True)
class OverrideShown:
    """One override as listed, with its use."""

    row: Override
    keeper: str
    job: str
    what: str
    used_by_posting: int | None


def overrides(session: Session, limit: int = 200) -> list[OverrideShown]:
    """The overrides given, newest first."""
    rows = session.exec(select(Override).order_by(col(Override.id).desc()).limit(limit)).all()
    shown: list[OverrideShown] = []
    for row in rows:
        keeper, use = session.get(Person, row.keeper_id), session.get(OverrideUse, row.id)
        what = what_is_let_through(session, row)
        job = the_job(session, row.job_id)
        shown.append(
            OverrideShown(row, keeper.name if keeper else "", job.name, what, use.posting_id if use else None)
        )
    return shown
