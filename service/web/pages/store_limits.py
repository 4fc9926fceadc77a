"""`/storage`: how full every room and building is by the storage tables, and which tables hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Final

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.arrange_places import the_place
from service.actions.describe_storage import RulesAsked, say_rule_sets
from service.actions.judge_store import look_at_store
from service.actions.settle import the_shop
from service.actions.store_moves import suggest_moves
from service.core.access import Permission, may
from service.core.findings import Invalid, Verdict
from service.core.shelf_codes import show_code
from service.core.storage_rules import RuleSet
from service.core.store_limits import StoreJudged
from service.records.storage_queries import places_as_spots
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Once, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import page
from service.web.store_view import (
    CAUTION,
    COLUMNS,
    RULE_WORDS,
    STATES,
    area_view,
    loose_things,
    places_around,
)

router = APIRouter(prefix="/storage", include_in_schema=False)

LEAD: Final = "What stands in each room and building, against every row of the storage tables that hold here."


class RulesForm(FormModel):
    """Which tables hold; none chosen: all of the shop's law."""

    rule_sets: list[Annotated[str, Field(max_length=40)]] = Field(default=[], title="Tables")
    version: Version
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {}


@router.get("")
def look(request: Request, data: Data, actor: Signed) -> Response:
    """Every room and building, and what to move where."""
    with data.reading() as session:
        judged = look_at_store(session)
        moves = [
            {
                "code": one.code, "shown": show_code(one.code), "what": one.what, "where": one.where,
                "to": one.to,
            }
            for one in suggest_moves(session, judged)
        ]  # fmt: skip
        chosen = bool(the_shop(session).storage_rules)
    ways = [("Hazardous chemicals", "/hazards/store"), ("Places", "/places")]
    if may(actor.role, Permission.PROFILES):
        ways.append(("Which tables hold", "/storage/rules"))
    context = {
        "title": "Storage limits", "lead": LEAD, "back": "/store", "back_words": "Store",
        "areas": [area_view(area) for area in judged.areas], "moves": moves, "ways": ways,
        **_common(judged, chosen),
    }  # fmt: skip
    return page(request, "storage/look.html", context, section="store")


def _common(judged: StoreJudged, chosen: bool) -> dict[str, Any]:
    aside = Verdict.of(one for one in judged.verdict if one.code == "not-in-a-room")
    words = "A keeper chose them." if chosen else "Nobody chose among them, so all of the shop’s law hold."
    return {
        "caution": CAUTION, "columns": COLUMNS, "states": STATES, "aside": aside, "chosen": words,
        "tables": [RULE_WORDS[one] for one in judged.rule_sets], "loose": loose_things(judged),
    }  # fmt: skip


@router.get("/rules")
def ask_rules(request: Request, data: Data, actor: Signed, secret: Secrets) -> Response:
    """Which tables hold."""
    with data.reading() as session:
        shop = the_shop(session)
        chosen = [str(one) for one in shop.storage_rules or []]
        p = filled(rule_sets=chosen, version=shop.version, once=secret())
    return _rules(request, p)


def _rules(request: Request, p: Posted[Any], status: int = 200) -> Response:
    context = {"p": p, "rule_sets": [(one.value, words) for one, words in RULE_WORDS.items()]}
    return page(request, "storage/rules.html", context, status, section="store")


@router.post("/rules")
def keep_rules(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[RulesForm], Depends(posted(RulesForm))],
) -> Response:  # fmt: skip
    """Keep the choice."""
    if p.value is not None:
        try:
            with data.writing() as session:
                asked = RulesAsked(p.value.once, p.value.version, tuple(p.value.rule_sets))
                kept = say_rule_sets(session, actor, now, asked).result["rule_sets"]
                told = ", ".join(RULE_WORDS[RuleSet(one)] for one in kept) or "all of the shop’s law"
                flash(session, request, f"These tables hold now: {told}.")
            return RedirectResponse("/storage", 303)
        except Invalid as wrong:
            p.take(wrong, "rule_sets")
    return _rules(request, p, 422)


@router.get("/{place_id}")
def one(request: Request, place_id: Id, data: Data, actor: Signed) -> Response:
    """The room and building of one place."""
    with data.reading() as session:
        place = the_place(session, place_id)
        judged = look_at_store(session)
        around = places_around(places_as_spots(session), place_id)
        chosen = bool(the_shop(session).storage_rules)
    areas = [area_view(area) for area in judged.areas if (area.kind, area.number) in around]
    context = {
        "title": f"Storage limits around {place.name}", "lead": LEAD, "back": f"/places/{place_id}",
        "back_words": place.name, "areas": areas, "moves": [],
        "ways": [("The whole store", "/storage")], **_common(judged, chosen),
    }  # fmt: skip
    return page(request, "storage/look.html", context, section="store")

