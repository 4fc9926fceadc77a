"""The store against its storage limits, and the facts they ask."""

from __future__ import annotations

from typing import Final

from service.core.access import Permission
from service.web.routes.row import RouteRow, row

_SEE = Permission.SEE_STORE
_PLACES = Permission.PROFILES
_FACTS = Permission.MATERIAL_FACTS
_IN = Permission.RECEIVE

ROWS: Final[tuple[RouteRow, ...]] = (
    row("GET", "/storage", _SEE, "how full each room is"),
    row("GET", "/storage/rules", _PLACES, "which tables hold is the keeper's"),
    row("POST", "/storage/rules", _PLACES, "which tables hold is the keeper's"),
    row("GET", "/storage/{place_id}", _SEE, "how full one room is"),
    row("GET", "/places/{place_id}/storage", _PLACES, "what the tables ask of a place"),
    row("POST", "/places/{place_id}/storage", _PLACES, "what the tables ask of a place"),
    row("GET", "/materials/{material_id}/storage", _FACTS, "what the tables ask of a material"),
    row("POST", "/materials/{material_id}/storage", _FACTS, "what the tables ask of a material"),
    row("GET", "/containers/{code}/vessel", _IN, "what it is made of is seen at the door"),
    row("POST", "/containers/{code}/vessel", _IN, "what it is made of is seen at the door"),
    row("GET", "/api/storage", _SEE, "how full each room is"),
    row("GET", "/api/storage/rules", _SEE, "which tables hold"),
    row("POST", "/api/storage/rules", _PLACES, "which tables hold is the keeper's"),
    row("GET", "/api/places/{place_id}/storage", _SEE, "what the tables ask of a place"),
    row("POST", "/api/places/{place_id}/storage", _PLACES, "what the tables ask of a place"),
    row("GET", "/api/materials/{material_id}/storage", _SEE, "what the tables ask of a material"),
    row("POST", "/api/materials/{material_id}/storage", _FACTS, "what the tables ask of a material"),
    row("POST", "/api/containers/{code}/vessel", _IN, "what it is made of is seen at the door"),
)
