"""What comes in: materials, places, deliveries, the opening stock-take, labels."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import row

_SEE, _ALL = Permission.SEE_STORE, Permission.SEE_HAZARDS
_NEW, _FACTS = Permission.DESCRIBE_MATERIAL, Permission.MATERIAL_FACTS
_IN, _PLACES, _PRINT = Permission.RECEIVE, Permission.PROFILES, Permission.PRINT_LABELS

ROWS = (
    row("GET", "/api/materials", _SEE, "what is bought or made"),
    row("POST", "/api/materials", _NEW, "a new material; its facts are a keeper's"),
    row("GET", "/api/materials/published", _SEE, "the published facts hold nothing of the shop"),
    row("GET", "/api/materials/{material_id}", _ALL, "the hazards of a material are for everybody"),
    row("GET", "/api/places", _SEE, "where things stand"),
    row("POST", "/api/places", _PLACES, "rooms and cans are the keeper's"),
    row("GET", "/api/places/{place_id}/air", _SEE, "what is known of a room's air"),
    row("POST", "/api/places/{place_id}/air", _PLACES, "what is known of a room's air"),
    row("POST", "/api/containers", _IN, "taking in"),
    row("GET", "/materials", _SEE, "what is bought or made"),
    row("GET", "/materials/new", _NEW, "the published facts, searched"),
    row("GET", "/materials/new/form", _NEW, "a new material"),
    row("POST", "/materials/new", _NEW, "a new material; its facts are a keeper's"),
    row("GET", "/materials/{material_id}", _ALL, "the hazards of a material are for everybody"),
    row("GET", "/materials/{material_id}/describe", _NEW, "name, maker, note"),
    row("POST", "/materials/{material_id}/describe", _NEW, "name, maker, note; the rest a keeper's"),
    row("GET", "/materials/{material_id}/facts", _FACTS, "what decides hazards and rags"),
    row("POST", "/materials/{material_id}/facts", _FACTS, "what decides hazards and rags"),
    row("POST", "/materials/{material_id}/published", _FACTS, "taking the published facts over"),
    row("GET", "/materials/{material_id}/spoons", _FACTS, "spoons weighed"),
    row("POST", "/materials/{material_id}/spoons", _FACTS, "a density is a keeper's"),
    row("POST", "/materials/{material_id}/active", _FACTS, "retiring a material, bringing it back"),
    row("GET", "/materials/{material_id}/sheets/new", _NEW, "a safety data sheet"),
    row("POST", "/materials/{material_id}/sheets/new", _NEW, "a safety data sheet"),
    row("GET", "/materials/{material_id}/sheets/{sheet_id}/file", _ALL, "sheets are for everybody"),
    row("GET", "/places", _SEE, "where things stand"),
    row("GET", "/places/new", _PLACES, "rooms and cans are the keeper's"),
    row("POST", "/places/new", _PLACES, "rooms and cans are the keeper's"),
    row("GET", "/places/{place_id}", _SEE, "one place and what stands in it"),
    row("GET", "/places/{place_id}/air", _PLACES, "what is known of a room's air"),
    row("POST", "/places/{place_id}/air", _PLACES, "what is known of a room's air"),
    row("GET", "/places/{place_id}/change", _PLACES, "describing a place anew, retiring it"),
    row("POST", "/places/{place_id}/change", _PLACES, "describing a place anew, retiring it"),
    row("GET", "/receive", _IN, "what has come"),
    row("GET", "/receive/stock-take", _IN, "what stands in the room already"),
    row("POST", "/receive/stock-take", _IN, "what stands in the room already"),
    row("GET", "/receive/list", _IN, "a whole stock list as a file"),
    row("POST", "/receive/list", _IN, "a whole stock list as a file"),
    row("GET", "/receive/list/blank.csv", _IN, "the first line of a list"),
    row("GET", "/receive/list/{list_id}", _IN, "what is in it, before and after it is taken in"),
    row("POST", "/receive/list/{list_id}/materials", _NEW, "what its unknown names are"),
    row("POST", "/receive/list/{list_id}/answers", _IN, "which places are meant, which lines are other cans"),
    row("POST", "/receive/list/{list_id}/take", _IN, "all its lines, or the good ones"),
    row("GET", "/receive/list/{list_id}/problems.csv", _IN, "what is wrong with it"),
    row("POST", "/api/stock-lists", _IN, "a whole stock list, looked at"),
    row("GET", "/api/stock-lists/{list_id}", _IN, "a whole stock list, looked at again"),
    row("POST", "/api/stock-lists/{list_id}/take", _IN, "all its lines, or the good ones"),
    row("GET", "/receive/done/{posting_id}", _IN, "what was taken in, and its labels"),
    row("GET", "/receive/{material_id}", _IN, "how much, when, where, how"),
    row("POST", "/receive/{material_id}", _IN, "how much, when, where, how"),
    row("GET", "/labels", _PRINT, "which labels"),
    row("GET", "/labels/print", _PRINT, "labels to print"),
    row("GET", "/labels/ahead", _PRINT, "labels with fresh codes, for a stock-take"),
    row("GET", "/labels/ruler", _PRINT, "a page to check the printer with"),
    row("GET", "/labels/page.css", _PRINT, "the paper size"),
)
