"""What must still hold after odd input: every page and call opens, every list answers, the books add up."""

from __future__ import annotations

from typing import Final

from fastapi.testclient import TestClient

from service.actions.check_ledger import check
from service.web.route_table import ROWS
from tests.web.conftest import Shop
from tests.web.demo_shop import addresses

ASKS_FOR_MORE: Final = frozenset(
    {"/scan", "/labels/print", "/materials/new/form", "/rags/hand-over", "/api/materials/published", "/tap"}
)
"""Addresses without a gap to fill in that want something chosen first, or a tablet."""
LISTS: Final = tuple(
    sorted(
        row.path
        for row in ROWS
        if row.method == "GET" and "{" not in row.path and row.path not in ASKS_FOR_MORE
    )
)
"""Every page and call that shows what there is: nobody's odd input may spoil it for the next who looks."""


def spoiled(demo: Shop, page: TestClient, script: TestClient) -> dict[str, int]:
    """The addresses that no longer answer as they should, with what they answered; empty when all is well."""
    answers = {
        path: (script if path.startswith("/api/") else page).get(path).status_code
        for path in addresses(demo.database)
    }
    expected = {200, 302, 303, 403, 404, 409, 422}
    odd = {path: status for path, status in answers.items() if status not in expected}
    goes_on = {"/sign-in": 303}
    return odd | {path: answers[path] for path in LISTS if answers[path] != goes_on.get(path, 200)}


def broken(demo: Shop) -> str:
    """What the ledger check finds, in words; empty when the books hold."""
    with demo.database.reading() as session:
        report = check(session, [])
    return "" if report.holds else str(report.words)
