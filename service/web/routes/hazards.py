"""Hazards of materials, mixes and the store."""

from __future__ import annotations

from typing import Final

from service.core.access import Permission
from service.web.routes.row import RouteRow, row

_ALL = Permission.SEE_HAZARDS
_FACTS = Permission.MATERIAL_FACTS
_BATCH = Permission.ADD_TO_BATCH

ROWS: Final[tuple[RouteRow, ...]] = (
    row("GET", "/materials/{material_id}/hazards", _ALL, "the hazards of a material are for everybody"),
    row("GET", "/materials/{material_id}/components", _FACTS, "what it is made of is a keeper's"),
    row("POST", "/materials/{material_id}/components", _FACTS, "what it is made of is a keeper's"),
    row("GET", "/hazards/mix", _ALL, "touches no stock"),
    row("POST", "/hazards/mix", _ALL, "touches no stock"),
    row("GET", "/air", _ALL, "touches no stock"),
    row("POST", "/air", _ALL, "touches no stock"),
    row("GET", "/recipes/{recipe_id}/hazards", Permission.SEE_STORE, "classes and label; no amounts"),
    row("GET", "/bench/{batch_id}/hazards", _BATCH, "one batch; a student finds only those of their jobs"),
    row("GET", "/containers/{code}/hazard-label", Permission.PRINT_LABELS, "its hazard label, to print"),
    row("GET", "/containers/{code}/jar-label", Permission.PRINT_LABELS, "the label of a jar made here"),
    row("GET", "/hazards/label.css", Permission.PRINT_LABELS, "the paper size of a hazard label"),
    row("GET", "/hazards/store", Permission.SEE_STORE, "what is present, for the inspector"),
    row("GET", "/hazards/store.csv", Permission.SEE_STORE, "the same, to save"),
)
