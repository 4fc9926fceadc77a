"""The pack for an inspector, and the way in for one."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import row

_PACK = Permission.SEE_PACK

ROWS = (
    row("GET", "/inspection-pack", _PACK, "everything an inspector asks for, to print"),
    row("GET", "/inspection-pack.zip", _PACK, "the same with its PDF, to save"),
    row("GET", "/inspection-pack.csv", _PACK, "one section, to save"),
    row("GET", "/api/inspection-pack", _PACK, "the same as data"),
    row("GET", "/api/inspection-pack.zip", _PACK, "the same with its PDF, to save"),
)
