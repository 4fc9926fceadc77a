"""Where the one thing of an alert is done: the address of its page.

Doors: web/pages/alerts.py, core/morning_words.py.
"""

from __future__ import annotations

from service.core.alerts import Alert, AlertKind


def page_of(one: Alert) -> str:
    """The address, below the service's own, of the page where its one thing is done.

    >>> from datetime import date
    >>> from service.core.findings import Severity
    >>> past = Alert(AlertKind.PAST, date(2026, 3, 2), Severity.STOP, "", "", "", ref="container R4F34T")
    >>> page_of(past)
    '/containers/R4F34T/discard'
    """
    what, _, number = one.ref.partition(" ")
    if what == "rag-load":
        return f"/rags/{number}/step"
    if what == "material":
        return f"/materials/{number}"
    if what in ("waste-drum", "waste-drums"):
        return f"/waste/drums/{number}".rstrip("/")
    if what == "recurring-check":
        return f"/recurring-checks/{number}/record"
    if what == "container" and one.leave:
        return f"/containers/{number}"
    if what == "container":
        gone = one.kind is AlertKind.PAST and not one.check
        return f"/containers/{number}/{'discard' if gone else 'check'}"
    if what == "term":
        return f"/term/{number}/orders"
    return {"warnings": "/warnings", "morning": "/me/morning"}.get(what, "/duties")
