"""Recipes, the stock check before mixing, batches and the bench."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import row

_SEE = Permission.RECIPES
_WRITE, _MAKE, _ADD = Permission.RECIPES, Permission.BATCHES, Permission.ADD_TO_BATCH
_UNDO = Permission.REVERSE_OWN_SOON
_BATCH = Permission.ADD_TO_BATCH

ROWS = (
    row("GET", "/recipes", _SEE, "the recipes of the shop"),
    row("GET", "/recipes/new", _WRITE, "a new recipe"),
    row("POST", "/recipes/new", _WRITE, "a new recipe"),
    row("GET", "/recipes/{recipe_id}", _SEE, "one recipe with its versions"),
    row("GET", "/recipes/{recipe_id}/edit", _WRITE, "the next version"),
    row("POST", "/recipes/{recipe_id}/edit", _WRITE, "the next version"),
    row("POST", "/recipes/{recipe_id}/active", _WRITE, "off the list and back"),
    row("POST", "/recipes/{recipe_id}/check", _MAKE, "the stock check; keeps its answer, draws nothing"),
    row("GET", "/checks/{check_id}", _MAKE, "the answer of a stock check"),
    row("POST", "/checks/{check_id}/set-aside", _MAKE, "promises stock to a batch"),
    row("GET", "/checks/{check_id}/start", _MAKE, "which job, and who looked"),
    row("POST", "/checks/{check_id}/start", _MAKE, "starts a batch: draws everything or nothing"),
    row("GET", "/bench", _BATCH, "batches running and set aside; a student sees those of their jobs"),
    row("GET", "/opposites", _BATCH, "which colour kills which, and what of it is on the shelf"),
    row("GET", "/bench/{batch_id}", _BATCH, "one batch; a student finds only those of their jobs"),
    row("POST", "/bench/{batch_id}/add", _ADD, "one more addition, judged like a draw"),
    row("GET", "/bench/{batch_id}/additions/{addition_id}", _BATCH, "one addition and what it changed"),
    row("POST", "/bench/{batch_id}/additions/{addition_id}/undo", _UNDO, "taking one back by a reversal"),
    row("GET", "/bench/{batch_id}/start", _MAKE, "starting what was set aside"),
    row("POST", "/bench/{batch_id}/start", _MAKE, "starting what was set aside"),
    row("POST", "/bench/{batch_id}/release", _MAKE, "letting go of what was set aside"),
    row("GET", "/bench/{batch_id}/sheet", _BATCH, "a sheet of one batch, to print"),
    row("GET", "/bench/{batch_id}/finish", _MAKE, "what it made"),
    row("POST", "/bench/{batch_id}/finish", _MAKE, "what it made; fills jars"),
    row("GET", "/bench/{batch_id}/give-up", _MAKE, "why, and where it went"),
    row("POST", "/bench/{batch_id}/give-up", _MAKE, "why, and where it went"),
    row("GET", "/bench/{batch_id}/rest", _MAKE, "where what is in no jar went"),
    row("POST", "/bench/{batch_id}/rest", _MAKE, "where what is in no jar went"),
    row("GET", "/api/recipes", _SEE, "the recipes of the shop"),
    row("POST", "/api/recipes", _WRITE, "a new recipe"),
    row("GET", "/api/recipes/{recipe_id}", _SEE, "one recipe, any version of it"),
    row("POST", "/api/recipes/{recipe_id}/versions", _WRITE, "the next version"),
    row("POST", "/api/recipes/{recipe_id}/check", _MAKE, "the stock check; draws nothing"),
    row("GET", "/api/batches", _BATCH, "batches; a student sees those of their jobs"),
    row("POST", "/api/batches", _MAKE, "a batch from a fingerprint, set aside or started"),
    row("GET", "/api/batches/{batch_id}", _BATCH, "one batch; a student finds only those of their jobs"),
    row("POST", "/api/batches/{batch_id}/start", _MAKE, "starting what was set aside"),
    row("POST", "/api/batches/{batch_id}/additions", _ADD, "one more addition, judged like a draw"),
    row("GET", "/api/batches/{batch_id}/additions/{addition_id}", _BATCH, "what one addition changed"),
    row("POST", "/api/batches/{batch_id}/additions/{addition_id}/undo", _UNDO, "taking one back"),
    row("POST", "/api/batches/{batch_id}/finish", _MAKE, "what it made; fills jars"),
    row("POST", "/api/batches/{batch_id}/balance", _MAKE, "the balance as it would be; books nothing"),
    row("POST", "/api/batches/{batch_id}/release", _MAKE, "letting go of what was set aside"),
    row("POST", "/api/batches/{batch_id}/give-up", _MAKE, "why, and where it went"),
    row("POST", "/api/batches/{batch_id}/rest", _MAKE, "where what is in no jar went"),
)
