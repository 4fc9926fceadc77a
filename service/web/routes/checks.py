"""Recurring checks, training, how long records are kept."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import row

_SEE, _DO, _SET = Permission.SEE_LOGS, Permission.DO_CHECKS, Permission.SET_CHECKS
_TRAIN = Permission.TRAIN

ROWS = (
    row("GET", "/checks", _SEE, "what is checked again and again, what is due first"),
    row("GET", "/checks/sheet", _SEE, "a sheet to print and sign"),
    row("GET", "/checks/checks.csv", _SEE, "every entry as a file"),
    row("GET", "/checks/new", _SET, "a new check"),
    row("POST", "/checks/new", _SET, "a new check"),
    row("GET", "/checks/{check_id}", _SEE, "one check with its history"),
    row("GET", "/checks/{check_id}/edit", _SET, "who sees to it, and its end"),
    row("POST", "/checks/{check_id}/owner", _SET, "who sees to it"),
    row("POST", "/checks/{check_id}/end", _SET, "its last day"),
    row("POST", "/checks/{check_id}/fine", _DO, "made now, and fine"),
    row("GET", "/checks/{check_id}/record", _DO, "what came out of a check"),
    row("POST", "/checks/{check_id}/record", _DO, "what came out of a check"),
    row("GET", "/checks/{check_id}/entries/{entry_id}/photo", _SEE, "the photograph of an entry"),
    row("GET", "/checks/entries/{entry_id}/take-back", _DO, "own of the same day; a keeper any"),
    row("POST", "/checks/entries/{entry_id}/take-back", _DO, "own of the same day; a keeper any"),
    row("GET", "/training", _SEE, "who was taught what, and who lacks what"),
    row("GET", "/training/training.csv", _SEE, "every entry as a file"),
    row("GET", "/training/new", _TRAIN, "a training that was held"),
    row("POST", "/training/new", _TRAIN, "a training that was held"),
    row("GET", "/training/{training_id}/take-back", _TRAIN, "own of the same day; a keeper any"),
    row("POST", "/training/{training_id}/take-back", _TRAIN, "own of the same day; a keeper any"),
    row("GET", "/records/periods", _SEE, "how long each log is kept, by law or policy"),
    row("GET", "/records/uses", _SEE, "where and when each material was used"),
    row("GET", "/records/uses.csv", _SEE, "the same as a file"),
    row("GET", "/api/record-periods", _SEE, "how long each log is kept, by law or policy"),
    row("GET", "/api/uses", _SEE, "where and when each material was used"),
    row("GET", "/api/checks", _SEE, "every check as it stands"),
    row("POST", "/api/checks", _SET, "a new check"),
    row("GET", "/api/checks/{check_id}", _SEE, "one check with its entries"),
    row("POST", "/api/checks/{check_id}/entries", _DO, "what came out of a check"),
    row("POST", "/api/checks/{check_id}/owner", _SET, "who sees to it"),
    row("POST", "/api/checks/{check_id}/end", _SET, "its last day"),
    row("POST", "/api/check-entries/{entry_id}/reversal", _DO, "own of the same day; a keeper any"),
    row("GET", "/api/training", _SEE, "every entry, and who lacks what"),
    row("POST", "/api/training", _TRAIN, "a training that was held"),
    row("POST", "/api/training/{training_id}/reversal", _TRAIN, "own of the same day; a keeper any"),
)
