"""`/recipes/{id}/check` and `/checks/{id}`: how much, and what the stock says to it, verdict first."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.check_mix import RAG_CODES, MixAsked, check_mix, keep_check
from service.actions.judge_never_with import conditions
from service.actions.make_batch import SetAsideAsked, set_aside
from service.core.check_again import from_summary
from service.core.findings import Invalid, Severity
from service.core.quantities import show_amount
from service.core.recipe import Need
from service.core.shelf_codes import show_code
from service.core.stock_check import StockCheck
from service.records.mixing_queries import kept_check, lines_of, the_recipe
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now
from service.web.fields import Id, Once, WrittenAmount
from service.web.forms import FormModel, Posted, posted
from service.web.pages.recipes import fresh_once, recipe_context
from service.web.render import page

router = APIRouter(include_in_schema=False)

TAKE = [
    {"key": "material", "label": "Material"},
    {"key": "amount", "label": "How much", "number": True},
    {"key": "code", "label": "From"},
    {"key": "place", "label": "Where it stands"},
    {"key": "why", "label": "Why this one"},
]


class AmountForm(FormModel):
    """How much to make."""

    amount: WrittenAmount = Field(title="How much to make")
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("amount", "missing"): "Write how many times, or how much in all."
    }


@router.post("/recipes/{recipe_id}/check")
def check(
    recipe_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[AmountForm], Depends(posted(AmountForm))],
) -> Response:  # fmt: skip
    """Check, keep the answer, and show it."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                mix = check_mix(session, actor, now, MixAsked(recipe_id, form.amount))
                kept = keep_check(session, actor, now, mix)
                return RedirectResponse(f"/checks/{kept.id}", 303)
        except Invalid as wrong:
            p.take(wrong, "amount")
    with data.reading() as session:
        context = recipe_context(session, actor, recipe_id, None, p)
    return page(request, "recipes/one.html", context, 422, section="recipes")


@router.get("/checks/{check_id}")
def answer(check_id: Id, request: Request, data: Data) -> Response:
    """The answer as it was kept; starting runs it again."""
    with data.reading() as session:
        kept = kept_check(session, check_id)
        recipe = the_recipe(session, kept.recipe_id)
        done = from_summary(kept.result)
        told = {one.position for one in done.by_hand}
        from_the_tap = [
            f"{material.name} ({line.written})"
            for line, material in lines_of(session, kept.recipe_version_id)
            if material.not_stocked and line.position not in told
        ]
    may_be_answered = frozenset(row.code for row in conditions(done.verdict))
    context = {
        "kept": kept,
        "recipe": recipe,
        "verdict": done.verdict,
        "blocking": done.verdict.blocking,
        "may_set_aside": not any(
            f.severity is Severity.STOP and f.code not in RAG_CODES | may_be_answered for f in done.verdict
        ),
        "may_start": not any(
            f.severity is Severity.STOP and f.code not in may_be_answered for f in done.verdict
        ),
        "conditions": may_be_answered,
        "rags_stop": any(f.severity is Severity.STOP and f.code in RAG_CODES for f in done.verdict),
        "columns": TAKE,
        "rows": taking(done),
        "short": shortages(done),
        "by_hand": by_hand(done),
        "from_the_tap": from_the_tap,
        "once": fresh_once(),
    }
    return page(request, "recipes/check.html", context, section="recipes")


def taking(done: StockCheck, *, at_start: bool = False) -> list[dict[str, Any]]:
    """What is taken from where, in the order in which it is taken.

    Args:
        at_start: only what a start draws; else also what is only held back for a line that is to suit, and
            "up to" before the upper end of a range, which is no order to use it all.
    """
    needs = {need.material_id: need for need in done.needs}
    rows = []
    for one in done.allocations:
        if at_start and not one.at_start:
            continue
        need = needs[one.material_id]

        def say(amount: int, need: Need = need) -> str | None:
            return show_amount(amount, need.basis, need.unit_written or None) if need.basis else None

        amount = say(one.at_start)
        if not at_start and amount is not None:
            amount = f"{'up to ' if is_upper_end(need) and one.draw is None else ''}{amount}"
            held = f"up to {say(one.amount - one.at_start)} held back, not drawn"
            amount = amount if one.draw is None else f"{amount} and {held}" if one.at_start else held
        rows.append(
            {
                "material": need.name,
                "amount": amount,
                "code": {"href": f"/C/{one.code}", "words": show_code(one.code)},
                "place": one.place or "not written down",
                "why": f"{one.why[:1].upper()}{one.why[1:]}" or "the next in line",
            }
        )
    return rows


def is_upper_end(need: Need) -> bool:
    """Whether the amount that counts is the most of a range, or of a "to suit", and not one figure.

    One figure in US units lies between two whole microlitres: its ends differ by the rounding alone.
    """
    if need.high is None:
        return False
    return need.low is None or (need.high - need.low) * 100 > need.high


def by_hand(done: StockCheck) -> list[dict[str, str]]:
    """The lines of which nothing is drawn at the start, with what is not known of them."""
    return [{"name": one.name, "words": one.words, "why": one.why} for one in done.by_hand]


def shortages(done: StockCheck) -> list[str]:
    """What is missing, in the unit the bench wrote."""
    return [
        f"{show_amount(one.missing, one.basis, one.unit_written or None)} of {one.name} is missing; "
        f"{show_amount(one.needed, one.basis, one.unit_written or None)} is needed."
        for one in done.shortages
        if one.basis is not None
    ]


class SetAsideForm(FormModel):
    """One press."""

    once: Once


@router.post("/checks/{check_id}/set-aside")
def put_aside(
    check_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[SetAsideForm], Depends(posted(SetAsideForm))],
) -> Response:  # fmt: skip
    """Promise the stock to this batch; nothing is drawn."""
    if p.value is None:
        return RedirectResponse(f"/checks/{check_id}", 303)
    with data.writing() as session:
        asked = SetAsideAsked(once=p.value.once, check_id=check_id)
        done = set_aside(session, actor, now, asked).result
        words = f"You set aside what batch {done['batch']} needs. Nothing was drawn yet."
        flash(session, request, words)
        return RedirectResponse(f"/bench/{done['batch']}", 303)
