"""One's own morning mail and calendar."""

from __future__ import annotations

from service.web.routes.row import OWN_SIGN_IN, SIGNED_IN, row

ROWS = (
    row("GET", "/me/morning", SIGNED_IN, "what the morning mail says to oneself"),
    row("POST", "/me/morning", OWN_SIGN_IN, "which mail one gets and when"),
)
