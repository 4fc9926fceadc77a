"""Drums of waste, what happens to them, and the category of the site."""

from __future__ import annotations

from typing import Final

from service.core.access import Permission
from service.web.routes.row import RouteRow, row

_SEE, _PUT, _KEEP = Permission.SEE_LOGS, Permission.DISCARD, Permission.WASTE_HAND_OVER
_BACK = "own of the same day; a keeper any"

ROWS: Final[tuple[RouteRow, ...]] = (
    row("GET", "/waste/drums", _SEE, "drums with their clocks, hand-overs"),
    row("GET", "/waste/drums/drums.csv", _SEE, "the same as a file"),
    row("GET", "/waste/drums/new", _KEEP, "a drum is begun by a keeper"),
    row("POST", "/waste/drums/new", _KEEP, "a drum is begun by a keeper"),
    row("GET", "/waste/drums/site", _KEEP, "the generator category is the keeper's word"),
    row("POST", "/waste/drums/site", _KEEP, "the generator category is the keeper's word"),
    row("POST", "/waste/sort", _KEEP, "which drum discards went into"),
    row("GET", "/waste/drums/{drum_id}", _SEE, "one drum with its story"),
    row("GET", "/waste/drums/{drum_id}/label", _SEE, "the words that must stand on it"),
    row("POST", "/waste/drums/{drum_id}/put-in", _PUT, "who discards puts in"),
    row("POST", "/waste/drums/{drum_id}/steps", _PUT, "over: who discards; the others a keeper"),
    row("POST", "/waste/drums/{drum_id}/hand-over", _KEEP, "to whom, on which paper"),
    row("GET", "/waste/drum-entries/{drum_entry_id}/take-back", _PUT, _BACK),
    row("POST", "/waste/drum-entries/{drum_entry_id}/take-back", _PUT, _BACK),
    row("GET", "/api/waste-drums", _SEE, "drums with their clocks, hand-overs"),
    row("POST", "/api/waste-drums", _KEEP, "a drum is begun by a keeper"),
    row("GET", "/api/waste-drums/{drum_id}", _SEE, "one drum with its entries"),
    row("POST", "/api/waste-drums/{drum_id}/entries", _PUT, "put in, over: who discards; else a keeper"),
    row("POST", "/api/waste-drums/{drum_id}/hand-over", _KEEP, "to whom, on which paper"),
    row("POST", "/api/waste-drums/{drum_id}/discards", _KEEP, "which drum discards went into"),
    row("POST", "/api/waste-drum-entries/{drum_entry_id}/reversal", _PUT, _BACK),
    row("POST", "/api/waste-site", _KEEP, "the generator category is the keeper's word"),
)
