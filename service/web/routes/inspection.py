"""The pack for an inspector, and the way in for one."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import PUBLIC, row

_PACK, _PEOPLE = Permission.SEE_PACK, Permission.PEOPLE

ROWS = (
    row("GET", "/inspection-pack", _PACK, "everything an inspector asks for, to print"),
    row("GET", "/inspection-pack.zip", _PACK, "the same with its PDF, to save"),
    row("GET", "/inspection-pack.csv", _PACK, "one section, to save"),
    row("GET", "/inspectors", _PEOPLE, "who may look for some days"),
    row("POST", "/inspectors", _PEOPLE, "lets somebody look for some days"),
    row("POST", "/inspectors/{person_id}/address", _PEOPLE, "another one-time address for a reader"),
    row("POST", "/inspectors/{person_id}/end", _PEOPLE, "a reader may look no more"),
    row("GET", "/inspector/{token}", PUBLIC, "the one-time address is the key"),
    row("POST", "/inspector/{token}", PUBLIC, "signs the inspector in; the address is used up by this"),
    row("GET", "/api/inspection-pack", _PACK, "the same as data"),
    row("GET", "/api/inspection-pack.zip", _PACK, "the same with its PDF, to save"),
)
