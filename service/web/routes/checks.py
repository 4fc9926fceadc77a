"""Recurring checks, training, how long records are kept."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import row

_SEE, _DO, _SET = Permission.SEE_LOGS, Permission.DO_CHECKS, Permission.SET_CHECKS
_TRAIN = Permission.TRAIN

ROWS = (
    row("GET", "/recurring-checks", _SEE, "what is checked again and again, what is due first"),
    row("GET", "/recurring-checks/sheet", _SEE, "a sheet to print and sign"),
    row("GET", "/recurring-checks/checks.csv", _SEE, "every entry as a file"),
    row("GET", "/recurring-checks/new", _SET, "a new check"),
    row("POST", "/recurring-checks/new", _SET, "a new check"),
    row("GET", "/recurring-checks/{recurring_id}", _SEE, "one check with its history"),
    row("GET", "/recurring-checks/{recurring_id}/edit", _SET, "who sees to it, and its end"),
    row("POST", "/recurring-checks/{recurring_id}/owner", _SET, "who sees to it"),
    row("POST", "/recurring-checks/{recurring_id}/end", _SET, "its last day"),
    row("POST", "/recurring-checks/{recurring_id}/fine", _DO, "made now, and fine"),
    row("GET", "/recurring-checks/{recurring_id}/record", _DO, "what came out of a check"),
    row("POST", "/recurring-checks/{recurring_id}/record", _DO, "what came out of a check"),
    row("GET", "/recurring-checks/{recurring_id}/entries/{entry_id}/photo", _SEE, "its photograph"),
    row("GET", "/recurring-checks/entries/{entry_id}/take-back", _DO, "own of the same day; a keeper any"),
    row("POST", "/recurring-checks/entries/{entry_id}/take-back", _DO, "own of the same day; a keeper any"),
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
    row("GET", "/api/recurring-checks", _SEE, "every check as it stands"),
    row("POST", "/api/recurring-checks", _SET, "a new check"),
    row("GET", "/api/recurring-checks/{recurring_id}", _SEE, "one check with its entries"),
    row("POST", "/api/recurring-checks/{recurring_id}/entries", _DO, "what came out of a check"),
    row("POST", "/api/recurring-checks/{recurring_id}/owner", _SET, "who sees to it"),
    row("POST", "/api/recurring-checks/{recurring_id}/end", _SET, "its last day"),
    row("POST", "/api/recurring-check-entries/{entry_id}/reversal", _DO, "own of the same day; a keeper any"),
    row("GET", "/api/training", _SEE, "every entry, and who lacks what"),
    row("POST", "/api/training", _TRAIN, "a training that was held"),
    row("POST", "/api/training/{training_id}/reversal", _TRAIN, "own of the same day; a keeper any"),
)
