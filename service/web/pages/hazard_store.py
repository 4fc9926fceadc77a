"""`/hazards/store`: the list of hazardous chemicals that an inspector asks for first."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from service.actions.list_chemicals import MOST_LISTED, hazardous_chemicals
from service.core.access import Permission, may
from service.core.chemicals_list import ChemicalOrder, ListedChemical, ordered
from service.core.hazards.regimes import RULES, Regime
from service.outreach.csv_tables import chemical_rows, written
from service.web.access_gate import Signed
from service.web.csv_answers import as_csv
from service.web.deps import Data, Now, shop_today
from service.web.hazard_view import plain_class
from service.web.pages.material_hazards import laws, shop_regime
from service.web.render import day, page

router = APIRouter(prefix="/hazards", include_in_schema=False)

OILY_WORDS: Final = "Oily rags: they can ignite by themselves"
_COLUMNS = (
    ("name", "Material", ChemicalOrder.NAME),
    ("signal", "Signal word", ChemicalOrder.WORST),
    ("classes", "Hazard classes", None),
    ("sheet", "Sheet of", ChemicalOrder.SHEET),
    ("places", "Where", ChemicalOrder.PLACE),
    ("amount", "Amount", None),
    ("complete", "Complete", None),
)


@router.get("/store")
def store(
    request: Request, data: Data, now: Now, actor: Signed,
    law: Annotated[Regime | None, Query()] = None,
    sort: Annotated[ChemicalOrder, Query()] = ChemicalOrder.NAME,
) -> Response:  # fmt: skip
    """Every material that is present, with its classes by the shop's law or the one asked for."""
    with data.reading() as session:
        own = shop_regime(session)
        chosen = law or own
        today = shop_today(session, now)
        found = hazardous_chemicals(session, chosen, today)
    lacking = sum(not one.complete for one in found)
    more = "" if law is None else f"&law={chosen.value}"
    context = {
        "rows": [_cells(one) for one in ordered(found, sort)],
        "columns": [_column(key, label, order, sort, more) for key, label, order in _COLUMNS],
        "laws": laws(f"/hazards/store?sort={sort.value}&law=", chosen, own),
        "law": RULES[chosen].title,
        "today": today,
        "lacking": lacking,
        "cut": len(found) >= MOST_LISTED,
        "most": MOST_LISTED,
        "file": f"/hazards/store.csv?law={chosen.value}",
        "may_receive": may(actor.role, Permission.RECEIVE),
    }
    return page(request, "hazards/store.html", context, section="store")


@router.get("/store.csv")
def store_file(
    data: Data, now: Now, actor: Signed, law: Annotated[Regime | None, Query()] = None
) -> Response:
    """The same list as a file."""
    with data.reading() as session:
        chosen = law or shop_regime(session)
        rows = hazardous_chemicals(session, chosen, shop_today(session, now))
    return as_csv("hazardous-chemicals.csv", written(chemical_rows(rows, RULES[chosen].title)))


def _column(
    key: str, label: str, order: ChemicalOrder | None, sort: ChemicalOrder, more: str
) -> dict[str, Any]:
    column: dict[str, Any] = {"key": key, "label": label, "tag": key == "complete", "whole": key == "sheet"}
    if order is not None:
        column["sort"] = f"/hazards/store?sort={order.value}{more}"
        column["sorted"] = "ascending" if order is sort else ""
    return column


def _cells(one: ListedChemical) -> dict[str, Any]:
    name = {"href": f"/materials/{one.material_id}/hazards", "words": one.name}
    return {
        "name": {"lines": [name, *_small(one)]},
        "signal": one.signal or (None if one.lacks else "none"),
        "classes": _classes(one),
        "sheet": (day(one.sheet_date) if one.sheet_date else "no date on it") if one.sheet else "none",
        "places": {"lines": list(one.places)},
        "amount": {"lines": _amounts(one)},
        "complete": f"complete {one.why_complete}".rstrip() if one.complete else {"severity": "unknown"},
    }


def _amounts(one: ListedChemical) -> list[str | None]:
    boxes = f"{one.containers} container{'' if one.containers == 1 else 's'}"
    return [*([one.amount] if one.containers else []), *filter(None, [one.in_use]), boxes]


def _small(one: ListedChemical) -> list[str]:
    return [words for words in (one.maker, f"CAS {one.cas}" if one.cas else "") if words]


def _classes(one: ListedChemical) -> Any:
    oily = [OILY_WORDS] if one.oily else []
    if one.classes:
        return {"lines": [*(plain_class(words) for words in one.classes), *oily]}
    none = None if one.lacks else "examined, none"
    return {"lines": [none, *oily]} if oily else none
