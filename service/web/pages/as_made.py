"""`/bench/N/as-made`: what was planned and what really went in, what it cost, and keeping it as a version."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.cost_of_batch import BatchCost, cost_of_batch
from service.actions.keep_as_made import (
    AS_MADE_STATES,
    AsMadeAsked,
    AsMadeSeen,
    keep_as_made,
    look_at_as_made,
    stands_as_made,
)
from service.core.access import Actor, Permission, may
from service.core.as_made import DIFFERS_WORDS, Compared, MadeLine, Planned
from service.core.findings import Invalid, Verdict
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.records.mixing import BATCH_WORDS
from service.web.access_gate import Signed
from service.web.batch_words import seen_batch, sees_all
from service.web.chrome import flash
from service.web.deps import Data, Now
from service.web.fields import Id, Note, Once
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.recipes import fresh_once
from service.web.render import page

router = APIRouter(prefix="/bench", include_in_schema=False)

COLUMNS = [
    {"key": "material", "label": "Material"},
    {"key": "planned", "label": "Planned", "number": True},
    {"key": "made", "label": "Put in", "number": True},
    {"key": "differs", "label": "Difference", "number": True},
    {"key": "percent", "label": "In per cent", "number": True},
]

BY_EYE = [COLUMNS[0], COLUMNS[2]]


class AsMadeForm(FormModel):
    """What is to be known of this version."""

    note: Note = Field(default="", title="What is to be known of it")
    once: Once


@router.get("/{batch_id}/as-made")
def look(batch_id: Id, request: Request, data: Data, actor: Signed) -> Response:
    """Plan against made."""
    with data.reading() as session:
        return _page(request, session, actor, batch_id, filled(once=fresh_once()))


@router.post("/{batch_id}/as-made")
def keep(
    batch_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[AsMadeForm], Depends(posted(AsMadeForm))],
) -> Response:  # fmt: skip
    """Keep what was made as the recipe's next version."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                asked = AsMadeAsked(once=form.once, batch_id=batch_id, note=form.note)
                done = keep_as_made(session, actor, now, asked).result
                words = f"Version {done['version_number']} of {done['name']} is what batch {batch_id} was."
                flash(session, request, words)
                return RedirectResponse(f"/recipes/{done['recipe']}", 303)
        except Invalid as wrong:
            p.take(wrong, "note")
    with data.reading() as session:
        return _page(request, session, actor, batch_id, p, 422)


def _page(
    request: Request, session: Session, actor: Actor, batch_id: int, p: Posted[Any], status: int = 200
) -> Response:
    batch = seen_batch(session, actor, batch_id)
    seen = look_at_as_made(session, batch)
    cost = cost_of_batch(session, batch) if sees_all(actor) and seen.went_in.added else None
    planned = any(one.planned is not None for one in seen.lines)
    may_keep = may(actor.role, Permission.RECIPES) and batch.state in AS_MADE_STATES
    context = {
        "p": p,
        "batch": batch,
        "name": seen.recipe.name,
        "state": BATCH_WORDS[batch.state],
        "columns": COLUMNS if planned else BY_EYE,
        "rows": [_row(one) for one in seen.lines],
        "plan_number": seen.plan_number,
        "planned": planned,
        "verdict": Verdict.of(seen.findings),
        "kept": seen.kept_now,
        "stands": seen.kept_now is not None and stands_as_made(session, actor, batch),
        "may_keep": may_keep and bool(seen.went_in.made.lines),
        "sees_all": sees_all(actor),
        "cost": cost,
        "cost_facts": _cost_facts(cost, seen) if cost else [],
        "cost_verdict": Verdict.of(cost.findings) if cost else None,
    }
    return page(request, "bench/as_made.html", context, status, section="bench")


def _cost_facts(cost: BatchCost, seen: AsMadeSeen) -> list[tuple[str, str]]:
    facts = [("What went in cost", cost.words)]
    if cost.per_words:
        facts.append(("What it made cost", cost.per_words))
    if cost.currency is None:
        facts.append(("Currency", "not said; a keeper sets it under The shop"))
    return facts


def _row(one: Compared) -> dict[str, Any]:
    return {
        "material": one.name,
        "planned": planned_words(one.planned),
        "made": made_words(one.made),
        "differs": differs_words(one),
        "percent": f"{one.percent:+} %".replace("-", "−") if one.percent else "–",
    }


def planned_words(planned: Planned | None) -> str | None:
    """What was planned of a material, grown to the batch; None where it is not known."""
    if planned is None:
        return "–"
    if planned.high is None or planned.basis is None:
        return "to suit" if planned.to_suit else None
    most = show_amount(planned.high, planned.basis)
    if planned.to_suit:
        return f"to suit, at most {most}"
    if planned.low is None or planned.low == planned.high:
        return most
    return f"{show_amount(planned.low, planned.basis)} to {most}"


def made_words(made: MadeLine | None) -> str:
    """What went in of a material."""
    if made is None:
        return "nothing"
    basis = made.basis or Basis.MASS
    shown = f"{'about ' if made.about else ''}{show_amount(made.amount, basis)}"
    if not made.unmeasured:
        return shown
    least = f"at least {shown}" if made.amount else "not measured"
    return least if made.at_most is None else f"{least}, at most {show_amount(made.at_most, basis)}"


def differs_words(one: Compared) -> str:
    """How a material stands to the plan, with the amount where there is one."""
    words = DIFFERS_WORDS[one.differs]
    basis = one.made.basis if one.made else one.planned.basis if one.planned else None
    if not one.difference or basis is None or one.planned is None:
        return words
    return f"{words} by {show_amount(abs(one.difference), basis)}" if one.made else words
