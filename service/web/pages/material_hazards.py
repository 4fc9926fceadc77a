"""`/materials/N/hazards`: what to know before a lid is opened, the supplier's view and ours, with reasons."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from service.actions.judge_hazards import judge_material
from service.actions.judge_ventilation import card_of_material
from service.actions.set_up_shop import REGIMES
from service.core.access import Permission, may
from service.core.hazards.regimes import Regime
from service.core.material_facts import facts_self_heating
from service.records.material_queries import own_facts, sheets_of, the_material
from service.records.materials import Material
from service.records.mixing import Recipe
from service.records.shop import ShopProfile
from service.web.access_gate import Signed
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id
from service.web.hazard_view import COMPARED, ESTIMATES, LAW_WORDS, PARTS, REASONS, view_hazards
from service.web.pages.material_view import METHODS
from service.web.render import day, number, page
from service.web.ventilation_view import view_card

router = APIRouter(prefix="/materials", include_in_schema=False)


def shop_regime(session: Session) -> Regime:
    """The law this shop works under."""
    shop = session.get(ShopProfile, 1)
    return Regime(shop.regime) if shop and shop.regime else Regime.US_HCS


def laws(here: str, chosen: Regime, own: Regime) -> list[dict[str, Any]]:
    """A link for each law; ``here`` ends where the name of the law is to stand."""
    return [
        {
            "href": f"{here}{law.value}",
            "words": f"{words}, this shop's" if law is own else words,
            "chosen": law is chosen,
        }
        for law, words in LAW_WORDS.items()
    ]


COLUMNS = {"compared": COMPARED, "reasons": REASONS, "estimates": ESTIMATES, "parts": PARTS}


@router.get("/{material_id}/hazards")
def hazards(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    law: Annotated[Regime | None, Query()] = None,
) -> Response:  # fmt: skip
    """The hazards of a material as bought, under the shop's law or the one asked for."""
    with data.reading() as session:
        material = the_material(session, material_id)
        own = shop_regime(session)
        chosen = law or own
        judged = judge_material(session, material, chosen, shop_today(session, now))
        context = {
            "m": material,
            "v": view_hazards(judged, whole=True),
            "ventilation": view_card(card_of_material(session, material, judged)),
            "columns": COLUMNS,
            "laws": laws(f"/materials/{material_id}/hazards?law=", chosen, own),
            "heats": facts_self_heating(own_facts(material)),
            "whole": _facts(session, material),
            "supplier_said": _supplier_said(material),
            "recipe": _recipe_of(session, material_id) if may(actor.role, Permission.SEE_STORE) else None,
            "keeper": may(actor.role, Permission.MATERIAL_FACTS),
            "today": shop_today(session, now),
        }
    return page(request, "hazards/material.html", context, section="store")


def _supplier_said(material: Material) -> list[str] | None:
    return None if material.hazards is None else [str(one) for one in material.hazards]


def _facts(session: Session, material: Material) -> list[tuple[str, Any, str]]:
    """What was measured or written of the whole, each with where it is from."""
    flash, note = None, ""
    if material.flash_point_c is not None:
        method = material.flash_point_method
        flash = f"{number(material.flash_point_c)} °C"
        note = next((words for one, words in METHODS.items() if one.value == method), "method not known")
    elif material.no_flash_reason:
        flash = f"none: {material.no_flash_reason}"
    assert material.id is not None
    sheet = next(iter(sheets_of(session, material.id)), None)
    told = None
    if sheet is not None:
        whole = "sections 2, 3 and 9 copied whole" if sheet.copied_whole else "not copied whole"
        told = f"of {day(sheet.sheet_date)}, {REGIMES.get(sheet.regime, sheet.regime)}, {whole}"
    return [
        ("Safety data sheet", told or "none in the book", ""),
        ("Maker", material.maker or None, ""),
        ("Form", material.form.value, ""),
        ("Flash point", flash, note),
    ]


def _recipe_of(session: Session, material_id: int) -> Recipe | None:
    """The recipe whose jars hold this material."""
    return session.exec(select(Recipe).where(col(Recipe.material_id) == material_id)).first()
