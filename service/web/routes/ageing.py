"""Ageing policies and alerts."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import row

ROWS = (
    row("GET", "/alerts", Permission.SEE_STORE, "what wants attention, worst first"),
    row("GET", "/api/alerts", Permission.SEE_STORE, "the same for scripts"),
    row("GET", "/use-first", Permission.SEE_STORE, "what of the store goes first, to print"),
    row("GET", "/year-ahead", Permission.SEE_STORE, "how many containers end in each month"),
    row("GET", "/policies", Permission.SEE_STORE, "how long everything keeps, and on whose word"),
    row("GET", "/policies/conditions", Permission.SEE_STORE, "what follows from a look, on whose word"),
    row("GET", "/policies/conditions/{found}", Permission.SEE_STORE, "one finding, with its history"),
    row("POST", "/policies/conditions/{found}", Permission.POLICIES, "what follows from a finding"),
    row("GET", "/policies/kind/{kind}", Permission.SEE_STORE, "one kind, with its history"),
    row("POST", "/policies/kind/{kind}", Permission.POLICIES, "how long a kind keeps"),
    row("GET", "/policies/key/{key}", Permission.SEE_STORE, "one row of the published table"),
    row("POST", "/policies/key/{key}", Permission.POLICIES, "how long such a material keeps"),
    row("GET", "/policies/material/{material_id}", Permission.SEE_STORE, "one material, with its history"),
    row("POST", "/policies/material/{material_id}", Permission.POLICIES, "how long one material keeps"),
)
