"""What is done to a container, and the ledger that keeps it."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import RouteRow, row

_SEES = (Permission.SEE_STORE, Permission.DRAW)
_OWN = "a student sees what they may draw, without its ledger"
_CODE = "/containers/{code}"


def _act(path: str, needs: Permission, why: str) -> tuple[RouteRow, RouteRow]:
    return row("GET", f"{_CODE}/{path}", needs, why), row("POST", f"{_CODE}/{path}", needs, why)


def _api(path: str, needs: Permission, why: str) -> RouteRow:
    return row("POST", f"/api{_CODE}/{path}", needs, why)


ROWS: tuple[RouteRow, ...] = (
    row("GET", "/store", Permission.SEE_STORE, "the store"),
    row("GET", "/scan", _SEES, "a scan leads to a container"),
    row("GET", "/C/{code}", _SEES, "the address on a label"),
    row("GET", "/c/{code}", _SEES, "the address on a label"),
    row("GET", _CODE, _SEES, _OWN),
    *_act("draw", Permission.DRAW, "drawing; inside a running job for a student"),
    *_act("return", Permission.RETURN, "putting back"),
    *_act("open", Permission.OPEN, "the lid is lifted, its opened life counts"),
    *_act("close", Permission.OPEN, "the lid is on again"),
    *_act("move", Permission.MOVE, "moving, or handing out of the house"),
    *_act("check", Permission.CHECK, "looking at the condition"),
    *_act("tell", Permission.TELL, "what somebody saw in it, for a keeper; in a job for a student"),
    *_act("emptied", Permission.CHECK, "calling it empty"),
    *_act("vapour-free", Permission.CHECK, "ending its storage rules"),
    *_act("relabel", Permission.PRINT_LABELS, "a new label"),
    *_act("count", Permission.COUNT, "what is really there"),
    *_act("lose", Permission.LOSS, "what went without being used"),
    *_act("discard", Permission.DISCARD, "throwing away"),
    *_act("decant", Permission.DECANT, "decanting"),
    row("GET", "/movements/{movement_id}/correct", Permission.REVERSE_OWN_SOON, "taking an entry back"),
    row("POST", "/movements/{movement_id}/correct", Permission.REVERSE_OWN_SOON, "taking an entry back"),
    row("GET", "/records", Permission.SEE_LOGS, "what is kept for good"),
    row("GET", "/records/csv/stock.csv", Permission.SEE_STORE, "what is in the store, to save"),
    row("GET", "/records/csv/ledger.csv", Permission.SEE_LOGS, "every entry, to save"),
    row("GET", "/records/csv/events.csv", Permission.SEE_LOGS, "every event, to save"),
    row("GET", "/records/csv/rag-log.csv", Permission.SEE_LOGS, "the rag log with its hashes, to save"),
    row("GET", "/records/csv/waste.csv", Permission.SEE_LOGS, "what became waste, to save"),
    row("GET", "/waste", Permission.SEE_LOGS, "what became waste, by month"),
    row("GET", "/records/ledger", Permission.SEE_LOGS, "every entry"),
    row("GET", "/records/ledger/check", Permission.SEE_LOGS, "deriving the books from the acts"),
    row("GET", "/api/containers", Permission.SEE_STORE, "the store"),
    row("GET", f"/api{_CODE}", Permission.SEE_STORE, "one container"),
    _api("draws", Permission.DRAW, "drawing; inside a running job for a student"),
    _api("returns", Permission.RETURN, "putting back"),
    _api("opened", Permission.OPEN, "the lid is lifted, its opened life counts"),
    _api("closed", Permission.OPEN, "the lid is on again"),
    _api("moves", Permission.MOVE, "moving, or handing out of the house"),
    _api("checks", Permission.CHECK, "looking at the condition"),
    _api("told", Permission.TELL, "what somebody saw in it, for a keeper"),
    _api("emptied", Permission.CHECK, "calling it empty"),
    _api("vapour-free", Permission.CHECK, "ending its storage rules"),
    _api("relabelled", Permission.PRINT_LABELS, "a new label"),
    _api("counts", Permission.COUNT, "what is really there"),
    _api("losses", Permission.LOSS, "what went without being used"),
    _api("discards", Permission.DISCARD, "throwing away"),
    _api("decants", Permission.DECANT, "decanting"),
    row("POST", "/api/movements/{movement_id}/reversal", Permission.REVERSE_OWN_SOON, "taking back"),
    row("GET", "/api/waste", Permission.SEE_LOGS, "what became waste, by month"),
    row("GET", "/api/ledger", Permission.SEE_LOGS, "every entry"),
    row("GET", "/api/ledger/check", Permission.SEE_LOGS, "deriving the books from the acts"),
)
