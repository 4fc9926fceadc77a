"""Who may use the calculators and the page of building blocks."""

from __future__ import annotations

from typing import Final

from service.core.access import Permission
from service.web.routes.row import SIGNED_IN, RouteRow, row

ROWS: Final[tuple[RouteRow, ...]] = (
    row("GET", "/patterns", Permission.PROFILES, "every building block of the pages"),
    row("POST", "/api/calc/classify", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/label", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/flash-point", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/convert", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/ventilation-class", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/exposure", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/voc", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/rag-deadline", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/vapour", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/film", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/cut", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/settling", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/coverage", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/glue-size", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/storage", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/waste", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/oxygen", SIGNED_IN, "touches no stock"),
    row("POST", "/api/calc/self-heating", SIGNED_IN, "touches no stock"),
)
