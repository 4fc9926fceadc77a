"""Every page and API file, one line each. Its rows stand in ``routes/<subject>.py``.

Write full paths in a router (its own ``prefix`` is fine); it is included flat, without another prefix.
"""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter

from service.web.api import alerts as api_alerts
from service.web.pages import (
    account,
    alerts,
    devices,
    health,
    one_time,
    people,
    policies,
    problems,
    shop,
    sign_in,
    spill,
    tap,
    today,
    words,
)

ROUTERS: Final[tuple[APIRouter, ...]] = (
    health.router,
    problems.router,
    sign_in.router,
    one_time.router,
    tap.router,
    account.router,
    people.router,
    devices.router,
    shop.router,
    spill.router,
    words.router,
    alerts.router,
    api_alerts.router,
    policies.router,
    today.router,
)
