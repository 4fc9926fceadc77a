"""Terms, planned jobs, order lists, orders and packs."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import row

_SEE, _PLAN = Permission.SEE_PLAN, Permission.PLAN

ROWS = (
    row("GET", "/term", _SEE, "the terms of the shop"),
    row("GET", "/term/new", _PLAN, "a new term"),
    row("POST", "/term/new", _PLAN, "a new term"),
    row("GET", "/term/{term_id}", _SEE, "the plan of a term; a student may read it"),
    row("GET", "/term/{term_id}/edit", _PLAN, "the days of a term"),
    row("POST", "/term/{term_id}/edit", _PLAN, "the days of a term"),
    row("GET", "/term/{term_id}/jobs/new", _PLAN, "a job to plan"),
    row("POST", "/term/{term_id}/jobs/new", _PLAN, "a job to plan"),
    row("GET", "/term/jobs/{planned_id}", _SEE, "one planned job with its days"),
    row("POST", "/term/jobs/{planned_id}/days", _PLAN, "one more day of it"),
    row("POST", "/term/jobs/{planned_id}/drop", _PLAN, "all its days out of the plan"),
    row("POST", "/term/dates/{date_id}/drop", _PLAN, "one day out of the plan"),
    row("POST", "/term/dates/{date_id}/take-up", _PLAN, "one day back into the plan"),
    row("POST", "/term/dates/{date_id}/check", Permission.BATCHES, "the stock check; draws nothing"),
    row("POST", "/term/dates/{date_id}/batch", _PLAN, "which batch stands for a day"),
    row("GET", "/term/{term_id}/materials/{material_id}", _SEE, "one material over the term"),
    row("GET", "/term/{term_id}/waste", _SEE, "what would die unused"),
    row("GET", "/term/{term_id}/orders", _SEE, "the order list, to print"),
    row("GET", "/term/{term_id}/orders.csv", _SEE, "the order list as a file"),
    row("GET", "/term/{term_id}/orders/new", _PLAN, "an order that was placed"),
    row("POST", "/term/{term_id}/orders/new", _PLAN, "an order that was placed"),
    row("GET", "/orders", _SEE, "orders that were placed"),
    row("GET", "/orders/{order_id}", _SEE, "one order with its lines"),
    row("POST", "/orders/lines/{line_id}", _PLAN, "another day for a line, or that it does not come"),
    row("GET", "/materials/{material_id}/packs", _SEE, "the packs a material is sold in"),
    row("POST", "/materials/{material_id}/packs", _PLAN, "one more pack size"),
    row("POST", "/materials/{material_id}/packs/{pack_id}/away", _PLAN, "a pack that is not sold any more"),
    row("POST", "/materials/{material_id}/least", _PLAN, "the least of it on the shelf"),
    row("GET", "/api/terms", _SEE, "the terms of the shop"),
    row("POST", "/api/terms", _PLAN, "a new term"),
    row("GET", "/api/terms/{term_id}", _SEE, "one term with its planned jobs"),
    row("GET", "/api/terms/{term_id}/plan", _SEE, "needs, what is missing, what to buy"),
    row("POST", "/api/terms/{term_id}/jobs", _PLAN, "a job to plan"),
    row("POST", "/api/planned-jobs/{planned_id}/dates", _PLAN, "one more day of a job"),
    row("POST", "/api/planned-dates/{date_id}/drop", _PLAN, "one day out of the plan"),
    row("POST", "/api/planned-dates/{date_id}/take-up", _PLAN, "one day back into the plan"),
    row("POST", "/api/planned-dates/{date_id}/batch", _PLAN, "which batch stands for a day"),
    row("POST", "/api/planned-dates/{date_id}/check", Permission.BATCHES, "the stock check; draws nothing"),
    row("GET", "/api/materials/{material_id}/packs", _SEE, "the packs a material is sold in"),
    row("POST", "/api/materials/{material_id}/packs", _PLAN, "one more pack size"),
    row("POST", "/api/materials/{material_id}/least", _PLAN, "the least of it on the shelf"),
    row("GET", "/api/orders", _SEE, "orders that were placed"),
    row("POST", "/api/orders", _PLAN, "an order that was placed"),
    row("GET", "/api/orders/{order_id}", _SEE, "one order with its lines"),
    row("POST", "/api/orders/lines/{line_id}", _PLAN, "what becomes of a line"),
)
