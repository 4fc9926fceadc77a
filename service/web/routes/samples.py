"""Colour samples, what batches were really made of, how they scatter and what they cost."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import row

_BATCH = Permission.ADD_TO_BATCH
_MAKE, _WRITE = Permission.BATCHES, Permission.RECIPES

ROWS = (
    row("GET", "/samples", _BATCH, "colour samples; a student sees those of their jobs"),
    row("GET", "/samples/new", _MAKE, "a board, a target, a job"),
    row("POST", "/samples/new", _MAKE, "starts an empty batch that is filled at the bench; draws nothing"),
    row("GET", "/samples/{sample_id}", _BATCH, "one sample; a student finds only those of their jobs"),
    row("GET", "/samples/{sample_id}/edit", _MAKE, "the words about board and target"),
    row("POST", "/samples/{sample_id}/edit", _MAKE, "the words about board and target"),
    row("POST", "/samples/{sample_id}/verdict", _MAKE, "how the dry board came out"),
    row("POST", "/samples/{sample_id}/make", _MAKE, "a stock check for so much of it; draws nothing"),
    row("GET", "/samples/{sample_id}/photos", _MAKE, "photographs of board and target"),
    row("POST", "/samples/{sample_id}/photos", _MAKE, "photographs, made anew before they are kept"),
    row("GET", "/samples/{sample_id}/photos/{shows}", _BATCH, "a picture; a student finds only their jobs'"),
    row("GET", "/bench/{batch_id}/as-made", _BATCH, "plan against made; a student finds only their jobs'"),
    row("POST", "/bench/{batch_id}/as-made", _WRITE, "what was made, as the recipe's next version"),
    row("GET", "/recipes/{recipe_id}/batches", _WRITE, "how its batches scatter"),
    row("GET", "/api/samples", _BATCH, "colour samples; a student sees those of their jobs"),
    row("POST", "/api/samples", _MAKE, "starts an empty batch; draws nothing"),
    row("GET", "/api/samples/{sample_id}", _BATCH, "one sample; a student finds only those of their jobs"),
    row("POST", "/api/samples/{sample_id}/verdict", _MAKE, "how the dry board came out"),
    row("GET", "/api/batches/{batch_id}/as-made", _BATCH, "plan against made, and what it cost"),
    row("POST", "/api/batches/{batch_id}/as-made", _WRITE, "what was made, as the recipe's next version"),
)
