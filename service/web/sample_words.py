"""Colour samples as people may see them, and their additions with running totals, for pages and calls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session

from service.actions.what_went_in import WentIn, basis_of, what_went_in
from service.core.access import Actor
from service.core.additions import Span
from service.core.colour_samples import VERDICT_WORDS, SampleVerdict, Step, steps
from service.core.findings import NotFound
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.records.mixing import Batch, Recipe
from service.records.mixing_queries import Added, the_batch, the_recipe
from service.records.sample_queries import newest_samples, the_sample
from service.records.samples import ColourSample
from service.web.batch_words import in_its_job, seen_batch, sees_all


@dataclass(frozen=True)
class SeenSample:
    """A sample with its batch and recipe."""

    sample: ColourSample
    batch: Batch
    recipe: Recipe


def seen_sample(session: Session, actor: Actor, sample_id: int) -> SeenSample:
    """One sample, for somebody who may see it.

    Raises:
        NotFound: there is none, or it belongs to a job this student is not in; which of it is not told.
    """
    if sees_all(actor):
        sample = the_sample(session, sample_id)
        batch = the_batch(session, sample.batch_id)
        return SeenSample(sample, batch, the_recipe(session, batch.recipe_id))
    try:
        sample = the_sample(session, sample_id)
        batch = seen_batch(session, actor, sample.batch_id)
    except NotFound:
        words = f"No colour sample {sample_id} is in a job of yours. Ask the leader of its job to add you."
        raise NotFound(words) from None
    return SeenSample(sample, batch, the_recipe(session, batch.recipe_id))


def seen_samples(session: Session, actor: Actor, limit: int, offset: int = 0) -> list[SeenSample]:
    """The samples this person may see, the newest first."""
    if sees_all(actor):
        return [SeenSample(*row) for row in newest_samples(session, limit, offset)]
    rows = [SeenSample(*row) for row in newest_samples(session, 1000) if in_its_job(session, actor, row[1])]
    return rows[offset : offset + limit]


def verdict_words(sample: ColourSample) -> str:
    """The verdict in words; "not judged yet" without one."""
    return VERDICT_WORDS[SampleVerdict(sample.verdict)] if sample.verdict else "not judged yet"


@dataclass(frozen=True)
class Stepped:
    """One addition with its step."""

    added: Added
    span: Span
    step: Step

    @property
    def total(self) -> str:
        """The running total in words: grams, and "at least" while something in it is not known."""
        shown = show_amount(self.step.total_mg, Basis.MASS)
        return f"at least {shown}" if self.step.at_least else shown

    @property
    def share(self) -> str | None:
        """The share of the whole in words; None where it is not known."""
        return None if self.step.percent is None else f"{self.step.percent} %"

    @property
    def amount(self) -> str | None:
        """What was put in, as written; of what nobody measured the most that was said."""
        if self.added.row.amount is not None:
            return self.added.row.written
        if self.span.high is None:
            return "not measured"
        shown = show_amount(self.span.high, basis_of(self.added))
        return f"{shown}, by a later count" if self.span.known else f"not measured, at most {shown}"


def stepped(session: Session, batch_id: int) -> tuple[WentIn, Sequence[Stepped]]:
    """What went in, and each addition that stands with running total and share by mass."""
    went_in = what_went_in(session, batch_id)
    found = steps(went_in.parts())
    return went_in, [Stepped(*one) for one in zip(went_in.added, went_in.spans, found, strict=True)]
