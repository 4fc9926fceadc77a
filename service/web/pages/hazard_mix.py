"""`/hazards/mix`: the hazards of a mix as it comes to mind; nothing is drawn and nothing is kept.

Every press sends the whole form and gets it back. Fields of a line carry its number.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response
from pydantic import Field
from sqlmodel import Session

from service.actions.judge_hazards import JudgedHazards
from service.actions.judge_never_with import judge_never_with
from service.actions.mix_of_materials import MixShares, judge_lines
from service.actions.mixes_inside import what_is_in_lines
from service.actions.read_recipe import LineRead
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid
from service.core.hazards.mix import Ingredient, Mix
from service.core.hazards.regimes import Regime
from service.core.material_facts import facts_self_heating
from service.records.material_queries import own_facts
from service.web.access_gate import Signed
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id, NumberText
from service.web.forms import FormModel, Posted, filled, posted
from service.web.hazard_view import LAW_WORDS, MIX_COLUMNS, mix_rows, view_hazards
from service.web.mix_lines import (
    MOST_LINES,
    moved_lines,
    names_of_materials,
    number_lines,
    read_lines,
    recipe_form_lines,
    written_lines,
)
from service.web.pages.material_hazards import shop_regime
from service.web.render import page

router = APIRouter(prefix="/hazards", include_in_schema=False)


class MixForms(FormModel):
    """All but the lines; those are read by their numbers. What is left empty is not known.

    ``flash_confirmed``, ``viscosity_confirmed``: the very figure that was asked about and confirmed; another
    figure typed afterwards is a new question.
    """

    law: Regime | None = Field(default=None, title="By which law")
    flash_point_c: Annotated[NumberText, Field(ge=-120, le=500)] | None = Field(
        default=None, title="Flash point"
    )
    measured: bool = False
    flash_confirmed: NumberText | None = None
    viscosity_confirmed: NumberText | None = None
    no_flash: bool = False
    viscosity: Annotated[NumberText, Field(gt=0, le=1_000_000)] | None = Field(
        default=None, title="Viscosity at 40 °C"
    )
    ph: Annotated[NumberText, Field(ge=-2, le=16)] | None = Field(default=None, title="pH")
    sprayed: bool = False
    step: Annotated[str, Field(max_length=20)] = "read"

    def whole(self) -> Mix:
        """What is known of the whole. Raises Invalid for a flash point of what does not flash."""
        try:
            return Mix(
                (Ingredient("the mix", Decimal(100), Decimal(100), None),),
                flash_point_c=self.flash_point_c,
                flash_point_is_calculated=not self.measured,
                flash_point_confirmed=self.flash_confirmed == self.flash_point_c,
                does_not_flash=self.no_flash,
                viscosity_mm2_s=self.viscosity,
                viscosity_confirmed=self.viscosity_confirmed == self.viscosity,
                ph=self.ph,
                sprayed=self.sprayed,
            )
        except Invalid as wrong:
            wrong.errors.setdefault("flash_point_c", wrong.sentence)
            raise


@router.get("/mix")
def mix(
    request: Request, data: Data, actor: Signed, recipe: Annotated[Id | None, Query()] = None
) -> Response:
    """An empty mix with room for three materials, or the lines of a recipe to be changed."""
    with data.reading() as session:
        p = filled(law=shop_regime(session).value)
        lines: list[dict[str, str]] = [{}, {}, {}]
        if recipe is not None and may(actor.role, Permission.RECIPES):
            lines = recipe_form_lines(session, recipe)
        number_lines(p, lines)
        return _page(request, session, actor, p)


@router.post("/mix")
def judge(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[MixForms], Depends(posted(MixForms))],
) -> Response:  # fmt: skip
    """One press: another line, a line taken out, or the hazards of the mix."""
    step, lines = p.text("step"), written_lines(p)
    with data.reading() as session:
        if step != "judge":
            p.errors.clear()
            p.readings.clear()
            number_lines(p, moved_lines(written_lines(p, empty_too=True), step))
            return _page(request, session, actor, p)
        number_lines(p, lines or [{}, {}])
        read = read_lines(session, actor, p, lines)
        form = p.value
        if form is None or p.errors:
            return _page(request, session, actor, p, 422)
        try:
            regime = form.law or shop_regime(session)
            today = shop_today(session, now)
            read = what_is_in_lines(session, read)
            judged, shares = judge_lines(session, read, regime, today, measured=form.whole())
            judged = with_never_with(session, judged, read)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), "amount_0"))
            return _page(request, session, actor, p, 422)
        return _page(request, session, actor, p, 200, answer_of(judged, shares, read))


def with_never_with(session: Session, judged: JudgedHazards, read: list[LineRead]) -> JudgedHazards:
    """The same answer, with what speaks against putting these materials together at all."""
    met = judge_never_with(session, [line.material for line in read])
    return replace(judged, verdict=judged.verdict + met)


def answer_of(judged: JudgedHazards, shares: MixShares, read: list[LineRead]) -> dict[str, Any]:
    """What the pages of a mix, a recipe and a batch show of the answer."""
    return {
        "v": view_hazards(judged, whole=False),
        "columns": MIX_COLUMNS,
        "heats": any(facts_self_heating(own_facts(part.material)) for part in shares.parts),
        "rows": mix_rows(shares.parts, [line.written for line in read]),
    }


def _forget_other(p: Posted[Any], name: str, of: str) -> None:
    """Takes a tick away that was given for another figure."""
    if p.text(name).strip() != p.text(of).strip():
        p.raw.pop(name, None)


def _page(
    request: Request,
    session: Session,
    actor: Actor,
    p: Posted[Any],
    status: int = 200,
    answer: dict[str, Any] | None = None,
) -> Response:
    count = int(p.text("lines") or 1)
    asked = answer["v"].verdict.codes if answer else frozenset()
    _forget_other(p, "flash_confirmed", "flash_point_c")
    _forget_other(p, "viscosity_confirmed", "viscosity")
    context = {
        "p": p,
        "numbers": list(range(count)),
        "full": count >= MOST_LINES,
        "names": list(names_of_materials(session)),
        "laws": [(law.value, words) for law, words in LAW_WORDS.items()],
        "answer": answer,
        "asks_flash": "flash-point-to-confirm" in asked or p.text("flash_confirmed"),
        "asks_viscosity": "viscosity-to-confirm" in asked or p.text("viscosity_confirmed"),
        "sees": may(actor.role, Permission.SEE_STORE),
    }
    return page(request, "hazards/mix.html", context, status, section="store")
