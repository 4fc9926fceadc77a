"""The one table of who may use which address. A route without a line here keeps the service from starting.

A new subject: write ``routes/<subject>.py`` with its own ``ROWS`` and add it to `SUBJECTS`.
"""

from __future__ import annotations

from typing import Final

from service.web.routes import (
    ageing,
    calculators,
    checks,
    coming_in,
    containers,
    doors,
    hazards,
    inspection,
    mixing,
    notices,
    planning,
    samples,
    storage,
    waste,
    work,
)
from service.web.routes.row import RouteRow

SUBJECTS: Final = (
    ageing,
    calculators,
    checks,
    coming_in,
    containers,
    doors,
    hazards,
    inspection,
    mixing,
    notices,
    planning,
    samples,
    storage,
    waste,
    work,
)

ROWS: Final[tuple[RouteRow, ...]] = tuple(row for subject in SUBJECTS for row in subject.ROWS)
BY_KEY: Final[dict[tuple[str, str], RouteRow]] = {row.key: row for row in ROWS}
