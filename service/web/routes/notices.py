"""One's own morning mail and calendar."""

from __future__ import annotations

from service.web.routes.row import OWN_SIGN_IN, PUBLIC, SIGNED_IN, row

ROWS = (
    row("GET", "/me/morning", SIGNED_IN, "what the morning mail says to oneself"),
    row("POST", "/me/morning", OWN_SIGN_IN, "which mail one gets and when"),
    row("GET", "/me/calendar", SIGNED_IN, "whether one has a calendar address"),
    row("POST", "/me/calendar", OWN_SIGN_IN, "a secret address of one's own calendar; shown once"),
    row("POST", "/me/calendar/end", OWN_SIGN_IN, "ending that address"),
    row("GET", "/calendar/{token}.ics", PUBLIC, "the secret address is the key; it tells dates"),
    row("GET", "/mail/leave/{token}", PUBLIC, "the secret address in a mail is the key; one button"),
    row("POST", "/mail/leave/{token}", PUBLIC, "a kind left out of that person's mail, and nothing else"),
)
