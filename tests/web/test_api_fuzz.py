"""Every call under /api with made-up bodies, from its own description: what no one would send by hand.

The answers must be ones that the description names and shaped as it says, never a mistake of ours; and what
was made up must not spoil a list for the next one who looks.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterator
from typing import Any, Final

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from service.actions.check_ledger import check
from service.core.access import Role
from tests.web.conftest import Shop
from tests.web.demo_shop import addresses, codes, demo_on

CHECKS: Final = [
    not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance,
    response_headers_conformance,
]  # fmt: skip
CASES: Final = int(os.environ.get("FUZZ_CASES", "20"))
"""Of each call and database; the run in CI takes about a minute with 20."""


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on(request.param, request, tmp_path_factory.mktemp("fuzz")) as shop:
        yield shop


def tried(operation: Any, there: list[str], headers: dict[str, str]) -> None:
    """Made-up cases of one call; two of three at something that exists."""
    numbers = itertools.count()

    @given(case=operation.as_strategy(generation_mode=GenerationMode.POSITIVE)
           | operation.as_strategy(generation_mode=GenerationMode.NEGATIVE))  # fmt: skip
    @settings(
        max_examples=CASES, deadline=None, derandomize=True, database=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    def one(case: Any) -> None:
        number = next(numbers)
        for name in case.path_parameters or {}:
            if number % 3:
                case.path_parameters[name] = there[number % len(there)] if name == "code" else 1 + number % 4
        response = case.call(base_url="http://testserver", headers=headers)
        case.validate_response(response, checks=CHECKS)

    one()


def test_no_body_gives_a_mistake_of_ours(demo: Shop) -> None:
    headers = {"Authorization": str(demo.api(Role.KEEPER).headers["authorization"])}
    described = schemathesis.openapi.from_asgi("/api/openapi.json", demo.app).include(path_regex="^/api/")
    operations = [one.ok() for one in described.get_all_operations()]
    assert len(operations) > 45
    there = codes(demo.database)
    wrong: dict[str, str] = {}
    for operation in operations:
        try:
            tried(operation, there, headers)
        except Exception as error:  # the rest are tried as well
            wrong[f"{operation.method} {operation.path}"] = str(error)[:2000]
    assert not wrong, "\n\n".join(f"{call}: {words}" for call, words in wrong.items())


def test_afterwards_everything_still_opens_and_the_books_hold(demo: Shop) -> None:
    page, script = demo.signed_in(Role.KEEPER), demo.api(Role.KEEPER)
    answers = {
        path: (script if path.startswith("/api/") else page).get(path).status_code
        for path in addresses(demo.database)
    }
    assert {p: s for p, s in answers.items() if s >= 500} == {}
    lists = ("/api/materials", "/api/places", "/api/containers", "/api/ledger", "/api/recipes", "/api/jobs",
             "/api/batches", "/api/rag-loads", "/api/rag-log", "/api/overrides", "/api/alerts", "/store",
             "/materials", "/places", "/recipes", "/jobs", "/rags", "/alerts", "/records/ledger",
             "/")  # fmt: skip
    assert {p: answers[p] for p in lists if answers[p] != 200} == {}
    with demo.database.reading() as session:
        report = check(session, [])
    assert report.holds, report.words
