"""The page of one colour sample: its facts, its additions step by step, and the two forms on it."""

from typing import Any

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session

from service.actions.keep_as_made import AS_MADE_STATES, stands_as_made
from service.actions.start_sample import board_of
from service.actions.what_went_in import WentIn
from service.core.access import Actor, Permission, may
from service.core.colour_samples import VERDICT_WORDS, board_words
from service.core.findings import Verdict
from service.core.shelf_codes import show_code
from service.records.jobs import Job
from service.records.mixing import BATCH_WORDS, BatchState
from service.records.mixing_queries import Added
from service.records.people import Person
from service.web.deps import shop_zone
from service.web.forms import Posted, filled
from service.web.pages.recipes import fresh_once
from service.web.render import instant, page
from service.web.sample_words import SeenSample, stepped, verdict_words

VERDICTS = [(v.value, words, "") for v, words in VERDICT_WORDS.items()]
STEPS = [
    {"key": "material", "label": "Material"},
    {"key": "amount", "label": "Put in", "number": True},
    {"key": "total", "label": "All up to here", "number": True},
    {"key": "share", "label": "Share by weight", "number": True},
    {"key": "code", "label": "From"},
    {"key": "when", "label": "When"},
]


def sample_page(
    request: Request, session: Session, actor: Actor, seen: SeenSample, status: int = 200, *,
    judged: Posted[Any] | None = None, wanted: Posted[Any] | None = None,
) -> Response:  # fmt: skip
    """The page; ``judged`` and ``wanted`` are the forms of the verdict and of "make this much", as sent."""
    sample, batch = seen.sample, seen.batch
    zone = shop_zone(session).key
    went_in, rows = stepped(session, sample.batch_id)
    makes = may(actor.role, Permission.BATCHES)
    as_made = batch.state in AS_MADE_STATES and bool(went_in.made.lines)
    context = {
        "sample": sample,
        "batch": batch,
        "recipe": seen.recipe,
        "sees_recipe": may(actor.role, Permission.SEE_STORE),
        "facts": _facts(session, seen, zone),
        "columns": STEPS,
        "rows": [
            {
                "material": one.added.material.name,
                "amount": one.amount,
                "total": one.total,
                "share": one.share,
                "code": _from(one.added),
                "when": instant(one.added.row.added_at, zone),
            }
            for one in rows
        ],
        "verdict": Verdict.of(went_in.made.findings),
        "put_back": len(went_in.made.lines) > 0 and _differs(went_in),
        "running": batch.state is BatchState.RUNNING,
        "judged": judged or filled(verdict=sample.verdict or "", note=sample.verdict_note, once=fresh_once(),
                                   version=sample.version),
        "wanted": wanted or filled(once=fresh_once()),
        "verdicts": VERDICTS,
        "may_make": makes,
        "may_have_more": makes and as_made,
        "stands": as_made and stands_as_made(session, actor, batch),
    }  # fmt: skip
    return page(request, "samples/one.html", context, status, section="bench")


def _differs(went_in: WentIn) -> bool:
    """Whether something was put back: the lines then hold less than the additions."""
    put_in: dict[int, int] = {}
    for one, span in zip(went_in.added, went_in.spans, strict=True):
        put_in[one.row.material_id] = put_in.get(one.row.material_id, 0) + span.low
    kept = {line.material_id: line.amount for line in went_in.made.lines}
    return any(kept.get(number, 0) != amount for number, amount in put_in.items())


def _from(added: Added) -> Any:
    box = added.container
    if box is None:
        return "the tap"
    return {"href": f"/C/{box.code}", "words": show_code(box.code)}


def _facts(session: Session, seen: SeenSample, zone: str) -> list[tuple[Any, ...]]:
    sample, batch = seen.sample, seen.batch
    job = session.get(Job, batch.job_id) if batch.job_id is not None else None
    judge = session.get(Person, sample.judged_by) if sample.judged_by is not None else None
    begun = session.get(Person, sample.person_id)
    facts: list[tuple[Any, ...]] = [
        ("Board", board_words(board_of(sample))),
        ("To match", sample.target),
        ("Verdict", verdict_words(sample)),
    ]
    if judge is not None and sample.judged_at is not None:
        facts.append(("Judged", f"{judge.name}, {instant(sample.judged_at, zone)}"))
    if sample.verdict_note:
        facts.append(("Note", sample.verdict_note))
    facts += [
        ("Begun", f"{begun.name if begun else 'not known'}, {instant(sample.created_at, zone)}"),
        ("Batch", {"href": f"/bench/{batch.id}", "words": f"{batch.id}, {BATCH_WORDS[batch.state]}"}),
        ("Job", {"href": f"/jobs/{job.id}", "words": job.name} if job else "none"),
    ]
    if seen.recipe.purpose:
        facts.append(("For", seen.recipe.purpose))
    return facts
